"""The chain from machine to field: rings, an outline of the user's own laid over them, sections beside them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field import solve
from fieldrun.field.families import families
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.own_outline import with_own_outline
from fieldrun.field.ring_field import ring_field, ring_fields
from fieldrun.field.section import rectangle, section_at
from fieldrun.field.slices import ORDERS
from fieldrun.field.solve import field_of, mean_section_field, rotor_field, rotor_fields, section_field, slices_of
from tests.sections import structured_mesh

ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
FACING = Rotor(2, 0.009, None, None, 0.05, 0.082)
STEEL = replace(FACING, backing=Plate(steel_curve("mild steel"), 0.004))
HEIGHT = 0.0045


def spread(field_map: FieldMap) -> np.ndarray:
    return np.stack([field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t])


@pytest.mark.parametrize("rotor", [FACING, STEEL], ids=["facing", "steel"])
def test_the_field_of_a_plain_machine_is_that_of_its_rings(rotor: Rotor) -> None:
    found = rotor_field(ARCS, rotor)
    assert found.field_map is found.rings.field_map
    np.testing.assert_array_equal(spread(found.field_map), spread(ring_field(ARCS, rotor).field_map))
    np.testing.assert_array_equal(spread(field_of(ARCS, rotor)), spread(found.field_map))


def test_a_mesh_of_the_plain_outline_changes_nothing(tmp_path: Path) -> None:
    section = section_at(ARCS, STEEL, 0.066)
    write_section_mesh(tmp_path / "own.msh", section, structured_mesh(section))
    own = replace(ARCS, section_mesh=str(tmp_path / "own.msh"))
    plain, drawn = rotor_field(ARCS, STEEL), rotor_field(own, STEEL)
    one, other = (spread(each.field_map) for each in (plain, drawn))
    np.testing.assert_allclose(other, one, atol=1e-7 * np.abs(one).max())
    assert drawn.rings.steel[0].peak_t == pytest.approx(plain.rings.steel[0].peak_t, rel=1e-6)
    assert len(drawn.stack) == 1
    assert not drawn.is_corrected


def test_an_outline_without_a_profile_is_laid_over_plain_rings(tmp_path: Path) -> None:
    """A sixth of the magnet is a shoe of steel."""
    section = section_at(ARCS, STEEL, 0.066)
    (magnet,) = (region for region in section.regions if region.name == "magnet_up")
    (plate,) = (region for region in section.regions if region.steel)
    width = max(x for x, _ in magnet.polygon_m)
    parts = (
        replace(magnet, polygon_m=rectangle(0, width, -0.006, -0.001)),
        replace(plate, polygon_m=rectangle(0, width, -0.001, 0)),
        plate,
    )
    shod = replace(section, regions=parts)
    write_section_mesh(tmp_path / "own.msh", shod, structured_mesh(shod))
    own = replace(ARCS, section_mesh=str(tmp_path / "own.msh"))
    plain, found = rotor_field(ARCS, STEEL), rotor_field(own, STEEL)
    assert found.is_corrected
    assert found.stack == ()
    np.testing.assert_array_equal(spread(found.rings.field_map), spread(plain.field_map))
    by_sections = with_own_outline(plain.field_map, own, STEEL)
    np.testing.assert_array_equal(spread(found.field_map), spread(by_sections))
    there = [amplitudes_at(each.field_map, [0.066], [HEIGHT])[2, 0, 0].real for each in (plain, found)]
    assert there[1] < 0.95 * there[0]


def test_a_mesh_of_another_machine_is_refused(tmp_path: Path) -> None:
    section = section_at(ARCS, FACING, 0.066)
    write_section_mesh(tmp_path / "own.msh", section, structured_mesh(section))
    thicker = replace(ARCS, thickness_m=0.008, section_mesh=str(tmp_path / "own.msh"))
    with pytest.raises(DesignError, match=r"own\.msh"):
        rotor_field(thicker, FACING)


def test_the_mean_section_is_the_one_at_the_mean_radius() -> None:
    mean, there = mean_section_field(ARCS, FACING), section_field(ARCS, FACING, mean_radius_m(ARCS))
    for one, other in zip(*(gap_amplitudes(each, [0.002], ORDERS) for each in (mean, there)), strict=True):
        np.testing.assert_array_equal(one, other)


def test_rings_let_flux_spread_past_the_magnets_where_slices_end() -> None:
    """Over all radii the flux is the same to 1 %."""
    slices, rings = slices_of(ARCS, FACING), field_of(ARCS, FACING)
    beyond = np.array([0.052, 0.054, 0.078, 0.080])
    flat, spread_out = (amplitudes_at(each, beyond, np.full(4, HEIGHT))[2, 0].real for each in (slices, rings))
    assert not np.any(flat)
    assert np.all(spread_out > 0.02)
    x, weight = np.polynomial.legendre.leggauss(200)
    across = 0.066 + 0.03 * x
    totals = [weight @ amplitudes_at(each, across, np.full(200, HEIGHT))[2, 0].real for each in (slices, rings)]
    assert totals[0] == pytest.approx(totals[1], rel=0.01)


@pytest.mark.slow
def test_a_section_of_ones_own_is_the_middle_of_long_rings(tmp_path: Path) -> None:
    """Slim at the gap, four pitches from the ends of 100 poles, with recoil permeability and steel that saturates."""
    middle = 0.5
    long = Magnets(Arc(middle - 0.13, middle + 0.13, 0.8), 100, 0.008, 1.3, 1.1, 7500.0)
    steel = Rotor(2, 0.010, Plate(steel_curve("mild steel"), 0.005), None, middle - 0.16, middle + 0.16)
    section = section_at(long, steel, middle)
    (magnet,) = (region for region in section.regions if region.name == "magnet_up")
    width = max(x for x, _ in magnet.polygon_m)
    parts = [
        replace(magnet, polygon_m=rectangle(0, share * width, low, high))
        for share, low, high in ((1.0, -0.008, -0.005), (0.8, -0.005, -0.002), (0.6, -0.002, 0.0))
    ]
    drawn = replace(section, regions=(*parts, *(region for region in section.regions if region is not magnet)))
    write_section_mesh(tmp_path / "own.msh", drawn, structured_mesh(drawn, MeshDensity().refined()))
    own = replace(long, section_mesh=str(tmp_path / "own.msh"))
    flat = gap_amplitudes(mean_section_field(own, steel), [0.005], ORDERS)[1][:3, 0].real
    plain = gap_amplitudes(mean_section_field(long, steel), [0.005], ORDERS)[1][:3, 0].real
    found = rotor_field(own, steel)
    assert len(found.stack) == 3
    assert found.rings.model == "coupled rings"
    rings = amplitudes_at(found.field_map, [middle], [0.005])[2, :3, 0].real
    assert np.abs(flat - plain).max() > 0.1 * flat[0]
    np.testing.assert_allclose(rings, flat, atol=2e-3 * flat[0])


@pytest.mark.slow
def test_a_section_of_long_many_poled_magnets_is_the_rings_middle() -> None:
    """Four pitches from the ends of 100 poles, with steel that saturates."""
    middle = 0.5
    long = Magnets(Arc(middle - 0.13, middle + 0.13, 0.7), 100, 0.008, 1.3, 1.05, 7500.0)
    steel = Rotor(2, 0.010, Plate(steel_curve("mild steel"), 0.005), None, middle - 0.16, middle + 0.16)
    flat = gap_amplitudes(section_field(long, steel, middle), [0.005], ORDERS)[1][:3, 0].real
    found = rotor_field(long, steel)
    assert found.rings.model == "coupled rings"
    assert found.rings.steel[0].peak_t > 1.7
    rings = amplitudes_at(found.field_map, [middle], [0.005])[2, :3, 0].real
    np.testing.assert_allclose(rings, flat, atol=5e-3 * flat[0])


IDEAL = replace(FACING, backing=Plate(None))
THINNER = replace(ARCS, thickness_m=0.004)


def grid(rotor: Rotor, gaps: tuple[float, ...]) -> list[tuple[Magnets, Rotor]]:
    """Two families, their gaps mixed and out of order."""
    return [(magnets, replace(rotor, gap_m=gap)) for gap in gaps for magnets in (ARCS, THINNER)]


def test_many_machines_are_each_what_they_are_alone_in_the_order_asked_for() -> None:
    machines = grid(IDEAL, (0.010, 0.007, 0.012))
    found = list(rotor_fields(machines))
    assert len(found) == len(machines)
    for field, (magnets, rotor) in zip(found, machines, strict=True):
        one, other = spread(field.field_map), spread(rotor_field(magnets, rotor).field_map)
        np.testing.assert_allclose(one, other, atol=1e-9 * np.abs(other).max())


def test_an_answer_depends_on_its_family_only() -> None:
    """To the last bit, so that a study that solves whole families again writes the same file."""
    machines = grid(IDEAL, (0.010, 0.007))
    together = list(rotor_fields(machines))
    for family in families(machines):
        for index, field in zip(family, rotor_fields([machines[one] for one in family]), strict=True):
            np.testing.assert_array_equal(spread(field.field_map), spread(together[index].field_map))


def test_answers_come_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first family's first answer, before the second family is begun."""
    begun = []

    def noted(magnets: Magnets, rotors: list[Rotor]) -> object:
        begun.append(magnets)
        return ring_fields(magnets, rotors)

    monkeypatch.setattr(solve, "ring_fields", noted)
    answers = rotor_fields(grid(IDEAL, (0.007, 0.010)))
    next(answers)
    assert begun == [ARCS]
    next(answers)
    assert begun == [ARCS, THINNER]


def test_a_machine_that_cannot_be_solved_is_an_error_in_its_place(tmp_path: Path) -> None:
    section = section_at(ARCS, FACING, 0.066)
    write_section_mesh(tmp_path / "own.msh", section, structured_mesh(section))
    drawn = replace(THINNER, section_mesh=str(tmp_path / "own.msh"))
    first, wrong, last = rotor_fields([(ARCS, IDEAL), (drawn, IDEAL), (THINNER, IDEAL)])
    assert isinstance(wrong, DesignError)
    np.testing.assert_array_equal(spread(first.field_map), spread(rotor_field(ARCS, IDEAL).field_map))
    np.testing.assert_array_equal(spread(last.field_map), spread(rotor_field(THINNER, IDEAL).field_map))


def test_no_machines_no_answers() -> None:
    assert list(rotor_fields([])) == []

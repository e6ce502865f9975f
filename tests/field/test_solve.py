"""The chain from machine to field: rings, an outline of the user's own laid over them, sections beside them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.mesh import structured_mesh
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_field import ring_field
from fieldrun.field.section import section_at
from fieldrun.field.slices import ORDERS
from fieldrun.field.solve import field_of, mean_section_field, rotor_field, section_field, slices_of

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
    radii = np.linspace(0.05, 0.082, 41)
    radii = radii[np.abs(np.abs(radii - 0.066) - 0.010) > 1e-4]
    one, other = (amplitudes_at(each.field_map, radii, np.full(len(radii), HEIGHT)) for each in (plain, drawn))
    # the drawn map is splined anew at the magnets' ends
    np.testing.assert_allclose(other, one, atol=1e-7 * np.abs(one).max())
    np.testing.assert_array_equal(spread(drawn.rings.field_map), spread(plain.rings.field_map))
    assert drawn.rings.steel == plain.rings.steel


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

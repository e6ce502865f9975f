"""Families of rings: each gap gets what it would get alone, whatever is solved beside it and wherever it started."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Block, Disc, Magnets, Plate, Rotor
from fieldrun.field import coupled_rings, ring_family, ring_field, ring_gaps, ring_modes
from fieldrun.field.field_map import FieldMap
from fieldrun.field.ring_field import RingField, orders_of, ring_fields
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_system import ring_system
from fieldrun.field.ring_trail import Solved, foretold, longer
from fieldrun.field.ring_variants import above_steel, at_gap
from tests.rings import linear_part

DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
HALBACH = replace(DISCS, outline=Block(0.022, 0.010, 0.066), pattern="halbach", segments_per_pole=2)
MILD = steel_curve("mild steel")
FACING = Rotor(2, 0.009, None, None, 0.052, 0.08)
IDEAL = replace(FACING, backing=Plate(None))
PLATED = replace(FACING, faces=1, return_plate=Plate(None))
THIN = replace(FACING, backing=Plate(MILD, 0.0025))
THICK = replace(FACING, backing=Plate(MILD, 0.012))
GAPS = (0.003, 0.006, 0.0065, 0.009, 0.011)
COARSE = RingDensity().coarser(2)


def at(rotor: Rotor, gap: float) -> Rotor:
    return replace(rotor, gap_m=gap)


def answers(magnets: Magnets, rotor: Rotor, gaps: tuple[float, ...]) -> list[RingField]:
    found = list(ring_fields(magnets, [at(rotor, gap) for gap in gaps], COARSE))
    assert all(isinstance(one, RingField) for one in found)
    return found


def spread(field_map: FieldMap) -> Floats:
    return np.stack([field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t])


def miss(one: RingField, other: RingField) -> float:
    """Largest difference anywhere in the maps, against the largest field."""
    np.testing.assert_array_equal(one.field_map.heights_m, other.field_map.heights_m)
    np.testing.assert_array_equal(one.field_map.radii_m, other.field_map.radii_m)
    difference = np.abs(spread(one.field_map) - spread(other.field_map)).max()
    return float(difference / np.abs(other.field_map.b_z_t).max())


@pytest.mark.parametrize("rotor", [FACING, IDEAL, PLATED], ids=["air", "ideal", "plate"])
@pytest.mark.parametrize("magnets", [DISCS, HALBACH], ids=["discs", "halbach"])
def test_a_gap_without_steel_is_what_it_is_alone(magnets: Magnets, rotor: Rotor) -> None:
    """Even where the gaps carry different numbers of harmonics, and more gaps than go side by side."""
    gaps = (*GAPS, 0.012, 0.013, 0.014, 0.015, 0.016)
    assert len(gaps) > ring_gaps.AT_ONCE
    assert len({len(orders_of(magnets, at(rotor, gap))) for gap in gaps}) > 1
    together = answers(magnets, rotor, gaps)
    for gap, found in zip(gaps, together, strict=True):
        (alone,) = answers(magnets, rotor, (gap,))
        np.testing.assert_array_equal(found.field_map.orders, alone.field_map.orders)
        assert miss(found, alone) < 1e-9
        assert found.unknowns == alone.unknowns


@pytest.mark.slow
@pytest.mark.parametrize("rotor", [THIN, THICK], ids=["thin", "thick"])
def test_steel_that_follows_the_gap_is_what_it_is_from_a_cold_start(rotor: Rotor) -> None:
    together = answers(DISCS, rotor, GAPS)
    for gap, found in zip(GAPS, together, strict=True):
        (alone,) = answers(DISCS, rotor, (gap,))
        assert found.model == alone.model
        assert miss(found, alone) < 1e-6
        assert found.steel[0].peak_t == pytest.approx(alone.steel[0].peak_t, abs=1e-4)
        assert found.unknowns == alone.unknowns
    assert {one.model for one in together} == {"coupled rings" if rotor is THIN else "rings"}


def test_following_the_gap_spares_newton_s_steps() -> None:
    gaps = (0.008, 0.0085, 0.009, 0.0095)
    together = answers(DISCS, THIN, gaps)
    alone = [answers(DISCS, THIN, (gap,))[0] for gap in gaps]
    assert together[0].newton_steps == alone[0].newton_steps
    assert together[-1].newton_steps < alone[-1].newton_steps


def test_a_family_solved_twice_is_the_same_to_the_last_bit() -> None:
    for rotor in (IDEAL, THIN):
        for one, other in zip(answers(DISCS, rotor, GAPS), answers(DISCS, rotor, GAPS), strict=True):
            np.testing.assert_array_equal(spread(one.field_map), spread(other.field_map))


def test_a_gap_that_does_not_settle_is_an_error_in_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ring_family, "ITERATIONS", 1)
    found = list(ring_fields(DISCS, [at(IDEAL, gap) for gap in GAPS], COARSE))
    assert len(found) == len(GAPS)
    assert all(isinstance(one, SolveError) for one in found)


def test_a_gap_that_fails_beside_others_fails_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    real = ring_gaps.solve_gaps

    def fails_at_nine(lower: object, gaps: list[Floats], counts: list[int], start: Floats | None) -> object:
        if any(lines[-1] == 0.0045 for lines in gaps):
            raise SolveError("it did not settle")
        return real(lower, gaps, counts, start)

    alone = [answers(DISCS, IDEAL, (gap,))[0] for gap in GAPS]
    monkeypatch.setattr(ring_gaps, "solve_gaps", fails_at_nine)
    found = list(ring_fields(DISCS, [at(IDEAL, gap) for gap in GAPS], COARSE))
    for gap, one, other in zip(GAPS, found, alone, strict=True):
        assert isinstance(one, SolveError) == (gap == 0.009)
        assert gap == 0.009 or miss(one, other) < 1e-9


def test_magnets_too_thin_for_numbers_are_an_error_for_every_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*args: object, **kwargs: object) -> object:
        raise np.linalg.LinAlgError

    monkeypatch.setattr(ring_modes.scipy.linalg, "eigh", breaks)
    found = list(ring_fields(DISCS, [at(IDEAL, gap) for gap in GAPS], RingDensity().coarser(3)))
    assert len(found) == len(GAPS)
    assert all(isinstance(one, SolveError) and "too thin" in str(one) for one in found)


def test_steel_that_does_not_settle_leaves_the_next_gap_a_cold_start(monkeypatch: pytest.MonkeyPatch) -> None:
    alone = answers(DISCS, THIN, (0.009,))[0]
    real, calls = coupled_rings.solve_coupled, []

    def fails_once(*args: object) -> object:
        calls.append(args)
        if len(calls) == 1:
            raise SolveError("it did not settle")
        return real(*args)

    monkeypatch.setattr(ring_field, "solve_coupled", fails_once)
    first, second = ring_fields(DISCS, [at(THIN, 0.008), at(THIN, 0.009)], COARSE)
    assert isinstance(first, SolveError)
    np.testing.assert_array_equal(spread(second.field_map), spread(alone.field_map))


def test_no_gaps_no_answers() -> None:
    assert list(ring_fields(DISCS, [])) == []


def test_the_rings_of_another_gap_are_those_assembled_for_it() -> None:
    orders = np.array([1, 3, 5])
    here, there = (ring_mesh(DISCS, at(THICK, gap), COARSE) for gap in (0.006, 0.011))
    moved, exact = at_gap(ring_system(DISCS, here, orders), there), ring_system(DISCS, there, orders)
    potential = np.random.default_rng(1).normal(size=exact.sources.shape)
    np.testing.assert_allclose(linear_part(moved, potential), linear_part(exact, potential), rtol=1e-12)
    np.testing.assert_array_equal(moved.sources, exact.sources)
    assert moved.free == exact.free


def test_only_harmonics_that_die_in_the_magnets_stay_out_of_the_steel() -> None:
    """At 6 mm of magnets the round trip takes exp(-2 n p h / r): 1e-5 from order 9 on."""
    system = ring_system(DISCS, ring_mesh(DISCS, THICK, COARSE), 2 * np.arange(10) + 1)
    steel = system.mesh.steels[0].axial.nodes
    for first in (0, 6):
        out = [n for n, (_, z) in enumerate(above_steel(system, first).free) if z.start >= steel.stop]
        assert out == list(range(max(first, 5), 10))
    bare = ring_system(DISCS, ring_mesh(DISCS, IDEAL, COARSE), np.array([1, 21]))
    assert above_steel(bare, 0).free == bare.free


def test_staying_out_of_the_steel_changes_next_to_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    for rotor in (THIN, THICK):
        (found,) = answers(DISCS, rotor, (0.009,))
        with monkeypatch.context() as patch:
            patch.setattr(ring_field, "above_steel", lambda system, *_: system)
            (whole,) = answers(DISCS, rotor, (0.009,))
        assert found.unknowns <= whole.unknowns
        assert miss(found, whole) < 1e-6


def test_a_parabola_over_the_gap_is_foretold_exactly() -> None:
    """On lines in step with the gap; a cubic is not."""
    gaps = (0.006, 0.0065, 0.007, 0.008)
    meshes = [ring_mesh(DISCS, at(THIN, gap), COARSE) for gap in gaps]
    for power, exact in ((2, True), (3, False)):
        trail = ()
        for gap, mesh in zip(gaps[:3], meshes[:3], strict=True):
            shape = (2, mesh.radial.count, mesh.axial.count)
            height = np.interp(mesh.axial.nodes_m, [-1.0, 0.0, gap / 2], [0.0, 0.0, 1.0])
            potential = np.broadcast_to((gap / 0.006) ** power * (1 + height), shape)
            trail = longer(trail, Solved(gap, mesh, potential[:1], potential))
        alone, whole = foretold(trail, gaps[3], meshes[3], 3)
        height = np.interp(meshes[3].axial.nodes_m, [-1.0, 0.0, gaps[3] / 2], [0.0, 0.0, 1.0])
        expected = (gaps[3] / 0.006) ** power * (1 + height)
        assert np.allclose(whole[:2], expected, rtol=1e-9) == exact
        assert np.allclose(alone, expected, rtol=1e-9) == exact
        assert not np.any(whole[2])
    assert foretold((), 0.008, meshes[3], 3) is None


def test_the_trail_is_short_and_forgets_a_gap_that_comes_again() -> None:
    mesh = ring_mesh(DISCS, THIN, COARSE)
    zero = np.zeros((1, 1, 1))
    trail = ()
    for gap in (1.0, 2.0, 3.0, 4.0, 3.0):
        trail = longer(trail, Solved(gap, mesh, zero, zero))
    assert [one.gap_m for one in trail] == [2.0, 4.0, 3.0]

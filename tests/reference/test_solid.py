"""Laws of the solid judge as a whole, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import simpson
from scipy.interpolate import CubicSpline

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.design.units import MU0
from fieldrun.field.field_map import field_at
from fieldrun.reference.closed_forms import (
    block_face,
    in_air_to_plate,
    on_iron_to_plate,
    one_face_in_air,
    one_face_on_iron,
    two_faces_in_air,
    two_faces_on_iron,
)
from fieldrun.reference.solid import solve_solid

DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
IDEAL = Plate(None)
MILD = Plate(steel_curve("mild steel"), 0.003)
VACUUM = Plate(SteelCurve("vacuum", (0.0, 1.0), (0.0, 1 / MU0)), 0.004)
TWO_FACES = Rotor(2, 0.009, MILD, None, 0.050, 0.082)
HEIGHTS = (0.0025, 0.0045, 0.0065)
COARSE = 0.6


def peak(field_map):
    return float(np.abs(field_map.b_z_t).max())


@pytest.fixture(scope="module")
def saturated():
    return solve_solid(DISCS, TWO_FACES, HEIGHTS, COARSE)


def test_map_carries_what_it_should(saturated):
    field_map = saturated.field_map
    assert field_map.pole_pairs == 8
    assert field_map.orders.tolist() == [1, 3, 5, 7, 9, 11, 13, 15]
    assert field_map.heights_m == pytest.approx(HEIGHTS)
    assert not field_map.open_above
    assert field_map.radii_m[0] < 0.05
    assert field_map.radii_m[-1] > 0.082
    assert np.abs(field_map.b_z_t.imag).max() == np.abs(field_map.b_theta_t.real).max() == 0
    assert 1.7 < saturated.steel_peak_t < 2.3
    assert saturated.newton_steps > 3
    assert saturated.unknowns > 5000


def test_halves_of_the_gap_mirror_each_other(saturated):
    low, _, high = np.moveaxis(saturated.field_map.b_z_t, 2, 0)
    assert high == pytest.approx(low)
    for sideways in (saturated.field_map.b_r_t, saturated.field_map.b_theta_t):
        low, middle, high = np.moveaxis(sideways, 2, 0)
        assert high == pytest.approx(-low)
        assert np.abs(low).max() > 0.01
        assert np.abs(middle).max() < 1e-12


def test_field_is_odd_about_the_plane_between_poles(saturated):
    theta = np.pi / 16
    ahead, behind = (field_at(saturated.field_map, 0.066, theta + d, 0.0025) for d in (0.03, -0.03))
    assert ahead * (-1, 1, -1) == pytest.approx(behind, abs=1e-12)


def over_radius(r, values):
    """Integral over the whole map of (n, r, z)."""
    return CubicSpline(r, values, axis=1).integrate(r[0], r[-1])


@pytest.mark.parametrize("rotor", [Rotor(1, None, None, None, 0, 0.1), Rotor(1, 0.008, IDEAL, IDEAL, 0, 0.1)])
def test_no_flux_is_lost_between_planes(rotor):
    """Integrated over r: d/dz INT r b_z dr + n p INT b_theta dr = 0 (no flux leaves at the far radii)."""
    z = np.linspace(0.002, 0.005, 7)
    field_map = solve_solid(DISCS, rotor, z).field_map
    r = field_map.radii_m
    through = over_radius(r, r[:, None] * field_map.b_z_t.real)
    round_about = over_radius(r, -field_map.b_theta_t.imag) * 8 * field_map.orders[:, None]
    gained = through[:, -1] - through[:, 0]
    lost = simpson(round_about, z, axis=1)
    scale = np.abs(through[0]).max()
    assert gained[0] == pytest.approx(-lost[0], abs=1e-3 * scale)
    assert gained[1:4] == pytest.approx(-lost[1:4], abs=2e-3 * scale)


def test_field_has_no_sources_in_the_gap():
    """(1/r) d(r b_r)/dr + n p b_theta / r + d b_z / dz = 0, by differences between planes."""
    z = np.array([0.0030, 0.0035, 0.0040])
    field_map = solve_solid(DISCS, Rotor(1, None, IDEAL, None, 0, 0.1), z, 1.0).field_map
    r, middle = field_map.radii_m, slice(12, -12)
    b_r, b_theta, b_z = field_map.b_r_t[0].real, -field_map.b_theta_t[0].imag, field_map.b_z_t[0].real
    along = np.gradient(r * b_r[:, 1], r) / r + 8 * b_theta[:, 1] / r
    over = (b_z[:, 2] - b_z[:, 0]) / (z[2] - z[0])
    assert along[middle] == pytest.approx(-over[middle], abs=0.02 * np.abs(over).max())


@pytest.mark.parametrize("side", ["backing", "return_plate"])
def test_steel_as_empty_as_vacuum_is_not_there(side):
    rotor = Rotor(1, 0.009, IDEAL if side == "return_plate" else None, None, 0.050, 0.082)
    without = solve_solid(DISCS, rotor, [0.004], COARSE).field_map
    with_it = solve_solid(DISCS, replace(rotor, **{side: VACUUM}), [0.004], COARSE)
    assert with_it.newton_steps <= 3
    field_map = with_it.field_map
    at = [field_at(m, [0.060, 0.066, 0.074], 0.02, 0.004) for m in (field_map, without)]
    assert at[0] == pytest.approx(at[1], abs=2e-3 * peak(without))  # other meshes: the same to their own error


def test_thick_steel_of_huge_permeability_is_ideal():
    soft = Plate(SteelCurve("soft", (0.0, 5.0), (0.0, 5.0 / (1e5 * MU0))), 0.015)
    rotor = Rotor(1, 0.009, soft, soft, 0.030, 0.110)
    ideal = replace(rotor, backing=IDEAL, return_plate=IDEAL)
    radii = np.linspace(0.058, 0.074, 5)
    found, expected = (
        field_at(solve_solid(DISCS, r, [0.0045], COARSE).field_map, radii, 0.01, 0.0045) for r in (rotor, ideal)
    )
    assert found[2] == pytest.approx(expected[2], rel=2e-3)


@pytest.mark.slow
def test_saturation_costs_flux_and_thick_steel_gives_it_back(saturated):
    thin = solve_solid(DISCS, replace(TWO_FACES, backing=replace(MILD, thickness_m=0.0015)), HEIGHTS, COARSE)
    ideal = solve_solid(DISCS, replace(TWO_FACES, backing=IDEAL), HEIGHTS, COARSE)
    assert peak(thin.field_map) < 0.97 * peak(saturated.field_map) < peak(ideal.field_map)
    assert thin.steel_peak_t > saturated.steel_peak_t
    assert (ideal.steel_peak_t, ideal.newton_steps) == (None, 0)


def test_unsaturated_field_scales_with_remanence_and_not_with_size():
    rotor = Rotor(1, None, IDEAL, None, 0, 0.1)
    small = solve_solid(DISCS, rotor, [0.004], COARSE).field_map
    strong = solve_solid(replace(DISCS, remanence_t=0.65), rotor, [0.004], COARSE).field_map
    assert strong.b_z_t == pytest.approx(small.b_z_t / 2, abs=1e-7)
    twice = replace(DISCS, outline=Disc(0.040, 0.132), thickness_m=0.012)
    large = solve_solid(twice, rotor, [0.008], COARSE).field_map
    assert large.radii_m == pytest.approx(2 * small.radii_m)
    assert large.b_z_t == pytest.approx(small.b_z_t, abs=1e-6)


OUTLINES = [Disc(0.020, 0.066), Block(0.024, 0.014, 0.066), Arc(0.054, 0.078, 0.7)]


def flux(field_map):
    """INT b_1 r dr at every height."""
    return over_radius(field_map.radii_m, field_map.radii_m[:, None] * field_map.b_z_t.real)[0]


@pytest.mark.slow
@pytest.mark.parametrize("outline", OUTLINES)
def test_halving_every_cell_changes_next_to_nothing(outline):
    rotor = replace(TWO_FACES, backing=IDEAL)
    coarse, fine = (solve_solid(replace(DISCS, outline=outline), rotor, [0.0025, 0.0045], f) for f in (1, 2))
    assert flux(coarse.field_map) == pytest.approx(flux(fine.field_map), rel=5e-4)


@pytest.mark.slow
@pytest.mark.parametrize("outline", OUTLINES[:2])
def test_smaller_cells_of_saturated_steel_change_little(outline):
    machine, rotor = replace(DISCS, outline=outline), replace(TWO_FACES, backing=replace(MILD, thickness_m=0.002))
    coarse, fine = (solve_solid(machine, rotor, [0.0025, 0.0045], f) for f in (0.6, 0.8))
    assert fine.steel_peak_t > 2.1
    assert flux(coarse.field_map) == pytest.approx(flux(fine.field_map), rel=1e-3)


WIDE = Magnets(Arc(0.9, 1.1, 1.0), 120, 0.010, 1.3, 1.1, 7500.0)
PITCH = np.pi / 60


@pytest.mark.parametrize(
    ("rotor", "law"),
    [
        (Rotor(1, None, None, None, 0, 1), lambda face, _, z: one_face_in_air(face, z)),
        (Rotor(1, None, IDEAL, None, 0, 1), lambda face, _, z: one_face_on_iron(face, z)),
        (Rotor(2, 0.012, IDEAL, None, 0, 1), two_faces_on_iron),
        (Rotor(2, 0.012, None, None, 0, 1), two_faces_in_air),
        (Rotor(1, 0.012, IDEAL, IDEAL, 0, 1), on_iron_to_plate),
        (Rotor(1, 0.012, None, IDEAL, 0, 1), in_air_to_plate),
    ],
    ids=["air", "iron", "faces on iron", "faces", "plate", "plate only"],
)
def test_amid_long_magnets_the_unrolled_closed_form_holds(rotor, law):
    """Full-width magnets of recoil permeability 1.1, four pole pitches long, on a ring of 60 pole pairs."""
    z = 0.004
    field_map = solve_solid(WIDE, rotor, [z]).field_map
    at = int(np.argmin(np.abs(field_map.radii_m - 1.0)))
    face = block_face([1, 3], PITCH * field_map.radii_m[at], 1.3, 1.0, (0.010, 1.1))
    expected = law(face, 0.012, z)
    assert field_map.b_z_t[0, at, 0].real == pytest.approx(expected[0], rel=2e-3)
    assert field_map.b_z_t[1, at, 0].real == pytest.approx(expected[1], abs=2e-3 * expected[0])


@pytest.mark.parametrize(
    ("change", "heights", "message"),
    [
        ({"pattern": "halbach", "segments_per_pole": 2}, [0.004], "not Halbach arrays$"),
        ({"section_mesh": "/home/hut/own.msh"}, [0.004], "not the section own.msh$"),
        ({}, [0.004, 0.0095], "between 0 and 0.009 m.*received 0.0095"),
        ({}, [0.0], "received 0$"),
        ({}, [], "received none"),
    ],
)
def test_what_it_refuses(change, heights, message):
    with pytest.raises(ValueError, match=message):
        solve_solid(replace(DISCS, **change), TWO_FACES, heights)


@pytest.mark.parametrize("fineness", [0.0, -1.0, np.nan, np.inf])
def test_fineness_must_be_a_positive_number(fineness):
    with pytest.raises(ValueError, match="fineness must be more than 0"):
        solve_solid(DISCS, TWO_FACES, [0.004], fineness)

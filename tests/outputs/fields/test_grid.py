"""A grid says what `field_at` says, with the signs of the machine's symmetry; nothing where nothing is known."""

import math

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.outputs.fields import grid as grid_module
from fieldrun.outputs.fields.grid import grid_of, near_face_m


def faults(result, radii, angles, heights):
    with pytest.raises(DesignError) as caught:
        grid_of(result, radii, angles, heights)
    return [str(fault) for fault in caught.value.faults]


def test_it_is_field_at_point_for_point(hut):
    radii, angles, heights = np.linspace(0.05, 0.08, 7), np.linspace(-0.3, 1.0, 11), [0.001, 0.004, 0.0075]
    grid = grid_of(hut, radii, angles, heights)
    places = np.meshgrid(radii, angles, heights, indexing="ij")
    assert grid.b_t.shape == (3, 7, 11, 3)
    assert np.abs(grid.b_t - hut.field_at(*places)).max() < 1e-12
    assert grid.points == 7 * 11 * 3


def test_it_is_the_sum_of_its_harmonics(hut):
    grid = grid_of(hut, [0.06, 0.07], [0.1, 0.2], 0.003)
    wave = np.exp(1j * grid.pole_pairs * np.outer(grid.orders, grid.angles_rad))
    assert np.einsum("cnrz,nt->crtz", grid.harmonics_t, wave).real == pytest.approx(grid.b_t, abs=1e-14)
    assert grid.harmonics_t.shape == (3, len(grid.orders), 2, 1)


def test_signs_by_symmetry(hut):
    """A pole further all turn about; mirrored at a pole's centre B_theta, mirrored at mid-gap B_r and B_theta."""
    pitch, mid = math.pi / 8, hut.design.rotor.gap_m / 2
    grid = grid_of(hut, [0.058, 0.066], [-0.1, 0.1, 0.1 + pitch], [mid - 0.002, mid + 0.002])
    left, right, next_pole = (grid.b_t[:, :, k] for k in range(3))
    assert next_pole == pytest.approx(-right, abs=1e-12)
    assert left == pytest.approx(right * np.array([1, -1, 1])[:, None, None], abs=1e-12)
    below, above = grid.b_t[..., 0], grid.b_t[..., 1]
    assert above == pytest.approx(below * np.array([-1, -1, 1])[:, None, None], abs=1e-6)
    assert grid.b_t[2, :, 1].min() > 0.1  # up over a north pole


def test_its_field_has_no_sources(hut):
    """Central differences of B in cylinder coordinates over half a millimetre, against the gradients they cancel."""
    h, r, theta, z = 2.5e-4, 0.061, 0.07, 0.003
    grid = grid_of(hut, [r - h, r, r + h], [theta - h / r, theta, theta + h / r], [z - h, z, z + h])
    radial, around, axial = grid.b_t
    radii = grid.radii_m
    parts = np.array(
        [
            (radii[2] * radial[2, 1, 1] - radii[0] * radial[0, 1, 1]) / (2 * h * r),
            (around[1, 2, 1] - around[1, 0, 1]) / (2 * h),
            (axial[1, 1, 2] - axial[1, 1, 0]) / (2 * h),
        ]
    )
    assert abs(parts.sum()) < 2e-3 * np.abs(parts).max()


def test_flux_of_a_pole_goes_round(hut):
    """All that rises over a pole comes down over the next."""
    grid = grid_of(hut, hut.field_map.radii_m[::4], np.linspace(-math.pi / 16, 3 * math.pi / 16, 129), 0.004)
    rising = np.trapezoid(grid.b_t[2, :, :, 0] * grid.radii_m[:, None], grid.radii_m, axis=0)
    pair, pole = np.trapezoid(rising, grid.angles_rad), np.trapezoid(rising[:65], grid.angles_rad[:65])
    assert 1e-4 < pole < 2.5e-4  # about 0.5 T over the 3 cm2 of a magnet
    assert abs(pair) < 1e-9 * pole


def test_outside_the_gap_and_the_map_nothing_is_said(hut, plank):
    assert faults(hut, [0.02, 0.066, 0.2], 0.0, [-0.001, 0.004, 0.009]) == [
        (
            "--radii: the map reaches from 25.3 to 181 mm, beyond which next to nothing of the field is left; "
            "received 20, 200 mm"
        ),
        "--heights: below 0 lie the magnets, which the map leaves out; received -1 mm",
        "--heights: above the gap of 8 mm lie the upper magnets, which the map leaves out; received 9 mm",
    ]
    assert faults(plank, 0.06, 0.0, [-0.002]) == [
        "--heights: below 0 lie the magnets, which the map leaves out; received -2 mm"
    ]


def test_a_return_plate_is_called_by_its_name(answered):
    result = answered("plank-ring", {"rotor.gap_mm": 8, "rotor.return_plate": "ideal"})
    assert faults(result, 0.06, 0.0, [0.0081]) == [
        "--heights: above the gap of 8 mm lies the return plate, which the map leaves out; received 8.1 mm"
    ]


def test_too_many_points_are_counted(hut):
    said = faults(hut, np.linspace(0.055, 0.075, 1001), np.linspace(0, 1, 1000), 0.004)
    assert said == [
        (
            "--radii, --angles, --heights: 1001 radii x 1000 angles x 1 heights are 1001000 points; at most 1000000 go "
            "into one grid; try fewer, or several grids"
        )
    ]


def test_near_a_face_it_is_noted(hut, plank):
    assert near_face_m(hut) == pytest.approx(0.001)
    assert near_face_m(plank) == pytest.approx(0.001)  # an eighth of the magnets' 8 mm
    (note,) = grid_of(hut, 0.06, 0.0, [0.0005, 0.001, 0.004, 0.0075]).notes
    assert note.startswith(
        "0.5, 7.5 mm above the lower magnets is nearer than 1 mm to a magnet's face: there the sum of"
    )
    assert grid_of(hut, 0.06, 0.0, [0.001, 0.007]).notes == ()
    assert grid_of(plank, 0.06, 0.0, [0.001]).notes == ()


def test_high_over_an_open_face_it_goes_on_and_says_so(plank):
    top = float(plank.field_map.heights_m[-1])
    grid = grid_of(plank, 0.0575, 0.0, [top, top + 0.02])
    (note,) = grid.notes
    assert note == "above 45.2 mm each harmonic is carried on as it falls off over a plane"
    fall = math.exp(-6 * 0.02 / 0.0575)
    assert grid.b_t[2, 0, 0, 1] == pytest.approx(grid.b_t[2, 0, 0, 0] * fall, rel=1e-3)


def test_arrays_are_locked_and_facts_travel(hut):
    grid = grid_of(hut, 0.06, 0.0, 0.004)
    with pytest.raises(ValueError, match="read-only"):
        grid.b_t[0] = 1
    assert dict(grid.about)["design_hash"] == hut.design_hash
    assert grid_module.MOST_POINTS == 1_000_000

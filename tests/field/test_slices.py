"""Sections joined to a map: heights, radii, starts from neighbours, and the circles between the solved ones."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.slices import OPEN_REACH, ORDERS, SolveAt, map_heights_m, slice_map
from fieldrun.field.solve import section_field, slices_of

R = 0.066
DISCS = Magnets(Disc(0.020, R), 16, 0.006, 1.3, 1.05, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.022, 0.016, R))
ARCS = replace(DISCS, outline=Arc(0.056, 0.076, 0.7))
OPEN, FACING = Rotor(1, None, None, None, 0.04, 0.09), Rotor(2, 0.009, None, None, 0.04, 0.09)
STEEL = replace(FACING, backing=Plate(steel_curve("mild steel"), 0.003))


def test_heights_span_the_gap_or_two_pitches() -> None:
    gap, free = map_heights_m(ARCS, FACING), map_heights_m(ARCS, OPEN)
    assert (gap[0], gap[-1]) == (0, 0.009)
    assert (free[0], free[-1]) == (0, pytest.approx(OPEN_REACH * math.pi * R / 8))
    for heights in (gap, free):
        assert np.all(np.diff(heights) > 0)
        assert heights + heights[::-1] == pytest.approx(heights[-1])


@pytest.mark.parametrize(
    ("magnets", "breaks"),
    [
        (DISCS, [0.056, 0.076]),
        (ARCS, [0.056, 0.076]),
        (BLOCKS, [0.055, math.hypot(0.055, 0.008), 0.077, math.hypot(0.077, 0.008)]),
    ],
    ids=["discs", "arcs", "blocks"],
)
def test_map_covers_the_magnets_and_breaks_where_they_bend(magnets: Magnets, breaks: list[float]) -> None:
    field_map = slices_of(magnets, FACING)
    assert field_map.breaks_m == pytest.approx(breaks)
    assert field_map.pole_pairs == 8
    assert not np.any(field_map.b_r_t)  # slices know no radial field


def sections_of(magnets: Magnets, rotor: Rotor) -> SolveAt:
    """Each section solved for itself."""

    def solve_at(radii: np.ndarray, heights: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        return [gap_amplitudes(section_field(magnets, rotor, float(radius)), heights, ORDERS) for radius in radii]

    return solve_at


def test_radii_are_asked_for_in_order_stretch_by_stretch() -> None:
    asked: list[np.ndarray] = []

    def solve_at(radii: np.ndarray, heights: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        asked.append(radii)
        return sections_of(BLOCKS, FACING)(radii, heights)

    slice_map(BLOCKS, FACING, solve_at, sections=3)
    assert [len(radii) for radii in asked] == [3, 3, 3]
    assert np.all(np.diff(np.concatenate(asked)) > 0)


@pytest.mark.parametrize("rotor", [FACING, STEEL, OPEN], ids=["facing", "steel", "open"])
def test_sections_solved_together_are_those_solved_alone(rotor: Rotor) -> None:
    together, alone = slices_of(ARCS, rotor), slice_map(ARCS, rotor, sections_of(ARCS, rotor))
    for one, other in ((together.b_z_t, alone.b_z_t), (together.b_theta_t, alone.b_theta_t)):
        assert np.abs(one[0] - other[0]).max() < 2e-5 * np.abs(alone.b_z_t[0]).max()
        # on the face itself the field is unbounded at the magnets' corners, and its harmonics are the mesh's
        assert np.abs(one[:, :, 4:] - other[:, :, 4:]).max() < 2e-3 * np.abs(alone.b_z_t[0]).max()


def test_nine_sections_of_arcs_are_enough() -> None:
    r, z = np.linspace(0.0565, 0.0755, 9), np.full(9, 0.003)
    five, nine, thirteen = (
        amplitudes_at(slice_map(ARCS, FACING, sections_of(ARCS, FACING), n), r, z) for n in (5, 9, 13)
    )
    size = np.abs(thirteen).max()
    assert np.abs(nine - thirteen).max() < 1e-5 * size
    assert np.abs(five - thirteen).max() > 1e-4 * size


def test_steel_through_the_map_is_the_steel_of_each_section() -> None:
    field_map = slices_of(DISCS, STEEL)
    for radius in (0.0581, 0.0633, 0.0707):
        b_x, b_z = gap_amplitudes(section_field(DISCS, STEEL, radius), [0.003], np.array([1, 3, 5]))
        _, found_x, found_z = amplitudes_at(field_map, [radius], [0.003])[:, :3]
        assert np.abs(found_z - b_z).max() < 2e-4 * abs(b_z[0, 0])
        assert np.abs(found_x - b_x).max() < 2e-4 * abs(b_z[0, 0])


def test_a_disc_fades_towards_its_ends() -> None:
    field_map = slices_of(DISCS, FACING)
    first = np.abs(amplitudes_at(field_map, [0.056 + 1e-6, 0.0565, 0.058, R], [0.0045] * 4)[2, 0])
    assert np.all(np.diff(first) > 0)
    assert first[0] < 0.05 * first[-1]

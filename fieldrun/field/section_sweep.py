"""Many sections at the cost of their solves: templates are shared, Newton starts from the section before, and what lies
below the magnets' face is condensed onto it once for all the gaps above it.

The gap holds no material: for each harmonic of A on the face, whatever lies above answers with
dA/dz = -k_n tanh(k_n H) A_n to a surface at H that flux crosses squarely (ideal plate, middle of a mirrored gap),
or -k_n A_n to free air. A linear side below answers to that with its open-face harmonics and a compliance, both numbers
of the side alone. Where steel may saturate, or stands above the gap, sections are solved one after the other.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate, groupby
from typing import Literal

import numpy as np
import scipy.linalg.lapack
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Complexes, Floats, Ints, frozen_array
from fieldrun.design.errors import SolveError
from fieldrun.design.units import MU0
from fieldrun.field.banded import TOO_THIN, one_thread
from fieldrun.field.gap import continued_between, gap_amplitudes, ideal_upper
from fieldrun.field.harmonics import in_pitches, summed_weights, unit_weights
from fieldrun.field.magnetostatics import SectionField, section_problem, solved, template_of_grid
from fieldrun.field.mesh import Grid, MeshDensity, structured_grid
from fieldrun.field.section import Section
from fieldrun.field.section_batch import linear_fields
from fieldrun.field.section_newton import linear_system
from fieldrun.field.section_template import Template, grid_template

TOGETHER = 8
"""Sections solved in one go: more of them outgrow the processor's cache, fewer leave more to Python."""


KEPT = 16
"""Faces remembered: sides alike along x share their weights."""

Point = tuple[Section, ArrayLike]
"""A section and the heights in its gap at which it is asked for [m]."""


def section_fields(sections: Sequence[Section], density: MeshDensity | None = None) -> Iterator[SectionField]:
    """Solve sections on structured meshes, each started from the one before where steel may saturate.

    Parameters
    ----------
    sections : upright rectangles only; neighbours in the list should be neighbours in their lengths
    density : how many elements

    Raises
    ------
    SolveError
        If the steel of a section does not converge.
    """
    field = None
    for start in range(0, len(sections), TOGETHER):
        with one_thread():
            fields = _solved_together(sections[start : start + TOGETHER], density, field)
        yield from fields
        field = fields[-1]


def _solved_together(
    sections: Sequence[Section], density: MeshDensity | None, field: SectionField | None
) -> list[SectionField]:
    pairs = [(section, structured_grid(section, density)) for section in sections]
    fields: list[SectionField] = []
    for template, run in groupby(pairs, lambda pair: template_of_grid(*pair)):
        some, grids = zip(*run, strict=True)
        if not template.steels:
            fields += linear_fields(some, grids, template)
            field = fields[-1]
            continue
        for section, grid in zip(some, grids, strict=True):
            field = solved(section, grid, field)
            fields.append(field)
    return fields


@dataclass(frozen=True, eq=False)
class Side:
    """What a linear side of the gap does on the magnets' face, for harmonics n.

    Parameters
    ----------
    orders : (n,) odd, from 1: as many as the face has unknowns, half as many for a whole pole; more would be noise
    open_face : (n,) or (2 n,) amplitudes of A with no field along the face above it; imaginary, then real parts [Wb/m]
    compliance : (n, n) or (2 n, 2 n), what the amplitudes lose per weighted slope of A above the face [H/m]
    phases : 1 for half a pole, whose amplitudes are imaginary, 2 for a whole one
    """

    orders: Ints
    open_face: Floats
    compliance: Floats
    phases: int


def condensed_side(section: Section, density: MeshDensity | None = None) -> Side:
    """Condense what lies below the magnets' face onto it, by the last rows of one factorisation.

    Parameters
    ----------
    section : without steel below the face that may saturate; what lies above the face does not matter
    density : how many elements

    Raises
    ------
    ValueError
        If a region below the face is steel.
    SolveError
        If elements are so thin that rounding eats them.
    """
    grid = _below_face(structured_grid(section, density))
    if grid.layout.steels:
        raise ValueError("a side with steel that may saturate cannot be condensed")
    below = replace(section, top_m=0.0, top="normal", upper_line_m=None)
    template = grid_template(grid.layout, below.width, below.bottom, below.top, "upwards")
    with one_thread():
        band, load = linear_system(section_problem(below, grid, template))
        factor, potential, info = scipy.linalg.lapack.dpbsv(band, load, overwrite_ab=True)
        if info:
            raise SolveError(TOO_THIN)
        ends = grid.x_m[_face_columns(template)]
        weights = _face_weights(template, below.width, in_pitches(below, ends))
        size = weights.shape[1]
        # K = U' U with the face last: its Schur complement is that of the last rows of U alone
        half, _ = scipy.linalg.lapack.dtrtrs(_last_rows(factor, size), weights.T, trans=1)
        phases = 1 if below.width == "half pole" else 2
        return Side(_face_orders(below, grid), weights @ potential[-size:], half.T @ half, phases)


def _below_face(grid: Grid) -> Grid:
    layout = grid.layout
    count = 1 + list(accumulate(layout.up)).index(layout.face)
    regions = layout.regions[:count]
    steels = tuple(one for one in layout.steels if any(one in row for row in regions))
    cut = replace(layout, up=layout.up[:count], regions=regions, steels=steels, upper=None)
    return Grid(cut, grid.x_m, grid.z_m[: layout.face + 1])


def _face_columns(template: Template) -> Ints:
    """Lines of the grid along x at the ends of the face's facets, (f, 2): those of the template lie one apart."""
    return np.asarray(template.ops.points_m[0, template.lines["face"].points], np.int64)


@lru_cache(maxsize=KEPT)
def _face_weights(template: Template, width: Literal["half pole", "full pole"], ends: bytes) -> Floats:
    """Weights of the orders by the face's unknowns, which come last: imaginary parts, then (whole pole) real ones."""
    line, rows = template.lines["face"], template.rows
    number, sign = rows.number[line.side], rows.sign[line.side]
    kept = number >= 0
    first = int(number[kept].min())
    orders = 2 * np.arange(len(line.dofs) * (2 if width == "half pole" else 1)) + 1
    columns = summed_weights(unit_weights(width, ends, orders.tobytes()), line.place)
    weights = np.zeros((len(orders), rows.count - first), complex)
    np.add.at(weights.T, number[kept] - first, (columns * sign)[:, kept].T)
    return frozen_array(np.concatenate([weights.imag] if width == "half pole" else [weights.imag, weights.real]))


def _face_orders(section: Section, grid: Grid) -> Ints:
    facets = sum(grid.layout.across)
    return 2 * np.arange(2 * facets if section.width == "half pole" else facets) + 1


def _last_rows(factor: Floats, size: int) -> Floats:
    """The last square of a factor in upper banded storage."""
    memory, width = factor.T.ravel(), len(factor) - 1  # column by column, as it is stored
    place, where = _triangle(size, width)
    last = np.zeros(size * size)
    last[where] = memory[place + (factor.shape[1] - size) * (width + 1)]
    return last.reshape(size, size).T


@lru_cache(maxsize=KEPT)
def _triangle(size: int, width: int) -> tuple[Ints, Ints]:
    """Places of an upper triangle's entries in banded and in square storage, both column by column."""
    i, j = np.triu_indices(size)
    return j * (width + 1) + width + i - j, j * size + i


def face_amplitudes(side: Side, section: Section, upper_lines_m: ArrayLike | None) -> Complexes:
    """Harmonics of A on the magnets' face for many gaps, (g, n) [Wb/m], of the side's orders.

    (1 + compliance s) a = open face, s = k_n tanh(k_n H) / mu0 (k_n / mu0 under free air) times half the box's width:
    what the air above the face asks of a_n.

    Parameters
    ----------
    side : what lies below the face
    section : whose pole pitch and width count
    upper_lines_m : (g,) heights of the surface that flux crosses squarely [m]; None for free air, one gap
    """
    wave = np.pi * side.orders * (0.5 if section.width == "half pole" else 1.0) / (2 * MU0)
    if upper_lines_m is None:
        slopes = wave[None]
    else:
        heights = np.asarray(upper_lines_m, float)[:, None]
        slopes = wave * np.tanh(np.pi / section.pole_pitch_m * side.orders * heights)
    slopes = np.tile(slopes, side.phases)
    matrices = np.eye(len(side.open_face)) + side.compliance * slopes[:, None, :]
    load = np.broadcast_to(side.open_face[:, None], (*slopes.shape, 1))
    found = np.linalg.solve(matrices, load)[:, :, 0].reshape(len(slopes), side.phases, -1)
    return np.asarray(1j * found[:, 0] + (found[:, 1] if side.phases == 2 else 0.0))


def swept_gap_amplitudes(
    sections: Sequence[Section], heights_m: Sequence[ArrayLike], orders: Ints, density: MeshDensity | None = None
) -> Iterator[tuple[Complexes, Complexes]]:
    """Harmonics of the flux density in the gaps of many sections, as `gap.gap_amplitudes` gives them for one.

    Sections that follow each other and differ in the gap alone cost one condensation and a small system each; others
    are solved by `section_fields`.

    Parameters
    ----------
    sections : upright rectangles only
    heights_m : heights above the magnets' face of each section, each (z,) [m]
    orders : (n,) odd orders
    density : how many elements

    Yields
    ------
    B_x and B_z amplitudes, each (n, z) complex [T]
    """
    families: list[list[Point]] = []
    for _, run in groupby(zip(sections, heights_m, strict=True), lambda point: _gapless(point[0])):
        families.append(list(run))
    for condensed, some in groupby(families, lambda one: len(one) > 1 and _condenses(one[0][0], orders, density)):
        if condensed:
            for family in some:
                yield from _over_gaps(family, orders, density)
        else:
            yield from _one_by_one([point for family in some for point in family], orders, density)


def _one_by_one(
    points: list[Point], orders: Ints, density: MeshDensity | None
) -> Iterator[tuple[Complexes, Complexes]]:
    fields = section_fields([section for section, _ in points], density)
    for field, (_, heights) in zip(fields, points, strict=True):
        yield gap_amplitudes(field, heights, orders)


def _gapless(section: Section) -> Section:
    """What sections that differ in the gap alone have in common; a plate's own section, which no other shares."""
    if section.upper_line_m is None or not _empty_above(section):
        return section
    return replace(section, upper_line_m=0.0, top_m=0.0)


def _condenses(section: Section, orders: Ints, density: MeshDensity | None) -> bool:
    """Whether a section is linear and empty above the face, and its face fine enough for the orders."""
    if any(region.steel is not None for region in section.regions) or (section.top == "open") == (
        section.upper_line_m is not None
    ):
        return False
    return _empty_above(section) and int(np.max(orders)) <= _face_orders(section, structured_grid(section, density))[-1]


def _empty_above(section: Section) -> bool:
    return all(z <= 0 for region in section.regions for _, z in region.polygon_m)


def _over_gaps(family: list[Point], orders: Ints, density: MeshDensity | None) -> Iterator[tuple[Complexes, Complexes]]:
    first = family[0][0]
    heights = [np.atleast_1d(np.asarray(one, float)) for _, one in family]
    side = condensed_side(first, density)
    lines = None if first.upper_line_m is None else np.array([section.upper_line_m for section, _ in family], float)
    lower = face_amplitudes(side, first, lines)[:, np.searchsorted(side.orders, orders)]
    upper = ideal_upper(first, lower, orders, lines)
    if len({len(one) for one in heights}) == 1:
        yield from zip(*continued_between(first, lines, lower, upper, np.stack(heights), orders), strict=True)
        return
    for i, one in enumerate(heights):
        line = None if lines is None else lines[i]
        yield continued_between(first, line, lower[i], upper[i], one, orders)

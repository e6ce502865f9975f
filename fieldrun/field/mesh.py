"""Meshes of a section: the record every mesher yields, and the structured graded template that is the default."""

from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.field.section import Section

CORNER_GRADING = 1.8
"""Power that draws element lines towards magnet corners, where the flux density is unbounded."""


@dataclass(frozen=True)
class MeshDensity:
    """How many elements the template takes; doubled by `refined` for error estimates.

    `across` elements along x between two outline corners, `magnet`, `gap`, `steel` and `air` along z in one layer each.
    """

    across: int = 6
    magnet: int = 6
    gap: int = 6
    steel: int = 4
    air: int = 3

    def refined(self) -> "MeshDensity":
        """Twice as many elements each way."""
        return MeshDensity(*(2 * n for n in (self.across, self.magnet, self.gap, self.steel, self.air)))


@dataclass(frozen=True)
class Layout:
    """What a grid of rectangles is like but for its lengths: equal for designs that share a topology.

    Parameters
    ----------
    across, up : elements in each stretch along x and along z
    regions : region of each stretch, one row for each stretch along z; -1 in air
    steels : which regions are steel
    face : number of the line z = 0 among all lines along z
    upper : number of the gap's upper line; None where there is none
    """

    across: tuple[int, ...]
    up: tuple[int, ...]
    regions: tuple[tuple[int, ...], ...]
    steels: tuple[int, ...]
    face: int
    upper: int | None

    @property
    def mesh(self) -> skfem.MeshQuad:
        """The grid with lines one apart."""
        return skfem.MeshQuad.init_tensor(np.arange(sum(self.across) + 1.0), np.arange(sum(self.up) + 1.0))

    @property
    def element_regions(self) -> Ints:
        """Region of each element of `mesh`, (e,)."""
        mesh = self.mesh
        ix, iz = mesh.p[:, mesh.t].min(axis=1).astype(int)
        cells = np.repeat(np.repeat(np.array(self.regions), self.up, axis=0), self.across, axis=1)
        return np.asarray(cells[iz, ix])


@dataclass(frozen=True, eq=False)
class Grid:
    """A layout with its lengths: where its lines lie along x, (lines,), and along z, (lines,), ascending [m]."""

    layout: Layout
    x_m: Floats
    z_m: Floats

    @property
    def points_m(self) -> Floats:
        """(2, v) points in the order of the layout's mesh [m]."""
        points = np.empty((2, len(self.x_m), len(self.z_m)))
        points[0], points[1] = self.x_m[:, None], self.z_m
        return points.reshape(2, -1)


@dataclass(frozen=True, eq=False)
class SectionMesh:
    """A mesh of a section's box, and the region each element lies in.

    Parameters
    ----------
    mesh : scikit-fem mesh, triangles or quadrilaterals with straight sides [m]
    region : (e,) index into the section's regions, -1 in air
    grid : what it was made from, if it is the structured template
    """

    mesh: skfem.Mesh
    region: Ints
    grid: Grid | None = None

    def __post_init__(self) -> None:
        """Lock the array."""
        object.__setattr__(self, "region", frozen_array(self.region, np.int64))


def mesh_of(grid: Grid) -> SectionMesh:
    """The mesh of a grid."""
    return SectionMesh(skfem.MeshQuad.init_tensor(grid.x_m, grid.z_m), grid.layout.element_regions, grid)


def element_areas(mesh: SectionMesh) -> Floats:
    """Area of every element, (e,) [m^2], by the shoelace formula."""
    x, z = mesh.mesh.p[:, mesh.mesh.t]
    return np.asarray(np.abs(np.sum(x * np.roll(z, -1, axis=0) - np.roll(x, -1, axis=0) * z, axis=0)) / 2)


def structured_grid(section: Section, density: MeshDensity | None = None) -> Grid:
    """Lines along x and z that cover a section of upright rectangles, drawn towards the magnets' corners.

    The number of elements depends on the section's layout only, not on its lengths, so that neighbouring designs
    share a topology.

    Parameters
    ----------
    section : regions must be upright rectangles
    density : how many elements

    Raises
    ------
    ValueError
        If a region is no upright rectangle: such outlines need `gmsh_mesh.outline_mesh`.
    """
    density = density or MeshDensity()
    boxes = [_box(region.polygon_m) for region in section.regions]
    corners_x = _distinct([0.0, section.width_m, *(x for x0, x1, _, _ in boxes for x in (x0, x1))])
    faces = [z for _, _, z0, z1 in boxes for z in (z0, z1)]
    lines = [0.0] if section.upper_line_m is None else [0.0, section.upper_line_m]
    corners_z = _distinct([section.bottom_m, section.top_m, *lines, *faces])
    middles_x, middles_z = ([(a + b) / 2 for a, b in pairwise(one)] for one in (corners_x, corners_z))
    regions = _regions_at(boxes, middles_x, middles_z)
    across = (density.across,) * len(middles_x)
    up = tuple(_layer_count(section, row, z, density) for row, z in zip(regions, middles_z, strict=True))
    face, *upper = (sum(up[: _nearest(corners_z, line)]) for line in lines)
    steels = tuple(i for i, region in enumerate(section.regions) if region.steel is not None)
    layout = Layout(across, up, regions, steels, face, upper[0] if upper else None)
    return Grid(layout, _graded_lines(tuple(corners_x), across), _graded_lines(tuple(corners_z), up))


def _nearest(values: list[float], wanted: float) -> int:
    return min(range(len(values)), key=lambda i: abs(values[i] - wanted))


def _regions_at(
    boxes: list[tuple[float, float, float, float]], x: list[float], z: list[float]
) -> tuple[tuple[int, ...], ...]:
    """The last region that each point of a grid lies in, -1 for air."""
    rows = [[-1] * len(x) for _ in z]
    for region, (x0, x1, z0, z1) in enumerate(boxes):
        columns = [i for i, one in enumerate(x) if x0 < one < x1]
        for row, one in zip(rows, z, strict=True):
            if z0 < one < z1:
                for i in columns:
                    row[i] = region
    return tuple(tuple(row) for row in rows)


def _box(polygon: tuple[tuple[float, float], ...]) -> tuple[float, float, float, float]:
    xs, zs = sorted({x for x, _ in polygon}), sorted({z for _, z in polygon})
    if len(polygon) != 4 or len(xs) != 2 or len(zs) != 2:
        raise ValueError("the structured mesh takes upright rectangles only; use the gmsh mesher for other outlines")
    return xs[0], xs[1], zs[0], zs[1]


def _distinct(values: list[float]) -> list[float]:
    """Sort, and join lines that rounding alone sets apart."""
    span = max(values) - min(values)
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > 1e-12 * span:
            kept.append(value)
    return kept


def _layer_count(section: Section, row: tuple[int, ...], middle_m: float, density: MeshDensity) -> int:
    first = min((region for region in row if region >= 0), default=None)
    if first is not None:
        return density.steel if section.regions[first].steel is not None else density.magnet
    in_gap = middle_m > 0 and (section.upper_line_m is None or middle_m < section.upper_line_m)
    return density.gap if in_gap else density.air


@lru_cache(maxsize=64)
def _graded_lines(corners: tuple[float, ...], counts: tuple[int, ...]) -> Floats:
    """Lines between corners, drawn towards them; the box's own two sides need none."""
    stretch, share, ends = _pattern(counts)
    at = np.array(corners)
    lines = at[stretch] + (at[1:] - at[:-1])[stretch] * share
    lines[ends] = at  # not a rounding away from where stretches meet
    return frozen_array(lines)


@cache
def _pattern(counts: tuple[int, ...]) -> tuple[Ints, Floats, Ints]:
    """Each line's stretch, its share of that stretch, and which lines are corners."""
    last = len(counts) - 1
    shares = [np.zeros(1), *(_graded(count, i > 0, i < last) for i, count in enumerate(counts))]
    stretch = np.repeat(np.arange(len(counts)), counts)
    return np.concatenate([stretch[:1], stretch]), np.concatenate(shares), np.cumsum((0, *counts))


def _graded(count: int, at_start: bool, at_end: bool) -> Floats:
    """Shares of a stretch at which its lines lie, without the first, 0."""
    s = np.linspace(0, 1, count + 1)[1:]
    if at_start and at_end:
        return np.where(s < 0.5, (2 * s) ** CORNER_GRADING / 2, 1 - (2 * (1 - s)) ** CORNER_GRADING / 2)
    if at_start:
        return np.asarray(s**CORNER_GRADING)
    return np.asarray(1 - (1 - s) ** CORNER_GRADING if at_end else s)

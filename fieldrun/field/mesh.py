"""Meshes of a section: the record every mesher yields, and the structured graded template that is the default."""

from dataclasses import dataclass
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


@dataclass(frozen=True, eq=False)
class SectionMesh:
    """A mesh of a section's box, and the region each element lies in.

    Parameters
    ----------
    mesh : scikit-fem mesh, triangles or quadrilaterals with straight sides [m]
    region : (e,) index into the section's regions, -1 in air
    """

    mesh: skfem.Mesh
    region: Ints

    def __post_init__(self) -> None:
        """Lock the array."""
        object.__setattr__(self, "region", frozen_array(self.region, np.int64))


def element_areas(mesh: SectionMesh) -> Floats:
    """Area of every element, (e,) [m^2]."""
    x, z = mesh.mesh.p[:, mesh.mesh.t]
    return np.asarray(np.abs(np.sum(x * np.roll(z, -1, axis=0) - np.roll(x, -1, axis=0) * z, axis=0)) / 2)


def structured_mesh(section: Section, density: MeshDensity | None = None) -> SectionMesh:
    """Cover a section of upright rectangles with a tensor mesh of rectangles, drawn towards the magnets' corners.

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
    x = np.concatenate([_graded(a, b, density.across, ends) for a, b, ends in _stretches(corners_x)])
    faces = [z for _, _, z0, z1 in boxes for z in (z0, z1)]
    lines = [0.0] if section.upper_line_m is None else [0.0, section.upper_line_m]
    corners_z = _distinct([section.bottom_m, section.top_m, *lines, *faces])
    z = np.concatenate(
        [_graded(a, b, _layer_count(section, a, b, density), ends) for a, b, ends in _stretches(corners_z)]
    )
    mesh = skfem.MeshQuad.init_tensor(np.unique(x), np.unique(z))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    region = np.full(mesh.t.shape[1], -1)
    for index, (x0, x1, z0, z1) in enumerate(boxes):
        region[(middle[0] > x0) & (middle[0] < x1) & (middle[1] > z0) & (middle[1] < z1)] = index
    return SectionMesh(mesh, region)


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


def _stretches(corners: list[float]) -> list[tuple[float, float, tuple[bool, bool]]]:
    """Neighbouring corners, and which ends to grade towards: the box's own two sides need none."""
    last = len(corners) - 2
    return [(a, b, (i > 0, i < last)) for i, (a, b) in enumerate(pairwise(corners))]


def _layer_count(section: Section, low: float, high: float, density: MeshDensity) -> int:
    middle = (low + high) / 2
    for region in section.regions:
        zs = [z for _, z in region.polygon_m]
        if min(zs) < middle < max(zs):
            return density.steel if region.steel is not None else density.magnet
    in_gap = middle > 0 and (section.upper_line_m is None or middle < section.upper_line_m)
    return density.gap if in_gap else density.air


def _graded(low: float, high: float, count: int, ends: tuple[bool, bool]) -> Floats:
    s = np.linspace(0, 1, count + 1)
    match ends:
        case (True, True):
            s = np.where(s < 0.5, (2 * s) ** CORNER_GRADING / 2, 1 - (2 * (1 - s)) ** CORNER_GRADING / 2)
        case (True, False):
            s = s**CORNER_GRADING
        case (False, True):
            s = 1 - (1 - s) ** CORNER_GRADING
    line = low + (high - low) * s
    line[-1] = high  # not a rounding away from where the next stretch begins
    return line

"""Flux density per triangle becomes flux density per point, for the eye: smooth inside a body, sharp where two meet."""

import numpy as np
from matplotlib.path import Path

from fieldrun.design.arrays import Floats, Ints
from fieldrun.outputs.section_mirror import SectionDrawing


def smooth_inside_parts(drawing: SectionDrawing) -> SectionDrawing:
    """Split points where bodies meet, and give each the area-weighted mean of its triangles in the same body.

    Values already given per point come back as they are. Means round off what a sharp corner does within one
    triangle: pictures only, never numbers.
    """
    if len(drawing.strength_t) != len(drawing.triangles):
        return drawing
    corners = drawing.triangles
    body = np.repeat(_body_of(drawing)[:, None], 3, axis=1)
    keys = body * len(drawing.points_m) + corners  # one number per point and body
    distinct, where = np.unique(keys.ravel(), return_inverse=True)
    weights = np.repeat(triangle_areas(drawing.points_m, corners), 3)
    sums = np.bincount(where, weights * np.repeat(drawing.strength_t, 3), len(distinct))
    strength = sums / np.bincount(where, weights, len(distinct))
    old = distinct % len(drawing.points_m)
    potential = drawing.potential_wb_per_m[old]
    return SectionDrawing(drawing.points_m[old], where.reshape(-1, 3), potential, strength, drawing.parts)


def triangle_areas(points: Floats, triangles: Ints) -> Floats:
    """Areas (t,) [m^2] of triangles (t, 3) between points (p, 2) [m]."""
    corner = points[triangles]
    one, two = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    return np.asarray(np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2)


def _body_of(drawing: SectionDrawing) -> Ints:
    """Which solid part each triangle lies in, counted from 1; 0 is air."""
    middle = drawing.points_m[drawing.triangles].mean(axis=1)
    solid = [part for part in drawing.parts if part.kind != "air"]
    body = np.zeros(len(middle), np.int64)
    for number, part in enumerate(solid, start=1):
        body[Path(part.polygon_m).contains_points(middle)] = number
    return body

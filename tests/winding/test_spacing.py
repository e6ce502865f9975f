"""No two wires of a sheet come nearer than one diameter: true distances between legs, over random windings."""

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Winding, Wire
from fieldrun.design.stack import CROSSED_SHAPES, NAMED_SHAPES
from fieldrun.winding.factors import at_ends
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import LINE, SPIRAL, Pieces, points_along

CHORDS_PER_SPIRAL = 48
NEAREST = 5
"""Turns between neighbours that are looked at, the smallest ones; legs turned further apart are further apart."""


@st.composite
def windings(draw: st.DrawFn) -> tuple[Winding, int, float]:
    shape = draw(st.sampled_from(NAMED_SHAPES))
    inner = draw(st.floats(0.02, 0.1))
    winding = Winding(
        shape=shape,
        inner_radius_m=inner,
        outer_radius_m=inner + draw(st.floats(0.01, 0.06)),
        phases=draw(st.sampled_from([1, 2, 3])),
        rounds=None,
        layers=1,
        height_m=0.005,
        leg=draw(st.sampled_from(["chord", "spiral"])),
        belts=draw(st.sampled_from([1, 2])) if shape in CROSSED_SHAPES else 1,
        span=draw(st.floats(0.2, 1.0)),
        skew=draw(st.floats(0.0, 1.0)),
        straight_share=draw(st.floats(0.05, 0.9)),
    )
    return winding, draw(st.integers(2, 16)), draw(st.floats(0.2e-3, 2e-3))


def cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def point_to_segment(p: np.ndarray, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    along = b - a
    t = np.clip(np.sum((p - a) * along, axis=-1) / np.sum(along**2, axis=-1), 0, 1)
    return np.linalg.norm(p - a - t[..., None] * along, axis=-1)


def segment_distances(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Distances between all segments (i, 2, 2) and (j, 2, 2) in the plane, 0 where they cross."""
    a, b = first[:, None, 0], first[:, None, 1]
    c, d = second[None, :, 0], second[None, :, 1]
    ends = [point_to_segment(a, c, d), point_to_segment(b, c, d), point_to_segment(c, a, b), point_to_segment(d, a, b)]
    tiny = -1e-24  # m^4: collinear legs on opposite sides of the shaft do not cross
    crossing = (cross(b - a, c - a) * cross(b - a, d - a) < tiny) & (cross(d - c, a - c) * cross(d - c, b - c) < tiny)
    return np.where(crossing, 0.0, np.minimum.reduce(ends))


def sides_of(pieces: Pieces, height: float) -> np.ndarray:
    """Sides that lie at a height, (s, c, 2) corners in radius and angle from the inner end outward.

    A side is a run of legs that follow each other without an end between.
    """
    index = np.flatnonzero(~at_ends(pieces) & (pieces.start[:, 2] == height))
    follows = (np.diff(index) == 1) & np.all(pieces.end[index[:-1]] == pieces.start[index[1:]], axis=1)
    runs = np.split(index, np.flatnonzero(~follows) + 1)
    corners = np.array([[*pieces.start[run, :2], pieces.end[run[-1], :2]] for run in runs])
    inward = corners[:, 0, 0] > corners[:, -1, 0]
    corners[inward] = corners[inward, ::-1]
    return corners


def kinds_of(pieces: Pieces, corners: np.ndarray) -> np.ndarray:
    """Kind of the pieces from corner to corner: with spiral legs, all that turn are spirals."""
    leg = SPIRAL if np.any(pieces.kind == SPIRAL) else LINE
    return np.where(np.diff(corners[:, 1]) == 0, LINE, leg)


def chords(kind: np.ndarray, corners: np.ndarray) -> tuple[np.ndarray, float]:
    """A side as chords (c, 2, 2) in the plane, and how far the true curve stands off them at most."""
    level = np.column_stack([corners, np.zeros(len(corners))])
    side = Pieces(kind, level[:-1], level[1:], np.zeros_like(kind), np.zeros_like(kind))
    count = CHORDS_PER_SPIRAL if np.any(kind == SPIRAL) else 1
    fraction = np.broadcast_to(np.linspace(0, 1, 2 * count + 1), (side.count, 2 * count + 1))
    point = points_along(side, fraction)
    flat = np.stack([point[..., 0] * np.cos(point[..., 1]), point[..., 0] * np.sin(point[..., 1])], axis=-1)
    corner, middle = flat[:, ::2], flat[:, 1::2]
    sagitta = np.linalg.norm(middle - (corner[:, :-1] + corner[:, 1:]) / 2, axis=-1).max()
    return np.stack([corner[:, :-1], corner[:, 1:]], axis=2).reshape(-1, 2, 2), float(sagitta)


def turned(segments: np.ndarray, angle: float) -> np.ndarray:
    c, s = math.cos(angle), math.sin(angle)
    return segments @ np.array([[c, s], [-s, c]])


def least_spacing(laid: Lay) -> float:
    """Smallest distance between sides of one sheet [m].

    All sides of a sheet are turned copies of one form (checked here), so that form is held against itself, turned by
    the smallest angles that occur between any two of them.
    """
    least = math.inf
    for height in laid.sheet_heights_m:
        sides = sides_of(laid.pieces, float(height))
        angle = sides[:, 0, 1]
        forms = sides - angle[:, None, None] * [0, 1]
        np.testing.assert_allclose(forms, np.broadcast_to(forms[0], forms.shape), atol=1e-12)
        apart = np.sort(np.mod(angle - angle[0], 2 * np.pi))
        turns = np.unique(np.round(np.mod(angle - angle[:, None], 2 * np.pi), 12))
        assert np.all(np.diff(apart) > 0.9 * laid.step_rad)
        flat, sagitta = chords(kinds_of(laid.pieces, forms[0]), forms[0])
        for turn in turns[(turns > 1e-9) & (turns <= np.pi)][:NEAREST]:
            distance = segment_distances(flat, turned(flat, float(turn))).min()
            least = min(least, float(distance) + 2 * sagitta)
    return least


@pytest.mark.slow
@settings(derandomize=True, max_examples=50, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(windings())
def test_legs_of_a_sheet_are_never_nearer_than_one_diameter(case: tuple[Winding, int, float]) -> None:
    winding, pole_pairs, diameter = case
    try:
        laid = lay(winding, pole_pairs, Wire("solid", diameter, 1, diameter))
    except DesignError:
        reject()
    assert least_spacing(laid) >= diameter * (1 - 1e-9)


def test_the_spacing_test_sees_wires_that_touch_too_closely() -> None:
    winding = Winding("zigzag", 0.06, 0.11, 3, 9, 1, 0.005)
    laid = lay(winding, 8, Wire("solid", 0.8e-3, 1, 0.8e-3))
    assert 1.0 <= least_spacing(laid) / 0.8e-3 < 1.01
    assert segment_distances(np.array([[[0, 0], [1, 0]]]), np.array([[[0.5, -1], [0.5, 1]]]))[0, 0] == 0

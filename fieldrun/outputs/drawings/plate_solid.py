"""The finished board as a solid: STEP for milling and STL for printing, both by gmsh's geometry kernel.

One process at a time may be inside gmsh; never two threads.
"""

import math
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from fieldrun.design.errors import MissingError, SolveError
from fieldrun.design.units import MM
from fieldrun.field.gmsh_mesh import gmsh_state
from fieldrun.outputs.drawings.skin import Skin, outward
from fieldrun.winding.former_outline import Contour, Outline, Round, Stroke

SAGITTA_MM = 0.01
"""Largest distance of a printed board's flats from its true arcs."""

QUARTER = math.pi / 2 * (1 + 1e-9)
"""Longest arc drawn as one curve; the kernel wants less than half a turn."""

FRONTAL, TRIANGLE = 6, 2
"""gmsh's numbers for a mesher and for flat triangles."""

STAMP = re.compile(r"(FILE_NAME\s*\(\s*'[^']*'\s*,\s*)'[^']*'", re.DOTALL)

DESCRIBED = "'Open CASCADE Model'"
"""What the kernel writes as the file's description."""

COUNTED = re.compile(r"'Open CASCADE STEP translator [\d. ]+'")
"""Names that count how many files the process has written."""

NO_DATE = "1970-01-01T00:00:00"


def write_plate(outline: Outline, thickness_m: float, step: Path, facts: str) -> Skin:
    """Write a board as STEP, in mm, and give its skin for an STL; its lower face lies at z = 0.

    Parameters
    ----------
    outline : the finished edge, without kerf
    thickness_m : of the board
    step : the file to write
    facts : what the file says of itself, in ASCII

    Raises
    ------
    MissingError
        If gmsh or a system library it needs is not there.
    SolveError
        If gmsh fails.
    """
    with _session() as gmsh:
        walls = _extruded(gmsh, outline, thickness_m / MM)
        with _silent():  # the kernel reports on standard output, which may be promised to JSON
            gmsh.write(str(step))
        skin = _skin(gmsh, walls)
    text = STAMP.sub(rf"\g<1>'{NO_DATE}'", step.read_text(encoding="utf-8"))
    text = COUNTED.sub("'former'", text.replace(DESCRIBED, "'" + facts.replace("'", "''") + "'", 1))
    step.write_text(text, encoding="utf-8")
    return skin


@contextmanager
def _silent() -> Iterator[None]:
    """Send whatever C code prints nowhere."""
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


@contextmanager
def _session() -> Iterator[Any]:
    loads, state = gmsh_state()
    if not loads:
        raise MissingError(state)
    import gmsh

    if gmsh.isInitialized():
        raise SolveError("gmsh is already open in this process; call gmsh.finalize() first")
    gmsh.initialize([], readConfigFiles=False, interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        yield gmsh
    except Exception as error:
        if type(error) is not Exception:  # gmsh raises nothing else
            raise
        raise SolveError(f"gmsh could not build the former's board: {error}") from error
    finally:
        gmsh.finalize()


def _extruded(gmsh: Any, outline: Outline, thickness: float) -> list[int]:
    """Build the board [mm]; tags of its walls."""
    occ = gmsh.model.occ
    loops = [_loop(occ, contour) for contour in (outline.edge, *outline.holes)]
    face = occ.addPlaneSurface(loops)
    grown = occ.extrude([(2, face)], 0, 0, thickness)
    occ.synchronize()
    volume = next(int(tag) for dim, tag in grown if dim == 3)
    flat = {face, grown[0][1]}
    return [tag for dim, tag in gmsh.model.getBoundary([(3, volume)], oriented=False) if tag not in flat]


def _loop(occ: Any, contour: Contour) -> int:
    pieces = [piece for stroke in _strokes(contour) for piece in _split(stroke)]
    points = [occ.addPoint(piece.start[0] / MM, piece.start[1] / MM, 0) for piece in pieces]
    following = [*points[1:], points[0]]
    curves = [_curve(occ, piece, a, b) for piece, a, b in zip(pieces, points, following, strict=True)]
    return int(occ.addCurveLoop(curves))


def _strokes(contour: Contour) -> tuple[Stroke, ...]:
    if not isinstance(contour, Round):
        return contour
    (x, y), r = contour.centre, contour.radius
    right, left = (x + r, y), (x - r, y)
    return Stroke(right, left, contour.centre), Stroke(left, right, contour.centre)


def _curve(occ: Any, stroke: Stroke, a: int, b: int) -> int:
    if stroke.centre is None:
        return int(occ.addLine(a, b))
    centre = occ.addPoint(stroke.centre[0] / MM, stroke.centre[1] / MM, 0)
    arc = int(occ.addCircleArc(a, centre, b))
    occ.remove([(0, centre)])  # or it would lie in the file as a part of its own
    return arc


def _split(stroke: Stroke) -> Iterator[Stroke]:
    """A stroke in parts of at most a quarter turn."""
    if stroke.centre is None:
        yield stroke
        return
    (x, y), radius = stroke.centre, math.dist(stroke.start, stroke.centre)
    first = math.atan2(stroke.start[1] - y, stroke.start[0] - x)
    turn = math.atan2(stroke.end[1] - y, stroke.end[0] - x) - first
    turn = turn % (2 * math.pi) if stroke.left else -(-turn % (2 * math.pi))
    parts = max(1, math.ceil(abs(turn) / QUARTER))
    inside = [first + turn * i / parts for i in range(1, parts)]
    places = [stroke.start, *((x + radius * math.cos(a), y + radius * math.sin(a)) for a in inside), stroke.end]
    for start, end in pairwise(places):
        yield Stroke(start, end, stroke.centre, stroke.left)


def _skin(gmsh: Any, walls: list[int]) -> Skin:
    """Cover the board with triangles: walls in strips, faces with few corners but those of the edge."""
    mesh = gmsh.model.mesh
    for _, curve in gmsh.model.getEntities(1):
        mesh.setTransfiniteCurve(curve, _parts(gmsh, curve) + 1)
    for wall in walls:
        mesh.setTransfiniteSurface(wall)
    for name, value in (("MeshSizeFromPoints", 0), ("MeshSizeExtendFromBoundary", 0), ("Algorithm", FRONTAL)):
        gmsh.option.setNumber(f"Mesh.{name}", value)
    mesh.generate(2)
    tags, places, _ = mesh.getNodes()
    number = np.zeros(int(tags.max()) + 1, np.int64)
    number[tags] = np.arange(len(tags))
    _, nodes = mesh.getElementsByType(TRIANGLE)
    points = np.asarray(places, float).reshape(-1, 3)
    return Skin(points, outward(points, number[np.asarray(nodes, np.int64)].reshape(-1, 3)))


def _parts(gmsh: Any, curve: int) -> int:
    """Straight parts of a curve: as many as keep them within SAGITTA_MM of an arc."""
    if gmsh.model.getType(1, curve) != "Circle":
        return 1
    low, high = gmsh.model.getParametrizationBounds(1, curve)
    curvature = float(gmsh.model.getCurvature(1, curve, [float(low[0])])[0])
    step = 2 * math.acos(max(-1.0, 1 - SAGITTA_MM * curvature))
    return max(1, math.ceil(float(high[0] - low[0]) / step))

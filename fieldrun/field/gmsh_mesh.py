"""Meshes of sections with any outline, by gmsh: loaded only when asked for, closed again before anything else runs.

One process at a time may be inside gmsh; never two threads.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from types import ModuleType
from typing import Any

import numpy as np
import skfem

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import MissingError, SolveError
from fieldrun.design.units import MM
from fieldrun.field.level_cuts import free_stretches
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.section import Section

RELATIVE_SIZE = 1 / 12
"""Element size away from everything, in pole pitches."""

CORNER_SIZE = 1 / 5
"""Size at a corner of a magnet, where the flux density is unbounded, over the size away from it."""

ACROSS_A_LAYER = 2
"""Least number of elements through a thin magnet, plate or gap."""

CORNER_TURN = np.radians(20)
"""A polygon that turns by more than this has a corner; by less it is a rounding drawn with short sides."""

FRONTAL = 6
"""gmsh's number for the mesher that keeps triangles close to equilateral."""

APT_LINE = (
    "sudo apt-get install -y --no-install-recommends libgl1 libglu1-mesa libxft2 libxcursor1 libxinerama1 libgomp1"
)
"""What a bare Debian lacks for `import gmsh`."""


def gmsh_state() -> tuple[bool, str]:
    """Whether gmsh can be loaded here, and its version or what is missing."""
    try:
        gmsh = _loaded()
    except MissingError as error:
        return False, str(error)
    return True, str(gmsh.GMSH_API_VERSION)


def _loaded() -> ModuleType:
    try:
        import gmsh
    except OSError as error:
        raise MissingError(f"gmsh lacks a system library ({error}); on Debian and Ubuntu: {APT_LINE}") from error
    except ImportError as error:
        raise MissingError(
            "the Python package gmsh is not installed: pip install gmsh (there is no wheel for Linux on ARM)"
        ) from error
    return gmsh  # type: ignore[no-any-return]  # gmsh has no types


@contextmanager
def _session() -> Iterator[Any]:
    """Yield gmsh, silent, without the user's options and without touching Ctrl-C; always closed again."""
    gmsh = _loaded()
    if gmsh.isInitialized():
        raise SolveError("gmsh is already open in this process; call gmsh.finalize() first")
    gmsh.initialize([], readConfigFiles=False, interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("Mesh.Algorithm", FRONTAL)
        yield gmsh
    except Exception as error:
        if type(error) is not Exception:  # gmsh raises nothing else
            raise
        raise SolveError(f"gmsh could not mesh the section: {error}") from error
    finally:
        gmsh.finalize()


def outline_mesh(section: Section, size_m: float | None = None) -> SectionMesh:
    """Cover a section of any polygons with triangles: finer at magnet corners, at least two across every thin layer.

    Sides of regions are sides of triangles, and so are z = 0 and the upper line wherever they do not run through a
    region. The two sides of a full pole carry the same points.

    Parameters
    ----------
    section : regions inside the box that do not overlap; they may touch
    size_m : element size away from corners [m]; None for a twelfth of the pole pitch

    Raises
    ------
    MissingError
        If gmsh or a system library it needs is not there.
    SolveError
        If gmsh fails, for instance on polygons that cross themselves.
    """
    size = (size_m or RELATIVE_SIZE * section.pole_pitch_m) / MM
    with _session() as gmsh:
        pieces = _drawn(gmsh, section)
        if section.width == "full pole":
            _pair_sides(gmsh, section)
        _set_sizes(gmsh, section, size)
        gmsh.model.mesh.generate(2)
        return _collected(gmsh, section, pieces)


def _drawn(gmsh: Any, section: Section) -> dict[int, int]:
    """Draw box, regions and level lines [mm], cut them by one another; region index of every surface."""
    occ = gmsh.model.occ
    width, height = section.width_m / MM, (section.top_m - section.bottom_m) / MM
    box = [(2, occ.addRectangle(0, section.bottom_m / MM, 0, width, height))]
    surfaces = [(2, _polygon(occ, region.polygon_m)) for region in section.regions]
    lines = [(1, _line(occ, a, z, b, z)) for z in _levels(section) for a, b in free_stretches(section, z)]
    points = [(0, occ.addPoint(x / MM, z / MM, 0)) for z in _side_heights(section) for x in (0.0, section.width_m)]
    _, pieces = occ.fragment(box, [*surfaces, *lines, *points])
    occ.synchronize()
    owner = {tag: -1 for dim, tag in pieces[0] if dim == 2}
    own = [(tag, i) for i, parts in enumerate(pieces[1 : 1 + len(surfaces)]) for dim, tag in parts if dim == 2]
    inside = dict(own)
    if len(inside) < len(own):
        raise SolveError("two regions of the section overlap")
    if not inside.keys() <= owner.keys():
        raise SolveError("a region of the section crosses itself or reaches outside its box")
    return owner | inside


def _polygon(occ: Any, polygon: tuple[tuple[float, float], ...]) -> int:
    points = [occ.addPoint(x / MM, z / MM, 0) for x, z in polygon]
    lines = [occ.addLine(a, b) for a, b in pairwise([*points, points[0]])]
    return int(occ.addPlaneSurface([occ.addCurveLoop(lines)]))


def _line(occ: Any, x0: float, z0: float, x1: float, z1: float) -> int:
    return int(occ.addLine(occ.addPoint(x0 / MM, z0 / MM, 0), occ.addPoint(x1 / MM, z1 / MM, 0)))


def _levels(section: Section) -> list[float]:
    """Heights inside the box where harmonics are taken."""
    levels = [0.0] if section.upper_line_m is None else [0.0, section.upper_line_m]
    return [z for z in levels if section.bottom_m < z < section.top_m]


def _side_heights(section: Section) -> list[float]:
    """Heights at which either side is cut: both sides are cut there, so that their curves pair up."""
    if section.width != "full pole":
        return []
    slack = 1e-9 * section.width_m
    on_side = {z for r in section.regions for x, z in r.polygon_m if abs(x) < slack or abs(x - section.width_m) < slack}
    return sorted(z for z in on_side | set(_levels(section)) if section.bottom_m < z < section.top_m)


def _pair_sides(gmsh: Any, section: Section) -> None:
    width = section.width_m / MM
    left, right = (_side_curves(gmsh, section, x) for x in (0.0, width))
    shift = [1, 0, 0, width, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]
    gmsh.model.mesh.setPeriodic(1, right, left, shift)


def _side_curves(gmsh: Any, section: Section, x: float) -> list[int]:
    slack = 1e-6 * section.width_m / MM
    low, high = section.bottom_m / MM - slack, section.top_m / MM + slack
    curves = gmsh.model.getEntitiesInBoundingBox(x - slack, low, -slack, x + slack, high, slack, dim=1)
    return sorted((tag for _, tag in curves), key=lambda tag: gmsh.model.getBoundingBox(1, tag)[1])


def _set_sizes(gmsh: Any, section: Section, size: float) -> None:
    """Grow from the corners of magnets to `size`, and keep thin layers `ACROSS_A_LAYER` elements thick."""
    field = gmsh.model.mesh.field
    fields = [_layer_field(field, layer, size) for layer in _layers(section)]
    if corners := _corner_points(gmsh, section):
        near = field.add("Distance")
        field.setNumbers(near, "PointsList", corners)
        grown = field.add("Threshold")
        numbers = {"InField": near, "SizeMin": CORNER_SIZE * size, "SizeMax": size, "DistMin": 0, "DistMax": 2 * size}
        for name, value in numbers.items():
            field.setNumber(grown, name, value)
        fields.append(grown)
    least = field.add("Min")
    field.setNumbers(least, "FieldsList", fields)
    field.setAsBackgroundMesh(least)
    for option in ("Mesh.MeshSizeExtendFromBoundary", "Mesh.MeshSizeFromPoints"):
        gmsh.option.setNumber(option, 0)


def _layer_field(field: Any, layer: tuple[float, float, float, float], size: float) -> int:
    x0, x1, z0, z1 = (value / MM for value in layer)
    inside = min(size, (z1 - z0) / ACROSS_A_LAYER, (x1 - x0) / ACROSS_A_LAYER)
    box = int(field.add("Box"))
    numbers = {"VIn": inside, "VOut": size, "XMin": x0, "XMax": x1, "YMin": z0, "YMax": z1, "Thickness": 2 * size}
    for name, value in (numbers | {"ZMin": -1, "ZMax": 1}).items():
        field.setNumber(box, name, value)
    return box


def _layers(section: Section) -> list[tuple[float, float, float, float]]:
    """Upright boxes round every region, and the gap."""
    boxes = []
    for region in section.regions:
        x, z = np.array(region.polygon_m).T
        boxes.append((float(x.min()), float(x.max()), float(z.min()), float(z.max())))
    top = section.top_m if section.upper_line_m is None else section.upper_line_m
    return [*boxes, (0.0, section.width_m, 0.0, top)]


def _corner_points(gmsh: Any, section: Section) -> list[int]:
    """Tags of the drawn points at magnet corners, less those on the box's upright sides, where nothing peaks."""
    places = np.array([p for r in section.regions if any(r.remanence_t) for p in _corners(np.array(r.polygon_m))])
    inside = (places[:, 0] > 1e-9 * section.width_m) & (places[:, 0] < (1 - 1e-9) * section.width_m)
    points = [tag for _, tag in gmsh.model.getEntities(0)]
    drawn = np.array([gmsh.model.getValue(0, tag, [])[:2] for tag in points])
    apart = np.linalg.norm(drawn[:, None, :] - places[inside][None, :, :] / MM, axis=2).min(axis=1, initial=np.inf)
    return [points[i] for i in np.flatnonzero(apart < 1e-6 * section.width_m / MM)]


def _corners(polygon: Floats) -> Floats:
    along = np.roll(polygon, -1, axis=0) - polygon
    heading = np.arctan2(along[:, 1], along[:, 0])
    turn = (heading - np.roll(heading, 1) + np.pi) % (2 * np.pi) - np.pi
    return np.asarray(polygon[np.abs(turn) > CORNER_TURN])


def _collected(gmsh: Any, section: Section, owner: dict[int, int]) -> SectionMesh:
    tags, flat, _ = gmsh.model.mesh.getNodes()
    triangles, region = [], []
    for surface, index in owner.items():
        _, _, nodes = gmsh.model.mesh.getElements(2, surface)
        triangles.append(np.concatenate(nodes).reshape(-1, 3))
        region.append(np.full(len(triangles[-1]), index))
    used, t = np.unique(np.concatenate(triangles), return_inverse=True)
    place = np.empty(int(tags.max()) + 1, np.int64)
    place[tags] = np.arange(len(tags))
    points = flat.reshape(-1, 3)[place[used], :2].T * MM
    snapped = _snapped(points, section)
    return SectionMesh(skfem.MeshTri(snapped, np.ascontiguousarray(t.reshape(-1, 3).T)), np.concatenate(region))


def _snapped(points: Floats, section: Section) -> Floats:
    """Put points that lie on a side or a level exactly there: gmsh's kernel leaves them off by rounding."""
    lines = ([0.0, section.width_m], [section.bottom_m, section.top_m, *_levels(section)])
    rows = []
    for row, values in zip(points, lines, strict=True):
        gaps = np.abs(row[:, None] - np.array(values))
        near = gaps.min(axis=1) < 1e-7 * section.width_m
        rows.append(np.where(near, np.array(values)[gaps.argmin(axis=1)], row))
    return np.ascontiguousarray(rows)

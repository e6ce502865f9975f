"""Whether a mesh of the user's own is whole and fits the machine: one sentence for every way in which it does not."""

from collections.abc import Iterator
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.units import MM
from fieldrun.field.msh_format import GroupedMesh
from fieldrun.field.section import Region, Section

FIT = 1e-3
"""How far lengths may differ from the design's, in pole pitches: what is lost when drawings are rounded."""

EXACT = 1e-9
"""How far points of one line may lie apart, over the mesh's extent."""

FLAT = 1e-6
"""Least corner area of an element over the square of its longest side."""

Mask = NDArray[np.bool_]


def width_of(raw: GroupedMesh, plain: Section) -> Literal["half pole", "full pole"] | None:
    """Whether the mesh spans half a pole pitch or a whole one, to `FIT` of it; None if neither."""
    drawn, pitch = float(np.ptp(raw.points[0])) * MM, plain.pole_pitch_m
    if abs(drawn - pitch / 2) <= FIT * pitch:
        return "half pole"
    return "full pole" if abs(drawn - pitch) <= FIT * pitch else None


def fit_faults(raw: GroupedMesh, plain: Section, thickness_m: float) -> list[str]:
    """Everything that does not fit; a wrong scale is told alone, for nothing else can be judged then.

    Parameters
    ----------
    raw : the mesh, with its groups already known to be complete [mm]
    plain : the machine's own section at the magnets' mean radius
    thickness_m : of the magnets [m]
    """
    if scale := _scale_fault(raw, plain):
        return [scale]
    faults = [*_material_faults(raw, plain, thickness_m), *_box_faults(raw, plain), *_steel_faults(raw, plain)]
    faults += [*_side_faults(raw), *_open_faults(raw, plain), *_whole_faults(raw)]
    return faults + ([*_matching_faults(raw)] if width_of(raw, plain) == "full pole" else [])


def _scale_fault(raw: GroupedMesh, plain: Section) -> str | None:
    drawn, pitch = float(np.ptp(raw.points[0])), plain.pole_pitch_m / MM
    wanted = f"half a pole pitch at the magnets' mean radius is {pitch / 2:.4g} mm, a whole one {pitch:.4g} mm"
    if width_of(raw, plain) is None:
        slip = next((1000 for share in (0.5, 1) if abs(1000 * drawn - share * pitch) <= FIT * pitch), None)
        hint = "; is it drawn in metres? lengths are in mm" if slip else ""
        return f"is {drawn:.4g} mm wide; {wanted}{hint}"
    if abs(raw.points[0].min()) > EXACT * pitch:
        return f"starts at x = {raw.points[0].min():.4g} mm; x = 0 must be the centre of a magnet that points up"
    return None


def _material_faults(raw: GroupedMesh, plain: Section, thickness_m: float) -> Iterator[str]:
    """Hold magnets and steel below the gap, and the gap itself, against the design's heights."""
    slack, foot = FIT * plain.pole_pitch_m / MM, -thickness_m / MM
    solid, magnet, height = _of(raw, "magnet", "steel"), _of(raw, "magnet"), _middles(raw)
    low, high = _low(raw, magnet), _high(raw, solid & (height < 0))
    face = np.inf if plain.upper_line_m is None else plain.upper_line_m / MM
    if not np.any(magnet & (height < 0)):
        yield f"has no magnet between y = {foot:.4g} mm and the gap, which begins at y = 0; is it drawn upside down?"
        return
    if abs(low - foot) > slack:
        yield f"has magnets down to y = {low:.4g} mm; magnets.thickness_mm puts their foot at {foot:.4g}"
    if abs(high) > slack:
        yield f"has its highest magnet or steel below the gap at y = {high:.4g} mm; the gap must begin at y = 0"
    if np.any(solid & (height > slack) & (height < face - slack)):
        upto = "the top" if face == np.inf else f"{face:.4g} mm"
        yield f"has a magnet or steel in the gap; from y = 0 to {upto} there must be air only"


def _box_faults(raw: GroupedMesh, plain: Section) -> Iterator[str]:
    """Hold the ends of the box against ideal steel and the gap's middle, and want air before an open side."""
    slack, solid = FIT * plain.pole_pitch_m / MM, _of(raw, "magnet", "steel")
    low, high = _extent(raw.points[1])
    if plain.bottom == "normal" and abs(low - plain.bottom_m / MM) > slack:
        yield f"ends below at y = {low:.4g} mm; the ideal backing's face is at {plain.bottom_m / MM:.4g}"
    if plain.top == "normal" and abs(high - plain.top_m / MM) > slack:
        what = "the gap's middle (draw the lower face only)" if plain.mirrored else "the ideal return plate's face"
        yield f"ends above at y = {high:.4g} mm; {what} is at {plain.top_m / MM:.4g}"
    hint = "draw some before the open side (a quarter of a pole pitch is plenty)"
    foot, head = _low(raw, solid), max(0.0, _high(raw, solid))
    if plain.bottom == "open" and low > foot - slack:
        yield f"has no air below y = {foot:.4g} mm; {hint}"
    if plain.top == "open" and high < head + slack:
        yield f"has no air above y = {head:.4g} mm; {hint}"


def _steel_faults(raw: GroupedMesh, plain: Section) -> Iterator[str]:
    slack, height = FIT * plain.pole_pitch_m / MM, _middles(raw)
    known = {region.name: region for region in plain.regions if region.steel is not None}
    for name, part in (("backing", height < 0), ("return plate", height > 0)):
        found, key = _of(raw, "steel") & part, f"rotor.{name.replace(' ', '_')}"
        if name not in known:
            if np.any(found):
                side = "below" if name == "backing" else "above"
                yield f"has steel {side} the gap, but {key} names no steel with a curve"
        elif not np.any(found):
            yield f"has no steel where {key} should be"
        else:
            yield from _plate_faults(raw, found, known[name], key, slack)


def _plate_faults(raw: GroupedMesh, found: Mask, plate: Region, key: str, slack: float) -> Iterator[str]:
    """Hold the plate's back, and a return plate's face, against the design; pole shoes may stand on a backing."""
    low, high = (pick(z for _, z in plate.polygon_m) / MM for pick in (min, max))
    drawn_low, drawn_high = _low(raw, found), _high(raw, found)
    back, drawn = (low, drawn_low) if high <= 0 else (high, drawn_high)
    if abs(drawn - back) > slack:
        yield f"has its steel's back at y = {drawn:.4g} mm; magnets, gap and {key}_mm put it at {back:.4g}"
    if low > 0 and abs(drawn_low - low) > slack:
        yield f"has its return plate's face at y = {drawn_low:.4g} mm; rotor.gap_mm puts it at {low:.4g}"


def _side_faults(raw: GroupedMesh) -> Iterator[str]:
    x, height = raw.points[0], float(np.ptp(raw.points[1]))
    slack = EXACT * max(np.ptp(x), height)
    for name, place in (("pole_centre", 0.0), ("pole_edge", float(x.max()))):
        ends = raw.lines[name]
        if np.any(ends < 0) or np.any(np.abs(x[ends] - place) > slack):
            yield f"has a side of {name} off x = {place:.4g} mm"
        elif abs(np.abs(np.diff(raw.points[1, ends], axis=0)).sum() - height) > FIT * height:
            yield f"has a group {name} that does not run from the bottom to the top of x = {place:.4g} mm"


def _open_faults(raw: GroupedMesh, plain: Section) -> Iterator[str]:
    z = raw.points[1]
    slack = EXACT * np.ptp(z)
    ends = raw.lines.get("open_side", np.zeros((2, 0), np.int64))
    ends = ends[:, np.all(ends >= 0, axis=0)]
    below, above = (np.all(np.abs(z[ends] - level) <= slack, axis=0) for level in (z.min(), z.max()))
    if not np.all(below | above):
        yield "has a side of open_side that is not level with its bottom or its top"
    for word, marked, kind in (("a lower", below, plain.bottom), ("an upper", above, plain.top)):
        drawn = np.abs(np.diff(raw.points[0, ends[:, marked]], axis=0)).sum()
        whole = abs(drawn - np.ptp(raw.points[0])) <= FIT * np.ptp(raw.points[0])
        if kind == "open" and not whole:
            yield f"has {word} side that is not all in open_side, but there the design has air without end"
        if kind == "normal" and drawn > 0:
            yield f"has {word} side in open_side, but there the design has ideal steel or the gap's middle"


def _whole_faults(raw: GroupedMesh) -> Iterator[str]:
    """Every side of an element is the rim's or belongs to one more element, which lies on its other side."""
    if np.any(flat := _flat_elements(raw)):
        x, y = raw.points[:, raw.cells[:, np.argmax(flat)]].mean(axis=1)
        yield f"has flat or folded elements, first near x = {x:.4g}, y = {y:.4g} mm; mesh that surface anew"
    onward = _sides_counterclockwise(raw)
    sides, uses = _counted(np.sort(onward, axis=0))
    lonely = sides[:, uses == 1]
    on_rim = np.any([np.all(_near(raw, i, v)[lonely], axis=0) for i in (0, 1) for v in _extent(raw.points[i])], axis=0)
    wrong = np.concatenate([lonely[:, ~on_rim], sides[:, uses > 2]], axis=1)
    if wrong.size:
        x, y = raw.points[:, wrong[:, 0]].mean(axis=1)
        yield (
            f"is torn or doubled, first near x = {x:.4g}, y = {y:.4g} mm: neighbouring surfaces must share their "
            "points and the box must have no holes (in gmsh: Coherence or BooleanFragments before meshing)"
        )
        return
    sides, uses = _counted(onward)
    if np.any(uses > 1):
        x, y = raw.points[:, sides[:, np.argmax(uses)]].mean(axis=1)
        yield f"has elements that lie over each other, first near x = {x:.4g}, y = {y:.4g} mm; mesh that surface anew"


def _counted(sides: Ints) -> tuple[Ints, Ints]:
    """Different sides (2, n) from point to point, and how often each is there."""
    points = int(sides.max()) + 1
    keys, uses = np.unique(sides[0] * points + sides[1], return_counts=True)
    return np.stack(np.divmod(keys, points)), uses


def _sides_counterclockwise(raw: GroupedMesh) -> Ints:
    """(2, sides) from point to point, each element on the left of its own; two on one side of one side are folded."""
    x, y = raw.points[:, raw.cells]
    area = np.sum(x * np.roll(y, -1, axis=0) - np.roll(x, -1, axis=0) * y, axis=0)
    corners = np.where(area < 0, raw.cells[::-1], raw.cells)
    return np.stack([corners, np.roll(corners, -1, axis=0)]).reshape(2, -1)


def _flat_elements(raw: GroupedMesh) -> Mask:
    corner = raw.points[:, raw.cells]  # (2, corners, e)
    out, back = np.roll(corner, -1, axis=1) - corner, np.roll(corner, 1, axis=1) - corner
    area = out[0] * back[1] - out[1] * back[0]
    flat = np.abs(area).min(axis=0) < FLAT * (out**2).sum(axis=0).max(axis=0)
    return np.asarray(flat | (np.ptp(np.sign(area), axis=0) > 0))


def _matching_faults(raw: GroupedMesh) -> Iterator[str]:
    left, right = (np.sort(raw.points[1, _near(raw, 0, x)]) for x in _extent(raw.points[0]))
    if len(left) != len(right) or np.max(np.abs(left - right)) > EXACT * np.ptp(raw.points[1]):
        yield "has different points on its two sides; a whole pole pitch needs the same (in gmsh: Periodic Curve)"


def _near(raw: GroupedMesh, axis: int, value: float) -> Mask:
    slack = EXACT * np.ptp(raw.points, axis=1).max()
    return np.asarray(np.abs(raw.points[axis] - value) <= slack)


def _of(raw: GroupedMesh, *starts: str) -> Mask:
    chosen = [i for i, name in enumerate(raw.groups) if name.startswith(starts)]
    return np.asarray(np.isin(raw.group, chosen))


def _middles(raw: GroupedMesh) -> Floats:
    return np.asarray(raw.points[1, raw.cells].mean(axis=0))


def _extent(values: Floats) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _low(raw: GroupedMesh, elements: Mask) -> float:
    return float(raw.points[1, raw.cells[:, elements]].min(initial=np.inf))


def _high(raw: GroupedMesh, elements: Mask) -> float:
    return float(raw.points[1, raw.cells[:, elements]].max(initial=-np.inf))

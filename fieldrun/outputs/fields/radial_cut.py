"""The field in the half-plane through a north pole's centre: how it runs along the radius and past the magnets' ends.

By symmetry nothing crosses that plane, so that arrows in it tell the whole direction.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.model import Rotor
from fieldrun.design.outlines import ends_m
from fieldrun.design.units import MM
from fieldrun.field.ring_view import Body, RingView, cells_at
from fieldrun.outputs.colours import INK, PAPER, PHASE_COLOURS
from fieldrun.outputs.fields.looks import write_heading
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import STRENGTH, in_house_style, new_figure
from fieldrun.winding.lay import Lay

WIDTH_IN, LEFT_IN, RIGHT_IN, BELOW_IN, ABOVE_IN = 11.0, 0.95, 1.45, 0.85, 1.15
"""The figure's width; room around the drawing [in]."""

TALLEST_IN = 8.0
"""Largest height of the drawing on paper [in]."""

AROUND = 0.3
"""Air shown around magnets, steel and winding, as a share of the magnets' length."""

PARTS = 6
"""Cells in each element along either axis: what is seen is the field, not the mesh."""

ARROWS, FAINT_SHARE = 32, 0.02
"""Arrows over the radius; none where the field is below this share of the scale."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Something in the half-plane: its name, and its corners (k, 2) radius and height [m]."""

    name: str
    corners_m: Floats

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "corners_m", frozen_array(self.corners_m))


@in_house_style
def radial_cut(view: RingView, rotor: Rotor, laid: Lay, top_t: float) -> Figure:
    """Draw flux density and its direction, true to scale.

    Parameters
    ----------
    view : solved rings
    rotor, laid : for what is to be seen of steel and winding
    top_t : end of the colour scale [T]
    """
    solid, winding = [*_magnets(view), *_steel(view)], _winding(laid)
    frame = _frame([*solid, winding], rotor)
    figure, axes = _paper(frame, top_t)
    shown = _fill(axes, view, top_t)
    _arrows(axes, view, frame, top_t)
    for shape in solid:
        _outline(axes, shape, color=INK, linewidth=1.8)
    _outline(axes, winding, color=PHASE_COLOURS[0], linewidth=1.8, linestyle=(0, (3, 2)))
    (left, right), (low, high) = frame
    axes.set(xlim=(left / MM, right / MM), ylim=(low / MM, high / MM), aspect="equal")
    axes.set(xlabel="radius, mm", ylabel="mm above the lower magnets")
    write_heading(
        figure,
        "The field along the radius, through a pole's centre",
        f"Flux density in three dimensions, from 0 to {plain(top_t, 'T')}; arrows show its direction. Dashed: winding.",
    )
    _scale(figure, axes, shown)
    return figure


def _magnets(view: RingView) -> list[Shape]:
    """The north poles of both faces, as wide at each height as they are at their axis."""
    bodies = [body for body in view.bodies if body.number == 0]
    faces = [[body for body in bodies if (body.heights_m[0] < 0) == lower] for lower in (True, False)]
    return [Shape("magnet", _stacked(face)) for face in faces if face]


def _stacked(bodies: list[Body]) -> Floats:
    """Corners of slabs upon each other: up along their outer ends, down along their inner ones."""
    slabs = sorted(bodies, key=lambda body: body.heights_m)
    outer = [(ends_m(slab.slab.outline)[1], z) for slab in slabs for z in slab.heights_m]
    inner = [(ends_m(slab.slab.outline)[0], z) for slab in slabs for z in slab.heights_m]
    return np.array([*outer, *reversed(inner)])


def _box(name: str, radii_m: tuple[float, float], heights_m: tuple[float, float]) -> Shape:
    (left, right), (low, high) = radii_m, heights_m
    return Shape(name, np.array([(right, low), (right, high), (left, high), (left, low)]))


def _steel(view: RingView) -> list[Shape]:
    return [_box("steel", ring.radii_m, ring.heights_m) for ring in view.steels]


def _winding(laid: Lay) -> Shape:
    heights = laid.sheet_heights_m
    middle, half = (float(heights.min()) + float(heights.max())) / 2, laid.thickness_m / 2
    return _box("winding", (laid.inner_radius_m, laid.outer_radius_m), (middle - half, middle + half))


Frame = tuple[tuple[float, float], tuple[float, float]]


def _frame(shapes: list[Shape], rotor: Rotor) -> Frame:
    """Radii and heights to show [m]: everything there is, with some air; an open face shows as much above as below."""
    corners = np.concatenate([shape.corners_m for shape in shapes])
    air = AROUND * float(np.ptp(shapes[0].corners_m[:, 0]))
    (left, low), (right, high) = corners.min(axis=0) - air, corners.max(axis=0) + air
    if rotor.gap_m is None:
        high = max(high, -low)
    return (max(0.0, float(left)), float(right)), (float(low), float(high))


def _paper(frame: Frame, top_t: float) -> tuple[Figure, Axes]:
    (left, right), (low, high) = frame
    room = WIDTH_IN - LEFT_IN - RIGHT_IN
    tall = min(TALLEST_IN, room * (high - low) / (right - left))
    total = tall + ABOVE_IN + BELOW_IN
    says = f"Flux density from 0 to {plain(top_t, 'T')} over radius and height, through a pole's centre."
    figure = new_figure(WIDTH_IN, total, says)
    return figure, figure.add_axes((LEFT_IN / WIDTH_IN, BELOW_IN / total, room / WIDTH_IN, tall / total), anchor="W")


def _fill(axes: Axes, view: RingView, top_t: float) -> Any:
    size = np.linalg.norm(cells_at(view, [0.0], PARTS).flux_t[:, 0], axis=0)
    look: dict[str, Any] = {"cmap": STRENGTH, "vmin": 0.0, "vmax": top_t, "rasterized": True}
    edges = [_edges(nodes[::2]) / MM for nodes in (view.radii_m, view.heights_m)]
    return axes.pcolormesh(*edges, size.T, gid="flux-density", **look)


def _edges(vertices: Floats) -> Floats:
    """Ends of the parts of each element."""
    share = np.arange(PARTS) / PARTS
    return np.append((vertices[:-1, None] + np.outer(np.diff(vertices), share)).ravel(), vertices[-1])


def _arrows(axes: Axes, view: RingView, frame: Frame, top_t: float) -> None:
    """Arrows of one length that show which way the field points, none where it is faint."""
    step = (frame[0][1] - frame[0][0]) / ARROWS
    r, z = (np.arange(low + step / 2, high, step) for low, high in frame)
    flux = cells_at(view, [0.0], PARTS).flux_t[:, 0]
    rows, columns = (_cell_of(nodes[::2], at) for nodes, at in ((view.radii_m, r), (view.heights_m, z)))
    radial, _, axial = flux[:, rows[:, None], columns]
    size = np.hypot(radial, axial)
    seen = size > FAINT_SHARE * top_t
    at_r, at_z = (one[seen] / MM for one in np.meshgrid(r, z, indexing="ij"))
    along, up = (one[seen] / size[seen] for one in (radial, axial))
    look: dict[str, Any] = {"angles": "xy", "scale_units": "xy", "pivot": "mid", "color": INK, "zorder": 4}
    axes.quiver(at_r, at_z, along, up, scale=1.35 / (step / MM), width=0.0022, headwidth=4.5, headlength=5, **look)


def _cell_of(vertices: Floats, places: Floats) -> Ints:
    return np.clip(np.searchsorted(_edges(vertices), places) - 1, 0, PARTS * (len(vertices) - 1) - 1)


def _outline(axes: Axes, shape: Shape, **look: Any) -> None:
    axes.add_patch(Polygon(shape.corners_m / MM, closed=True, fill=False, zorder=5, **look))
    if shape.name == "winding":
        return
    ground = {"boxstyle": "round,pad=0.2", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.95}
    r, z = (shape.corners_m.min(axis=0) + shape.corners_m.max(axis=0)) / 2 / MM
    axes.text(r, z, shape.name, ha="center", va="center", bbox=ground, zorder=6, size="small", clip_on=True)


def _scale(figure: Figure, axes: Axes, shown: Any) -> None:
    box = axes.get_position()
    place = figure.add_axes((1 - (RIGHT_IN - 0.3) / WIDTH_IN, box.y0, 0.22 / WIDTH_IN, box.height))
    bar = figure.colorbar(shown, cax=place, extend="max")
    bar.set_label("flux density, tesla")
    bar.outline.set_visible(False)

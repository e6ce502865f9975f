"""Magnets as seen from the winding: outlines to scale, north and south told apart by letter and tone."""

import math
from dataclasses import dataclass
from typing import Any, assert_never

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.patches import Circle, Patch, Polygon, Wedge

from fieldrun.design.model import Arc, Block, Disc, Magnets
from fieldrun.design.outlines import corners_m
from fieldrun.design.units import MM
from fieldrun.outputs.colours import FAINT, INK, NORTH_FILL, PAPER, SOUTH_FILL
from fieldrun.outputs.magnet_bodies import Body, bodies_of


@dataclass(frozen=True)
class Letters:
    """Where N and S are written: at which radius [mm], how large [pt], how far from the top of the drawing [rad]."""

    radius_mm: float
    size_pt: float
    within_rad: float = math.pi


def draw_magnets(axes: Axes, magnets: Magnets, turn_rad: float, letters: Letters) -> None:
    """Fill the magnets' outlines and write N and S beside them, clear of the wires.

    Bodies that lie along the ring (Halbach) get an arrow the way they point instead of a letter, and a tone between.

    Parameters
    ----------
    axes : in millimetres
    magnets : the face
    turn_rad : the drawing is turned by this much
    letters : where they go
    """
    bodies = bodies_of(magnets)
    patches = [_patch(magnets, body.angle_rad + turn_rad) for body in bodies]
    tones = [_tone(body.turn_rad) for body in bodies]
    axes.add_collection(
        PatchCollection(patches, facecolors=tones, edgecolors=FAINT, linewidths=0.8, zorder=1, gid="magnets")
    )
    for body in bodies:
        angle = body.angle_rad + turn_rad
        if abs((angle - math.pi / 2 + math.pi) % (2 * math.pi) - math.pi) < letters.within_rad:
            _write_pole(axes, body, angle, letters)


def outline_magnets(axes: Axes, magnets: Magnets, turn_rad: float) -> None:
    """Draw the outlines once more, over the wires that hide them."""
    patches = [_patch(magnets, body.angle_rad + turn_rad) for body in bodies_of(magnets)]
    axes.add_collection(PatchCollection(patches, facecolors="none", edgecolors=PAPER, linewidths=2.2, zorder=4))
    axes.add_collection(PatchCollection(patches, facecolors="none", edgecolors=INK, linewidths=0.9, zorder=5))


def _tone(turn_rad: float) -> str:
    up = math.cos(turn_rad)
    return NORTH_FILL if up > 0.1 else SOUTH_FILL if up < -0.1 else "#E7E2D6"


def _patch(magnets: Magnets, angle: float) -> Patch:
    outline = magnets.outline
    if isinstance(outline, Disc):
        centre = outline.pitch_radius_m / MM * np.array([math.cos(angle), math.sin(angle)])
        return Circle((float(centre[0]), float(centre[1])), outline.diameter_m / 2 / MM)
    if isinstance(outline, Block):
        return Polygon(_block_corners(outline, angle))
    if isinstance(outline, Arc):
        return _arc(magnets, outline, angle)
    assert_never(outline)


def _block_corners(block: Block, angle: float) -> list[tuple[float, float]]:
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-along[1], along[0]])
    corners = [(radial * along + aside * across) / MM for radial, aside in corners_m(block)]
    return [(float(x), float(y)) for x, y in corners]


def _arc(magnets: Magnets, arc: Arc, angle: float) -> Patch:
    half = math.degrees(arc.share * math.pi / len(bodies_of(magnets)))
    middle = math.degrees(angle)
    width = (arc.outer_radius_m - arc.inner_radius_m) / MM
    return Wedge((0, 0), arc.outer_radius_m / MM, middle - half, middle + half, width=width)


def _write_pole(axes: Axes, body: Body, angle: float, letters: Letters) -> None:
    up, along = math.cos(body.turn_rad), -math.sin(body.turn_rad)
    axial = abs(up) > 0.99
    # an arrow points along the motion (counterclockwise) or against it: of a tilted body, the part along it
    turn = 0.0 if axial else math.degrees(angle) + math.copysign(90, along)
    word = ("N" if up > 0 else "S") if axial else "→"
    place = letters.radius_mm * math.cos(angle), letters.radius_mm * math.sin(angle)
    look: dict[str, Any] = {"ha": "center", "va": "center", "weight": "bold" if axial else "normal"}
    axes.text(*place, word, rotation=turn, rotation_mode="anchor", size=letters.size_pt, color=INK, zorder=2, **look)

"""From the part of a section that is solved to a whole pole pair, both sides of the gap, by symmetry alone."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array

Kind = Literal["magnet up", "magnet down", "magnet", "steel", "air"]


@dataclass(frozen=True)
class Part:
    """One outline of a section: its name in plain words, corners [m], what it is.

    `direction_rad` is the way a magnet points, 0 along the motion, pi/2 up.
    """

    name: str
    polygon_m: tuple[tuple[float, float], ...]
    kind: Kind
    direction_rad: float = np.pi / 2


@dataclass(frozen=True, eq=False)
class SectionDrawing:
    """What a picture of a section needs, as plain arrays.

    Parameters
    ----------
    points_m : (v, 2) x along the motion (0 at the centre of a north pole), z axial
    triangles : (t, 3) indices of points
    potential_wb_per_m : (v,) A; flux per metre flows between two of its contours
    strength_t : (t,) or (v,) |B|
    parts : outlines
    """

    points_m: Floats
    triangles: Ints
    potential_wb_per_m: Floats
    strength_t: Floats
    parts: tuple[Part, ...]

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("points_m", "potential_wb_per_m", "strength_t"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        object.__setattr__(self, "triangles", frozen_array(self.triangles, np.int64))


@dataclass(frozen=True)
class Image:
    """One copy of the solved part: x to `sign` x + shift, z mirrored at `plane_m` or not; signs of A and of M."""

    sign_x: int
    shift_x: float
    plane_m: float | None
    sign_potential: int
    sign_along: int
    sign_up: int


def whole_pole_pair(drawing: SectionDrawing, pole_pitch_m: float, plane_m: float | None = None) -> SectionDrawing:
    """Complete half a pole pitch (or a whole one) to the pole pair from -tau/2 to 3 tau/2.

    Half a pole, 0 <= x <= tau/2: A is odd about the pole's centre line x = 0 and even about the line between poles
    x = tau/2. A whole pole pitch, 0 <= x <= tau: A(x + tau) = -A(x). Unlike poles facing across a gap: A is even about
    the gap's middle z = `plane_m`.

    Parameters
    ----------
    drawing : the solved part
    pole_pitch_m : tau [m]
    plane_m : middle of the gap if only the lower half is given [m]
    """
    images = [
        turned
        for image in _along(drawing, pole_pitch_m)
        for turned in ((image,) if plane_m is None else (image, _faced(image, plane_m)))
    ]
    copies = [_placed(drawing, image) for image in images]
    offsets = len(drawing.points_m) * np.arange(len(copies))
    return SectionDrawing(
        np.concatenate([copy.points_m for copy in copies]),
        np.concatenate([copy.triangles + offset for copy, offset in zip(copies, offsets, strict=True)]),
        np.concatenate([copy.potential_wb_per_m for copy in copies]),
        np.concatenate([copy.strength_t for copy in copies]),
        tuple(part for copy in copies for part in copy.parts),
    )


def _along(drawing: SectionDrawing, tau: float) -> tuple[Image, ...]:
    if drawing.points_m[:, 0].max() > 0.75 * tau:  # a whole pitch: half of it before, half of it after the given one
        return (Image(1, -tau, None, -1, -1, -1), Image(1, 0.0, None, 1, 1, 1), Image(1, tau, None, -1, -1, -1))
    given, mirrored = Image(1, 0.0, None, 1, 1, 1), Image(-1, 0.0, None, -1, -1, 1)
    return (mirrored, given, Image(-1, tau, None, 1, 1, -1), Image(1, tau, None, -1, -1, -1))


def _faced(image: Image, plane_m: float) -> Image:
    return replace(image, plane_m=plane_m, sign_along=-image.sign_along)


def _placed(drawing: SectionDrawing, image: Image) -> SectionDrawing:
    return SectionDrawing(
        np.array(_moved(drawing.points_m, image)),
        drawing.triangles,
        image.sign_potential * drawing.potential_wb_per_m,
        drawing.strength_t,
        tuple(_moved_part(part, image) for part in drawing.parts),
    )


def _moved(points: Sequence[tuple[float, float]] | Floats, image: Image) -> Floats:
    xy = np.array(points, float)
    xy[:, 0] = image.sign_x * xy[:, 0] + image.shift_x
    if image.plane_m is not None:
        xy[:, 1] = 2 * image.plane_m - xy[:, 1]
    return xy


def _moved_part(part: Part, image: Image) -> Part:
    along, up = image.sign_along * np.cos(part.direction_rad), image.sign_up * np.sin(part.direction_rad)
    swapped: dict[Kind, Kind] = {"magnet up": "magnet down", "magnet down": "magnet up"}
    kind = swapped.get(part.kind, part.kind) if image.sign_up < 0 else part.kind
    corners = tuple((float(x), float(z)) for x, z in _moved(part.polygon_m, image))
    return Part(part.name, corners, kind, float(np.arctan2(up, along)))

"""What a section is: named polygons of magnet and steel in a box of air, unrolled at one radius. No mesh in here.

x runs along the motion with x = 0 at the centre of a north pole; z is axial with z = 0 at the gap-side face of the
lower magnets. The box spans half a pole pitch where every pattern allows it: A = 0 on the pole's centre line, flux
parallel to the line between poles. A full pole pitch closes on itself with the sign turned (antiperiodic).
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldrun.design.model import Magnets, Plate, Rotor, SteelCurve
from fieldrun.field.outline import body_pitch_rad, covered_half_angles

Side = Literal["open", "normal"]
"""How the box ends below and above: free air for ever, or a plane that flux crosses at right angles."""

AIR_BEHIND = 0.25
"""Height of the air strip meshed before an open side, in pole pitches: the open side itself is exact."""

SLIVER = 1e-4
"""Strips of magnet or air narrower than this share of the magnets' pitch are left out: no mesh can be that thin, and
the field changes by no more than that share."""


@dataclass(frozen=True)
class Region:
    """One material of a section inside a closed polygon [m]; `remanence_t` is (B_x, B_z)."""

    name: str
    polygon_m: tuple[tuple[float, float], ...]
    permeability: float = 1.0
    remanence_t: tuple[float, float] = (0.0, 0.0)
    steel: SteelCurve | None = None


@dataclass(frozen=True)
class Section:
    """A box of air, half a pole pitch or a whole one wide, with regions in it.

    The gap is free of material from z = 0 to `upper_line_m`: the plate's face, or the gap's middle (`mirrored`: what
    is above the middle repeats what is below). `upper_line_m` None: nothing above.
    """

    pole_pitch_m: float
    width: Literal["half pole", "full pole"]
    bottom_m: float
    top_m: float
    bottom: Side
    top: Side
    regions: tuple[Region, ...]
    upper_line_m: float | None
    mirrored: bool = False

    @property
    def width_m(self) -> float:
        """Extent of the box along x [m]."""
        return self.pole_pitch_m / (2 if self.width == "half pole" else 1)


def rectangle(x0: float, x1: float, z0: float, z1: float) -> tuple[tuple[float, float], ...]:
    """Corners of an upright rectangle, counterclockwise."""
    return ((x0, z0), (x1, z0), (x1, z1), (x0, z1))


def polygon_area(polygon_m: tuple[tuple[float, float], ...]) -> float:
    """Area inside a closed polygon that does not cross itself, whichever way round [m^2]: the shoelace formula."""
    x, z = np.array(polygon_m).T
    return float(abs(np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z))) / 2


def section_at(
    magnets: Magnets, rotor: Rotor, radius_m: float, width: Literal["half pole", "full pole"] = "half pole"
) -> Section:
    """Unroll the machine at one radius.

    Assumes straight sides: a magnet covers r (psi_o - psi_i) on either side of its axis (field.outline). Two faces are
    mirror images with unlike poles facing, so that only the lower one is drawn, up to the middle of the gap.

    Parameters
    ----------
    magnets, rotor : the machine
    radius_m : where to unroll [m]
    width : box to draw; "half pole" is right for every pattern the design file knows

    Returns
    -------
    The section; regions empty of magnets where the circle meets none.
    """
    tau = math.pi * radius_m / magnets.pole_pairs
    width_m = tau / 2 if width == "half pole" else tau
    regions = list(_magnet_regions(magnets, radius_m, width_m))
    below = _end(rotor.backing, -magnets.thickness_m, -AIR_BEHIND * tau)
    if rotor.gap_m is None:
        upper_line, above = None, End(None, AIR_BEHIND * tau, "open")
    elif rotor.faces == 2:
        upper_line, above = rotor.gap_m / 2, End(None, rotor.gap_m / 2, "normal")
    else:
        upper_line, above = rotor.gap_m, _end(rotor.return_plate, rotor.gap_m, AIR_BEHIND * tau)
    regions += _steel_regions(below, "backing", width_m) + _steel_regions(above, "return plate", width_m)
    return Section(
        pole_pitch_m=tau,
        width=width,
        bottom_m=below.height_m,
        top_m=above.height_m,
        bottom=below.side,
        top=above.side,
        regions=tuple(regions),
        upper_line_m=upper_line,
        mirrored=rotor.faces == 2,
    )


@dataclass(frozen=True)
class End:
    """How the box is closed: steel between two heights (or none), the last height, and what happens there."""

    steel: tuple[SteelCurve, float, float] | None
    height_m: float
    side: Side


def _end(plate: Plate | None, face_m: float, air_m: float) -> End:
    """Close the box beyond `face_m`: ideal steel ends it, real steel and nothing at all are followed by open air."""
    if plate is None:
        return End(None, face_m + air_m, "open")
    if plate.steel is None:
        return End(None, face_m, "normal")
    back = face_m + math.copysign(plate.thickness_m, air_m)
    return End((plate.steel, min(face_m, back), max(face_m, back)), back + air_m, "open")


def _steel_regions(end: End, name: str, width_m: float) -> list[Region]:
    if end.steel is None:
        return []
    curve, low, high = end.steel
    return [Region(name, rectangle(0, width_m, low, high), steel=curve)]


def _magnet_regions(magnets: Magnets, radius_m: float, width_m: float) -> list[Region]:
    inner, outer = (radius_m * float(psi) for psi in covered_half_angles(magnets, radius_m))
    pitch = radius_m * body_pitch_rad(magnets)
    if outer > (1 - SLIVER) * pitch / 2:
        outer = pitch / 2
    if outer - inner <= SLIVER * pitch:
        return []
    strips = [(-outer, outer)] if inner <= SLIVER * pitch else [(-outer, -inner), (inner, outer)]
    bodies = range(-1, math.ceil(width_m / pitch) + 2)
    regions = [
        _body(magnets, j, j * pitch + left, j * pitch + right, width_m) for j in bodies for left, right in strips
    ]
    return [region for region in regions if region is not None]


def _body(magnets: Magnets, number: int, left: float, right: float, width_m: float) -> Region | None:
    """Magnet body `number` clipped to the box; body 0 points up, each next one is turned by pi / segments_per_pole."""
    left, right = max(left, 0.0), min(right, width_m)
    if right - left <= 1e-9 * width_m:
        return None
    turn = math.pi * number / magnets.segments_per_pole
    # the gap lies above: turning against the motion strengthens that side (Halbach's array, strong side up)
    remanence = (-magnets.remanence_t * math.sin(turn), magnets.remanence_t * math.cos(turn))
    exact = (round(remanence[0], 15), round(remanence[1], 15))
    name = f"magnet_{round(np.degrees(math.atan2(exact[0], exact[1]))) % 360}"
    return Region(
        {"magnet_0": "magnet_up", "magnet_180": "magnet_down"}.get(name, name),
        rectangle(left, right, -magnets.thickness_m, 0.0),
        magnets.recoil_permeability,
        exact,
    )

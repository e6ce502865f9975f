"""The board that a winding is made on: where its notches and pins stand, how wide they are, what it cannot be."""

import math
from dataclasses import dataclass

from fieldrun.design.errors import DesignError
from fieldrun.design.making import FormerPlan
from fieldrun.design.model import Design
from fieldrun.winding.former_checks import former_faults
from fieldrun.winding.former_land import PIN_M, corner_land_m, least_land_m
from fieldrun.winding.lay import Lay
from fieldrun.winding.stations import Corners, Station, corners_of
from fieldrun.winding.walk import Loops, loops_of

BOLT_M = 0.008
"""Hole in the middle of a board that nothing has to pass: an M8 bolt to turn it on."""

LEAST_RIM_M = 0.006
"""A shorter tooth of plywood breaks."""

BOARD_M = 0.004
"""Plywood that holds pins and is cut by any laser or fret saw."""

CLOSED_M = 0.002
"""Inner notches stay closed slots if more wood than this is left between them and the hub hole."""


@dataclass(frozen=True, eq=False)
class Former:
    """A board with its notches and pins. Sizes are those of the finished board; the saw's kerf is left to drawings.

    Parameters
    ----------
    plan : as stated
    loops, corners : the wire in winding order, and every turn of it with its station
    notch_m : width of a notch, or diameter of a pin at the ends
    pin_m : diameter of the pins at corners between the ends; of all pins if the ends are pins too
    outer_radius_m, hub_radius_m : of the board, and of the hole in its middle
    slot_m : how far a notch reaches from its wire's corner outward, or at the inner ends inward
    opens : whether inner notches open into the hub hole; else they are closed slots
    thickness_m : of the board
    stays : the board is left in the gap, wrapped by its winding
    keeps_disc : the middle of the board is kept, because it carries a winding that spins
    inner_land_m, outer_land_m, corner_land_m : least wood between neighbours at each kind of station, at corners to the
        ends too; None for fewer than two
    hub_passes : how often the wire goes through the middle from one face of the board to the other
    """

    plan: FormerPlan
    loops: Loops
    corners: Corners
    notch_m: float
    pin_m: float
    outer_radius_m: float
    hub_radius_m: float
    slot_m: float
    opens: bool
    thickness_m: float
    stays: bool
    keeps_disc: bool
    inner_land_m: float | None
    outer_land_m: float | None
    corner_land_m: float | None
    hub_passes: int

    @property
    def stations(self) -> tuple[Station, ...]:
        """Every notch and pin once, by phases and numbers."""
        return self.corners.stations

    @property
    def notched(self) -> bool:
        """Whether the ends are notches."""
        return self.plan.ends == "notches"

    @property
    def threaded(self) -> bool:
        """Whether the wire is threaded through closed slots, so that no bobbin can pass."""
        return self.hub_passes > 0 and self.notched and not self.opens

    def of_kind(self, kind: str) -> tuple[Station, ...]:
        """Stations of one kind."""
        return tuple(station for station in self.stations if station.kind == kind)


def former_of(design: Design, laid: Lay) -> Former:
    """Plan the board that a winding is made on.

    Notches and pins stand exactly where the laid wire turns, `comb` says for which rounds. A notch is as wide as the
    bundle of wires that pass it plus a clearance, the bundle taken as high as it is wide; in a full comb, where there
    is no room beside each other, wires lie behind each other along the notch.

    Parameters
    ----------
    design : for winding, wire and the plan of the former
    laid : the winding as laid

    Raises
    ------
    DesignError
        With every reason why such a board cannot be made.
    """
    former = _planned(design, laid)
    faults = former_faults(former, laid, design.winding)
    if faults:
        raise DesignError(faults)
    return former


def _planned(design: Design, laid: Lay) -> Former:
    plan, loops = design.former, loops_of(laid, design.winding)
    corners = corners_of(laid, loops, every_round=plan.comb == "all")
    notch, pin = _widths(plan, corners.stations, design.wire.overall_diameter_m)
    slot = _slot(plan, corners.stations, notch, design.wire.overall_diameter_m)
    keeps, stays = design.rotor.spins == "coil", design.winding.former_in_gap_m > 0
    inward = min(slot, laid.inner_radius_m / 2)
    hub = _hub_radius(plan, laid, inward, whole=keeps or (plan.ends == "pins" and not stays))
    opens = plan.ends == "notches" and hub >= laid.inner_radius_m - inward - CLOSED_M
    narrowest = hub if opens else laid.inner_radius_m - inward
    notches = plan.ends == "notches"
    return Former(
        plan=plan,
        loops=loops,
        corners=corners,
        notch_m=notch,
        pin_m=pin,
        outer_radius_m=laid.outer_radius_m + slot,
        hub_radius_m=hub,
        slot_m=slot,
        opens=opens,
        thickness_m=design.winding.former_in_gap_m or plan.thickness_m or BOARD_M,
        stays=stays,
        keeps_disc=keeps,
        inner_land_m=least_land_m(corners.stations, "inner", notch, narrowest if notches else None),
        outer_land_m=least_land_m(corners.stations, "outer", notch, laid.outer_radius_m if notches else None),
        corner_land_m=corner_land_m(corners.stations, pin, notch),
        hub_passes=_hub_passes(laid) if stays else 0,
    )


def _widths(plan: FormerPlan, stations: tuple[Station, ...], wire_m: float) -> tuple[float, float]:
    """Width of a notch and diameter of a pin [m]."""
    if plan.ends == "pins":
        pin = plan.notch_m or PIN_M
        return pin, pin
    beside = 1 if plan.comb == "all" else math.ceil(math.sqrt(_most_wires(stations)))
    return plan.notch_m or beside * wire_m + plan.clearance_m, PIN_M


def _most_wires(stations: tuple[Station, ...]) -> int:
    return max((station.wires for station in stations if station.kind != "corner"), default=1)


def _slot(plan: FormerPlan, stations: tuple[Station, ...], notch: float, wire_m: float) -> float:
    """Length of a notch beyond its corner: for all of its wires behind each other as far as they lie so [m]."""
    if plan.rim_m is not None:
        return plan.rim_m
    beside = max(1, math.floor(notch / wire_m))
    rows = math.ceil(_most_wires(stations) / beside)
    return max(LEAST_RIM_M, 3 * notch, (rows + 1) * wire_m)


def _hub_radius(plan: FormerPlan, laid: Lay, inward: float, *, whole: bool) -> float:
    if plan.hub_hole_m is not None:
        return plan.hub_hole_m / 2
    return min(BOLT_M / 2, laid.inner_radius_m / 4) if whole else laid.inner_radius_m - inward


def _hub_passes(laid: Lay) -> int:
    """How often the wire changes faces at less than the mean radius, over all loops."""
    middle, mean = laid.sheet_heights_m.mean(), (laid.inner_radius_m + laid.outer_radius_m) / 2
    start, end = laid.pieces.start, laid.pieces.end
    changes = ((start[:, 2] < middle) != (end[:, 2] < middle)) & (start[:, 0] < mean)
    return int(changes.sum())

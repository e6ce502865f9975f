"""What keeps a former from being cut or wound on, each reason with how much is missing and what to try."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.digits import digits
from fieldrun.design.errors import Fault
from fieldrun.design.model import Winding
from fieldrun.design.units import MM
from fieldrun.winding.former_land import PIN_M, corner_land_m, least_land_m
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import LINE, Pieces

if TYPE_CHECKING:
    from fieldrun.winding.former import Former

LEAST_M = 1e-5
"""Wood of less width is none."""

PLACES = {"inner": "at the inner ends", "outer": "at the outer ends", "corner": "between the ends"}


def former_faults(former: "Former", laid: Lay, winding: Winding) -> list[Fault]:
    """Every reason why a board cannot be made as planned."""
    return [*_kerf(former), *_hub(former, laid), *_rim(former), *_touching(former), *_crossing(former, laid, winding)]


def _kerf(former: "Former") -> Iterator[Fault]:
    widths = {"notch": former.notch_m} if former.notched else {}
    if former.of_kind("corner") or not former.notched:
        widths["pin's hole"] = former.pin_m
    for name, width in widths.items():
        if former.plan.kerf_m >= width:
            text = f"a cut {_mm(former.plan.kerf_m)} mm wide makes no {name} of {_mm(width)} mm"
            yield Fault("former.kerf_mm", f"{text}; try a finer blade or a wider notch_mm")


def _hub(former: "Former", laid: Lay) -> Iterator[Fault]:
    most = laid.inner_radius_m - former.notch_m
    if former.hub_radius_m > most + LEAST_M:
        text = f"a hole of {_mm(2 * former.hub_radius_m)} mm leaves no wood at the inner ends"
        yield Fault("former.hub_hole_mm", f"{text}; must be at most {_mm(2 * max(most, 0.0))} mm")


def _rim(former: "Former") -> Iterator[Fault]:
    if former.slot_m < former.notch_m:
        what = "notches" if former.notched else "pins"
        text = f"must be at least {_mm(former.notch_m)} mm, the width of the {what}"
        yield Fault("former.rim_mm", f"{text}; received {_mm(former.slot_m)}")


def _touching(former: "Former") -> Iterator[Fault]:
    lands = {"inner": former.inner_land_m, "outer": former.outer_land_m, "corner": former.corner_land_m}
    for kind, land in lands.items():
        if land is not None and land < LEAST_M:
            pins = kind == "corner" or not former.notched
            yield Fault(_key(former), _touching_text(former, kind, land, pins=pins))


def _key(former: "Former") -> str:
    return "former.comb" if former.plan.comb == "all" else "former.notch_mm"


def _touching_text(former: "Former", kind: str, land: float, *, pins: bool) -> str:
    what, width = ("pins", former.pin_m) if pins else ("notches", former.notch_m)
    lack = f"{_mm(LEAST_M - land)} mm are missing between them"
    text = f"{what} of {_mm(width)} mm {PLACES[kind]} would touch: {lack}"
    cures = ['fewer: comb = "first round"'] if former.plan.comb == "all" else []
    cures += ['ends = "pins"'] if not pins and _pins_fit(former) else []
    narrower = width + land
    only_pins = 'ends = "pins" with ' if kind == "corner" and former.notched else ""
    cures += [f"{only_pins}notch_mm below {_mm(narrower)}"] if narrower > 2e-4 else []
    return f"{text}; try {' or '.join(cures) or 'fewer poles'}"


def _pins_fit(former: "Former") -> bool:
    lands = [least_land_m(former.stations, kind, PIN_M, None) for kind in ("inner", "outer")]
    lands.append(corner_land_m(former.stations, PIN_M, PIN_M))
    return all(land is None or land >= LEAST_M for land in lands)


def _crossing(former: "Former", laid: Lay, winding: Winding) -> Iterator[Fault]:
    """A flat board cannot hold a wire across the hole in its middle."""
    nearest = nearest_m(laid.pieces)
    worst = int(np.argmin(nearest))
    if nearest[worst] > former.hub_radius_m - LEAST_M:
        return
    start, end = laid.pieces.start[worst], laid.pieces.end[worst]
    text = (
        f"a piece from {_mm(start[0])} to {_mm(end[0])} mm runs {_mm(nearest[worst])} mm from the axis and would cross "
        f"the hub hole of {_mm(2 * former.hub_radius_m)} mm: it cannot be formed on a flat board"
    )
    key = "winding.file" if winding.shape == "path" else "winding.inner_radius_mm"
    yield Fault(key, f"{text}; try a smaller former.hub_hole_mm, or corners that lead round the hub")


def nearest_m(pieces: Pieces) -> Floats:
    """Least distance of each piece from the axis, (m,) [m]: a straight one may come nearer than its ends."""
    ends = [
        np.stack([p[:, 0] * np.cos(p[:, 1]), p[:, 0] * np.sin(p[:, 1])], axis=1) for p in (pieces.start, pieces.end)
    ]
    along = ends[1] - ends[0]
    square = np.sum(along**2, axis=1)
    share = np.clip(-np.sum(ends[0] * along, axis=1) / np.where(square > 0, square, 1.0), 0, 1)
    straight = np.hypot(*(ends[0] + share[:, None] * along).T)
    return np.asarray(np.where(pieces.kind == LINE, straight, np.minimum(pieces.start[:, 0], pieces.end[:, 0])))


def _mm(length_m: float) -> str:
    return digits(length_m / MM, 3)

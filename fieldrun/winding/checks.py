"""What keeps a winding from being laid, in the builder's words: each reason with its cure."""

import math
from dataclasses import replace
from pathlib import Path

from fieldrun.design.digits import digits
from fieldrun.design.errors import Fault
from fieldrun.design.model import Magnets, Rotor, Winding, Wire
from fieldrun.design.outlines import reach_m
from fieldrun.design.shapes import numbers_of
from fieldrun.design.units import DEGREE, MM, metres
from fieldrun.winding.belts import (
    ROUNDING,
    allowed_belt_rad,
    available_belt_rad,
    rounds_that_fit,
    step_rad,
    tightest_radius_m,
)
from fieldrun.winding.ends import EndBundle
from fieldrun.winding.path import read_path
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.turn import Edge, passes_its_foot, turn_edges

SLANT_KEYS = ("skew", "span")
"""Keys that set how far a leg turns, the first that a shape has; a serpentine's legs are radial."""


def winding_faults(winding: Winding, pole_pairs: int, wire: Wire, folder: Path) -> list[Fault]:
    """Every reason why this winding cannot be laid round so many pole pairs, whatever the magnets' size."""
    if winding.shape == "path":
        return read_path(winding, pole_pairs, wire, folder)[1]
    edges = turn_edges(winding, pole_pairs)
    return hub_faults(winding, edges) or _belt_faults(winding, edges, pole_pairs, wire)


def hub_faults(winding: Winding, edges: tuple[Edge, ...]) -> list[Fault]:
    """Refuse a straight leg that dips inside its inner end before it goes outward: r2 cos(leg angle) <= r1."""
    across = next((edge for edge in edges if passes_its_foot(edge)), None)
    return [Fault("winding.inner_radius_mm", _hub_text(winding, across))] if across else []


def _hub_text(winding: Winding, edge: Edge) -> str:
    near, far = sorted((edge.start[0], edge.end[0]))
    turn = abs(edge.end[1] - edge.start[1])
    foot = far * math.cos(turn)
    smaller = f" or an inner radius that brings {_mm(near)} mm under {_mm(foot)} mm"
    return (
        f"a straight leg from {_mm(near)} to {_mm(far)} mm that turns {turn / DEGREE:.4g} degrees "
        f"runs inside its own inner end; try {_straighter(winding)}"
        f"{smaller if foot > near / 2 else '; no inner radius helps'}"
    )


def _straighter(winding: Winding) -> str:
    """What makes the legs of a winding slant less at their inner ends."""
    slanted_by = [key for key in SLANT_KEYS if key in numbers_of(winding)]
    narrower = "".join(f"a smaller {key}, " for key in slanted_by[:1])
    return ('leg = "spiral", ' if winding.leg == "chord" else "") + narrower + "more poles"


def _belt_faults(winding: Winding, edges: tuple[Edge, ...], pole_pairs: int, wire: Wire) -> list[Fault]:
    available = available_belt_rad(winding, edges, pole_pairs)
    if available == 0:
        return [Fault("winding.belts" if winding.belts > 1 else "winding.span", _no_room_text(winding))]
    wide = _width_faults(winding, available)
    if wide:
        return wide
    step = step_rad(wire.overall_diameter_m, tightest_radius_m(edges))
    belt = allowed_belt_rad(winding, available) if winding.rounds is None else winding.belt_rad or available
    fit = rounds_that_fit(belt, pole_pairs, step)
    if fit < 1:
        return [Fault("wire", _no_round_text(winding, pole_pairs, belt / pole_pairs, wire))]
    return [*_rounds_faults(winding, fit, belt / pole_pairs, step), *_parallel_faults(winding, fit)]


def _no_room_text(winding: Winding) -> str:
    if winding.belts > 1:
        return f"must be 1 for this {winding.shape}: the second belt's legs would lie where the first one's lie already"
    return (
        f"with span = {winding.span:.4g} the return legs of one phase lie where the next phase's legs lie; "
        "try span = 1, or another number of phases"
    )


def _width_faults(winding: Winding, available: float) -> list[Fault]:
    if winding.belt_rad is None or winding.belt_rad <= available * (1 + ROUNDING):
        return []
    text = (
        f"must be at most {available / DEGREE:.6g} (electrical degrees free for one group of one layer with "
        f"phases = {winding.phases}, belts = {winding.belts}): beyond it wires lie on each other; received "
        f"{winding.belt_rad / DEGREE:.6g}; leave it out to fill what there is"
    )
    return [Fault("winding.belt_deg", text)]


def _no_round_text(winding: Winding, pole_pairs: int, width: float, wire: Wire) -> str:
    """Say why not even one round fits a belt of `width` [mechanical rad], and what helps against that."""
    step = _step_of(winding, pole_pairs, wire)
    text = (
        f"not one round fits: the wire, {_mm(wire.overall_diameter_m)} mm over everything, takes "
        f"{step / DEGREE:.4g} degrees of the ring and the belt has {width / DEGREE:.4g}"
    )
    if step_rad(wire.overall_diameter_m, winding.inner_radius_m or 0.0) <= width:
        return f"{text}, because the legs slant so much at their inner ends; try {_straighter(winding)}"
    radius = _radius_that_fits_mm(winding, pole_pairs, width, wire)
    larger = "" if radius is None else f", an inner radius of {radius} mm"
    return f"{text}; try thinner wire{larger} or fewer poles"


def _step_of(winding: Winding, pole_pairs: int, wire: Wire) -> float:
    return step_rad(wire.overall_diameter_m, tightest_radius_m(turn_edges(winding, pole_pairs)))


def _radius_that_fits_mm(winding: Winding, pole_pairs: int, width: float, wire: Wire) -> int | None:
    """Least larger inner radius, in whole mm, at which a belt holds one round; None if none does."""
    inner, outer = ((radius or 0.0) / MM for radius in (winding.inner_radius_m, winding.outer_radius_m))
    for radius in range(math.floor(inner) + 1, math.ceil(outer)):
        moved = replace(winding, inner_radius_m=metres(radius))
        if not hub_faults(moved, turn_edges(moved, pole_pairs)) and _step_of(moved, pole_pairs, wire) <= width:
            return radius
    return None


def _rounds_faults(winding: Winding, fit: int, width: float, step: float) -> list[Fault]:
    if winding.rounds is None:
        return []
    groups = winding.belts * winding.layers
    most = fit * groups
    if winding.rounds > most:
        missing = (math.ceil(winding.rounds / groups) * step - width) * (winding.inner_radius_m or 0.0)
        text = (
            f"at most {most} rounds per phase fit, {fit} in each of {groups} groups; received {winding.rounds}: "
            f"{missing / MM:.2f} mm of the inner rim are missing in each group; "
            'try rounds = "fill", thinner wire or more layers'
        )
        return [Fault("winding.rounds", text)]
    if winding.rounds % groups:
        lower = winding.rounds - winding.rounds % groups
        tries = " or ".join(str(n) for n in (lower, lower + groups) if 0 < n <= most)
        text = f"must be a multiple of belts x layers = {groups}; received {winding.rounds}, try {tries}"
        return [Fault("winding.rounds", text)]
    return []


def _parallel_faults(winding: Winding, fit: int) -> list[Fault]:
    rounds = winding.rounds if winding.rounds is not None else fit * winding.belts * winding.layers
    if rounds % winding.parallel == 0:
        return []
    text = f"{rounds} rounds per phase cannot be shared equally by {winding.parallel} parallel groups"
    return [Fault("winding.parallel", f"{text}; try rounds = a multiple of {winding.parallel}")]


def bundle_faults(bundles: tuple[EndBundle, ...], magnets: Magnets, rotor: Rotor, winding: Winding) -> list[Fault]:
    """Refuse a bundle of end arcs that lies at the magnets and is higher than the gap less two clearances."""
    if rotor.gap_m is None:
        return []
    inner, outer = reach_m(magnets.outline)
    room = rotor.gap_m - 2 * winding.clearance_m
    tight = [b for b in bundles if inner < b.radius_m < outer and b.height_m > room + 1e-9]
    return [Fault(_radius_key(bundle, winding), _bundle_text(bundle, room, inner, outer)) for bundle in tight]


def _radius_key(bundle: EndBundle, winding: Winding) -> str:
    inner = winding.inner_radius_m or 0.0
    return f"winding.{'inner' if math.isclose(bundle.radius_m, inner, abs_tol=1e-6) else 'outer'}_radius_mm"


def _bundle_text(bundle: EndBundle, room: float, inner: float, outer: float) -> str:
    return (
        f"the end arcs on {_mm(bundle.radius_m)} mm lie at the magnets ({_mm(inner)} to {_mm(outer)} mm) "
        f"as a bundle of {bundle.wires} wires, {_mm(bundle.height_m, 3)} mm high, and the gap has room for "
        f"{_mm(room, 3)} mm; move the radius beyond the magnets, widen the gap or wind fewer rounds"
    )


def path_height_faults(pieces: Pieces, wire: Wire, rotor: Rotor) -> list[Fault]:
    """Refuse a path whose wire reaches into the lower magnets or what lies above the gap."""
    half = wire.overall_diameter_m / 2
    heights = [pieces.start[:, 2].min() - half, pieces.end[:, 2].max() + half]
    low, high = min(heights), max(heights)
    if low < -1e-9:
        return [Fault("winding.file", _height_text(low, "the lower magnets' face is at 0"))]
    if rotor.gap_m is not None and high > rotor.gap_m + 1e-9:
        return [Fault("winding.file", _height_text(high, f"the gap ends at {_mm(rotor.gap_m)} mm"))]
    return []


def _height_text(reached: float, limit: str) -> str:
    return f"the wire reaches z = {_mm(reached)} mm and {limit}; z_mm is the wire's middle above the lower magnets"


def _mm(length_m: float, figures: int = 4) -> str:
    return digits(length_m / MM, figures)

"""A winding that can be laid, joined and turned in its gap."""

import math
from collections.abc import Iterator

from fieldrun.design.errors import Fault
from fieldrun.design.file_tables import WindingTable
from fieldrun.design.heights import fit_faults
from fieldrun.design.stack import CROSSED_SHAPES
from fieldrun.design.tables import Tables


def winding_faults(tables: Tables) -> Iterator[Fault]:
    """Faults between keys of [winding], and between it and the gap."""
    winding = tables.winding
    yield from _radii(winding)
    if winding.shape == "path":
        yield from _path(tables, winding)
    elif winding.shape is not None:
        yield from _belts(winding)
        yield from _wrapped(winding)
        yield from _rounds(winding)
    yield from _parallel(winding)
    yield from _connection(winding)
    yield from fit_faults(tables)


def _radii(winding: WindingTable) -> Iterator[Fault]:
    inner, outer = winding.inner_radius_mm, winding.outer_radius_mm
    if inner is not None and outer is not None and inner >= outer:
        yield Fault(
            "winding.inner_radius_mm", f"must be less than the outer radius of {outer:g} mm; received {inner:g}"
        )


def _path(tables: Tables, winding: WindingTable) -> Iterator[Fault]:
    if winding.rounds == "fill":
        yield Fault("winding.rounds", '"fill" cannot know a path of your own; give the number of copies')
    elif (winding.rounds or 1) > 1 and winding.step_deg is None and not tables.is_faulty("winding.step_deg"):
        yield Fault("winding.step_deg", f"missing: the angle between {winding.rounds} copies of the path")
    if winding.layers not in {None, 1}:
        yield Fault("winding.layers", f"the heights of a path are in its file; remove it; received {winding.layers}")
    if winding.resin_mm and "resin_mm" in winding.model_fields_set:
        yield Fault("winding.resin_mm", "the thickness of a path is not known to the stack; remove it, give gap_mm")
    yield from _notches(tables, winding)


def _notches(tables: Tables, winding: WindingTable) -> Iterator[Fault]:
    keys = ("inner_notches", "outer_notches", "inner_radius_mm", "outer_radius_mm")
    given = [key for key in keys if getattr(winding, key) is not None]
    if not given or any(tables.is_faulty(f"winding.{key}") for key in keys):
        return
    if not any(key.endswith("notches") for key in given):
        text = 'shape = "path" has no use for it without inner_notches and outer_notches: the file holds the radii'
        yield from (Fault(f"winding.{key}", text) for key in given)
        return
    for key in keys:
        if key not in given:
            yield Fault(f"winding.{key}", "missing: a notch list needs the numbers of notches and both radii")


def _belts(winding: WindingTable) -> Iterator[Fault]:
    """How wide a belt may be is measured where the legs are drawn, by the checks of the winding folder."""
    if winding.belts == 2 and winding.shape not in CROSSED_SHAPES:
        crossed = ", ".join(CROSSED_SHAPES)
        yield Fault("winding.belts", f"2 needs crossed lay ({crossed}); a {winding.shape} lies flat; write 1")


def _wrapped(winding: WindingTable) -> Iterator[Fault]:
    if not winding.former_in_gap_mm:
        return
    what = "a wrapped winding has exactly two sheets, one on each face of the former"
    if winding.shape not in CROSSED_SHAPES:
        yield Fault(
            "winding.former_in_gap_mm",
            f"{what}: shape must be {', '.join(CROSSED_SHAPES)}; a {winding.shape} lies flat",
        )
    elif winding.layers not in {None, 1}:
        yield Fault("winding.former_in_gap_mm", f"{what}: write layers = 1; received layers = {winding.layers}")


def _rounds(winding: WindingTable) -> Iterator[Fault]:
    rounds, layers = winding.rounds, winding.layers
    if not isinstance(rounds, int) or layers is None:
        return
    groups = winding.belts * layers
    if rounds % groups:
        text = f"must be a multiple of belts x layers = {winding.belts} x {layers} = {groups}; received {rounds}"
        yield Fault("winding.rounds", f"{text}; try {_neighbours(rounds, groups)}")


def _neighbours(number: int, step: int) -> str:
    below, above = number // step * step, math.ceil(number / step) * step
    return f"{below} or {above}" if below > 0 else str(above)


def _parallel(winding: WindingTable) -> Iterator[Fault]:
    rounds = winding.rounds if winding.rounds is not None or winding.shape != "path" else 1
    if isinstance(rounds, int) and rounds > 0 and rounds % winding.parallel:
        divisors = [str(n) for n in range(1, min(rounds, 100) + 1) if rounds % n == 0]
        text = f"must divide the {rounds} rounds of a phase into equal groups; received {winding.parallel}"
        yield Fault("winding.parallel", f"{text}; try {', '.join(divisors)}")


def _connection(winding: WindingTable) -> Iterator[Fault]:
    if winding.connection == "delta" and winding.phases == 2:
        yield Fault(
            "winding.connection", 'two phases do not close to a delta (their voltages never cancel); write "separate"'
        )

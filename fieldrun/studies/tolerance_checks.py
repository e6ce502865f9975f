"""Tolerances that no machine could have: refused with their key and with what the machine has room for."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.locate import key_lines
from fieldrun.design.model import Design, Magnets
from fieldrun.design.outlines import ends_m
from fieldrun.design.read import told_by_line
from fieldrun.design.text_file import read_text_file
from fieldrun.design.units import MM
from fieldrun.field.outline import body_pitch_rad, mean_radius_m
from fieldrun.generator.machine import middle_height_m
from fieldrun.studies.deviations import smallest_side_m
from fieldrun.winding.lay import lay

RARE, SOME = 3.0, 2.0
"""Standard deviations that 1 part in 700 falls below, and 1 in 40."""

HAIR_M = 1e-9
"""Lengths that differ by less are equal."""


@dataclass(frozen=True)
class TooMuch:
    """A tolerance that a design leaves no room for.

    Parameters
    ----------
    key : of the table [tolerance]
    what : what it is a tolerance of
    stated, most : as it is and as it may be at most, in the key's unit, as text
    unit : of both
    why : what would happen
    must : what it must be, as a condition
    cure : what else helps, or what is usual
    """

    key: str
    what: str
    stated: str
    most: str
    unit: str
    why: str
    must: str
    cure: str

    def fault(self) -> Fault:
        """As told of a key that stands in the file."""
        return Fault(f"tolerance.{self.key}", f"{self.why}; {self.must}{self.cure}")

    def usual_fault(self, path: Path) -> Fault:
        """As told of a tolerance that the file says nothing of: there is no line and no key to blame."""
        usual = f"the usual tolerance of {self.stated} {self.unit} on the {self.what} is too much here: {self.why}"
        most = "0" if self.most == "0" else f"{self.most} or less"
        return Fault("", f"{usual}; write [tolerance] {self.key} = {most}", str(path))


def check_tolerance(design: Design, path: Path) -> None:
    """Refuse tolerances under which parts could not exist or would meet.

    Raises
    ------
    DesignError
        With every such key, its line in the design file, and the most that it may be; a usual tolerance that the file
        does not state is called that.
    """
    stated = key_lines(read_text_file(path))
    found = list(too_much(design))
    if found:
        with told_by_line(path):
            written = [("tolerance", each.key) in stated for each in found]
            raise DesignError(
                [each.fault() if own else each.usual_fault(path) for each, own in zip(found, written, strict=True)]
            )


def too_much(design: Design) -> Iterator[TooMuch]:
    """Everything that the sizes of a design leave no room for."""
    stated = design.tolerance
    if RARE * stated.remanence >= 1:
        percent = f"{100 * stated.remanence:g}"
        why = f"{percent} % is no tolerance: 1 magnet in 700 would have no strength left"
        must, most = f"must be below {100 / RARE:.0f}", f"{math.floor(100 / RARE) - 1}"
        yield TooMuch("remanence_percent", "remanence", percent, most, "%", why, must, "; usual is 2")
    yield from _size(design)
    yield from _place(design)
    yield from _gap(design)


def _length(key: str, what: str, sizes_m: tuple[float, float], why: str, cure: str) -> TooMuch:
    """Tell a length, stated and at most [m]."""
    stated, most = f"{sizes_m[0] / MM:g}", f"{math.floor(sizes_m[1] / MM * 100 + 1e-6) / 100:g}"
    return TooMuch(key, what, stated, most, "mm", why, f"must be at most {most}; received {stated}", cure)


def _size(design: Design) -> Iterator[TooMuch]:
    side, stated = smallest_side_m(design.magnets), design.tolerance.magnet_m
    if RARE * stated > side + HAIR_M:
        smaller = f"1 magnet in 700 would be {RARE * stated / MM:g} mm smaller than drawn"
        why = f"{smaller}, and its shortest side is {side / MM:.2f} mm"
        yield _length("magnet_mm", "size of the magnets", (stated, side / RARE), why, "; usual is 0.1")


def _place(design: Design) -> Iterator[TooMuch]:
    magnets, stated = design.magnets, design.tolerance.placement_m
    middle = mean_radius_m(magnets)
    room = min(middle * math.sin(min(body_pitch_rad(magnets), math.pi) / 2), middle - _half_depth_m(magnets))
    if RARE * stated > room + HAIR_M:
        why = f"1 magnet in 700 would lie {RARE * stated / MM:g} mm off, nearer to its neighbour's place or the shaft"
        yield _length("placement_mm", "place of each magnet", (stated, room / RARE), why, "; usual is 0.3")


def _half_depth_m(magnets: Magnets) -> float:
    inner, outer = ends_m(magnets.outline)
    return (outer - inner) / 2


def _gap(design: Design) -> Iterator[TooMuch]:
    stated, room = design.tolerance.gap_m, max(0.0, gap_room_m(design))
    if SOME * stated > room + HAIR_M:
        what = "height of the winding" if design.rotor.gap_m is None else "gap"
        why = f"in 1 machine of 40 the winding would touch: it has {room / MM:.2f} mm to spare"
        yield _length("gap_mm", what, (stated, room / SOME), why, ", or give the winding more room")


def gap_room_m(design: Design) -> float:
    """How much smaller the gap may be before copper touches [m]; over one open face, how much lower the winding.

    Raises
    ------
    DesignError
        If the winding cannot be laid.
    """
    laid, gap = lay(design.winding, design.magnets.pole_pairs, design.wire), design.rotor.gap_m
    middle = middle_height_m(laid)
    below = middle - laid.thickness_m / 2
    if gap is None:
        return below
    above = gap - middle - laid.thickness_m / 2
    return 2 * min(below, above) if design.rotor.faces == 2 else above

"""Former: what its keys may not ask of one board, as far as it can be told before the winding is laid."""

from collections.abc import Iterator

from fieldrun.design.digits import digits
from fieldrun.design.errors import Fault
from fieldrun.design.file_tables import FormerTable
from fieldrun.design.tables import Tables


def former_faults(tables: Tables) -> Iterator[Fault]:
    """Faults between keys of [former], and with the winding that it carries."""
    former = tables.former
    if former is None:
        return
    yield from _kerf(tables, former)
    yield from _hub(tables, former)
    yield from _board(tables, former)


def _kerf(tables: Tables, former: FormerTable) -> Iterator[Fault]:
    notch = former.notch_mm
    if notch == "auto" or any(map(tables.is_faulty, ("former.notch_mm", "former.kerf_mm"))):
        return
    if former.kerf_mm >= notch:
        text = f"must be below notch_mm = {digits(notch)}: a cut as wide as a notch makes a wider one"
        yield Fault("former.kerf_mm", f"{text}; received {digits(former.kerf_mm)}")


def _hub(tables: Tables, former: FormerTable) -> Iterator[Fault]:
    hole, inner = former.hub_hole_mm, tables.winding.inner_radius_mm
    if hole is None or inner is None or any(map(tables.is_faulty, ("former.hub_hole_mm", "winding.inner_radius_mm"))):
        return
    if hole >= 2 * inner:
        text = f"must be below {digits(2 * inner)} mm, the diameter of the winding's inner ends"
        yield Fault("former.hub_hole_mm", f"{text}; received {digits(hole)}")


def _board(tables: Tables, former: FormerTable) -> Iterator[Fault]:
    left, board = tables.winding.former_in_gap_mm, former.thickness_mm
    if board is None or any(map(tables.is_faulty, ("former.thickness_mm", "winding.former_in_gap_mm"))):
        return
    if left > 0 and board != left:
        text = f"the board stays in the gap and is winding.former_in_gap_mm = {digits(left)} thick; received"
        yield Fault("former.thickness_mm", f"{text} {digits(board)}; leave one of the two out")

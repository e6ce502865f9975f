"""Which quick estimate holds where, in words and as a table."""

from typing import TYPE_CHECKING, assert_never

from rich.text import Text

from fieldrun.design.model import Arc, Block, Disc, Outline
from fieldrun.outputs.screen import headed_table, print_parts, safe, told
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.verify_table import signed
from fieldrun.studies.estimates_map.judge import Outcome, Unfit
from fieldrun.studies.estimates_map.region import Region
from fieldrun.studies.estimates_map.study import EstimatesMap

if TYPE_CHECKING:
    from rich.console import RenderableType

Ends = tuple[float | None, float | None]


def show_estimates(found: EstimatesMap, detail: int) -> None:
    """Print the study to standard output.

    Parameters
    ----------
    found : the study
    detail : -1 the verdict only, 0 the table too, 1 what each estimate leaves out too
    """
    parts: list[RenderableType] = [Text(safe(found.design.title), "bold"), *map(told, verdict(found))]
    if detail >= 0:
        parts += ["", told(f"{arrangement(found)} {caption(found)}"), "", headed_table(*_table(found), words=_WORDS)]
        parts += [told(f"Not here: {text}.") for text in missing(found)]
    if detail > 0:
        parts += ["", *(told(f"{one.label.name}: {one.label.leaves_out}") for one in found.outcomes)]
    print_parts(parts)


def verdict(found: EstimatesMap) -> list[str]:
    """Which estimate of the field and of the EMF holds most often, and how it does at the design, in sentences."""
    told_of = [_best(found, quantity, words) for quantity, words in (("field", "field"), ("emf", "EMF"))]
    return [sentence for sentence in told_of if sentence]


def _best(found: EstimatesMap, quantity: str, words: str) -> str:
    rows = [row for row in found.outcomes if row.label.quantity == quantity]
    best = max(rows, key=lambda row: (row.share_within, -row.median_percent))
    near = f"{100 * best.share_within:.0f} % of the grid's machines"
    here = f"at your design it is {signed(best.own_error_percent)} off"
    return f"For the {words}, {best.label.name} is right within {found.allowed_percent:g} % in {near}; {here}."


def arrangement(found: EstimatesMap) -> str:
    """What all machines have in common."""
    magnets, rotor = found.pattern.magnets, found.pattern.rotor
    shape = _shape(magnets.outline)
    pattern = " in a Halbach pattern" if magnets.pattern == "halbach" else ""
    where = "each of two faces" if rotor.faces == 2 else "one face"
    return f"{magnets.count} poles of {shape} magnets{pattern} on {where}, {_steel(found)}."


def _shape(outline: Outline) -> str:
    if isinstance(outline, Disc):
        return "round"
    if isinstance(outline, Block):
        return "block"
    if isinstance(outline, Arc):
        return "arc"
    assert_never(outline)


def _steel(found: EstimatesMap) -> str:
    rotor = found.pattern.rotor
    if not rotor.plates:
        return "no steel"
    where = " and ".join(
        words
        for words, plate in (("behind them", rotor.backing), ("across the gap", rotor.return_plate))
        if plate is not None
    )
    return f"steel {where} made ideal" if found.steel == "ideal" else f"steel {where} as thick as yours, saturating"


def caption(found: EstimatesMap) -> str:
    """What the grid spans and what an error is."""
    axes, room = found.axes, gap_word(found)
    spans = ", ".join(
        f"{name} {plain(lines[0])} to {plain(lines[-1])}"
        for name, lines in ((f"{room} / pole pitch", axes.gaps), ("magnet thickness / pole pitch", axes.thicknesses))
    )
    shares = ", ".join(plain(share) for share in axes.shares)
    point = found.own_point
    yours = f"{plain(point.gap)}, {plain(point.thickness)} and {plain(point.share)}"
    coil = f"one round of a {found.winding.shape}"
    return (
        f"{len(axes.points)} machines: {spans}, magnets over {shares} of their pitch; yours has {yours}. Error: of the "
        f"main wave of B at the magnets' mean radius, or of the EMF of {coil}, against finite elements in three "
        f"dimensions (rings; a mesh twice as coarse changes them by {found.numerical_percent:.2g} % at most). "
        "2D error: against flat finite elements."
    )


def gap_word(found: EstimatesMap) -> str:
    """What the first ratio measures."""
    return "room for the winding" if found.pattern.rotor.gap_m is None else "gap"


_WORDS = ("estimate", "holds everywhere where")


def _table(found: EstimatesMap) -> tuple[list[str], list[list[str]]]:
    under = f"within {found.allowed_percent:g} %"
    headings = ["estimate", "of", "median", "2D median", "worst", under, "yours", "holds everywhere where"]
    return headings, [_cells(row, found) for row in found.outcomes]


def _cells(row: Outcome, found: EstimatesMap) -> list[str]:
    flat = row.flat_median_percent
    return [
        row.label.name,
        "B1" if row.label.quantity == "field" else "EMF",
        f"{row.median_percent:.1f} %",
        "" if flat is None else f"{flat:.1f} %",
        signed(row.worst_percent),
        f"{100 * row.share_within:.0f} %",
        signed(row.own_error_percent),
        region_words(row.region, found),
    ]


def region_words(region: Region | None, found: EstimatesMap) -> str:
    """Where an estimate holds, ratios to the pole pitch."""
    if region is None:
        return "in no region"
    named = ((gap_word(found), region.gap), ("thickness", region.thickness), ("share", region.share))
    limits = [f"{name} {_ends(ends)}" for name, ends in named if ends != (None, None)]
    part = f" ({region.machines} of {len(found.axes.points)})" if limits else ""
    return (", ".join(limits) or "on all the grid") + part


def _ends(ends: Ends) -> str:
    low, high = (None if end is None else plain(end) for end in ends)
    if low and high:
        return f"= {low}" if low == high else f"{low} to {high}"
    return f"from {low}" if low else f"up to {high}"


def missing(found: EstimatesMap) -> list[str]:
    """The estimates without numbers and why, those of one reason together; none made for other arrangements alone."""
    reasons: dict[str, list[str]] = {}
    for row in found.rows:
        if isinstance(row, Unfit) and row.label.key != "halbach":
            reasons.setdefault(row.reason, []).append(row.label.name)
    return [f"{_listed(names)}: {reason}" for reason, names in reasons.items()]


def _listed(names: list[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)

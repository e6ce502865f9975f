"""The former in sentences: board, notches, sheets, wire, resin."""

from fieldrun.design.units import MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.casting import casting_of
from fieldrun.outputs.casting_words import CAUTIONS
from fieldrun.outputs.drawings.clean import one_line
from fieldrun.outputs.former_book import Printed
from fieldrun.outputs.sentences import listed, plain, weight
from fieldrun.outputs.summary import cautions
from fieldrun.outputs.wire_list import wire_list
from fieldrun.winding.former import Former

THIN_M = 1.5e-3
"""Wood or print of less width between two notches breaks easily."""

PLACES = {"inner": "at the inner ends", "outer": "at the outer ends", "corner": "between them"}


def former_sentences(result: RunResult, former: Former, printed: Printed) -> list[str]:
    """What a builder wants to know first, one sentence each."""
    told = [_board(former), _wood(former), _sheets(former, printed), _wire(result, former), _passes(result, former)]
    return [sentence for sentence in [*told, _resin(result, former)] if sentence]


def former_cautions(result: RunResult) -> list[str]:
    """What must be read before anything is cut, wound or cast."""
    return [*cautions(result), *CAUTIONS]


def title_of(result: RunResult) -> str:
    """The design's title, harmless on any screen."""
    return one_line(result.design.title)


def _board(former: Former) -> str:
    counts = {kind: len(former.of_kind(kind)) for kind in PLACES}
    places = listed([f"{count} {PLACES[kind]}" for kind, count in counts.items() if count])
    across, thick = plain(2 * former.outer_radius_m / MM, "mm"), plain(former.thickness_m / MM, "mm")
    what = "notches" if former.notched else "pins"
    wide = f"{former.notch_m / MM:.2f} mm"
    if former.notched and counts["corner"]:
        ends = counts["inner"] + counts["outer"]
        held = f"{ends} notches {wide} wide and {counts['corner']} pins of {plain(former.pin_m / MM, 'mm')}"
    else:
        held = f"{sum(counts.values())} {what} {wide} {'wide' if former.notched else 'thick'}"
    return f"The former is a board {across} across and {thick} thick with {held}: {places}."


def _wood(former: Former) -> str:
    lands = [land for land in (former.inner_land_m, former.outer_land_m, former.corner_land_m) if land is not None]
    if not lands or min(lands) >= THIN_M:
        return ""
    cure = ' or comb = "first round"' if former.plan.comb == "all" else ""
    left = plain(min(lands) / MM, "mm")
    return f"Only {left} is left between neighbours, which breaks easily: narrower notches{cure} leave more."


def _sheets(former: Former, printed: Printed) -> str:
    count, paper = printed.former_sheets, former.plan.sheet
    fits = (
        f"It fits on one sheet of {paper}"
        if count == 1
        else f"It takes {count} sheets of {paper}, glued together by their crosses, for nothing is shrunk"
    )
    return f"{fits}; print former.pdf at 100 % and measure both bars before you cut."


def _wire(result: RunResult, former: Former) -> str:
    wires, phases = wire_list(result, former), result.design.winding.phases
    pieces = len(wires.cuts) // phases
    longest = plain(max(cut.measured_m for cut in wires.cuts), "m")
    each = "" if phases == 1 else " for each phase"
    cut = f"{longest} of wire" if pieces == 1 else f"{pieces} pieces of {longest}"
    single = " of single wire" if wires.strand_passes else ""
    total = f"{plain(wires.wire_m, 'm')}{single}, {weight(wires.copper_kg)} of copper"
    return f"Cut {cut}{each}, tails and spare included: {total} in all."


def _passes(result: RunResult, former: Former) -> str:
    bobbin = wire_list(result, former).bobbin
    if bobbin is None:
        return ""
    across = plain(bobbin.diameter_m / MM, "mm")
    return f"Wire goes through the middle of the board {former.hub_passes} times, on a bobbin of at most {across}."


def _resin(result: RunResult, former: Former) -> str:
    casting = casting_of(result, former)
    spacers = f"{casting.spacer_m / MM:.2f} mm"
    return f"Cast it {spacers} thick: {weight(casting.mix_kg)} of resin to mix, with what is lost."

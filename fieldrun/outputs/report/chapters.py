"""Which chapters a report has, and what stands in each: one function a chapter, None or empty where nothing applies."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.changes_told import CAPTION as ONE_AT_A_TIME
from fieldrun.outputs.changes_told import advice_lines, changes_table
from fieldrun.outputs.compare_told import reasons, terms, verdict
from fieldrun.outputs.report.plan import plan_drawing
from fieldrun.outputs.report.power import power_pictures
from fieldrun.outputs.report.records import Chapter, Control, Picture, Table
from fieldrun.outputs.report.side import says as side_says
from fieldrun.outputs.report.side import side_drawing
from fieldrun.outputs.report.tables import (
    estimates_table,
    harmonics_table,
    input_tables,
    load_by_speed,
    numbers_table,
    windings_tables,
)
from fieldrun.outputs.report.waveform import told_at_rest, volts_of, waveform_data, waveform_drawing
from fieldrun.outputs.report.workshop import Board, former_chapter, meter_chapter, winding_chapter
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import cautions, sentences
from fieldrun.outputs.tolerance_told import CAPTION, band_rows, band_sentence
from fieldrun.studies.changes.study import Changes
from fieldrun.studies.compare import WindingComparison
from fieldrun.studies.tolerance import ToleranceBand

EVERY = 8
"""Of the waveform's 128 points every so many-th is listed on the page; all are in the CSV."""

HOUSE = {
    "gap": ("Through the gap", "Every wire between the magnets, to scale, rolled flat."),
    "section": (
        "The field",
        "Flux lines and flux density over one pole pair, in a flat section at the magnets' middle.",
    ),
    "winding": (
        "Where the wire works",
        "The whole winding, and two poles of it coloured by what each piece of wire adds to its phase.",
    ),
    "load": ("Currents under load", "What flows in the phases and into the load over one electrical period."),
}
"""Title and caption of the house's pictures, by the name they are handed over with."""


@dataclass(frozen=True, eq=False)
class Studies:
    """What was asked for besides the answer; None for what was not.

    Parameters
    ----------
    comparison : other windings in the same space
    band : what machines built to the tolerances give
    advice : what single changes do
    """

    comparison: WindingComparison | None = None
    band: ToleranceBand | None = None
    advice: Changes | None = None


NOTHING_ELSE = Studies()
"""The answer alone."""


@dataclass(frozen=True, eq=False)
class Found:
    """What a report is made of: the answer, the result file's content, and what else was asked for.

    Parameters
    ----------
    result : the answer
    content : the result file's content; the page's numbers are the same
    drawings : the house's pictures by name, ready for the page
    studies : what else was asked for
    board : the former
    """

    result: RunResult
    content: Mapping[str, Any]
    drawings: Mapping[str, Markup]
    board: Board
    studies: Studies = NOTHING_ELSE


def chapters(found: Found) -> tuple[Chapter, ...]:
    """All chapters that have something to say."""
    made = (
        _words(found.result),
        _turning(found.result),
        _machine(found),
        winding_chapter(found.result, found.board, _house(found, "winding")),
        _field(found),
        _load(found),
        _wind(found.result),
        _others(found.studies.comparison),
        _changes(found.studies.advice),
        _tolerances(found),
        former_chapter(found.result, found.board, found.drawings.get("former")),
        meter_chapter(found.result),
        Chapter("numbers", "All numbers", tables=(numbers_table(found.result, found.content),)),
        _trust(found.result),
        Chapter(
            "inputs",
            "Inputs in full",
            ("Every key of the design, stated or by default.",),
            tables=input_tables(found.result),
        ),
    )
    return tuple(chapter for chapter in made if not chapter.is_empty)


def _words(result: RunResult) -> Chapter:
    warnings = tuple(_sentence(warning.text) for warning in result.warnings)
    return Chapter("words", "In plain words", tuple(sentences(result)), warnings, tuple(cautions(result)))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _turning(result: RunResult) -> Chapter:
    return Chapter("turning", "The voltage as the rotor turns", pictures=(turning_picture(result),))


def turning_picture(result: RunResult) -> Picture:
    """Rotor and waveform side by side, one slider for both."""
    speed, emf = asked_speeds(result.design)[-1], result.emf
    period = 360.0 / emf.pole_pairs
    spins = "The winding spins; seen from it, the magnets turn." if result.design.rotor.spins == "coil" else ""
    runs = "the dot runs" if len(emf.waveform) == 1 else "the dots run"
    caption = (
        f"Open-circuit voltage at {speed:g} rpm over one electrical period, {plain(period)} degrees of rotor: {runs} "
        f"{emf.pole_pairs} times along the curve in one turn. {spins}"
    ).strip()
    drawings = (plan_drawing("turning-plan", result), waveform_drawing("turning-wave", emf, speed))
    control = Control("turn", 0.0, period, period / 512, 0.0, plays=True)
    told, data = told_at_rest(emf, speed), waveform_data(emf, speed)
    return Picture(
        "turning-figure", "Rotor and waveform", caption, drawings, "pair", control, told, data, _volts_table(result)
    )


def _volts_table(result: RunResult) -> Table:
    speed, emf = asked_speeds(result.design)[-1], result.emf
    volts = volts_of(emf, speed)
    headings = ("rotor, degrees", *(f"phase {k + 1}, V" for k in range(len(volts))))
    degrees = emf.rotor_angle_rad * 180 / 3.141592653589793
    rows = tuple((f"{degrees[i]:.2f}", *(f"{v:.3f}" for v in volts[:, i])) for i in range(0, len(degrees), EVERY))
    return Table(f"Volts at {speed:g} rpm", headings, rows, words=frozenset())


def _house(found: Found, name: str) -> tuple[Picture, ...]:
    drawing = found.drawings.get(name)
    if drawing is None:
        return ()
    title, caption = HOUSE[name]
    return (Picture(f"picture-{name}", title, caption, (drawing,), "house"),)


def _machine(found: Found) -> Chapter:
    side = Picture(
        "machine-cut", "From the shaft outwards", side_says(found.result), (side_drawing("machine-side", found.result),)
    )
    return Chapter("machine", "The machine to scale", pictures=(side, *_house(found, "gap")))


def _field(found: Found) -> Chapter:
    tables = estimates_table(found.content), harmonics_table(found.content)
    return Chapter("field", "Field and voltage", pictures=_house(found, "section"), tables=tables)


def _load(found: Found) -> Chapter:
    table = load_by_speed(found.result)
    return Chapter("load", "Under load", pictures=_house(found, "load"), tables=() if table is None else (table,))


def _wind(result: RunResult) -> Chapter:
    wind = result.wind
    pictures = () if wind is None or wind.fed is None else power_pictures(wind, wind.fed)
    return Chapter("wind", "In the wind", pictures=pictures)


def _others(comparison: WindingComparison | None) -> Chapter:
    if comparison is None:
        return Chapter("others", "Other windings in the same space")
    told = (verdict(comparison), terms(comparison))
    tables = windings_tables(comparison) if comparison.wound else ()
    first, rest = (tuple(table for table in part if table.rows) for part in (tables[:1], tables[1:]))
    points = tuple(reasons(comparison))
    return Chapter("others", "Other windings in the same space", told, tables=first, points=points, folded=rest)


def _changes(advice: Changes | None) -> Chapter:
    if advice is None:
        return Chapter("changes", "What to change")
    headings, rows = changes_table(advice)
    best = frozenset(i for i, row in enumerate(advice.rows, 1) if row is advice.best)
    table = Table("What to change", headings, tuple(rows), words=frozenset({0, 3, 4}), marked=best, note=ONE_AT_A_TIME)
    return Chapter("changes", "What to change", tuple(advice_lines(advice)), tables=(table,))


def _tolerances(found: Found) -> Chapter:
    band = found.studies.band
    if band is None:
        return Chapter("tolerances", "Built to tolerances")
    rows = Table("Tolerances", (), tuple(band_rows(band)))
    return Chapter(
        "tolerances", "Built to tolerances", (band_sentence(band, found.result.design), CAPTION), tables=(rows,)
    )


def _trust(result: RunResult) -> Chapter:
    return Chapter(
        "trust", "How far to trust it", tuple(_error(result)), points=(*result.assumptions, *result.design.notes)
    )


def _error(result: RunResult) -> Iterator[str]:
    accuracy = result.accuracy
    yield (
        f"The voltage is computed to about {accuracy.error_estimate_percent:.2g} %, for a machine exactly as stated: "
        f"{accuracy.numerical_percent:.2g} % from mesh and harmonics, {accuracy.model_percent:.2g} % from what the "
        "model leaves out. Magnets, gap and placement of a real machine scatter more than that. What is taken for "
        "granted:"
    )

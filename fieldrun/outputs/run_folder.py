"""Everything a run leaves behind, written as one whole folder."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from fieldrun.field.outline import mean_radius_m
from fieldrun.field.vtu_file import write_vtu
from fieldrun.generator.emf import working_share
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.bundle_words import bundle_lines
from fieldrun.outputs.changes_told import CAPTION as ONE_AT_A_TIME
from fieldrun.outputs.changes_told import advice_lines, changes_lines
from fieldrun.outputs.file_names import REPORT_PAGE, RESULT_FILE
from fieldrun.outputs.folder import outdated_by, whole_folder, write_text
from fieldrun.outputs.meter_sheet import meter_lines
from fieldrun.outputs.result_file import about, result_text
from fieldrun.outputs.summary import cautions, sentences
from fieldrun.outputs.tolerance_told import CAPTION, band_lines, band_sentence
from fieldrun.studies.changes.study import Changes
from fieldrun.studies.tolerance import ToleranceBand
from fieldrun.winding.path_file import write_paths

if TYPE_CHECKING:
    from matplotlib.figure import Figure

POINTS_PER_PIECE = 12
"""Places along each piece of wire at which the picture shows what it contributes."""


def write_run(
    result: RunResult,
    folder: Path,
    *,
    pictures: bool = True,
    band: ToleranceBand | None = None,
    advice: Changes | None = None,
) -> None:
    """Write result file, sentences, paths, section field, pictures and page; all of it or nothing.

    What other commands left there of the same design stays; of a design that was edited since, it goes.

    `band` and `advice` go into the result file and the sentences.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    facts = about(result)
    with whole_folder(folder, lambda: outdated_by(folder, result.design_hash)) as part:
        write_text(part / RESULT_FILE, result_text(result, band, advice))
        write_text(part / "summary.txt", _summary(result, facts, band, advice))
        write_paths(part / "paths.csv", result.paths, [f"{key}: {value}" for key, value in facts.items()])
        write_vtu(part / "field.vtu", result.section, facts)
        figures = figures_of(result) if pictures else {}
        _save(figures, part, facts)
        write_text(part / REPORT_PAGE, _page(result, figures, band, advice))


def _summary(result: RunResult, facts: dict[str, str], band: ToleranceBand | None, advice: Changes | None) -> str:
    spread = [] if band is None else [band_sentence(band, result.design), CAPTION, *band_lines(band)]
    tried = [] if advice is None else [*advice_lines(advice), ONE_AT_A_TIME, *changes_lines(advice)]
    warnings = (f"Warning: {warning.text}." for warning in result.warnings)
    last = "; ".join(f"{key.replace('_', ' ')}: {value}" for key, value in facts.items())
    told = [
        *sentences(result),
        *bundle_lines(result),
        *tried,
        *spread,
        *warnings,
        *meter_lines(result),
        *cautions(result),
    ]
    return "\n".join([result.design.title, *told, last]) + "\n"


def figures_of(result: RunResult) -> "dict[str, Figure]":
    """Every picture of an answer, by its file's stem."""
    from fieldrun.outputs.gap_picture import gap_picture
    from fieldrun.outputs.load_picture import load_picture, works
    from fieldrun.outputs.power_picture import power_picture
    from fieldrun.outputs.section_drawing import section_drawing
    from fieldrun.outputs.section_picture import section_picture
    from fieldrun.outputs.waveform_picture import waveform_picture
    from fieldrun.outputs.winding_picture import middles, winding_picture

    section, speed = result.section.section, asked_speeds(result.design)[-1]
    middle = section.upper_line_m if section.mirrored else None
    star = result.design.winding.connection == "star" and result.design.winding.phases == 3
    share = working_share(result.field_map, result.paths, result.design.winding.phases, middles(POINTS_PER_PIECE))
    design = result.design
    wire_m, clearance_m = design.wire.overall_diameter_m, design.winding.clearance_m
    radius = mean_radius_m(design.magnets)
    figures = {
        "gap": gap_picture(result.lay, design.magnets, design.rotor, wire_m, clearance_m),
        "section": section_picture(section_drawing(result.section), section.pole_pitch_m, middle, radius),
        "winding": winding_picture(result.paths, result.design.magnets, share, speed),
        "waveform": waveform_picture(result.emf, speed, star=star),
    }
    if works(result):
        figures["load"] = load_picture(result)
    if result.wind is not None and result.wind.fed is not None:
        figures["power"] = power_picture(result.wind, result.wind.fed)
    return figures


def _save(figures: "Mapping[str, Figure]", folder: Path, facts: Mapping[str, str]) -> None:
    if not figures:
        return  # nothing to import then
    from fieldrun.outputs.style import save_figure

    for stem, figure in figures.items():
        save_figure(figure, folder, stem, facts)


def _page(
    result: RunResult, figures: "Mapping[str, Figure]", band: ToleranceBand | None, advice: Changes | None
) -> str:
    from fieldrun.outputs.report.chapters import Studies
    from fieldrun.outputs.report.context import report_of
    from fieldrun.outputs.report.page import page_text

    return page_text(report_of(result, figures, Studies(band=band, advice=advice)))

"""Every picture of a field, drawn and written as SVG, PNG and PDF."""

from pathlib import Path

from matplotlib.figure import Figure

from fieldrun.design.units import MM
from fieldrun.field.outline import mean_radius_m
from fieldrun.generator.result import RunResult
from fieldrun.outputs.fields.bars import harmonics_picture
from fieldrun.outputs.fields.cuts import cuts_picture
from fieldrun.outputs.fields.field_set import FieldSet
from fieldrun.outputs.fields.gap_map import Frame, Panel, difference_map, gap_map
from fieldrun.outputs.fields.looks import save_three, sign
from fieldrun.outputs.fields.radial_cut import radial_cut
from fieldrun.outputs.result_file import about
from fieldrun.outputs.section_drawing import section_drawing
from fieldrun.outputs.section_picture import section_picture
from fieldrun.outputs.sentences import plain


def draw_all(fields: FieldSet, folder: Path) -> None:
    """Draw section, cut along the radius, gap, cuts, harmonics and, with a second design, the difference."""
    facts = about(fields.result)
    figures = {
        "field-section": _section(fields.result, fields.section_top_t),
        "field-radial": radial_cut(fields.view, fields.result.design.rotor, fields.result.lay, fields.section_top_t),
        "field-gap": gap_map(fields.map_grid, fields.result.design.magnets, fields.winding_m, fields.gap_top_t),
        "field-cuts": cuts_picture(fields.cuts, fields.gap_top_t, fields.height_top_t),
        "field-harmonics": harmonics_picture(fields.harmonics),
    }
    for stem, figure in figures.items():
        _save(figure, folder, stem, facts)
    if fields.other is not None:
        other = {"other": fields.other.design.name, "other_hash": fields.other.design_hash}
        _save(_section(fields.other, fields.section_top_t), folder, "field-section-other", about(fields.other))
        _save(_difference(fields), folder, "field-difference", facts | other)


def _save(figure: Figure, folder: Path, stem: str, facts: dict[str, str]) -> None:
    sign(figure, facts)
    save_three(figure, folder, stem, facts)


def _section(result: RunResult, top_t: float) -> Figure:
    section = result.section.section
    middle = section.upper_line_m if section.mirrored else None
    radius = mean_radius_m(result.design.magnets)
    return section_picture(section_drawing(result.section), section.pole_pitch_m, middle, radius, top_t)


def _difference(fields: FieldSet) -> Figure:
    """At the middle one of the heights shown."""
    one, two, other = fields.map_grid, fields.other_map, fields.other
    if two is None or other is None:
        raise ValueError("a difference needs a second design")
    k = len(one.heights_m) // 2
    first, second = one.b_t[2, :, :, k].T, two.b_t[2, :, :, k].T
    names = fields.result.design.name, other.design.name
    magnets = fields.result.design.magnets, other.design.magnets
    panels = (
        Panel(names[0], first, magnets[:1]),
        Panel(names[1], second, magnets[1:]),
        Panel(f"{names[1]} less {names[0]}", second - first, ()),
    )
    frame = Frame(one.angles_rad, one.radii_m, fields.winding_m)
    where = f"{plain(float(one.heights_m[k]) / MM, 'mm')} above the lower magnets"
    return difference_map(names, panels, frame, (fields.gap_top_t, fields.difference_top_t), where)

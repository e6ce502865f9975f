"""The picture: bars as long as the figures, both figures always, each shape drawn where it lies."""

import dataclasses
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.patches import PathPatch

from fieldrun.outputs.compare_picture import BEST, compare_picture
from fieldrun.outputs.compare_told import power_w, verdict
from fieldrun.outputs.shape_drawing import rounds_shown
from fieldrun.outputs.style import save_figure
from fieldrun.studies.candidates import LAYS
from fieldrun.studies.compare import OWN_BEST
from fieldrun.studies.wound import NotWound
from fieldrun.winding.factors import at_ends
from fieldrun.winding.pieces import lengths
from fieldrun.winding.sampling import selected


def bars(figure, column):
    axes = figure.axes[column]
    return [patch for patch in axes.patches if str(patch.get_gid()).startswith("bar-")]


def words_of(figure, folder):
    svg, png = save_figure(figure, folder, "compare", {})
    text = svg.read_text()
    assert not re.search(r"\bnan\b|\binf\b", text)
    assert png.stat().st_size > 20_000
    return "".join(ET.fromstring(text).itertext())  # noqa: S314 our own file


@pytest.fixture(scope="module")
def figure(shapes):
    return compare_picture(shapes)


def test_bars_are_both_figures(shapes, figure):
    rows = shapes.shown_first
    assert len(rows) == len(LAYS)
    power = [power_w(row, 100) for row in rows]
    assert [bar.get_width() for bar in bars(figure, 0)] == pytest.approx(power)
    per_kg = [value / row.merits.copper_mass_kg for value, row in zip(power, rows, strict=True)]
    assert [bar.get_width() for bar in bars(figure, 1)] == pytest.approx(per_kg)


def test_the_longest_of_each_column_stands_out(figure):
    for column in (0, 1):
        found = bars(figure, column)
        longest = max(found, key=lambda bar: bar.get_width())
        dark = [bar for bar in found if to_hex(bar.get_facecolor()) == to_hex(BEST)]
        assert dark == [longest]


def dark(figure, column):
    return [number for number, bar in enumerate(bars(figure, column)) if to_hex(bar.get_facecolor()) == to_hex(BEST)]


def changed(comparison, change):
    """Change the merits of rows by what `change` makes of each."""
    rows = [dataclasses.replace(r, merits=dataclasses.replace(r.merits, **change(r))) for r in comparison.rows]
    return dataclasses.replace(comparison, rows=tuple(rows))


def test_all_that_tie_stand_out(shapes):
    def alike(row):
        power = 0.3 if row.candidate.name == "hexagon" else 0.1
        return {"power_w_s2_per_rad2": power * (1 - 0.002 * row.candidate.winding.belts), "copper_mass_kg": 0.1}

    figure = compare_picture(changed(shapes, alike))
    assert "the hexagon and the hexagon in two belts give the most" in figure.get_label()
    assert dark(figure, 0) == dark(figure, 1) == [0, 1]


def test_at_their_best_nothing_stands_out_for_its_copper(shapes, tmp_path):
    figure = compare_picture(dataclasses.replace(shapes, terms=OWN_BEST))
    assert (len(dark(figure, 0)), dark(figure, 1)) == (1, [])
    words = words_of(figure, tmp_path)
    assert "the same per weight of copper" in words
    assert "equal copper" not in words


def test_digits_that_would_print_over_each_other_are_joined(shapes):
    def by_phases(row):
        return {"power_w_s2_per_rad2": {1: 0.1, 2: 0.101, 3: 0.3}[row.candidate.winding.phases]}

    axes = compare_picture(changed(shapes, by_phases)).axes[0]
    digits = [text for text in axes.texts if text.get_text() == "1,2"]
    assert len(digits) == len(LAYS)
    assert digits[0].get_position()[0] == pytest.approx(0.1005 * (100 * 2 * np.pi / 60) ** 2)


def test_a_path_of_other_phases_is_drawn_and_says_so(shapes, tmp_path):
    row = next(r for r in shapes.wound if r.candidate.name == "serpentine" and r.candidate.winding.phases == 1)
    winding = dataclasses.replace(row.candidate.winding, shape="path", file="coil.csv")
    mine = dataclasses.replace(
        row, candidate=dataclasses.replace(row.candidate, name="coil.csv", winding=winding, own=True)
    )
    figure = compare_picture(dataclasses.replace(shapes, rows=(*shapes.rows, mine)))
    assert len(bars(figure, 0)) == 9
    words = words_of(figure, tmp_path)
    assert "coil.csv" in words
    assert "one phase)" in words
    assert "Dark: the most with three phases." in words


def test_digits_stand_at_the_other_numbers_of_phases(shapes, figure):
    serpentines = {r.candidate.winding.phases: r for r in shapes.wound if r.candidate.name == "serpentine"}
    digits = {text.get_text(): text.get_position() for text in figure.axes[0].texts if text.get_position()[1] < 0.45}
    for phases in (1, 2):
        assert digits[str(phases)][0] == pytest.approx(power_w(serpentines[phases], 100))


def test_words(shapes, figure, tmp_path):
    words = words_of(figure, tmp_path)
    for said in ("Plank ring: what to wind with three phases", "in equal space", "from equal copper", "two belts",
                 "EMF²/R at 100 rpm, W", "EMF²/(R kg) at 100 rpm, W/kg", "(yours)"):  # fmt: skip
        assert said in words
    assert figure.get_label() == verdict(shapes)


def test_nothing_runs_out_of_the_figure(figure):
    figure.draw_without_rendering()
    renderer = figure.canvas.get_renderer()
    whole = figure.bbox
    for text in [*figure.texts, *(t for axes in figure.axes for t in axes.texts)]:
        box = text.get_window_extent(renderer)
        assert whole.x0 <= box.x0 <= box.x1 <= whole.x1, text.get_text()
        assert whole.y0 <= box.y0 <= box.y1 <= whole.y1, text.get_text()


def test_one_round_of_each_belt_is_drawn(shapes):
    for row in shapes.shown_first:
        shown = rounds_shown(row)
        winding, laid = row.candidate.winding, row.lay
        assert len(shown) == winding.belts
        for belt in shown:
            pieces = selected(laid.pieces, belt)
            assert set(pieces.phase) == {0}
            legs = pieces.count - int(np.sum(at_ends(pieces)))
            per_turn = {"serpentine": 2, "zigzag": 2, "rhomboid": 2, "diamond": 4, "hexagon": 6}[winding.shape]
            assert legs == per_turn * laid.pole_pairs
            assert lengths(pieces).sum() * laid.rounds_per_phase == pytest.approx(row.merits.conductor_length_m)
        starts = [laid.pieces.start[belt[0]] for belt in shown]
        assert len({round(float(start[1]), 6) for start in starts}) == winding.belts


def test_shapes_are_drawn_over_their_magnets(shapes, figure):
    drawings = figure.axes[2:]
    assert len(drawings) == len(LAYS)
    for axes, row in zip(drawings, shapes.shown_first, strict=True):
        wires = [patch for patch in axes.patches if isinstance(patch, PathPatch)]
        assert len(wires) == row.candidate.winding.belts
        radius = np.hypot(*wires[0].get_path().vertices.T)
        assert radius.max() == pytest.approx(71)
        assert any(collection.get_gid() == "magnets" for collection in axes.collections)


def test_a_round_is_seen_upright_and_in_the_middle(shapes):
    """The middle turn's tips lie on the drawing's axis."""
    row = next(r for r in shapes.shown_first if r.candidate.name == "diamond")
    figure = compare_picture(dataclasses.replace(shapes, rows=(row,)))
    points = figure.axes[2].patches[0].get_path().vertices
    assert np.abs(points[points[:, 1] > 0.99 * points[:, 1].max(), 0]).max() < 1e-6


def test_what_cannot_be_laid_has_a_row_too(shapes, tmp_path):
    rows = [NotWound(r.candidate, "too thick for this gap") if r.candidate.name == "zigzag" else r for r in shapes.rows]
    found = compare_picture(dataclasses.replace(shapes, rows=tuple(rows)))
    assert len(bars(found, 0)) == len(LAYS) - 2
    assert words_of(found, tmp_path).count("cannot be laid: too thick for this gap") == 2


def test_with_none_of_the_designs_own_phases_the_others_are_shown(shapes, tmp_path):
    rows = [NotWound(r.candidate, "x") if r.candidate.winding.phases == 3 else r for r in shapes.rows]
    found = compare_picture(dataclasses.replace(shapes, rows=tuple(rows)))
    assert len(bars(found, 0)) == 2 * len(LAYS)


def test_designs_side_by_side(beside, tmp_path):
    figure = compare_picture(beside)
    words = words_of(figure, tmp_path)
    for said in ("Designs side by side", "Plank ring", "Quiet Halbach", "as they stand"):
        assert said in words
    assert "Digits" not in words
    assert len(bars(figure, 0)) == 2


def test_no_field_at_all_still_draws(shapes, tmp_path):
    rows = [dataclasses.replace(r, merits=dataclasses.replace(r.merits, power_w_s2_per_rad2=0.0)) for r in shapes.rows]
    figure = compare_picture(dataclasses.replace(shapes, rows=tuple(rows)))
    assert "there is nothing to compare" in words_of(figure, tmp_path)


def test_the_same_comparison_gives_the_same_bytes(shapes, tmp_path):
    first, second = (save_figure(compare_picture(shapes), tmp_path / name, "c", {}) for name in "ab")
    assert first[0].read_bytes() == second[0].read_bytes()

"""The picture of the readings: a mark for every row at its ratio, and scales that show them."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.outputs.measured_picture import measured_picture


def marks(figure):
    """Places of the dots."""
    dots = next(line for line in figure.axes[0].lines if line.get_marker() == "o")
    return np.asarray(dots.get_xdata(), float)


def test_uneven_lines_need_a_scale_of_powers(benched):
    figure = measured_picture(benched)
    axes = figure.axes[0]
    assert axes.get_xscale() == "log"
    assert marks(figure) == pytest.approx(benched.bench.ratio)
    assert next(label.get_text() for label in axes.get_yticklabels()) == "one round, effective, 200 rpm"
    assert "one phase is joined the wrong way round" in figure.get_label()


def test_small_differences_are_drawn_as_per_cents(benched):
    near = np.array(["line" not in row.kind for row in benched.bench.rows])
    figure = measured_picture(replace(benched, bench=replace(benched.bench, used=near)))
    assert figure.axes[0].get_xscale() == "linear"
    assert marks(figure) == pytest.approx(100 * (benched.bench.ratio[near] - 1))


def test_every_label_lies_on_the_paper(benched):
    figure = measured_picture(benched)
    figure.draw_without_rendering()
    left = min(label.get_window_extent().x0 for label in figure.axes[0].get_yticklabels())
    assert left > 0


def test_no_word_runs_over_the_edge_and_what_explains_nothing_is_told_as_such(benched):
    lost = replace(benched, explanations=(replace(benched.best, explains=False), benched.as_drawn))
    for found, said in ((benched, "best explanation: "), (lost, "nothing explains all of them; nearest: ")):
        figure = measured_picture(found)
        assert [text.get_text() for text in figure.texts][1].startswith(said)
        figure.draw_without_rendering()
        words = figure.axes[0].xaxis.label.get_window_extent(figure.canvas.get_renderer())
        assert 0 < words.x0 < words.x1 < figure.bbox.x1
        assert words.y0 > 0

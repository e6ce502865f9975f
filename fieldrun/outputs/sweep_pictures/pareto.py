"""Two goals that pull against each other: all points faint, those that none betters numbered as in the table."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from fieldrun.outputs.colours import FAINT, INK, PAPER
from fieldrun.outputs.style import BASE_SIZE, in_house_style
from fieldrun.outputs.sweep_best_told import listed_points, point_told
from fieldrun.outputs.sweep_pictures.head import words_for
from fieldrun.outputs.sweep_pictures.marks import FRONT, GROUPS, dot_size
from fieldrun.outputs.sweep_pictures.page import Sheet, Words, new_sheet
from fieldrun.outputs.sweep_pictures.view import View
from fieldrun.outputs.sweep_words import axis_label, words_of

VECTORS = 1000
"""More points than this become pixels in the SVG."""


@in_house_style
def pareto_picture(view: View) -> Figure:
    """Draw all points over the two goals, and the front."""
    goals = view.choice.goals
    names = [words_of(goal.key)[0] for goal in goals]
    listed = listed_points(view.choice)
    numbered = [f"{n}  {point_told(view.sweep, view.sweep.rows[at])}" for n, at in enumerate(listed, start=1)]
    said = words_for(view).said
    words = Words(f"{view.sweep.design.title}: {names[0]} against {names[1]}", said, numbered)
    dot = Line2D([], [], ls="none", marker=".", ms=9, color=GROUPS[5], label="every point answered")
    front = Line2D([], [], color=FRONT, marker="o", ms=6, lw=1.2, ls=":", label="not bettered in both")
    marks = [front, dot]
    figure, (axes,) = new_sheet(Sheet(1, 1, 8.6, 5.0, above=0.2), words, marks)
    _draw(axes, view)
    for goal, side in zip(goals, (axes.xaxis, axes.yaxis), strict=True):
        side.set_label_text(f"{axis_label(goal.key)}  ({'more' if goal.largest else 'less'} is better)")
    return figure


def _draw(axes: Axes, view: View) -> None:
    first, second = (view.values(goal.key) for goal in view.choice.goals)
    known = ~(np.ma.getmaskarray(first) | np.ma.getmaskarray(second))
    axes.plot(first[known].data, second[known].data, ls="none", marker=".", ms=dot_size(known.sum()), mew=0,
              color=GROUPS[5], alpha=0.7, zorder=2, rasterized=known.sum() > VECTORS, gid="points")  # fmt: skip
    front = list(view.choice.pareto)
    axes.plot(first[front].data, second[front].data, color=FRONT, lw=1.2, ls=":", marker="o", ms=5, mec=PAPER, mew=0.5,
              zorder=4, gid="front")  # fmt: skip
    # nothing is drawn on the side where better points would lie
    side = [12 if goal.largest else -12 for goal in view.choice.goals]
    for number, at in enumerate(listed_points(view.choice), start=1):
        _number(axes, number, (float(first[at]), float(second[at])), (side[0], side[1]))
    axes.margins(0.08)
    axes.grid(color=FAINT, lw=0.6)
    axes.set_axisbelow(True)


def _number(axes: Axes, number: int, place: tuple[float, float], side: tuple[int, int]) -> None:
    axes.annotate(str(number), place, side, textcoords="offset points", ha="center", va="center", size=BASE_SIZE - 1,
                  color=INK, weight="bold", zorder=6)  # fmt: skip

"""Colour that stands for a quantity: its steps, and a bar that states its whole range."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from fieldrun.design.arrays import Floats
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.sweep_pictures.marks import SCALE
from fieldrun.outputs.sweep_pictures.page import Sheet, fitted
from fieldrun.outputs.sweep_words import axis_label

STEPS = 10
"""Bands of colour at most."""

BAR_IN = 0.24
"""Width of the bar."""


@dataclass(frozen=True, eq=False)
class ColourScale:
    """Colours of a quantity.

    Parameters
    ----------
    least, most : of it, in its unit
    steps : (k,) where bands of colour meet, round numbers that take in both
    """

    least: float
    most: float
    steps: Floats

    @property
    def norm(self) -> Normalize:
        """Values to shares of the colours."""
        return Normalize(float(self.steps[0]), float(self.steps[-1]))


def colour_scale(values: Any) -> ColourScale:
    """Colours for these values, (points,), masked where there is none; one of them at least is not."""
    least, most = float(values.min()), float(values.max())
    rim = 0.0 if most > least else 0.5 * (abs(most) or 1.0)
    return ColourScale(least, most, np.asarray(MaxNLocator(STEPS).tick_values(least - rim, most + rim)))


def colour_bar(figure: Figure, sheet: Sheet, scale: ColourScale, key: str, *, banded: bool) -> None:
    """Stand a bar at the right end of the rows."""
    frames = [axes.get_position() for axes in figure.axes[: sheet.panels]]
    bottom, top = min(f.y0 for f in frames), max(f.y1 for f in frames)
    right = max(f.x1 for f in frames) + 0.25 / sheet.width_in
    tall = min(top - bottom, 5.5 / figure.get_size_inches()[1])
    axes = figure.add_axes((right, top - tall, BAR_IN / sheet.width_in, tall), label="colour bar")
    more: dict[str, Any] = {"boundaries": scale.steps} if banded else {}
    bar = figure.colorbar(ScalarMappable(scale.norm, SCALE), cax=axes, ticks=scale.steps, **more)
    bar.outline.set_visible(False)
    axes.tick_params(length=0)
    axes.set_ylabel(fitted(axis_label(key), tall * figure.get_size_inches()[1]))


def range_note(scale: ColourScale, unit: str) -> str:
    """The whole range in words."""
    if scale.least == scale.most:
        return f"It is {plain(scale.least, unit)} everywhere."
    return f"Colour runs from {plain(scale.least)} to {plain(scale.most, unit)}."

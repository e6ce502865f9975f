"""How pictures of the field look alike: one colour scale with its range told, and the three files of each."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.figure import Figure

from fieldrun import __version__
from fieldrun.design.arrays import Floats
from fieldrun.outputs.colours import INK, PAPER, QUIET
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import PNG_DPI, STYLE, nice_length, save_figure

POLES = LinearSegmentedColormap.from_list(
    "poles", ["#123F63", "#3C78A6", "#8FB5D1", "#F7F5F0", "#E9B97C", "#C87A2C", "#7D3F08"]
)
"""Flux downwards, none, upwards: blue against orange stays apart for every kind of colour blindness, dark ends in grey;
lines, whole upwards and dashed downwards, tell the sign a second time."""

BANDS = 6
"""About so many colours on either side of zero: bands can be read off, a smooth run cannot."""

SIGNED_SIZE = 8.5
"""Size of the line at a picture's foot [pt]."""

MOST_WRITTEN = 7
"""Numbers beside a scale on either side of zero."""

MARGIN_IN = 0.55
"""Left edge of titles [in]."""


def rounded_up(value: float) -> float:
    """The end of a scale that holds a value: an even number of bands of a round width; 1 for nothing."""
    if value <= 0:
        return 1.0
    step = nice_length(value / (BANDS - 1) * 1.0000001)
    return float(f"{2 * step * math.ceil(value / step / 2 - 1e-9):.6g}")


def levels_to(top: float) -> Floats:
    """Ends (levels,) of the bands from -top to top, in its unit, zero among them."""
    half = max(1, round(top / nice_length(top / (BANDS - 1) * 1.0000001)))
    return np.linspace(-top, top, 2 * half + 1)


def fill_bands(axes: Axes, x: Floats, y: Floats, values: Floats, top: float) -> Any:
    """Bands of colour between -top and top, with their borders; what lies beyond has the end's colour.

    Places x (n,) and y (m,) in the axes' units, values (m, n) in that of `top`.
    """
    levels = levels_to(top)
    look: dict[str, Any] = {"cmap": POLES, "norm": Normalize(-top, top), "antialiased": False}
    beyond = bool(np.abs(values).max() > top * (1 + 1e-9))
    shown = axes.contourf(x, y, values, levels, extend="both" if beyond else "neither", **look)
    lines: dict[str, Any] = {"colors": INK, "linewidths": 0.6, "alpha": 0.55}
    inner = levels if beyond else levels[1:-1]
    for part, dashes in ((inner[inner > 0], "solid"), (inner[inner < 0], "dashed")):
        if len(part) and np.ptp(values) > 0:
            axes.contour(x, y, values, part, linestyles=dashes, **lines)
    if values.min() < 0 < values.max():
        # along a frame that ends between two poles zero is rounding, and would be drawn as a ragged line
        axes.contour(x[1:-1], y, values[:, 1:-1], [0.0], colors=INK, linewidths=1.3)
    return shown


def draw_scale(figure: Figure, box: tuple[float, float, float, float], shown: Any, label: str) -> None:
    """A bar with the ends of bands written beside it."""
    place = figure.add_axes(box)
    levels = np.asarray(shown.levels)
    half = len(levels) // 2
    every = min(k for k in range(1, half + 1) if half % k == 0 and half // k <= MOST_WRITTEN)  # zero and both ends
    bar = figure.colorbar(shown, cax=place, ticks=levels[::every], drawedges=False)
    bar.set_label(label)
    bar.outline.set_visible(False)


def write_heading(figure: Figure, heading: str, *below: str) -> None:
    """A bold title and quiet lines under it, at the left edge."""
    wide, high = figure.get_size_inches()
    left = MARGIN_IN / wide
    figure.text(left, 1 - 0.45 / high, heading, size="x-large", weight="bold")
    for row, text in enumerate(below):
        figure.text(left, 1 - (0.78 + 0.28 * row) / high, text, color=QUIET)


def range_told(top: float) -> str:
    """The scale's range in words."""
    return f"scale from \N{MINUS SIGN}{plain(top)} to +{plain(top, 'T')}"


def sign(figure: Figure, about: Mapping[str, object]) -> None:
    """Write at the foot which design a picture shows, by which version, and how far it is to be trusted."""
    wide, high = figure.get_size_inches()
    name = f"{about['design']} ({about['design_hash']}), fieldrun {about['fieldrun']}"
    text = f"{name}, error estimate {about['error_estimate']}"
    figure.text(1 - 0.15 / wide, 0.09 / high, text, ha="right", va="bottom", size=SIGNED_SIZE, color=QUIET)


def save_three(figure: Figure, folder: Path, stem: str, about: Mapping[str, object]) -> tuple[Path, ...]:
    """Write a figure as SVG, PNG and PDF; the same figure and facts give the same bytes.

    Parameters
    ----------
    figure, folder, stem, about : as for `style.save_figure`
    """
    svg, png = save_figure(figure, folder, stem, about)
    pdf = folder / f"{stem}.pdf"
    facts = {"fieldrun": __version__, **{key: str(value) for key, value in about.items()}}
    words = {
        "Title": stem.replace("-", " "),
        "Subject": str(figure.get_label()),
        "Creator": "fieldrun",
        "Keywords": "; ".join(f"{key}: {value}" for key, value in facts.items()),
        "CreationDate": None,
    }
    with mpl.rc_context({**STYLE, "savefig.facecolor": PAPER}):
        figure.savefig(pdf, format="pdf", dpi=PNG_DPI, metadata=words)
    return svg, png, pdf

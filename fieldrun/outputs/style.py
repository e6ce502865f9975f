"""How every picture of the house looks, and how it is written: SVG and PNG, the design's facts inside, stable bytes.

A second sign (line style, letter, width) always goes with a colour.
"""

import warnings
from collections.abc import Callable, Mapping
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from fieldrun import __version__
from fieldrun.outputs.colours import INK, PAPER, QUIET

PHASE_DASHES: tuple[Any, ...] = ("solid", (0, (5.0, 1.6)), (0, (1.2, 1.2)))
PHASE_MARKERS = ("o", "s", "^")
"""One line style and marker for each phase, beside its colour."""

WORKS = LinearSegmentedColormap.from_list("works", ["#B3203F", "#C97A84", "#B7BAB7", "#6C93BC", "#0A4F9C"])
"""From against the rest, through idle, to at work."""

STRENGTH = LinearSegmentedColormap.from_list("strength", ["#FDFBF6", "#F3E3BD", "#E3B26F", "#C87B52", "#A04C52"])
"""Flux density from nothing to the largest; light enough at its end for lines to show on it."""

BASE_SIZE = 13
"""Size of ordinary text [pt] on figures about ten inches wide: legible on a printed page and on a telephone."""

STYLE: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],  # comes with matplotlib: the same letters everywhere
    "font.size": BASE_SIZE,
    "axes.titlesize": BASE_SIZE + 2,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlecolor": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": QUIET,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "text.color": INK,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "lines.solid_capstyle": "round",
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "svg.fonttype": "none",  # letters stay letters: searchable, readable aloud, small
    "svg.hashsalt": "fieldrun",  # the same drawing gives the same bytes
}

PNG_DPI = 150
"""Dots per inch of the PNG, and of rasterised parts inside the SVG."""

PACKING = 4
"""zlib's level for PNGs: half the time of the usual 6, for files some 1 to 9 % larger."""

P = ParamSpec("P")


def in_house_style(draw: Callable[P, Figure]) -> Callable[P, Figure]:
    """Let a drawing function work under the house style without touching the process's settings."""

    @wraps(draw)
    def styled(*args: P.args, **kwargs: P.kwargs) -> Figure:
        with mpl.rc_context(STYLE):
            return draw(*args, **kwargs)

    return styled


def new_figure(width_in: float, height_in: float, says: str) -> Figure:
    """Start a figure outside any global state; `says` is what it shows, in words, for those who cannot see it."""
    figure = Figure(figsize=(width_in, height_in))
    FigureCanvasAgg(figure)
    figure.set_label(says)
    return figure


def save_figure(figure: Figure, folder: Path, stem: str, about: Mapping[str, object]) -> tuple[Path, Path]:
    """Write a figure as SVG and PNG.

    Parameters
    ----------
    figure : from one of the picture functions
    folder : where; made if it is missing
    stem : name without ending
    about : facts to keep inside both files, such as design hash, mesh and error estimate; the version is added

    Returns
    -------
    The two files. The same figure and facts give the same bytes: no date is written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    facts = {"fieldrun": __version__, **{key: str(value) for key, value in about.items()}}
    svg, png = folder / f"{stem}.svg", folder / f"{stem}.png"
    listed = [f"{key}: {value}" for key, value in facts.items()]
    says = str(figure.get_label())
    with mpl.rc_context(STYLE), warnings.catch_warnings():
        # a title in letters that the house's font lacks: the SVG keeps them, nothing can be done about the PNG
        warnings.filterwarnings("ignore", r"Glyph .* missing from font", UserWarning)
        words = {
            "Title": stem.replace("_", " "),
            "Description": says,
            "Creator": "fieldrun",
            "Keywords": listed,
            "Date": None,
        }
        figure.savefig(svg, format="svg", dpi=PNG_DPI, metadata=words)
        inside = {"Title": stem.replace("_", " "), "Description": says, "Software": "fieldrun", **facts}
        figure.savefig(png, format="png", dpi=PNG_DPI, metadata=inside, pil_kwargs={"compress_level": PACKING})
    return svg, png


def nice_length(about: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not longer than `about`: for scale bars."""
    power = 10.0 ** int(f"{about:e}".split("e")[1])
    return max(step * power for step in (1, 2, 5) if step * power <= about * (1 + 1e-9))

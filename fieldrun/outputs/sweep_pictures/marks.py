"""Signs and colours that all pictures of a sweep share: best, as designed, failed, not to be built."""

import math
from typing import Any

from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from fieldrun.design.arrays import Floats
from fieldrun.outputs.colours import FAINT, INK, PAPER, PHASE_COLOURS, QUIET

SCALE = LinearSegmentedColormap.from_list("scale", ["#FBF4DC", "#CFE0C3", "#86BDB0", "#4389A2", "#2A5C8A", "#1B2F5B"])
"""From least to most: lightness falls steadily, so that it reads in grey and for every kind of colour blindness."""

GROUPS = (*PHASE_COLOURS, "#8C4A7D", "#6B7A1E", "#7FB2D9", "#B08D57", "#1E2B2F")
GROUP_DASHES: tuple[Any, ...] = (
    "solid", (0, (5.0, 1.6)), (0, (1.2, 1.2)), (0, (7.0, 1.5, 1.2, 1.5)), "solid", (0, (5.0, 1.6)), (0, (1.2, 1.2)),
    (0, (7.0, 1.5, 1.2, 1.5)),
)  # fmt: skip
GROUP_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
"""Of lines that belong to names: colour, dashes and sign change together."""

BEST, FRONT, FAILED = "#FFC20A", "#C65F00", "#B3203F"

NOT_BUILT = "#EEECE6"
"""Ground under the hatching of what cannot be built."""

MOST_GROUPS = len(GROUPS)

_STAR: dict[str, Any] = {"marker": "*", "color": BEST, "markeredgecolor": INK, "markeredgewidth": 1.1, "ls": "none"}
_DIAMOND: dict[str, Any] = {"marker": "D", "mfc": PAPER, "mec": INK, "mew": 1.8, "ls": "none"}
_CROSS: dict[str, Any] = {"marker": "x", "color": FAILED, "mew": 1.8, "ls": "none"}


def dot_size(points: int) -> float:
    """Of a dot that is one of so many: a few are seen from afar, of thousands each is as small as it can be [pt]."""
    return min(max(60.0 / math.sqrt(max(points, 1)), 3.0), 12.0)


def draw_best(axes: Axes, x: float, y: float) -> None:
    """A star."""
    axes.plot([x], [y], markersize=19, zorder=8, clip_on=False, gid="best", **_STAR)


def draw_base(axes: Axes, x: float, y: float) -> None:
    """A diamond where the design stands as it is."""
    axes.plot([x], [y], markersize=9, zorder=7, clip_on=False, gid="base", **_DIAMOND)


def draw_base_line(axes: Axes, x: float) -> None:
    """An upright line where it stands on one scale; what it gives there is not known to a picture."""
    axes.axvline(x, color=INK, lw=1.3, ls=(0, (2, 2)), zorder=1.5, gid="base")


def draw_failed(axes: Axes, x: Floats, y: Floats, **more: Any) -> None:
    """Crosses at points (n,) that failed, in the axes' units."""
    if len(x):
        axes.plot(x, y, markersize=8, zorder=6, clip_on=False, gid="failed", rasterized=len(x) > 300, **_CROSS, **more)


def best_mark() -> Line2D:
    """For the legend."""
    return Line2D([], [], markersize=15, label="best", **_STAR)


def base_mark(*, line: bool = False) -> Line2D:
    """For the legend."""
    if line:
        return Line2D([], [], color=INK, lw=1.3, ls=(0, (2, 2)), label="the design as it stands")
    return Line2D([], [], markersize=8, label="the design as it stands", **_DIAMOND)


def failed_mark() -> Line2D:
    """For the legend."""
    return Line2D([], [], markersize=8, label="failed", **_CROSS)


def not_built_mark() -> Patch:
    """For the legend."""
    return Patch(facecolor=NOT_BUILT, edgecolor=QUIET, hatch="////", lw=0.0, label="cannot be built")


def absent_mark() -> Patch:
    """For the legend."""
    return Patch(facecolor=FAINT, label="no answer")

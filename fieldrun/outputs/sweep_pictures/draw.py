"""Which picture suits a sweep."""

from matplotlib.figure import Figure

from fieldrun.outputs.sweep_pictures.bars import MOST_NAMES, bars_picture
from fieldrun.outputs.sweep_pictures.contours import contours_picture
from fieldrun.outputs.sweep_pictures.curves import curves_picture
from fieldrun.outputs.sweep_pictures.marks import MOST_GROUPS
from fieldrun.outputs.sweep_pictures.scatter import matrix_picture, scatter_picture
from fieldrun.outputs.sweep_pictures.view import Varied, View, axes_and_groups, fewest


def why_no_picture(view: View) -> str:
    """Why nothing can be drawn; empty if something can."""
    if not view.quantities:
        return "no point has a number to draw"
    return "" if view.varied else "every point is the same"


def sweep_picture(view: View) -> Figure:
    """Draw what the keys that vary call for; `why_no_picture` must be empty."""
    return _grid(view) if view.is_grid else _scattered(view)


def _scattered(view: View) -> Figure:
    numbers = [one for one in view.varied if not one.names]
    if len(view.varied) == 1 and numbers:
        return curves_picture(view, numbers[0], ())
    if len(view.varied) == 2 and len(numbers) == 2:
        return scatter_picture(view, *numbers)
    return matrix_picture(view)


def _grid(view: View) -> Figure:
    axes, groups = axes_and_groups(view)
    if not axes and len(groups) <= 2 and _fit(groups):
        return _bars(view, groups)
    if len(axes) == 1 and len(groups) <= 2 and all(len(one.levels) <= MOST_GROUPS for one in groups):
        return curves_picture(view, axes[0], sorted(groups, key=lambda one: -len(one.levels)))
    if len(axes) == 2 and len(groups) <= 1:
        return contours_picture(view, axes[0], axes[1], groups[0] if groups else None)
    if len(axes) == 3 and not groups:
        by = fewest(axes)
        across, up = (one for one in axes if one is not by)
        return contours_picture(view, across, up, by)
    return matrix_picture(view)


def _fit(groups: list[Varied]) -> bool:
    sizes = sorted(len(one.levels) for one in groups)
    return sizes[-1] <= MOST_NAMES and (len(sizes) == 1 or sizes[0] <= MOST_GROUPS)


def _bars(view: View, groups: list[Varied]) -> Figure:
    names, *more = sorted(groups, key=lambda one: -len(one.levels))
    return bars_picture(view, names, more[0] if more else None)

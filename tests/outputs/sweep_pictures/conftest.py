"""Pictures of invented sweeps, and how to find what is drawn in them."""

from collections.abc import Callable

import numpy as np
import pytest

from fieldrun.outputs.sweep_pictures.draw import sweep_picture
from fieldrun.outputs.sweep_pictures.view import View, view_of
from fieldrun.studies.sweep.choice import choose
from fieldrun.studies.sweep.goals import read_goals


@pytest.fixture
def view_for(invented_sweep) -> Callable[..., View]:
    """The view of an invented sweep with goals."""

    def made(*ranges, best=(), **given):
        sweep = invented_sweep(*ranges, **given)
        return view_of(sweep, choose(sweep, read_goals(best, sweep.picks)))

    return made


@pytest.fixture
def drawn(view_for):
    """View and figure."""

    def made(*ranges, **given):
        view = view_for(*ranges, **given)
        return view, sweep_picture(view)

    return made


@pytest.fixture
def places():
    """Points (x, y) of all lines with this id in a frame."""

    def found(axes, gid):
        lines = [line for line in axes.lines if line.get_gid() == gid]
        return np.concatenate([line.get_xydata() for line in lines]) if lines else np.zeros((0, 2))

    return found


@pytest.fixture
def legend():
    """Labels of the legend."""

    def found(figure):
        return [text.get_text() for one in figure.legends for text in one.get_texts()]

    return found

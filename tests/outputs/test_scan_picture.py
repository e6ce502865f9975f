"""The picture of a scan: a panel for each place, measured dots over the map's curve."""

import numpy as np
import pytest

from fieldrun.field.field_map import field_at
from fieldrun.outputs.scan_picture import scan_picture


def test_nine_places_have_nine_panels(benched):
    figure = scan_picture(benched.scan, benched.bench.result.field_map)
    assert [axes.get_title(loc="left") for axes in figure.axes][:4] == [
        "r 60 mm, z 1.5 mm",
        "r 66 mm, z 1.5 mm",
        "r 72 mm, z 1.5 mm",
        "r 60 mm, z 4 mm",
    ]
    assert len(figure.axes) == 9
    assert sum(len(axes.lines[2].get_xdata()) for axes in figure.axes) == 144


def test_the_curve_is_the_map_turned(benched):
    figure = scan_picture(benched.scan, benched.bench.result.field_map)
    curve = figure.axes[4].lines[1]
    theta = np.radians(curve.get_xdata()) + benched.scan.turned_rad
    assert curve.get_ydata() == pytest.approx(field_at(benched.bench.result.field_map, 0.066, theta, 0.004)[2])

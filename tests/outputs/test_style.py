import itertools
import xml.etree.ElementTree as ET

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from fieldrun import __version__
from fieldrun.outputs.colours import PHASE_COLOURS
from fieldrun.outputs.style import (
    PHASE_DASHES,
    PHASE_MARKERS,
    PNG_DPI,
    STRENGTH,
    WORKS,
    in_house_style,
    new_figure,
    nice_length,
    save_figure,
)

# Machado, Oliveira & Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, full severity, linear RGB (from memory)
SEEN_BY = {
    "everyone else": np.eye(3),
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def lab(colour, eye="everyone else"):
    """CIE L*a*b* (D65) of a colour as one kind of eye sees it."""
    srgb = np.array(to_rgb(colour))
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    xyz = TO_XYZ @ np.clip(SEEN_BY[eye] @ linear, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("eye", SEEN_BY)
def test_phases_stay_apart_for_every_eye(eye):
    """A difference of 2 in L*a*b* is just visible; thin lines need far more."""
    for one, two in itertools.combinations(PHASE_COLOURS, 2):
        assert np.linalg.norm(lab(one, eye) - lab(two, eye)) > 35


@pytest.mark.parametrize("eye", SEEN_BY)
def test_work_idling_and_working_against_stay_apart_for_every_eye(eye):
    for one, two in itertools.combinations([WORKS(0.0), WORKS(0.5), WORKS(1.0)], 2):
        assert np.linalg.norm(lab(one, eye) - lab(two, eye)) > 35


def test_phases_differ_by_line_and_marker_too():
    assert len({str(dashes) for dashes in PHASE_DASHES}) == len(set(PHASE_MARKERS)) == len(set(PHASE_COLOURS)) == 3


def test_flux_density_darkens_all_the_way():
    lightness = [lab(STRENGTH(x))[0] for x in np.linspace(0, 1, 50)]
    assert np.all(np.diff(lightness) < 0)


@in_house_style
def draw():
    figure = new_figure(3.0, 2.0, "A line that falls & rises")
    figure.add_axes((0.2, 0.2, 0.7, 0.7)).plot([0, 1, 2], [1, 0, 1], gid="the-line")
    return figure


ABOUT = {"design hash": "8f3a", "mesh": "412 elements", "error estimate": "0.4 %"}


def test_both_files_hold_what_the_picture_is_about(tmp_path):
    svg, png = save_figure(draw(), tmp_path / "deep" / "folder", "one_line", ABOUT)
    text = "".join(ET.parse(svg).getroot().itertext())  # noqa: S314 our own file
    with Image.open(png) as image:
        inside = dict(image.text)
        assert image.size == (3 * PNG_DPI, 2 * PNG_DPI)
    for key, value in {**ABOUT, "fieldrun": __version__}.items():
        assert f"{key}: {value}" in text
        assert inside[key] == value
    assert "A line that falls & rises" in text
    assert inside["Description"] == "A line that falls & rises"
    assert inside["Title"] == "one line"


def test_the_same_picture_has_the_same_bytes_and_no_date(tmp_path):
    first, second = (save_figure(draw(), tmp_path / name, "line", ABOUT) for name in ("a", "b"))
    for one, two in zip(first, second, strict=True):
        assert one.read_bytes() == two.read_bytes()
    assert "<dc:date>" not in first[0].read_text()


def test_the_process_keeps_its_own_settings():
    before = dict(mpl.rcParams)
    draw()
    assert dict(mpl.rcParams) == before


@pytest.mark.parametrize(
    ("about", "nice"),
    [(1.0, 1.0), (1.9, 1.0), (2.0, 2.0), (4.9, 2.0), (5.0, 5.0), (37.0, 20.0), (0.07, 0.05), (99.9, 50.0)],
)
def test_scale_bars_have_round_lengths(about, nice):
    assert nice_length(about) == pytest.approx(nice, rel=1e-12)


def test_letters_that_the_font_lacks_warn_nobody(tmp_path):
    """Warnings are errors here; any but this one still is."""
    figure = new_figure(3, 2, "says")
    figure.text(0.1, 0.5, "\N{CJK UNIFIED IDEOGRAPH-98A8}\N{CJK UNIFIED IDEOGRAPH-8ECA}")
    svg, _ = save_figure(figure, tmp_path, "far", {})
    assert "\N{CJK UNIFIED IDEOGRAPH-98A8}" in svg.read_text(encoding="utf-8")

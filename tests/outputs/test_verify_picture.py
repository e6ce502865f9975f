"""The picture shows each way's error at its true length, and each curve where its way knows the field."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from matplotlib.colors import to_hex

from fieldrun.outputs.style import save_figure
from fieldrun.outputs.verify_picture import ENOUGH, FAR, LOOKS, verify_picture

HALBACH = {
    "hand": -4.3,
    "layered": -0.3,
    "sections": 0.1,
    "k1": "does not apply: its charge sheets know magnets along the shaft only",
    "rings": 0.0,
}


def bars(figure):
    """Lengths of the bars by way, as drawn [%]."""
    return {patch.get_gid()[4:]: patch.get_width() for patch in figure.axes[0].patches if patch.get_gid()}


def curves(figure):
    return {line.get_gid()[6:]: line for line in figure.axes[1].lines if str(line.get_gid()).startswith("curve-")}


def words_of(figure, folder):
    svg, png = save_figure(figure, folder, "verify", {})
    text = svg.read_text()
    assert not re.search(r"\bnan\b|\binf\b", text)
    assert png.stat().st_size > 20_000
    return "".join(ET.fromstring(text).itertext())  # noqa: S314 our own file


def test_bars_are_the_differences(compared):
    found = bars(verify_picture(compared()))
    assert {key: found[key] for key in ("layered", "sections", "k1", "rings", "solid")} == pytest.approx(
        {"layered": 9.5, "sections": 9.7, "k1": -0.04, "rings": 0.3, "solid": 0}
    )


def test_a_hand_calculation_far_off_is_cut_but_told(compared, tmp_path):
    figure = verify_picture(compared())
    assert bars(figure)["hand"] == pytest.approx(1.06 * ENOUGH * 9.7)
    assert bars(figure)["hand"] == pytest.approx(figure.axes[0].get_xlim()[1])
    assert "+41.4 %" in words_of(figure, tmp_path)


@pytest.mark.parametrize("off", [15.0, -15.0])
def test_one_not_so_far_off_is_whole(compared, off):
    figure = verify_picture(compared({"hand": off, "sections": 9.7, "rings": 0.3, "solid": 0.0}))
    assert bars(figure)["hand"] == pytest.approx(off)


def test_a_winding_beside_the_magnets_does_not_hide_the_default(compared):
    figure = verify_picture(compared({"hand": -100.0, "sections": -100.0, "rings": 5.0, "solid": 0.0}))
    assert bars(figure)["sections"] == bars(figure)["hand"] == pytest.approx(-1.06 * ENOUGH * FAR)
    assert bars(figure)["rings"] == pytest.approx(5)


def test_what_is_let_pass_is_always_in_sight(compared):
    """Even where all agree, so that agreement looks like agreement."""
    axes = verify_picture(compared({"sections": 0.01, "rings": 0.01, "solid": 0.0})).axes[0]
    low, high = axes.get_xlim()
    assert low <= -3 < 3 <= high
    band = [patch for patch in axes.patches if not patch.get_gid()]
    assert len(band) == 3
    assert all((patch.get_x(), patch.get_width()) == (-2, 4) for patch in band)


def test_curves_are_the_field_in_millimetres(compared):
    comparison = compared()
    found = curves(verify_picture(comparison))
    assert set(found) == {"sections", "k1", "rings", "solid"}
    answer = comparison.default
    assert np.array(found["rings"].get_xdata()) == pytest.approx(answer.radii_m * 1e3)
    assert np.array(found["rings"].get_ydata()) == pytest.approx(answer.b1_over_radius_t)


def test_curves_that_agree_can_still_be_told_apart(compared):
    lines = curves(verify_picture(compared())).values()
    for attribute in ("get_color", "get_linewidth"):
        assert len({getattr(line, attribute)() for line in lines}) >= 3
    dashes = {(line._unscaled_dash_pattern[1] or (0,))[0] for line in lines}
    assert len(dashes) == 3  # solid and rings are both unbroken, one thin over one thick
    assert found_width(lines, "solid") > 3 * found_width(lines, "rings")


def found_width(lines, key):
    return next(line.get_linewidth() for line in lines if line.get_gid() == f"curve-{key}")


def test_bars_and_curves_of_one_way_share_a_colour(compared):
    figure = verify_picture(compared())
    for patch in figure.axes[0].patches:
        key = str(patch.get_gid())[4:]
        if key in LOOKS:
            assert to_hex(patch.get_facecolor()) == to_hex(LOOKS[key]["color"])
            assert to_hex(curves(figure)[key].get_color()) == to_hex(LOOKS[key]["color"])


def test_an_absence_is_told_in_its_row(compared, tmp_path):
    figure = verify_picture(compared(HALBACH))
    assert set(bars(figure)) == {"hand", "layered", "sections", "rings"}
    assert set(curves(figure)) == {"sections", "rings"}
    words = words_of(figure, tmp_path)
    assert "does not apply: its charge sheets know magnets" in words
    assert "above or below rings, the best" in words


def test_magnets_and_winding_are_marked(compared, tmp_path):
    figure = verify_picture(compared())
    magnets = next(patch for patch in figure.axes[1].patches)
    assert (magnets.get_x(), magnets.get_width()) == pytest.approx((56, 20))
    winding = next(line for line in figure.axes[1].lines if line.get_gid() == "winding")
    assert list(winding.get_xdata()) == pytest.approx([53, 79])
    words = words_of(figure, tmp_path)
    for said in ("magnets", "winding, mean 66 mm", "bold: the default", "4 mm above the lower magnets"):
        assert said in words


def test_those_who_cannot_see_it_read_the_verdict(compared):
    assert "The default answer (rings) holds: its EMF is 0.30 % above" in verify_picture(compared()).get_label()


def test_no_field_at_all_still_draws(compared, tmp_path):
    figure = verify_picture(compared(emf=0.0))
    assert "there is nothing to compare" in figure.get_label()
    assert not any(bars(figure).values())
    assert "winding, mean 66 mm" in words_of(figure, tmp_path)


def test_the_same_comparison_gives_the_same_bytes(compared, tmp_path):
    first, second = (save_figure(verify_picture(compared()), tmp_path / n, "v", {}) for n in "ab")
    assert first[0].read_bytes() == second[0].read_bytes()

"""Scales are round, symmetric and told; the three files of a figure carry its facts and never change."""

import re

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from fieldrun.outputs.fields.looks import POLES, fill_bands, levels_to, range_told, rounded_up, save_three, sign
from fieldrun.outputs.style import new_figure

ABOUT = {"fieldrun": "9.9", "design": "hut", "design_hash": "8f3a", "mesh": "rings", "error_estimate": "0.2 percent"}


@settings(derandomize=True, max_examples=60)
@given(st.floats(1e-6, 10))
def test_a_scale_ends_a_little_above_what_it_holds(value):
    top = rounded_up(value)
    assert value * (1 - 1e-9) <= top <= 1.5 * value
    levels = levels_to(top)
    assert len(levels) % 2 == 1
    assert levels[len(levels) // 2] == 0
    assert levels == pytest.approx(-levels[::-1])
    assert 9 <= len(levels) <= 31


@pytest.mark.parametrize(("value", "top"), [(0.678, 0.8), (0.0512, 0.06), (0.97, 1.0), (0, 1.0), (0.37, 0.4)])
def test_ends_are_round(value, top):
    assert rounded_up(value) == top


def test_colours_are_told_apart_in_grey_and_by_hue():
    """Luminance (ITU-R BT.601) rises to the middle and falls again; one side is blue, the other is not."""
    rgb = POLES(np.linspace(0, 1, 65))[:, :3]
    light = rgb @ [0.299, 0.587, 0.114]
    assert np.all(np.diff(light[:33]) > 0)
    assert np.all(np.diff(light[32:]) < 0)
    assert np.all(rgb[:28, 2] > rgb[:28, 0] + 0.03)
    assert np.all(rgb[37:, 0] > rgb[37:, 2] + 0.03)


def test_what_lies_beyond_the_scale_has_a_colour_of_its_own():
    x = y = np.linspace(-1, 1, 9)
    values = np.outer(y, x)
    axes = new_figure(3, 3, "x").add_axes((0, 0, 1, 1))
    assert fill_bands(axes, x, y, values, 1.0).extend == "neither"
    assert fill_bands(axes, x, y, values, 0.5).extend == "both"


def test_nothing_can_be_drawn_too():
    axes = new_figure(3, 3, "x").add_axes((0, 0, 1, 1))
    fill_bands(axes, np.arange(5.0), np.arange(4.0), np.zeros((4, 5)), 1.0)
    assert range_told(0.7) == "scale from \N{MINUS SIGN}0.7 to +0.7 T"


def test_three_files_with_their_facts_and_the_same_bytes(tmp_path):
    for folder in (tmp_path / "a", tmp_path / "b"):
        figure = new_figure(4, 3, "A line, in words.")
        figure.add_axes((0.2, 0.2, 0.7, 0.7)).plot([0, 1])
        sign(figure, ABOUT)
        files = save_three(figure, folder, "field-gap", ABOUT)
        assert [file.name for file in files] == ["field-gap.svg", "field-gap.png", "field-gap.pdf"]
    for file in files:
        assert file.read_bytes() == (tmp_path / "a" / file.name).read_bytes()
    inside = pypdfium2.PdfDocument(tmp_path / "a" / "field-gap.pdf").get_metadata_dict()
    assert inside["Subject"] == "A line, in words."
    assert "design_hash: 8f3a" in inside["Keywords"]
    assert "error_estimate: 0.2 percent" in inside["Keywords"]
    assert inside["CreationDate"] == ""
    with Image.open(tmp_path / "a" / "field-gap.png") as image:
        assert image.text["design_hash"] == "8f3a"
    svg = (tmp_path / "a" / "field-gap.svg").read_text(encoding="utf-8")
    assert "design_hash: 8f3a" in svg
    assert re.search(r"hut \(8f3a\), fieldrun 9.9, error estimate 0.2 percent", svg)

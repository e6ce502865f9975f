"""The report's small parts: path data, ticks, plain text, tables, the animation, the house's pictures made plain."""

import csv
import functools
import io
import json
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markupsafe import Markup
from PIL import Image

from fieldrun.design.examples import example_path
from fieldrun.design.model import Arc, Block, Disc
from fieldrun.generator.machine import read_design
from fieldrun.outputs.report import svg
from fieldrun.outputs.report.animation import FRAMES, animation_bytes
from fieldrun.outputs.report.chart import frame, ticks
from fieldrun.outputs.report.context import cleaned
from fieldrun.outputs.report.csv_tables import csv_tables
from fieldrun.outputs.report.house import readable
from fieldrun.outputs.report.markdown import escaped, markdown_text
from fieldrun.outputs.report.plan import magnet_corners
from fieldrun.outputs.report.records import KeyNumber
from fieldrun.outputs.report.report_file import report_dict, report_text
from fieldrun.outputs.report.side import layers_of
from fieldrun.outputs.report.svg import element, number, through
from fieldrun.outputs.result_file import about, result_dict

POINTS = st.lists(st.tuples(*[st.floats(-500, 500)] * 2), min_size=1, max_size=40)


@settings(derandomize=True, max_examples=60)
@given(POINTS, st.integers(1, 3))
def test_steps_lead_to_every_point(points, decimals):
    data = through(points, decimals=decimals)
    first, _, onwards = data[1:].partition("l")
    values = [np.array([float(v) for v in part.split()]).reshape(-1, 2) for part in (first, onwards) if part]
    found = np.cumsum(np.vstack(values), axis=0)
    assert found == pytest.approx(np.array(points), abs=0.5000001 * 10**-decimals)


@pytest.mark.parametrize(("value", "text"), [(0.0, "0"), (-0.0, "0"), (-0.004, "0"), (12.5, "12.5"), (100.0, "100")])
def test_coordinates_are_short(value, text):
    assert number(value) == text


def test_elements_escape_what_they_are_given():
    made = element("text", ["<b>", Markup("<tspan/>")], x=1.5, class_='a"b', stroke_width=2, none=None)
    assert made == '<text x="1.5" class="a&#34;b" stroke-width="2">&lt;b&gt;<tspan/></text>'


@settings(derandomize=True, max_examples=80)
@given(st.floats(-1e4, 1e4), st.floats(0.01, 1e4))
def test_ticks_are_even_round_and_inside(low, span):
    found = ticks(low, low + span)
    assert 2 <= len(found) <= 9
    assert all(low - 1e-6 * span <= tick <= low + span * (1 + 1e-6) for tick in found)
    steps = np.diff(found)
    assert steps == pytest.approx(np.full(len(steps), steps[0]), rel=1e-6)
    assert re.fullmatch(r"(1|2|2\.5|5)0*", f"{float(f'{steps[0]:.3e}'.split('e')[0]):g}")


def test_a_frame_puts_its_corners_where_they_belong():
    at = frame((0.0, 10.0), (-1.0, 1.0), 200.0)
    assert (at.x(0.0), at.x(10.0)) == (at.left, at.left + at.width)
    assert (at.y(1.0), at.y(-1.0)) == (at.top, at.top + at.height)
    assert at.points(np.array([0.0, 10.0]), np.array([1.0, -1.0])) == pytest.approx(
        np.array([[at.x(0.0), at.y(1.0)], [at.x(10.0), at.y(-1.0)]])
    )


def area(corners):
    x, y = np.asarray(corners).T
    return abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2


@pytest.mark.parametrize("name", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_magnets_are_drawn_as_large_as_they_are(name):
    magnets = read_design(example_path(name)).magnets
    outline, found = magnets.outline, area(magnet_corners(magnets, 0.7))
    if isinstance(outline, Disc):
        assert found == pytest.approx(np.pi / 4 * 20.0**2, rel=3e-3)  # 48 corners
    if isinstance(outline, Block):
        assert found == pytest.approx(25.0 * 10.0)
    if isinstance(outline, Arc):
        assert found == pytest.approx(np.pi * (70.0**2 - 45.0**2) / 12 * 0.85, rel=1e-3)


@pytest.mark.parametrize("colour", ["#D9730D", "#2A9D8F", "#1E2B2F", "#5E6B6E", "#F3E3BD"])
def test_text_is_made_dark_enough_and_no_darker(colour):
    found = readable(colour)
    assert found == colour.lower() or contrast(found) >= 4.5
    assert contrast(found) < 6 or contrast(colour) >= 4.5
    assert (found == colour.lower()) == (contrast(colour) >= 4.6)


def contrast(colour, ground="#F4F3EE"):
    def light(text):
        parts = [int(text[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
        return float(np.dot([0.2126, 0.7152, 0.0722], linear))

    return (light(ground) + 0.05) / (light(colour) + 0.05)


@pytest.mark.parametrize("colour", ["none", "#FFFFFF", "#ffffff"])
def test_what_is_no_ink_on_the_page_stays(colour):
    assert readable(colour) == colour


def test_every_text_of_a_record_is_cleaned_and_nothing_else():
    dirty = KeyNumber("a\u202eb", "1\n2", "V")
    assert cleaned((dirty, {"x": "y\x07"}, 3, Markup("<g>\n</g>"))) == (
        KeyNumber("a b", "1 2", "V"),
        {"x": "y "},
        3,
        Markup("<g>\n</g>"),
    )


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("# a", r"\# a"),
        ("a|b", r"a\|b"),
        ("<i>", r"\<i\>"),
        ("1. a", r"1\. a"),
        ("13) a", r"13\) a"),
        ("7.", r"7\."),
        ("13.5 V", "13.5 V"),
        ("8 mm", "8 mm"),
        ("- a", r"\- a"),
        ("two\nlines", "two lines"),
        ("copper_mm", r"copper\_mm"),
        ("-5.2 V", r"\-5.2 V"),
    ],
)
def test_text_stays_text_in_mark_up(text, found):
    assert escaped(text) == found


@pytest.mark.slow
def test_tables_of_the_plain_text_are_whole(made):
    report = made("hut-charger").report
    lines = markdown_text(report).splitlines()
    tables = re.findall(r"(?:^\|.*\n)+", "\n".join(lines) + "\n", re.MULTILINE)
    pictured = [picture.values for chapter in report.chapters for picture in chapter.pictures if picture.values]
    listed = [table for chapter in report.chapters for table in (*chapter.tables, *chapter.folded)]
    assert len(tables) == len(pictured) + len(listed)
    for table in tables:
        widths = {len(re.findall(r"(?<!\\)\|", line)) for line in table.splitlines()}
        assert len(widths) == 1
    assert [line[3:] for line in lines if line.startswith("## ")] == [escaped(c.title) for c in report.chapters]


@pytest.mark.slow
def test_csv_tables_hold_the_result_in_full(made):
    result = made("hut-charger").result
    content = result_dict(result)
    tables = csv_tables(result, content)
    assert set(tables) == {"numbers.csv", "waveform.csv", "harmonics.csv", "points.csv", "power-curve.csv"}
    for text in tables.values():
        for key, value in about(result).items():
            assert f"# {key}: {value}\n" in text
    wave = columns(tables["waveform.csv"])
    assert wave["rotor_angle_deg"] == content["emf"]["waveform"]["rotor_angle_deg"]
    stated = np.array(content["emf"]["waveform"]["phase_v_s_per_rad"]) * 500 * np.pi / 30
    for k in range(3):
        assert np.array(wave[f"phase_{k + 1}_v"]) == pytest.approx(stated[k], rel=1e-12)
    assert np.array(wave["electrical_angle_deg"]) == pytest.approx(8 * np.array(wave["rotor_angle_deg"]))
    points = columns(tables["points.csv"])
    assert points["dc_power_w"] == [point["dc_power_w"] for point in content["output"]["points"]]
    curve = columns(tables["power-curve.csv"])
    for point in content["output"]["wind"]["points"][:8]:
        found = np.interp(point["wind_m_s"], curve["wind_m_s"], curve["dc_w"])
        assert found == pytest.approx(point["dc_w"], abs=0.05)
    assert columns(tables["harmonics.csv"])["field_t"] == list(content["field"]["harmonics_t"].values())


def columns(text):
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    return {key: [float(row[key]) for row in rows] for key in rows[0]}


@pytest.mark.slow
def test_without_a_load_there_are_no_points(made):
    result = made("one-phase").result
    assert set(csv_tables(result, result_dict(result))) == {"numbers.csv", "waveform.csv", "harmonics.csv"}


@pytest.mark.slow
def test_the_report_file_is_plain_json(made):
    machine = made("quiet-halbach")
    content = json.loads(report_text(machine.report, machine.result))
    assert content == json.loads(json.dumps(report_dict(machine.report, machine.result)))
    assert (content["name"], content["design_hash"]) == ("quiet-halbach", machine.result.design_hash)
    assert [chapter["name"] for chapter in content["chapters"]] == [c.anchor for c in machine.report.chapters]
    assert "<svg" not in json.dumps(content)


@pytest.fixture(scope="module")
def film_of(made):
    """The bytes of a machine's animation, drawn once."""
    return functools.cache(lambda name: animation_bytes(made(name).result))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hut-charger", "one-phase", "quiet-halbach"])
def test_the_animation_turns_by_one_electrical_period(made, film_of, name):
    result, packed = made(name).result, film_of(name)
    assert len(packed) < 1_000_000
    with Image.open(io.BytesIO(packed)) as film:
        assert (film.n_frames, film.info["loop"]) == (FRAMES, 0)
        assert result.design_hash in film.info["comment"].decode()
        pictures = []
        for k in range(FRAMES):
            film.seek(k)
            pictures.append(np.asarray(film.convert("RGB"), int))
    still = np.max([np.abs(picture - pictures[0]).max(axis=2) for picture in pictures], axis=0)
    assert (still[:, :340] > 60).mean() > 0.05  # the rotor's side moves
    assert (still[:, 390:] > 60).mean() < 0.12  # of the waveform's side the dots only
    steps = [np.abs(a - b).mean() for a, b in zip(pictures, [*pictures[1:], pictures[0]], strict=True)]
    assert max(steps) < 3 * np.median(steps)  # from the last to the first as from any to the next


@pytest.mark.slow
def test_the_animation_is_the_same_every_time(made, film_of):
    assert animation_bytes(made("one-phase").result) == film_of("one-phase")


@pytest.mark.slow
def test_layers_lie_on_each_other_without_a_hole_but_air(made):
    parts = {(part.name, part.low): part for part in layers_of(made("hut-charger").result)}
    assert [(name, round(low, 6), round(p.high, 6)) for (name, low), p in parts.items() if name != "winding"] == [
        ("steel", -12, -6),
        ("magnets", -6, 0),
        ("magnets", 8, 14),
        ("steel", 14, 20),
    ]
    winding = next(part for part in parts.values() if part.name == "winding")
    assert (winding.low + winding.high) / 2 == pytest.approx(4)
    assert winding.high - winding.low == pytest.approx(1e3 * made("hut-charger").result.lay.thickness_m)


def test_a_drawing_carries_its_words():
    made = svg.drawing("a", (0.0, 0.0, 10.0, 5.0), "what <it> shows", [svg.circle((1, 2), 3)])
    assert made.startswith('<svg id="a" viewBox="0 0 10 5" role="img" aria-labelledby="a-says">')
    assert '<title id="a-says">what &lt;it&gt; shows</title>' in made

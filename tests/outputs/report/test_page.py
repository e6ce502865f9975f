"""The page's text: safe, whole, and the same numbers as the result file's."""

import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from fieldrun.outputs.report.context import report_of
from fieldrun.outputs.report.key_numbers import key_numbers
from fieldrun.outputs.report.markdown import markdown_text
from fieldrun.outputs.report.page import page_text
from fieldrun.outputs.result_file import about, result_dict
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import cautions, sentences, table_rows

pytestmark = pytest.mark.slow

MACHINES = ("hut-charger", "one-phase", "quiet-halbach")

NASTY = (
    "<script>alert(1)</script>",
    "\"quoted\" 'twice' & <b>bold</b> ]]> {{ 7 * 7 }} {% if %}",
    "../../etc/passwd\\..\\",
    "x" * 200,
    "line\nbreak \u202e turned \u0007 bell \u2028 end",
    "| a | b |\n|---|---|\n# heading [link](http://example.invalid) `code`",
)


class Tags(HTMLParser):
    """Every tag with its attributes, and the words of the page."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.words, self.inside = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.inside.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        while self.inside and self.inside.pop() != tag:
            pass

    def handle_data(self, data):
        if not self.inside or self.inside[-1] not in {"script", "style"}:
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.mark.parametrize("name", MACHINES)
def test_it_stays_small(made, name):
    assert len(made(name).page.encode()) < 1_000_000


@pytest.mark.parametrize("name", MACHINES)
def test_ids_are_unique_and_whatever_is_named_is_there(made, name):
    tags = Tags(made(name).page).tags
    counted = Counter(attributes["id"] for _, attributes in tags if "id" in attributes)
    assert [anchor for anchor, count in counted.items() if count > 1] == []
    named = [attributes["aria-labelledby"] for _, attributes in tags if "aria-labelledby" in attributes]
    linked = [a["href"][1:] for _, a in tags if a.get("href", "").startswith("#")]
    painted = re.findall(r"url\(#([^)]+)\)", made(name).page)
    assert named
    assert linked
    assert set(named) | set(linked) | set(painted) <= set(counted)


@pytest.mark.parametrize("name", MACHINES)
def test_nothing_in_it_needs_leave_or_a_net(made, name):
    tags = Tags(made(name).page).tags
    for tag, attributes in tags:
        assert "style" not in attributes, tag
        assert not [key for key in attributes if key.startswith("on")]
        for key in ("src", "href", "xlink:href", "data", "action"):
            assert attributes.get(key, "#").startswith(("#", "data:image/webp", "data:,")), (tag, key)
    assert Counter(tag for tag, _ in tags)["style"] == 1
    policy = next(a["content"] for tag, a in tags if a.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in policy


@pytest.mark.parametrize("name", MACHINES)
def test_every_drawing_has_its_words(made, name):
    tags = Tags(made(name).page).tags
    drawings = [attributes for tag, attributes in tags if tag == "svg"]
    assert len(drawings) >= 6
    assert all(drawing["role"] == "img" and drawing["aria-labelledby"] for drawing in drawings)
    says = dict(re.findall(r'<title id="([^"]+)-says">([^<]+)</title>', made(name).page))
    assert all(len(says[drawing["id"]]) > 30 for drawing in drawings)


@pytest.mark.parametrize(("rounds", "text"), [(1, "1 round"), (2, "2 rounds")])
def test_one_round_is_one(bundled, rounds, text):
    result = bundled("plank-ring")
    wound = replace(result, lay=replace(result.lay, rounds_per_phase=rounds))
    (wire,) = [shown for shown in key_numbers(wound) if shown.name.startswith("wire")]
    assert wire.when == text


@pytest.mark.parametrize("name", MACHINES)
def test_key_numbers_are_those_of_the_result_file(made, name):
    result, content = made(name).result, result_dict(made(name).result)
    shown = {number.name: f"{number.value} {number.unit}" for number in made(name).report.key_numbers}
    each = "" if result.design.winding.phases == 1 else " per phase"
    speeds = result.design.load.speeds_rpm if result.design.load else (300.0,)
    volts = content["emf"]["rms_v_per_krpm"] * speeds[-1] / 1000
    assert shown[f"volts{each}"] == plain(volts, "V")
    assert shown[f"resistance{each}"] == plain(content["circuit"]["resistance_20c_ohm"], "ohm")
    assert shown[f"wire{each}"] == plain(content["winding"]["conductor_length_m"], "m")
    assert shown["copper"] == plain(1000 * content["winding"]["copper_mass_kg"], "g")
    output = content["output"]
    assert ("charging starts" in shown) == ("charging_starts_rpm" in output)
    if "charging_starts_rpm" in output:
        assert shown["charging starts"] == plain(output["charging_starts_rpm"], "rpm")
        assert shown["into the battery"] == plain(output["points"][-1]["dc_power_w"], "W")
    assert ("a year" in shown) == ("wind" in output)
    if "wind" in output:
        assert shown["a year"] == plain(output["wind"]["annual_energy_kwh"], "kWh")


def test_what_a_bench_speed_gives_is_held_against_what_the_wind_brings(made):
    """A rotor may never reach the speed that was asked for."""
    hut = made("hut-charger")
    (told,) = [number.when for number in hut.report.key_numbers if number.name == "into the battery"]
    points = result_dict(hut.result)["output"]["wind"]["points"]
    watts, wind = re.fullmatch(r"at 500 rpm; at most (\S+) W, in a wind of (\S+) m/s", told).groups()
    assert float(watts) == pytest.approx(max(point["dc_w"] for point in points), rel=0.02)
    (there,) = [point["dc_w"] for point in points if point["wind_m_s"] == float(wind)]
    assert there == pytest.approx(float(watts), rel=0.02)


@pytest.mark.parametrize("name", MACHINES)
def test_everything_that_is_said_stands_on_the_page(made, name):
    result, text = made(name).result, Tags(made(name).page).text
    rows = [part for row in table_rows(result, result_dict(result)["field"]) for part in row]
    first = [caution.removeprefix("Caution: ")[1:] for caution in cautions(result)]
    warned = [warning.text[1:] for warning in result.warnings]
    for said in (*sentences(result), *first, *warned, *result.assumptions, *rows, *about(result).values()):
        assert " ".join(said.split()) in text


def test_every_key_of_the_design_stands_on_the_page(made):
    text = Tags(made("quiet-halbach").page).text
    design = result_dict(made("quiet-halbach").result)["design"]
    for table, keys in design.items():
        if isinstance(keys, dict):
            assert f"[{table}]" in text
            assert all(key in text for key in keys)
    assert "speeds_rpm 250, 350, 450" in text


def test_chapters_come_and_go_with_the_design(made):
    titles = {name: [chapter.anchor for chapter in made(name).report.chapters] for name in MACHINES}
    assert {"load", "wind", "changes", "others"} <= set(titles["hut-charger"])
    assert "wind" not in titles["quiet-halbach"]
    assert not {"load", "wind", "changes", "tolerances"} & set(titles["one-phase"])


@pytest.mark.parametrize("title", NASTY)
def test_a_title_does_no_harm(made, title):
    report = made("one-phase").report
    result = replace(made("one-phase").result, design=replace(made("one-phase").result.design, title=title))
    page = page_text(report_of(result, {}))
    tags, clean = Tags(page), Tags(page_text(report_of(made("one-phase").result, {})))
    assert Counter(tag for tag, _ in tags.tags) == Counter(tag for tag, _ in clean.tags)
    heading = re.search(r"<h1>(.*?)</h1>", page, re.DOTALL).group(1)
    assert "<" not in heading
    assert not re.search("[\x00-\x1f\u202e\u2028]", heading)
    assert "7 * 7" in heading or "{{" not in title  # shown, not worked out
    assert report.title == "One phase, nothing connected"
    text = markdown_text(report_of(result, {}))
    lines = text.splitlines()
    assert lines[0].startswith("# ")
    assert lines[2].startswith("Ironless disc generator")  # the title is one line, whatever is in it
    assert not re.search(r"(?<!\\)[<\[|]", lines[0])


def test_the_same_answer_gives_the_same_bytes(made):
    again = page_text(report_of(made("one-phase").result, {}))
    assert again == page_text(report_of(made("one-phase").result, {}))


def test_pictures_of_the_same_answer_have_the_same_bytes(made):
    from fieldrun.outputs.run_folder import figures_of

    result = made("one-phase").result
    again = page_text(report_of(result, figures_of(result)))
    assert again == made("one-phase").page
    assert again.count("data:image/webp") >= 3


def test_without_pictures_the_light_drawings_stay(made):
    report = report_of(made("one-phase").result, {})
    kinds = [picture.kind for chapter in report.chapters for picture in chapter.pictures]
    assert kinds == ["pair", "chart"]

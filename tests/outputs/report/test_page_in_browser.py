"""The page as a browser shows it: silent, by itself, whole on every width, legible, turning as the machine turns."""

import base64
import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.report.context import report_of
from fieldrun.outputs.report.page import page_text
from fieldrun.outputs.report.waveform import volts_of

pytestmark = pytest.mark.slow

MACHINES = ("hut-charger", "one-phase", "quiet-halbach")
WIDTHS = (360, 800, 1400)

TOO_WIDE = """
const wide = [];
for (const element of document.querySelectorAll('body *')) {
  const box = element.getBoundingClientRect();
  const inside = element.closest('.scroll');
  if (inside && inside !== element) continue;             // scrolls by itself, by keyboard too
  if (element.closest('.unseen') || !box.width) continue;
  const name = element.tagName + '.' + (element.className.baseVal ?? element.className);
  if (box.right > document.documentElement.clientWidth + 0.5 || box.left < -0.5) wide.push(name);
}
const page = document.documentElement;
return [page.scrollWidth - page.clientWidth, wide.slice(0, 9)];
"""

PALE = """
const channel = (v) => { v /= 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
const parts = (text) => { const n = text.match(/[\\d.]+/g).map(Number); return n.length < 4 ? [...n, 1] : n; };
const ground = (element) => {
  for (let at = element; at; at = at.parentElement) {
    const colour = parts(getComputedStyle(at).backgroundColor);
    if (colour[3] === 1) return colour;
  }
  throw new Error('nothing behind ' + element.tagName);
};
const found = [];
let count = 0;
for (const details of document.querySelectorAll('details')) details.open = true;
for (const element of document.querySelectorAll('body *')) {
  const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
  if (!own || ['SCRIPT', 'STYLE', 'title'].includes(element.tagName) || !element.getClientRects().length) continue;
  const style = getComputedStyle(element);
  const ink = parts(element instanceof SVGElement ? style.fill : style.color), under = ground(element);
  const [high, low] = [light(ink), light(under)].sort((a, b) => b - a);
  if (element.closest('.house') && ink.slice(0, 3).join() === '255,255,255') {  // the number of a phase on its mark
    if (!/^[123]$/.test(element.textContent.trim())) found.push(['white', element.textContent]);
    continue;
  }
  const ratio = (high + 0.05) / (low + 0.05);
  count += 1;
  if (ratio < 4.5) found.push([element.textContent.trim().slice(0, 30), ratio.toFixed(2), style.fill, under.join()]);
}
return [count, found.slice(0, 9)];
"""

STATE = """
const figure = document.getElementById('turning-figure');
const data = JSON.parse(document.getElementById('turning-figure-data').textContent);
return {
  turn: figure.querySelector('.rotor').getAttribute('transform'),
  dots: [...figure.querySelectorAll('.dot')].map((dot) => [+dot.getAttribute('cx'), +dot.getAttribute('cy')]),
  cursor: +figure.querySelector('.cursor').getAttribute('x1'),
  told: document.getElementById('turning-figure-told').textContent,
  spoken: figure.querySelector('input').getAttribute('aria-valuetext'),
  frame: data.frame,
};
"""

SLIDE = """
const slider = document.querySelector(`input[data-control="${arguments[0]}"]`);
slider.value = arguments[1];
slider.dispatchEvent(new Event('input'));
return Number(slider.value);
"""


@pytest.fixture
def opened(browser, page_file):
    """Open a machine's page at a width, in light or dark; everything is put back afterwards."""

    def show(name, width=1400, scheme="light"):
        feature = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
        size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", feature)
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        browser.get_log("browser")  # what earlier pages said
        browser.get(page_file(name).as_uri())
        return browser

    yield show
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    browser.get("about:blank")


@pytest.mark.parametrize("name", MACHINES)
def test_it_is_silent_and_asks_for_nothing(opened, name):
    page = opened(name)
    page.execute_script(SLIDE, "turn", 3.0)
    assert page.get_log("browser") == []
    assert page.execute_script("return performance.getEntriesByType('resource').map((entry) => entry.name)") == []
    assert len(page.execute_script("return performance.getEntriesByType('navigation')")) == 1


def test_the_strict_page_refuses_what_is_not_its_own(opened):
    page = opened("one-phase")
    page.execute_script(
        "const s = document.createElement('script'); s.textContent = 'window.broken = 1'; document.body.append(s);"
        "const i = new Image(); i.src = 'https://example.invalid/a.png'; document.body.append(i);"
    )
    assert page.execute_script("return window.broken ?? 0") == 0
    said = " ".join(entry["message"] for entry in page.get_log("browser"))
    assert "Content Security Policy" in said


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", MACHINES)
def test_nothing_runs_over_the_edge(opened, name, width):
    page = opened(name, width)
    assert page.execute_script(TOO_WIDE) == [0, []]
    page.execute_script("for (const d of document.querySelectorAll('details')) d.open = true")
    assert page.execute_script(TOO_WIDE) == [0, []]


@pytest.mark.parametrize(
    "title", ["x" * 200, "<script>document.title = 'broken'</script>" * 4, "W" * 60 + " \u202e" + "m" * 60]
)
def test_no_title_does_harm_on_the_narrowest_page(opened, browser, made, tmp_path, title):
    opened("one-phase", 360)  # for the width
    result = made("one-phase").result
    result = replace(result, design=replace(result.design, title=title))
    (tmp_path / "page.html").write_text(page_text(report_of(result, {})), encoding="utf-8")
    browser.get((tmp_path / "page.html").as_uri())
    assert browser.execute_script(TOO_WIDE) == [0, []]
    assert browser.title != "broken"
    assert browser.get_log("browser") == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", MACHINES)
def test_every_text_stands_out_from_its_ground(opened, name, scheme):
    count, pale = opened(name, 800, scheme).execute_script(PALE)
    assert count > 200
    assert pale == []


def test_dark_is_dark_and_light_is_light(opened):
    colours = [
        opened("one-phase", 800, scheme).execute_script("return getComputedStyle(document.body).backgroundColor")
        for scheme in ("light", "dark")
    ]
    light, dark = ([int(part) for part in re.findall(r"\d+", colour)] for colour in colours)
    assert min(light) > 230
    assert max(dark) < 50


@pytest.mark.parametrize("share", [0.0, 0.137, 0.5, 0.93])
@pytest.mark.parametrize("name", MACHINES)
def test_rotor_and_dots_move_together(opened, made, name, share):
    page, emf = opened(name), made(name).result.emf
    asked = share * 360 / emf.pole_pairs
    slid = page.execute_script(SLIDE, "turn", asked)
    assert slid == pytest.approx(asked, abs=360 / emf.pole_pairs / 512)
    state = page.execute_script(STATE)
    rotor = -float(re.fullmatch(r"rotate\((-?[\d.]+)\)", state["turn"]).group(1))  # the page's angles run clockwise
    assert rotor == pytest.approx(slid, abs=1e-3)
    frame = state["frame"]
    assert len(state["dots"]) == made(name).result.design.winding.phases
    for across, _ in [*state["dots"], (state["cursor"], 0)]:
        electrical = 360 * (across - frame["left"]) / frame["width"]
        assert electrical == pytest.approx(emf.pole_pairs * rotor, abs=0.05)
    speed = asked_speeds(made(name).result.design)[-1]
    alpha = math.radians(slid)
    waves = np.exp(-1j * emf.orders * emf.pole_pairs * alpha)
    volts = (emf.amplitudes @ waves).real * speed * math.pi / 30  # the series itself, not the table that the page has
    top = np.max(np.abs(volts_of(emf, speed)))
    for (_, down), volt in zip(state["dots"], volts, strict=True):
        read = frame["ceiling"] - (down - frame["top"]) * (frame["ceiling"] - frame["floor"]) / frame["height"]
        assert read == pytest.approx(volt, abs=2e-3 * top)
    assert state["told"] == state["spoken"]
    assert f"electrical {emf.pole_pairs * slid:.0f} degrees" in state["told"]


def test_it_stands_still_as_it_was_printed_until_it_is_moved(opened, made):
    drawn = re.search(r'id="turning-figure-told">([^<]*)<', made("hut-charger").page).group(1)
    assert opened("hut-charger").execute_script(STATE)["told"] == drawn


def test_play_and_stop_by_keyboard(opened):
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys
    from selenium.webdriver.support.wait import WebDriverWait

    page = opened("hut-charger")
    slider, button = (
        page.find_element(By.CSS_SELECTOR, "#turning-figure input"),
        page.find_element(By.CLASS_NAME, "play"),
    )
    assert (button.text, button.get_attribute("aria-pressed")) == ("Turn", "false")
    button.send_keys(Keys.SPACE)
    assert (button.text, button.get_attribute("aria-pressed")) == ("Stop", "true")
    WebDriverWait(page, 10).until(lambda _: float(slider.get_property("value")) > 0.5)
    button.send_keys(Keys.ENTER)
    assert (button.text, button.get_attribute("aria-pressed")) == ("Turn", "false")
    rest = float(slider.get_property("value"))
    slider.send_keys(Keys.HOME)
    slider.send_keys(Keys.ARROW_RIGHT * 3)
    assert float(slider.get_property("value")) == pytest.approx(3 * 45 / 512, abs=1e-6) != rest
    assert page.execute_script(STATE)["turn"] == f"rotate({-3 * 45 / 512:.3f})"


def test_values_are_read_off_by_pointing(opened, made):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.by import By

    page = opened("hut-charger")
    for anchor, pattern, most in (
        ("turning-wave", r"rotor ([\d.]+) degrees", 45),
        ("power-curve", r"wind ([\d.]+) m/s", 14),
    ):
        drawing = page.find_element(By.ID, anchor)
        page.execute_script("arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", drawing)
        before = page.find_element(By.ID, "power-told" if anchor == "power-curve" else "turning-figure-told").text
        ActionChains(page).move_to_element_with_offset(drawing, drawing.size["width"] // 4, 0).perform()
        told = page.find_element(By.ID, "power-told" if anchor == "power-curve" else "turning-figure-told").text
        # a quarter of the drawing right of its middle, in a frame that starts at 62 of 560 and is 480 wide
        assert float(re.search(pattern, told).group(1)) == pytest.approx(most * (0.75 * 560 - 62) / 480, rel=0.02)
        assert told != before


def test_the_power_curve_by_slider_says_what_the_result_says(opened, made):
    page, result = opened("hut-charger"), made("hut-charger").result
    points, gear = result.wind.fed.points, result.wind.rotor.gear_ratio
    for wind in (3.0, 5.0, 7.0):
        page.execute_script(SLIDE, "wind", wind)
        told = page.execute_script("return document.getElementById('power-told').textContent")
        at = int(np.flatnonzero(points.wind_m_s == wind)[0])
        rpm = gear * points.speed_rad_s[at] * 30 / math.pi
        found = [float(part) for part in re.findall(r"[\d.]+", told.replace("m/s", ""))]
        assert found == pytest.approx([wind, points.dc_w[at], points.rotor_w[at], rpm], rel=5e-3, abs=0.06)


def test_without_a_script_it_can_be_read(opened, browser):
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        opened("hut-charger")
        root = browser.execute_cdp_cmd("DOM.getDocument", {"depth": 0})["root"]["nodeId"]

        def shown(selector):
            ask = {"nodeId": root, "selector": selector}
            node = browser.execute_cdp_cmd("DOM.querySelector", ask)["nodeId"]
            try:
                return browser.execute_cdp_cmd("DOM.getBoxModel", {"nodeId": node})["model"]["width"] > 0
            except Exception:  # noqa: BLE001 - the driver's own error: there is no box
                return False

        assert not shown(".controls")
        assert all(
            shown(s) for s in ("h1", "#turning-plan", "#turning-wave", "#power-curve", "#numbers table", ".told")
        )
    finally:
        browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


@pytest.mark.parametrize("name", MACHINES)
def test_it_prints_on_whole_pages(opened, made, name):
    import pypdfium2

    page = opened(name)
    options = {"preferCSSPageSize": True, "printBackground": True}
    printed = base64.b64decode(page.execute_cdp_cmd("Page.printToPDF", options)["data"])
    titles = {chapter.title for chapter in made(name).report.chapters}
    with pypdfium2.PdfDocument(printed) as document:
        sheets = [sheet.get_textpage().get_text_range() for sheet in document]
        assert all(sheet.get_size() == pytest.approx((595, 842), abs=1) for sheet in document)
    assert 6 <= len(sheets) <= 16
    for text in sheets:
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        assert len(" ".join(lines)) > 60  # no page with next to nothing on it
        assert lines[-1] not in titles  # no heading left alone at a foot
    whole = " ".join(" ".join(sheets).split())
    assert all(chapter.title in whole for chapter in made(name).report.chapters)


def test_the_data_is_the_result(opened, made):
    text = opened("one-phase").execute_script("return document.getElementById('turning-figure-data').textContent")
    data, result = json.loads(text), made("one-phase").result
    volts = volts_of(result.emf, asked_speeds(result.design)[-1])
    assert data["polePairs"] == result.emf.pole_pairs == 6
    assert np.array(data["volts"]) == pytest.approx(volts, rel=1e-5, abs=1e-6)

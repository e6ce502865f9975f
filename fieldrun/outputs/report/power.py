"""Power in steady wind as a chart one can read off, and a year's hours and kilowatt-hours by wind."""

from collections.abc import Mapping, Sequence

import numpy as np
from markupsafe import Markup

from fieldrun.design.units import RPM
from fieldrun.generator.wind.energy import Energy, WindClass
from fieldrun.generator.wind.year import Fed, Wind
from fieldrun.outputs.report import svg
from fieldrun.outputs.report.chart import Frame, across_axis, cursor, frame, ticks, up_axis
from fieldrun.outputs.report.records import Control, Picture, Table
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.wind_classes import bar_text, shown_classes
from fieldrun.outputs.wind_told import state_of

WATTS_HIGH, RPM_HIGH, BETWEEN = 210.0, 90.0, 46.0
"""Heights of the two frames and what lies between them [units]."""

BAR, NAMES, HOURS, GAP = 26.0, 88.0, 180.0, 70.0
"""Height of a row of bars; room for its name; length of a longest bar; from one column to the next [units]."""

STEP_M_S = 0.1


def power_pictures(wind: Wind, fed: Fed) -> tuple[Picture, ...]:
    """The curve, and the year if the design says which wind blows."""
    year = () if fed.energy is None else _year(fed.energy)
    return (_curve(wind, fed), *year)


def highest_m_s(wind: Wind, fed: Fed) -> float:
    """The strongest wind shown."""
    classes = shown_classes(fed.energy) if fed.energy else []
    return classes[-1].to_m_s if classes else wind.stop_m_s


def _curve(wind: Wind, fed: Fed) -> Picture:
    low, high = _frames(wind, fed)
    data = curve_data(wind, fed)
    values = Table(
        "Power in steady wind",
        ("wind, m/s", "rotor takes, W", "load gets, W", "generator, rpm", "A/phase", "state"),
        tuple(_listed(wind, fed)),
        words=frozenset({5}),
    )
    start = min(float(round(fed.energy.mean_m_s, 1)) if fed.energy else 5.0, low.across[1])
    control = Control("wind", 0.0, float(np.floor(low.across[1] / STEP_M_S) * STEP_M_S), STEP_M_S, start)
    caption = "What the rotor takes from the wind, what the load gets of it, and how fast the generator turns."
    drawing = _drawing("power-curve", wind, fed, (low, high), start)
    return Picture(
        "power", "Power in steady wind", caption, (drawing,), "chart", control, told_at(fed, wind, start), data, values
    )


def _frames(wind: Wind, fed: Fed) -> tuple[Frame, Frame]:
    """Watts above, generator speed below."""
    across = (0.0, highest_m_s(wind, fed))
    seen = fed.curve.wind_m_s <= across[1]
    watts = 1.1 * float(np.max(fed.curve.rotor_w[seen], initial=0.0)) or 1.0
    rpm = 1.1 * float(np.max(_rpm(wind, fed)[seen], initial=0.0)) or 1.0
    above = frame(across, (0.0, watts), WATTS_HIGH)
    return above, frame(across, (0.0, rpm), RPM_HIGH, above.top + above.height + BETWEEN)


def _rpm(wind: Wind, fed: Fed) -> np.ndarray:
    return np.asarray(wind.rotor.gear_ratio * fed.curve.speed_rad_s / RPM)


def _drawing(anchor: str, wind: Wind, fed: Fed, frames: tuple[Frame, Frame], start: float) -> Markup:
    (above, below), curve = frames, fed.curve
    seen = curve.wind_m_s <= above.across[1]
    winds = curve.wind_m_s[seen]
    load, rotor = above.points(winds, curve.dc_w[seen]), above.points(winds, curve.rotor_w[seen])
    speed = below.points(winds, _rpm(wind, fed)[seen])
    foot = above.y(0.0)
    filled = np.vstack([load, [load[-1, 0], foot], [load[0, 0], foot]])
    across = ticks(*above.across, 7)
    inside = [
        *up_axis(above, ticks(*above.up, 4), "W"),
        *across_axis(above, across, numbers=False),
        *up_axis(below, ticks(*below.up, 2), "rpm"),
        *across_axis(below, across, "wind, m/s"),
        *_limits(wind, above),
        cursor(above, start),
        cursor(below, start),
        svg.path(svg.through(filled, closed=True, decimals=1), class_="area"),
        svg.path(svg.through(rotor, decimals=1), class_="wave line-3"),
        svg.path(svg.through(load, decimals=1), class_="wave line-1 solid"),
        svg.path(svg.through(speed, decimals=1), class_="wave plain-ink"),
        *_key(above),
        *_dots(wind, fed, frames, start),
    ]
    box = (0.0, 0.0, above.left + above.width + 18, below.top + below.height + 52)
    return svg.drawing(anchor, box, _says(wind, fed), inside, class_="chart")


def _key(at: Frame) -> list[Markup]:
    rows = (("rotor takes", "line-3", "ink-3"), ("load gets", "line-1 solid", "ink-1"))
    out = []
    for row, (words, look, ink) in enumerate(rows):
        y = at.top + 12 + 22 * row
        out.append(svg.line((at.left + 12, y), (at.left + 46, y), class_=f"wave {look}"))
        out.append(svg.text((at.left + 54, y + 5), words, class_=f"name {ink}"))
    return out


def _dots(wind: Wind, fed: Fed, frames: tuple[Frame, Frame], start: float) -> list[Markup]:
    (above, below), at = frames, _read(wind, fed, start)
    places = ((above, at["rotor_w"], "fill-3"), (above, at["dc_w"], "fill-1"), (below, at["rpm"], "fill-ink"))
    return [svg.circle((f.x(start), f.y(value)), 6.0, class_=f"dot {look}") for f, value, look in places]


def _limits(wind: Wind, at: Frame) -> list[Markup]:
    """Where the rotor turns out of the wind and where it is stopped, if that is in sight."""
    words = (("furls", wind.top_m_s, wind.top_m_s < wind.stop_m_s), ("stopped", wind.stop_m_s, True))
    seen = [(word, at.x(value)) for word, value, told in words if told and value < at.across[1]]
    lines = [svg.line((x, at.top), (x, at.top + at.height), class_="limit") for _, x in seen]
    return [*lines, *(svg.text((x + 6, at.top + at.height - 8), word, class_="tick") for word, x in seen)]


def _says(wind: Wind, fed: Fed) -> str:
    most = plain(float(fed.curve.dc_w.max()), "W")
    turns = f"It turns from {plain(wind.starts_at_m_s, 'm/s')}"
    gives = "" if fed.cut_in_m_s is None else f", gives power from {plain(fed.cut_in_m_s, 'm/s')}"
    return f"Power of rotor and load and speed of the generator over wind. {turns}{gives}, at most {most}."


def _read(wind: Wind, fed: Fed, wind_m_s: float) -> dict[str, float]:
    """The curve at a wind, straight between its points."""
    curve = fed.curve
    columns = {"rotor_w": curve.rotor_w, "dc_w": curve.dc_w, "rpm": _rpm(wind, fed)}
    return {key: float(np.interp(wind_m_s, curve.wind_m_s, values)) for key, values in columns.items()}


def told_at(fed: Fed, wind: Wind, wind_m_s: float) -> str:
    """What stands beside the slider; the script writes the same words."""
    at = _read(wind, fed, wind_m_s)
    return (
        f"wind {wind_m_s:.1f} m/s; load {at['dc_w']:.1f} W, rotor {at['rotor_w']:.1f} W, generator {at['rpm']:.0f} rpm"
    )


def curve_data(wind: Wind, fed: Fed) -> Mapping[str, object]:
    """What the script needs: both frames and the curve at every step of the slider."""
    above, below = _frames(wind, fed)
    count = int(np.floor(above.across[1] / STEP_M_S + 1e-9)) + 1
    rows = [_read(wind, fed, STEP_M_S * k) for k in range(count)]
    return {
        "frames": [above.as_data(), below.as_data()],
        "step": STEP_M_S,
        **{key: [float(f"{row[key]:.6g}") for row in rows] for key in ("rotor_w", "dc_w", "rpm")},
    }


def _listed(wind: Wind, fed: Fed) -> list[tuple[str, ...]]:
    points, gear = fed.points, wind.rotor.gear_ratio
    shown = [i for i, speed in enumerate(points.wind_m_s) if speed <= max(wind.stop_m_s, 1.0)]
    return [
        (
            plain(float(points.wind_m_s[i])),
            plain(float(points.rotor_w[i])),
            plain(float(points.dc_w[i])),
            f"{gear * points.speed_rad_s[i] / RPM:.0f}",
            plain(float(points.phase_rms_a[i])),
            state_of(wind, points, i),
        )
        for i in shown
    ]


def _year(energy: Energy) -> tuple[Picture, ...]:
    classes = shown_classes(energy)
    if not classes:
        return ()
    caption = (
        f"Mean wind {plain(energy.mean_m_s, 'm/s')}: winds below it blow {100 * energy.below_mean_hours:.0f} % of the "
        f"hours and bring {100 * energy.below_mean_energy:.0f} % of the kilowatt-hours."
    )
    rows = tuple((f"{c.from_m_s:g} to {c.to_m_s:g}", f"{c.hours:.0f}", plain(c.energy_kwh)) for c in classes)
    values = Table("A year by wind", ("wind, m/s", "hours", "kWh"), rows)
    return (Picture("year", "A year, by wind", caption, (_bars("year-bars", classes, caption),), values=values),)


def _bars(anchor: str, classes: Sequence[WindClass], says: str) -> Markup:
    second = NAMES + HOURS + GAP
    columns = (
        (NAMES, [c.hours for c in classes], "hours", "bar-quiet"),
        (second, [c.energy_kwh for c in classes], "kWh", "bar"),
    )
    inside = [svg.text((NAMES - 10, 16), "wind, m/s", class_="tick end")]
    for row, c in enumerate(classes):
        inside.append(svg.text((NAMES - 10, _row(row) + 17), f"{c.from_m_s:g} to {c.to_m_s:g}", class_="tick end"))
    for left, values, unit, look in columns:
        largest = max(values) or 1.0
        inside.append(svg.text((left, 16), unit, class_="tick"))
        for row, value in enumerate(values):
            wide = HOURS * value / largest
            inside.append(svg.box(left, _row(row) + 2, wide, BAR - 6, class_=look))
            if value >= 0.005 * largest:
                inside.append(svg.text((left + wide + 6, _row(row) + 17), bar_text(value), class_="tick"))
    return svg.drawing(anchor, (0.0, 0.0, second + HOURS + GAP, _row(len(classes)) + 4), says, inside, class_="chart")


def _row(number: int) -> float:
    return 26 + BAR * number

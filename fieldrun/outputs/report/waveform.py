"""The waveform as a chart one can read off: all phases over one electrical period, a dot on each of them."""

import math
from collections.abc import Mapping

import numpy as np
from markupsafe import Markup

from fieldrun.design.arrays import Floats
from fieldrun.design.units import DEGREE, RPM
from fieldrun.generator.emf import Emf
from fieldrun.outputs.report import svg
from fieldrun.outputs.report.chart import Frame, across_axis, cursor, frame, ticks, up_axis
from fieldrun.outputs.sentences import listed, plain

HEIGHT = 300.0
"""Height of the frame, in units of the drawing."""

ROOM = 1.12
"""Room over the highest peak."""


def volts_of(emf: Emf, speed_rpm: float) -> Floats:
    """(phases, 128) open-circuit volts at a speed [V]."""
    return emf.waveform * speed_rpm * RPM


def waveform_frame(emf: Emf, speed_rpm: float) -> Frame:
    """Rotor angle of one electrical period across [degrees], volts up."""
    top = ROOM * float(np.max(np.abs(volts_of(emf, speed_rpm)))) or 1.0
    return frame((0.0, 360.0 / emf.pole_pairs), (-top, top), HEIGHT)


def waveform_drawing(anchor: str, emf: Emf, speed_rpm: float) -> Markup:
    """Draw it, with dots and cursor at rotor angle zero."""
    at, volts = waveform_frame(emf, speed_rpm), volts_of(emf, speed_rpm)
    period = at.across[1]
    angle = np.append(emf.rotor_angle_rad / DEGREE, period)
    waves = [_wave(at, angle, np.append(wave, wave[0]), number) for number, wave in enumerate(volts, 1)]
    dots = [
        svg.circle((at.x(0.0), at.y(float(wave[0]))), 7.0, class_=f"dot fill-{number}")
        for number, wave in enumerate(volts, 1)
    ]
    across = tuple(period * k / 6 for k in range(7))
    inside = [
        *up_axis(at, ticks(*at.up, 6), "V"),
        *across_axis(at, across, "rotor angle, degrees"),
        cursor(at, 0.0),
        *waves,
        *_names(at, angle, volts),
        *dots,
    ]
    box = (0.0, 0.0, at.left + at.width + 18, at.top + at.height + 52)
    return svg.drawing(anchor, box, says(emf, speed_rpm), inside, class_="chart")


def says(emf: Emf, speed_rpm: float) -> str:
    """The drawing in words."""
    peaks = [plain(float(np.max(np.abs(wave))), "V") for wave in volts_of(emf, speed_rpm)]
    rms = plain(float(emf.rms[0]) * speed_rpm * RPM, "V")
    many = "one phase" if len(peaks) == 1 else f"{len(peaks)} phases"
    return f"Open-circuit voltage of {many} at {speed_rpm:g} rpm: {rms} effective, peaks {listed(peaks)}."


def waveform_data(emf: Emf, speed_rpm: float) -> Mapping[str, object]:
    """What the script needs: the frame, and volts of every phase at 128 rotor angles from 0."""
    at = waveform_frame(emf, speed_rpm)
    return {
        "frame": at.as_data(),
        "polePairs": emf.pole_pairs,
        "speedRpm": speed_rpm,
        "volts": [[float(f"{volt:.6g}") for volt in wave] for wave in volts_of(emf, speed_rpm).tolist()],
    }


def _wave(at: Frame, angle: Floats, wave: Floats, number: int) -> Markup:
    return svg.path(svg.through(at.points(angle, wave), decimals=1), class_=f"wave line-{number}")


def _names(at: Frame, angle: Floats, volts: Floats) -> list[Markup]:
    """Each phase's name over its highest point, kept inside the frame."""
    if len(volts) == 1:
        return []
    tops = [(angle[int(np.argmax(wave))], float(np.max(wave))) for wave in volts]
    return [
        svg.text(
            (min(max(at.x(a), at.left + 34), at.left + at.width - 34), at.y(v) - 9),
            f"phase {k}",
            class_=f"name mid ink-{k}",
        )
        for k, (a, v) in enumerate(tops, 1)
    ]


def told_at_rest(emf: Emf, speed_rpm: float) -> str:
    """What stands beside the slider as long as nobody moved it; the script writes the same words."""
    return told_at(emf, speed_rpm, 0.0)


def told_at(emf: Emf, speed_rpm: float, rotor_deg: float) -> str:
    """Angles and volts at one of the waveform's 128 rotor angles."""
    index = round(rotor_deg * emf.pole_pairs / 360 * volts_of(emf, speed_rpm).shape[1])
    volts = volts_of(emf, speed_rpm)[:, index]
    phases = "phase" if len(volts) > 1 else "voltage"
    parts = [f"{phases} {k}: {volt:.2f} V" if len(volts) > 1 else f"{volt:.2f} V" for k, volt in enumerate(volts, 1)]
    electrical = math.degrees(math.radians(rotor_deg) * emf.pole_pairs)
    return f"rotor {rotor_deg:.1f} degrees, electrical {electrical:.0f} degrees; " + ", ".join(parts)

"""Mistakes in taking the readings: another quantity, another speed, other leads than the file says."""

from collections.abc import Iterator
from dataclasses import replace

from fieldrun.design.readings import Reading
from fieldrun.generator.metering import between_leads
from fieldrun.studies.measured.guess import Guess, Parts, drawn

EFFECTIVE = {"open_phase_rms_v": "open_peak_v", "open_line_rms_v": "line_peak_v", "one_round_rms_v": "round_peak_v"}
"""Kinds that are effective values, and the peak of the same voltage."""


def reading_faults(parts: Parts, rows: tuple[Reading, ...]) -> list[Guess]:
    """Every mistake that these readings can hold."""
    kinds = {row.kind for row in rows}
    return [*_misread(parts, kinds), *_speeds(parts, {row.speed_in for row in rows}), *_leads(parts, kinds)]


def _misread(parts: Parts, kinds: set[str]) -> Iterator[Guess]:
    base = drawn(parts)
    if kinds & EFFECTIVE.keys():
        peaks = {kind: (peak, 1.0) for kind, peak in EFFECTIVE.items()}
        twice = {kind: (peak, 2.0) for kind, peak in EFFECTIVE.items()}
        yield replace(base, key="peak_for_rms", text="what is called effective is the peak", shown=peaks)
        yield replace(base, key="peak_to_peak_for_rms", text="what is called effective is peak to peak", shown=twice)
    if "open_peak_v" in kinds:
        text = "what is called peak is the effective value"
        yield replace(base, key="rms_for_peak", text=text, shown={"open_peak_v": ("open_phase_rms_v", 1.0)})
        text = "what is called peak is peak to peak"
        yield replace(base, key="peak_to_peak_for_peak", text=text, shown={"open_peak_v": ("open_peak_v", 2.0)})


def _speeds(parts: Parts, columns: set[str]) -> Iterator[Guess]:
    """Rpm and hertz hang together by the pole pairs: f = p rpm / 60."""
    base, pairs = drawn(parts), parts.result.emf.pole_pairs
    if "speed_rpm" in columns:
        for key, text, factor in (
            ("hz_for_rpm", "the speeds are hertz, not rpm", 60 / pairs),
            ("rev_per_s_for_rpm", "the speeds are turns per second, not rpm", 60.0),
            ("poles_for_pairs", "rpm came from hertz with poles where pole pairs belong", 2.0),
            ("pairs_halved", "rpm came from hertz with half of the pole pairs", 0.5),
        ):
            yield replace(base, key=key, text=text, speed={"speed_rpm": factor})
    if "frequency_hz" in columns:
        for key, text, factor in (
            ("rpm_for_hz", "the frequencies are rpm, not hertz", pairs / 60),
            ("turns_for_hz", "the frequencies are turns per second: pole pairs are not counted in", float(pairs)),
            ("poles_in_hz", "hertz came from rpm with poles where pole pairs belong", 0.5),
        ):
            yield replace(base, key=key, text=text, speed={"frequency_hz": factor})


def _leads(parts: Parts, kinds: set[str]) -> Iterator[Guess]:
    base = drawn(parts)
    more = between_leads(base.connection, len(base.amplitudes))
    if "phase_ohm" in kinds and more != 1:
        text = "the ohms were read between two leads of the joined winding, not across one phase"
        yield replace(base, key="ohms_between_leads", text=text, shown={"phase_ohm": ("phase_ohm", more)})
    if "open_phase_rms_v" in kinds and base.connection == "star" and len(base.amplitudes) > 1:
        text = "what is called a phase was read between two lines"
        yield replace(base, key="line_for_phase", text=text, shown={"open_phase_rms_v": ("open_line_rms_v", 1.0)})

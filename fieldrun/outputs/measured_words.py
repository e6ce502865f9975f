"""Names of readings, explanations and mistakes as a builder says them."""

from fieldrun.design.readings import KINDS, Reading
from fieldrun.design.units import MM
from fieldrun.outputs.sentences import plain
from fieldrun.studies.measured.fits import Fit
from fieldrun.studies.measured.ranking import Explanation
from fieldrun.studies.measured.study import Measured

KIND_NAMES = {
    "open_phase_rms_v": "phase, effective",
    "open_phase_average_v": "phase, average-reading meter",
    "open_line_rms_v": "between lines, effective",
    "open_peak_v": "phase, peak",
    "open_dc_v": "DC behind the bridge, open",
    "one_round_rms_v": "one round, effective",
    "phase_ohm": "ohms of a phase",
    "loaded_dc_v": "DC at the load",
    "loaded_dc_a": "DC into the load",
}

TO_MEASURE = {
    "phase_ohm": "the ohms of a phase",
    "open_phase_rms_v": "the volts of a phase",
    "one_round_rms_v": "the volts of one round alone",
    "open_line_rms_v": "the volts between every two lines",
    "open_peak_v": "the peak of a phase",
    "open_dc_v": "the open direct voltage behind the bridge",
}
"""What to measure to tell explanations apart, by kind."""

TO_LOOK = {
    "magnet_turned": "pass a compass round each face: north and south must take turns",
    "like_poles": "the discs must pull at each other strongly, and be marked so that they go together one way only",
    "pole_pitch_off": "follow each round's start: all start at the same side of a pole",
    "layer_backwards": "run a direct current through the phase and pass a compass over each layer",
    "belt_backwards": "swap the two ends of one belt and measure again",
    "rounds": "count the wires at the rim",
    "phase_reversed": "swap the ends of one phase after another and measure between the lines",
    "strands_broken": "measure every strand by itself",
    "other_ohms": "measure the bare wire with a micrometer, and the leads of the meter held together",
    "remanence": "a scan of the field at several heights in the gap would tell",
    "gap": "measure the gap with a calliper",
}
"""What to look at without a meter, by the start of an explanation's key."""


def reading_name(row: Reading) -> str:
    """What was read, and at what speed: `phase, effective, 200 rpm`."""
    return ", ".join(part for part in (KIND_NAMES[row.kind], when(row)) if part)


def when(row: Reading) -> str:
    """The speed of a reading as it was written; the temperature of ohms."""
    if row.speed_in:
        return f"{row.speed:g} {'rpm' if row.speed_in == 'speed_rpm' else 'Hz'}"
    return f"{20 if row.temperature_c is None else row.temperature_c:g} C"


def unit_of(row: Reading) -> str:
    """V, A or ohm."""
    return KINDS[row.kind]


def length_name(found: Measured) -> str:
    """What the gap's axis is for this machine."""
    if found.bench.result.design.rotor.gap_m is None:
        return "the winding's middle lies {value} mm above the magnets, not {drawn}"
    return "the gap is {value} mm, not {drawn}"


def explained(one: Explanation, found: Measured) -> str:
    """An explanation in words, without a full stop: half a sentence that can stand alone."""
    parts = [] if one.key in {"as_drawn+gap", "as_drawn+remanence"} or one.ohm_ratio else [one.guess.text]
    if one.ohm_ratio is not None:
        parts.append(f"the wire has {plain(one.ohm_ratio)} times the ohms stated")
    if one.gap is not None:
        parts.append(length_name(found).format(value=_mm(one.gap), drawn=plain(one.gap.drawn / MM)))
    if one.remanence is not None:
        parts.append(f"the magnets have {plain(one.remanence.value)} T, not {plain(one.remanence.drawn)}")
    return ", and ".join(parts)


def _mm(fit: Fit) -> str:
    return f"{fit.value / MM:.2f}"


def what_to_look_at(one: Explanation) -> str:
    """What to look at to make sure of an explanation; empty if nothing is known."""
    if one.guess.key == "as_drawn":
        names = [name for name, value in (("remanence", one.remanence), ("gap", one.gap)) if value is not None]
        return TO_LOOK[names[0]] if names else ""
    return next((text for start, text in TO_LOOK.items() if one.guess.key.startswith(start)), "")

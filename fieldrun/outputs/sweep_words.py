"""Keys that vary and keys that are picked, as words with units: for sentences and for the axes of pictures."""

import re

from fieldrun.design.file_model import UNITS, unit_of
from fieldrun.studies.sweep.values import Value

Words = tuple[str, str]
"""What a key is called, and its unit; no unit for a plain number."""

VARIED: dict[str, Words] = {
    "magnets.count": ("magnets on one face", ""),
    "magnets.diameter_mm": ("magnet diameter", "mm"),
    "magnets.pitch_radius_mm": ("radius through the magnets' centres", "mm"),
    "magnets.pitch_diameter_mm": ("circle through the magnets' centres", "mm"),
    "magnets.arc_share": ("share of the pole pitch that a magnet covers", ""),
    "rotor.backing": ("backing", ""),
    "rotor.backing_mm": ("steel behind the magnets", "mm"),
    "rotor.gap_mm": ("gap", "mm"),
    "rotor.return_plate": ("return plate", ""),
    "rotor.return_plate_mm": ("return plate", "mm"),
    "winding.shape": ("winding shape", ""),
    "winding.belt_deg": ("belt", "deg electrical"),
    "wire.copper_mm": ("bare wire", "mm"),
    "wire.awg": ("wire", "AWG"),
    "wire.strand_mm": ("bare strand", "mm"),
    "wire.temperature_c": ("copper temperature", "°C"),
    "magnets.temperature_c": ("magnet temperature", "°C"),
}
"""Keys whose own name would not do."""

BEFORE = {"magnets": "magnet ", "winding": "winding ", "wire": "wire ", "load": "load ", "former": "former ",
          "tolerance": "deviation of "}  # fmt: skip
"""What a key's name needs before it, by table; a rotor's and the wind's keys stand alone."""

PICKED: dict[str, Words] = {
    "field.b1_mean_radius_t": ("fundamental field at mean radius", "T"),
    "field.peak_t": ("largest field at mean radius", "T"),
    "field.steel_peak_t": ("largest field in the steel", "T"),
    "field.numerical_error_percent": ("numerical error", "%"),
    "field.error_estimate_percent": ("error estimate", "%"),
    "emf.fundamental_v_s_per_rad": ("peak of the EMF's fundamental per phase", "V s/rad"),
    "emf.rms_v_s_per_rad": ("rms EMF per phase", "V s/rad"),
    "emf.rms_v_per_krpm": ("rms EMF per phase", "V per 1000 rpm"),
    "emf.line_rms_v_per_krpm": ("rms EMF between lines", "V per 1000 rpm"),
    "emf.thd_percent": ("harmonics in the EMF", "%"),
    "emf.change_per_gap_mm_percent": ("change of EMF by a wider gap", "% per mm"),
    "winding.rounds_per_phase": ("rounds per phase", ""),
    "winding.conductor_length_m": ("wire per phase", "m"),
    "winding.copper_mass_kg": ("copper", "kg"),
    "winding.thickness_mm": ("thickness of the winding", "mm"),
    "winding.fill": ("fill", ""),
    "winding.factors.belt": ("belt factor", ""),
    "winding.factors.shape": ("shape factor", ""),
    "winding.factors.total": ("winding factor", ""),
    "winding.end_copper_share": ("share of copper in the ends", ""),
    "circuit.resistance_20c_ohm": ("resistance per phase at 20 °C", "ohm"),
    "circuit.resistance_hot_ohm": ("warm resistance per phase", "ohm"),
    "circuit.inductance_h": ("inductance per phase", "H"),
    "circuit.mutual_inductance_h": ("mutual inductance", "H"),
    "circuit.eddy_loss_w_per_krpm2": ("eddy loss in the copper", "W at 1000 rpm"),
    "torque.kt_nm_per_a": ("torque per ampere", "N m/A"),
    "torque.motor_constant_nm_per_sqrt_w": ("torque per root of lost watt", "N m/√W"),
    "torque.speed_constant_rpm_per_v": ("speed per volt", "rpm/V"),
    "output.matched_w_per_krpm2": ("power into a matched load", "W at 1000 rpm"),
    "output.charging_starts_rpm": ("speed at which charging starts", "rpm"),
    "output.wind.starts_at_m_s": ("wind that starts the rotor", "m/s"),
    "output.wind.cut_in_m_s": ("wind at which charging starts", "m/s"),
    "output.wind.annual_energy_kwh": ("energy in a year", "kWh"),
    "output.wind.rated_w": ("power at the furling wind", "W"),
    "output.wind.hours_without_charge": ("hours of a year without charge", ""),
    "forces.disc_pull_n": ("pull between the discs", "N"),
    "forces.rotating_mass_kg": ("rotating mass", "kg"),
}
"""Picks as a builder calls them; all others by their key."""

MORE_UNITS = {
    "_v_per_krpm": "V per 1000 rpm",
    "_w_per_krpm2": "W at 1000 rpm",
    "_a_per_krpm": "A at 1000 rpm",
    "_v_s_per_rad": "V s/rad",
    "_a_per_mm2": "A/mm²",
    "_ohm_per_m": "ohm/m",
    "_g_per_m": "g/m",
    "_kg_m2": "kg m²",
    "_kwh": "kWh",
    "_kg": "kg",
    "_hz": "Hz",
    "_mm2": "mm²",
    "_w": "W",
    "_a": "A",
    "_n": "N",
    "_h": "H",
    "_g": "g",
}
"""Units of results by the end of a key's name, beside those of design files; the longer ending counts."""

FIGURES = 4
"""Of a value that varies: enough to tell neighbours of a fine grid apart."""


def words_of(key: str) -> Words:
    """What a key of the design file or of the result is called, and its unit."""
    return VARIED.get(key) or PICKED.get(key) or _by_name(key)


def axis_label(key: str) -> str:
    """The same for an axis: `gap, mm`."""
    return ", ".join(part for part in words_of(key) if part)


def with_unit(key: str, value: Value) -> str:
    """A value of a key that varies: `7.526 mm`; a word as it is."""
    return short(value) if isinstance(value, str) else f"{short(value)} {words_of(key)[1]}".rstrip()


def named(key: str, value: Value) -> str:
    """A key that varies and its value: `gap 7.526 mm`."""
    return f"{words_of(key)[0]} {with_unit(key, value)}"


def short(value: Value) -> str:
    """A value without digits that nobody sets."""
    return f"{value:.{FIGURES}g}" if isinstance(value, float) and abs(value) < 10**FIGURES else f"{value}"


def _by_name(key: str) -> Words:
    """From the key itself: its last part, with the one before where that is a number or says too little."""
    table, *rest = key.split(".")
    name = rest[-1] if rest else table
    unit, ending = _unit(name)
    words = name.removesuffix(ending).replace("_", " ")
    if rest and table in BEFORE and len(rest) == 1:
        return BEFORE[table] + words, unit
    inside = [part.replace("_", " ") for part in rest[:-1]]
    return " ".join([*inside, words]) if inside else words, unit


def _unit(name: str) -> tuple[str, str]:
    ending = max((end for end in (*MORE_UNITS, *UNITS) if name.endswith(end)), key=len, default="")
    unit = MORE_UNITS.get(ending) or unit_of(name)
    return ("°C" if unit == "C" else unit), ending if re.search(r"[a-z]", name.removesuffix(ending)) else ""

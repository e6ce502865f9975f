"""What a sweep picks of each answer: some numbers straight from the chain, any other from the whole result."""

import math
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.errors import Fault
from fieldrun.design.nearest import nearest
from fieldrun.design.units import KRPM, RPM
from fieldrun.field.field_map import component_at, radial_weights
from fieldrun.generator.chain import Chain, mean_radius_m, middle_height_m
from fieldrun.studies.sweep.values import DIGITS

Picked = float | int | str | bool | None
"""One cell of a sweep: None where the key does not apply."""

Answer = Callable[[Chain, bool], Mapping[str, Any]]
"""The whole result file of a chain, with the tolerance band if that is asked for; importable, so that workers can."""

DEFAULT = (
    "field.b1_mean_radius_t",
    "emf.rms_v_per_krpm",
    "circuit.resistance_20c_ohm",
    "circuit.resistance_hot_ohm",
    "winding.rounds_per_phase",
    "winding.copper_mass_kg",
    "output.matched_w_per_krpm2",
)
"""What is picked if nobody says."""

BAND = "tolerance."
"""Beginning of keys that take a tolerance band: a dozen fields for each point."""


def _b1(chain: Chain) -> float:
    """Of the fundamental alone, at one point: all harmonics would take ten times as long."""
    field_map = chain.field.field_map
    weights = _radial(tuple(field_map.radii_m.tolist()), mean_radius_m(chain.lay))
    height = np.array([middle_height_m(chain.lay)])
    return float(component_at(field_map, "b_z_t", height, 1, weights)[0, 0, 0].real)


@lru_cache(maxsize=8)
def _radial(radii_m: tuple[float, ...], radius_m: float) -> Floats:
    """Weights of a map's radii at one of them, (1, r): the same for all gaps of a machine."""
    return frozen_array(radial_weights(np.array(radii_m), np.array([radius_m])))


def _matched(chain: Chain) -> float:
    rms = float(chain.emf.rms[0]) * KRPM
    return chain.design.winding.phases * rms**2 / (4 * chain.impedance.resistance_hot_ohm)


def _charging_rpm(chain: Chain) -> float | None:
    start = chain.charging_starts_rad_s
    return None if start is None else start / RPM


def _steel_peak(chain: Chain) -> float | None:
    return max((disc.peak_t for disc in chain.field.rings.steel), default=None)


def _gap_percent(chain: Chain) -> float | None:
    change = chain.emf_change_per_gap_m
    return None if change is None else 0.1 * change


QUICK: dict[str, Callable[[Chain], Picked]] = {
    "field.b1_mean_radius_t": _b1,
    "field.steel_peak_t": _steel_peak,
    "field.numerical_error_percent": lambda chain: chain.accuracy.numerical_percent,
    "field.error_estimate_percent": lambda chain: chain.accuracy.error_estimate_percent,
    "emf.fundamental_v_s_per_rad": lambda chain: float(np.abs(chain.emf.amplitudes[0, 0])),
    "emf.rms_v_s_per_rad": lambda chain: float(chain.emf.rms[0]),
    "emf.rms_v_per_krpm": lambda chain: float(chain.emf.rms[0]) * KRPM,
    "emf.line_rms_v_per_krpm": lambda chain: chain.emf.line_rms * KRPM,
    "emf.thd_percent": lambda chain: chain.emf.thd_percent,
    "emf.change_per_gap_mm_percent": _gap_percent,
    "winding.rounds_per_phase": lambda chain: chain.lay.rounds_per_phase,
    "winding.conductor_length_m": lambda chain: chain.impedance.conductor_length_m,
    "winding.copper_mass_kg": lambda chain: chain.impedance.copper_mass_kg,
    "winding.thickness_mm": lambda chain: chain.lay.thickness_m * 1e3,
    "winding.fill": lambda chain: chain.factors.fill,
    "winding.factors.belt": lambda chain: chain.factors.belt,
    "winding.factors.shape": lambda chain: chain.factors.shape,
    "winding.factors.total": lambda chain: chain.factors.total,
    "winding.end_copper_share": lambda chain: chain.factors.end_copper_share,
    "circuit.resistance_20c_ohm": lambda chain: chain.impedance.resistance_20c_ohm,
    "circuit.resistance_hot_ohm": lambda chain: chain.impedance.resistance_hot_ohm,
    "circuit.inductance_h": lambda chain: None if chain.inductance is None else chain.inductance.self_h,
    "circuit.mutual_inductance_h": lambda chain: None if chain.inductance is None else chain.inductance.mutual_h,
    "circuit.eddy_loss_w_per_krpm2": lambda chain: chain.losses.eddy_w_s2 * KRPM**2,
    "torque.kt_nm_per_a": lambda chain: chain.motor.torque_nm_per_a,
    "torque.motor_constant_nm_per_sqrt_w": lambda chain: chain.motor.motor_constant,
    "output.matched_w_per_krpm2": _matched,
    "output.charging_starts_rpm": _charging_rpm,
}
"""Picks that need less than the whole result; the same numbers as in the result file, which tests hold them to."""


def picked(chain: Chain, picks: tuple[str, ...], answer: Answer) -> tuple[Picked, ...]:
    """Work out the picks of one design, and no more than they need.

    Raises
    ------
    FieldrunError
        As the chain.
    ValueError
        If a pick is NaN or infinite, or is not one value here.
    """
    others = [key for key in picks if key not in QUICK]
    band = any(key.startswith(BAND) for key in others)
    whole = answer(chain, band) if others else {}
    found = {key: QUICK[key](chain) if key in QUICK else found_in(whole, key) for key in picks}
    return tuple(_cell(key, value) for key, value in found.items())


def found_in(content: object, key: str) -> Any:
    """What stands under a dotted key, with numbers for places in lists; None if nothing does."""
    for part in key.split("."):
        if isinstance(content, Mapping):
            content = content.get(part)
        elif isinstance(content, list) and part.isdigit() and int(part) < len(content):
            content = content[int(part)]
        else:
            return None
    return content


def _cell(key: str, value: Any) -> Picked:
    if isinstance(value, dict | list):
        raise ValueError(f"{key} {_kind(key, value)}")  # noqa: TRY004 - what is picked is wrong, not the program
    if not isinstance(value, float):
        return value  # type: ignore[no-any-return]  # words and whole numbers of a result file
    if not math.isfinite(value):
        raise ValueError(f"{key} came out as {value}")
    return float(f"{value:.{DIGITS}g}")


def pick_faults(picks: tuple[str, ...], contents: Iterable[Mapping[str, Any]]) -> list[Fault]:
    """What is wrong with the picks that are not in `QUICK`.

    Parameters
    ----------
    picks : dotted keys
    contents : whole results of some designs of the sweep, taken one by one only as long as a pick is not in them
    """
    twice = [Fault("--pick", f"{key} stands twice") for key in dict.fromkeys(picks) if picks.count(key) > 1]
    missing = [key for key in dict.fromkeys(picks) if key not in QUICK]
    faults: list[Fault] = []
    known: dict[str, None] = dict.fromkeys(QUICK)
    source = iter(contents)
    while missing and (content := next(source, None)) is not None:
        known |= dict.fromkeys(keys_of(content))
        found = {key: found_in(content, key) for key in missing}
        faults += [Fault("--pick", f"{k} {_kind(k, v)}") for k, v in found.items() if isinstance(v, dict | list)]
        missing = [key for key, value in found.items() if value is None]
    return [*twice, *faults, *(Fault("--pick", _unknown(key, list(known))) for key in missing)]


def _kind(key: str, value: Any) -> str:
    """Say that a pick holds many values, and how to pick one."""
    if isinstance(value, list):
        first = next(iter(value), None)
        inner = f".{_first_number(first)}" if isinstance(first, dict) and first else ""
        return f"is a list of {len(value)}; pick one of them, such as {key}.0{inner}"
    single = [name for name, inner in value.items() if not isinstance(inner, dict | list)]
    listed = ", ".join(f"{key}.{name}" for name in (single or list(value))[:6])
    return f"holds several values; pick one of them: {listed}" + (", ..." if len(single) > 6 else "")


def _first_number(content: Mapping[str, Any]) -> str:
    return next((name for name, value in content.items() if isinstance(value, float)), next(iter(content)))


def _unknown(key: str, known: list[str]) -> str:
    close = nearest(key, known, 0.5) or nearest(key.rpartition(".")[2], [k.rpartition(".")[2] for k in known])
    close = next((k for k in known if k == close or k.rpartition(".")[2] == close), None)
    return f"no result has {key}; " + (f"did you mean {close}?" if close else "see the keys in a result.json")


def keys_of(content: Mapping[str, Any], before: str = "") -> list[str]:
    """Dotted keys of every single value in a result file, lists left out."""
    keys: list[str] = []
    for name, value in content.items():
        if isinstance(value, Mapping):
            keys += keys_of(value, f"{before}{name}.")
        elif not isinstance(value, list):
            keys.append(before + name)
    return keys

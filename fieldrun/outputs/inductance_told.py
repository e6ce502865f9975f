"""Inductance in the builder's words: how much of the current it takes, beside the resistance."""

from fieldrun.design.units import RPM
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import top_speed_rpm
from fieldrun.outputs.sentences import plain

PLAIN = "what it holds alternating current back by"
"""The plain clause for a reactance."""


def inductance_dict(result: RunResult) -> dict[str, float]:
    """Keys of the result file's `circuit`; none if there is no inductance, no mutual one for a single phase."""
    if result.inductance is None:
        return {}
    own = {"inductance_h": result.inductance.self_h}
    mutual = result.inductance.mutual_h
    return own if mutual is None else own | {"mutual_inductance_h": mutual}


def inductance_rows(result: RunResult) -> list[tuple[str, str, str]]:
    """A row of the table on screen: label, value and remark; none if there is no inductance."""
    found = result.inductance
    if found is None:
        return []
    speed = top_speed_rpm(result.design)
    omega = speed * RPM * result.field_map.pole_pairs
    share = plain(100 * omega * found.balanced_h / result.impedance.resistance_hot_ohm, "%")
    together = f"{plain(1000 * found.balanced_h, 'mH')} with all phases at work; " if len(found.matrix_h) == 3 else ""
    remark = f"{together}at {speed:g} rpm its reactance, {PLAIN}, is {share} of the resistance"
    return [("inductance per phase", plain(1000 * found.self_h, "mH"), remark)]

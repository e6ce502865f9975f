"""A bundle in the builder's words: how to join its strands, how to twist it, and a small table for the summary."""

from itertools import groupby

from fieldrun.design.units import KRPM, MM, RPM
from fieldrun.generator.joining import Joining, Link, links
from fieldrun.generator.result import RunResult
from fieldrun.outputs.load_words import taker
from fieldrun.outputs.sentences import listed, plain
from fieldrun.winding.twisting import Joint, Twisting

SHOWN = 3
"""Ways to join strands that the screen shows on either side of the chosen one; the summary has them all."""

NAMED_JOINTS = 4
"""Joints that are named one by one; further ones follow at the same distance."""


def bundle_sentences(result: RunResult, speeds_rpm: tuple[float, ...]) -> list[str]:
    """What a builder of a bundle wants to know first; nothing of a solid wire."""
    told = [_power(result), _charging(result, speeds_rpm), _twist(result), _pieces(result)]
    return [sentence for sentence in told if sentence]


def bundle_rows(result: RunResult) -> list[tuple[str, str, str]]:
    """Rows of the screen's table: the ways to join the strands next to the chosen one."""
    own = result.design.wire.strands_in_series
    chosen = sum(joining.in_series < own for joining in result.joinings)
    near = result.joinings[max(0, chosen - SHOWN) : chosen + SHOWN + 1]
    return [_row(joining, own) for joining in near]


def bundle_lines(result: RunResult) -> list[str]:
    """The summary's table of all ways to join the strands, and what to solder for the chosen one."""
    if not result.joinings:
        return []
    rows = [_row(joining, result.design.wire.strands_in_series) for joining in result.joinings]
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    lines = [f"  {name:<{widths[0]}}  {value:<{widths[1]}}  {remark}" for name, value, remark in rows]
    return ["Strands of a phase joined in every way:", *lines, *_soldered(result)]


def _row(joining: Joining, chosen: int) -> tuple[str, str, str]:
    volts = plain(joining.rms_v_s_per_rad * KRPM, "V")
    own = "as designed" if joining.in_series == chosen else ""
    remarks = [own, _charges_from(joining), _joints_of(joining)]
    value = f"{volts} per 1000 rpm, {plain(joining.resistance_hot_ohm, 'ohm')}"
    return way(joining), value, "; ".join(remark for remark in remarks if remark)


def _charges_from(joining: Joining) -> str:
    start = joining.charging_starts_rad_s
    return "" if start is None else f"charges from {plain(start / RPM, 'rpm')}"


def _joints_of(joining: Joining) -> str:
    count = joining.joints_per_phase
    return f"{count} joint{'s' if count > 1 else ''} of {joining.ends_per_joint} ends" if count else "no joints"


def way(joining: Joining) -> str:
    """How strands are joined, in words."""
    if joining.in_series == 1:
        return f"{joining.in_parallel} strands in parallel"
    if joining.in_parallel == 1:
        return f"{joining.in_series} strands in series"
    return f"{joining.in_series} groups of {joining.in_parallel} in series"


def _soldered(result: RunResult) -> list[str]:
    joints = links(result.design.wire)
    if not joints:
        return []
    return ["Strands numbered from 1, each found by a meter, start with end:", *(f"  {_link(link)}" for link in joints)]


def _link(link: Link) -> str:
    return f"{_strands('end', link.ends)} to {_strands('start', link.starts)}"


def _strands(what: str, numbers: tuple[int, int]) -> str:
    first, last = numbers
    return f"{what} of strand {first}" if first == last else f"{what}s of strands {first} to {last}"


def _power(result: RunResult) -> str:
    if not result.joinings:
        return ""
    ways = len(result.joinings)
    watts = plain(result.joinings[0].matched_w_per_speed2 * KRPM**2, "W")
    return (
        f"The {result.design.wire.strands} strands can be joined in {ways} ways, all in parallel to all in series. "
        f"More in series is more volts and more ohms; into a load that suits it every way gives the same {watts} at "
        "1000 rpm."
    )


def _charging(result: RunResult, speeds_rpm: tuple[float, ...]) -> str:
    load = result.design.load
    if not result.joinings or result.joinings[0].charging_starts_rad_s is None or load is None:
        return ""
    parts = [
        f"at {listed([f'{speed:g}' for speed in speeds])} rpm {groups}"
        for groups, speeds in groupby(speeds_rpm, lambda speed: _charging_ways(result.joinings, speed * RPM))
    ]
    return f"Behind its diodes a {taker(load)} at {load.voltage_v:g} V is charged {'; '.join(parts)}."


def _charging_ways(joinings: tuple[Joining, ...], speed_rad_s: float) -> str:
    able = [joining for joining in joinings if joining.charges_at(speed_rad_s)]
    if len(able) == len(joinings):
        return "by all of them"
    if not able:
        return "by none of them"
    return f"by {way(able[0])}{' and any with more in series' if len(able) > 1 else ''}"


def _twist(result: RunResult) -> str:
    plan = result.twisting
    if plan is None:
        return ""
    way_in = plain((plan.bench_m - plan.piece_m) / MM, "mm")
    return (
        f"To twist a piece, lead the strand {plan.passes} times between posts {plain(plan.bench_m, 'm')} apart and "
        f"give it {plan.drill_turns} turns, one post giving way by {way_in}; then as many more as it springs back when "
        "let go."
    )


def _pieces(result: RunResult) -> str:
    plan = result.twisting
    if plan is None:
        return ""
    spare = plain(100 * result.design.cutting.spare, "%")
    return (
        f"A piece is then {plain(plan.piece_m, 'm')} long, {plain(plan.usable_m, 'm')} without its tails, and gives "
        f"{_worth(plan)}; {_joined(result, plan)}. Unreel {plain(plan.wire_per_piece_m, 'm')} of single wire a piece, "
        f"{plain(plan.wire_m, 'm')} in all: {spare} more than the passes take."
    )


def _worth(plan: Twisting) -> str:
    if plan.rounds_per_piece == 0:
        return "less than one round"
    return f"{plan.rounds_per_piece} round{'s' if plan.rounds_per_piece > 1 else ''}"


def _joined(result: RunResult, plan: Twisting) -> str:
    if plan.pieces_per_phase == 1:
        return "one is enough for a phase"
    needed = f"a phase takes {plan.pieces_per_phase} pieces"
    if not plan.joints:
        return f"{needed}, and their joints lie among the legs"
    traced = "" if result.design.wire.strands_in_series == 1 else ", where every strand must go on as itself"
    return f"{needed}, joined after {_places(plan.joints)}{traced}"


def _places(joints: tuple[Joint, ...]) -> str:
    named = [_place(joint) for joint in joints[:NAMED_JOINTS]]
    return listed(named) if len(joints) <= NAMED_JOINTS else ", ".join(named) + " and so on"


def _place(joint: Joint) -> str:
    return f"round {joint.rounds}" if joint.turns == 0 else f"turn {joint.turns} of round {joint.rounds + 1}"

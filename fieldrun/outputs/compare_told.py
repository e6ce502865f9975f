"""What is said of windings side by side: what wins on which count, what was held equal, what the figures are."""

from collections.abc import Callable, Iterable, Sequence

from fieldrun.design.shapes import numbers_of
from fieldrun.design.units import MM, RPM
from fieldrun.outputs.sentences import listed, plain, weight
from fieldrun.studies.candidates import Candidate, Space
from fieldrun.studies.compare import AS_THEY_STAND, EQUAL_SPACE, OWN_BEST, WindingComparison
from fieldrun.studies.wound import NotWound, Row, Wound

USUAL_RPM = 300.0
"""Speed told about where the design asks for none."""

TIE = 0.005
"""Windings that differ by less than this share of the larger give the same."""

MANY_TIMES = 3.0
"""From here on the larger is told in times the smaller, not in per cent more."""

Count = Callable[[Wound], float]

COUNTS = ("no", "one", "two", "three")

POWER, PER_KG = "EMF\N{SUPERSCRIPT TWO}/R", "EMF\N{SUPERSCRIPT TWO}/(R kg)"


def speed_of(comparison: WindingComparison) -> float:
    """The speed that volts and watts are told at: the first that the (first) design asks about [rpm]."""
    load = comparison.designs[0].load
    return load.speeds_rpm[0] if load and load.speeds_rpm else USUAL_RPM


def power_w(row: Wound, speed_rpm: float) -> float:
    """EMF^2/R of all phases at a speed [W]."""
    return row.merits.power_w_s2_per_rad2 * (speed_rpm * RPM) ** 2


def label(candidate: Candidate) -> str:
    """A winding's name with its belts, if two."""
    winding = candidate.winding
    return f"{candidate.name}, two belts" if winding.belts > 1 and candidate.name == winding.shape else candidate.name


def joined(names: Sequence[str]) -> str:
    """Names in a row, kept apart by what none of them holds."""
    return ("; " if any("," in name for name in names) else ", ").join(names)


def ranked(comparison: WindingComparison) -> tuple[Wound, ...]:
    """What competes: of the windings shown, those with as many phases as the design; all as they stand."""
    if comparison.terms == AS_THEY_STAND:
        return comparison.wound
    return tuple(row for row in comparison.shown_first if not _other_phases(row, comparison))


def winners(rows: Sequence[Wound], count: Count) -> list[Wound]:
    """Those that give the most, within what nobody could measure; none if nothing gives anything."""
    most = max(map(count, rows), default=0.0)
    return [row for row in rows if most > 0 and count(row) >= (1 - TIE) * most]


def verdict(comparison: WindingComparison) -> str:
    """Which shape wins on which count, and by how much, in one sentence."""
    rows = ranked(comparison)
    if not rows:
        return f"Nothing can be laid here {counted_phases(comparison)}{_own_paths(comparison, [])}."
    if rows[0].merits.power_w_s2_per_rad2 == 0:
        return "No winding here meets any field: there is nothing to compare."
    first, speed = winners(rows, power), speed_of(comparison)
    size = f"({POWER} {plain(power_w(first[0], speed), 'W')} at {speed:g} rpm)"
    in_space = f"{_setting(comparison)} {_most(first)} {size}{_lead(first, rows, power)}"
    named = [*first, *_second(first, rows, power)]
    if comparison.terms == OWN_BEST:
        # each was moved to where it gives most in the space, not to where it gives most for its copper
        return f"{in_space}{_own_paths(comparison, named)}; {POWER} alone was searched for."
    copper = winners(rows, per_kg)
    lead = _lead(copper, rows, per_kg)
    alike = {id(row) for row in copper} == {id(row) for row in first}
    from_copper = (
        f", and the most from equal copper too{lead}" if alike else f"; from equal copper {_most(copper)}{lead}"
    )
    named += [*copper, *_second(copper, rows, per_kg)]
    return f"{in_space}{from_copper}{_own_paths(comparison, named)}."


def _other_phases(row: Row, comparison: WindingComparison) -> bool:
    unlike = row.candidate.winding.phases != comparison.designs[0].winding.phases
    return comparison.terms != AS_THEY_STAND and unlike


def _own_paths(comparison: WindingComparison, named: Sequence[Wound]) -> str:
    """What the user's own path files give, as far as the sentence has not named them yet."""
    speed = speed_of(comparison)
    return "".join(
        f"; {marked(row, comparison)} gives {plain(power_w(row, speed), 'W')}"
        for row in comparison.shown_first
        if comparison.terms != AS_THEY_STAND and row.candidate.winding.shape == "path" and row not in named
    )


def _most(rows: Sequence[Wound]) -> str:
    return f"{listed([_the(row) for row in rows])} {'gives' if len(rows) == 1 else 'give'} the most"


def counted_phases(comparison: WindingComparison) -> str:
    """With how many phases shapes are told apart, in words."""
    return f"with {_phases_told(comparison.designs[0].winding.phases)}"


def _phases_told(phases: int) -> str:
    return f"{COUNTS[phases]} phase{'s' if phases > 1 else ''}"


def _setting(comparison: WindingComparison) -> str:
    if comparison.terms == AS_THEY_STAND:
        return "As they stand"
    first = "Each at its best" if comparison.terms == OWN_BEST else "In equal space"
    return f"{first}, {counted_phases(comparison)},"


def _the(row: Wound) -> str:
    name, winding = row.candidate.name, row.candidate.winding
    if name != winding.shape:
        return f'"{name}"' if "," in name or " and " in name else name
    return f"the {name} in two belts" if winding.belts > 1 else f"the {name}"


def power(row: Wound) -> float:
    """EMF^2/R per speed squared: what is compared in the space."""
    return row.merits.power_w_s2_per_rad2


def per_kg(row: Wound) -> float:
    """EMF^2/(R kg) per speed squared: what is compared from equal copper."""
    return row.merits.power_per_kg


def _second(first: Sequence[Wound], rows: Sequence[Wound], count: Count) -> list[Wound]:
    """The best of those of another name; none if there is none."""
    names = {row.candidate.name for row in first}
    others = [row for row in rows if row.candidate.name not in names]
    return [max(others, key=count)] if others else []


def _lead(first: Sequence[Wound], rows: Sequence[Wound], count: Count) -> str:
    """By how much winners lead the best of another name; nothing if there is none."""
    second = _second(first, rows, count)
    if not second:
        return ""
    if count(second[0]) == 0:
        return f", while {_the(second[0])} gives nothing"
    return f", {_much(max(map(count, first)) / count(second[0]))} {_the(second[0])}"


def _much(ratio: float) -> str:
    if ratio >= MANY_TIMES:
        return f"{plain(float(f'{ratio:.2g}'))} times as much as"
    percent = 100 * (ratio - 1)
    return f"{percent:.{0 if percent >= 1 else 1}f} % more than"


def terms(comparison: WindingComparison) -> str:
    """What was held equal."""
    space = comparison.space
    if space is None:
        return "Every design as it stands, in its own field."
    wire = f"{space.sheets} sheet{'s' if space.sheets > 1 else ''} of the same wire{_made_even(space)}"
    height = f"their middle {plain(space.height_m / MM, 'mm')} above the lower magnets, as many rounds as fit"
    if comparison.terms == OWN_BEST:
        reach = "at most half a magnet's length beyond the magnets"
        return f"{wire}, {height}; radii and angles are each shape's own best, {reach}."
    ring = f"{plain(space.inner_radius_m / MM)} to {plain(space.outer_radius_m / MM, 'mm')}"
    return f"Equal space: from {ring}, {wire}, {height}."


def _made_even(space: Space) -> str:
    if space.sheets == space.own_sheets:
        return ""
    return f" (not {space.own_sheets} as in the design: flat and crossed lays are as thick only at even numbers)"


def columns_told(comparison: WindingComparison) -> str:
    """What the table's columns are."""
    speed = f"at {speed_of(comparison):g} rpm"
    return (
        f"EMF: effective, of one phase, nothing connected, {speed}. Ohms: of one phase at working temperature. "
        f"{POWER}: of all phases; four times the most that a load can take {speed}; the same with fewer rounds of "
        f"thicker wire in the same space. W/kg: {POWER} over the copper's weight.{_equal_copper(comparison)} Ends: "
        "share of the wire in arcs and steps, which cuts no field. Torque: its least and largest over its mean, an "
        "equal resistor at each phase; one phase pulses between nothing and twice the mean."
    )


def _equal_copper(comparison: WindingComparison) -> str:
    if not comparison.wound:
        return ""
    mass = comparison.least_copper_kg
    return f" Equal copper, {weight(mass)} each in thinner wire on the same path, gives {plain(mass)} of it."


def reasons(comparison: WindingComparison) -> list[str]:
    """Why windings cannot be laid: a line for each reason, with all it holds for."""
    by_reason: dict[str, list[NotWound]] = {}
    for row in comparison.not_wound:
        by_reason.setdefault(row.reason, []).append(row)
    return [f"Not laid: {_listed(row.candidate for row in rows)}: {reason}." for reason, rows in by_reason.items()]


def _listed(candidates: Iterable[Candidate]) -> str:
    phases: dict[str, list[str]] = {}
    for candidate in candidates:
        phases.setdefault(label(candidate), []).append(str(candidate.winding.phases))
    return "; ".join(f"{name} ({', '.join(numbers)}-phase)" for name, numbers in phases.items())


def marked(row: Row, comparison: WindingComparison) -> str:
    """A winding's name, and whether it is the design's own or a file of the user's."""
    told = ["yours"] if row.candidate.own and comparison.terms == EQUAL_SPACE else []
    if row.candidate.own and _other_phases(row, comparison):
        told.append(_phases_told(row.candidate.winding.phases))
    return f"{label(row.candidate)} ({', '.join(told)})" if told else label(row.candidate)


def ordered(comparison: WindingComparison) -> list[Wound]:
    """Those with the design's number of phases first, each group from the most to the least in the space."""
    first = comparison.shown_first
    rest = [row for row in comparison.wound if not any(row is other for other in first)]
    return [*first, *sorted(rest, key=lambda row: (-row.candidate.winding.phases, -power(row)))]


def angles_told(row: Wound) -> str:
    """Span, skew and straight share, as far as the shape has a use for them."""
    numbers = numbers_of(row.candidate.winding)
    return ", ".join(f"{key.replace('_', ' ')} {value:.2f}" for key, value in numbers.items())

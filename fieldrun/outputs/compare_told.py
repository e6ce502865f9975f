"""What is said of windings side by side: what wins on which count, what was held equal, what the figures are."""

from collections.abc import Callable, Iterable, Sequence

from fieldrun.design.shapes import WINDING_OPTIONS
from fieldrun.design.units import MM, RPM
from fieldrun.outputs.sentences import plain
from fieldrun.studies.candidates import Candidate, Space
from fieldrun.studies.compare import AS_THEY_STAND, EQUAL_SPACE, OWN_BEST, WindingComparison
from fieldrun.studies.wound import NotWound, Row, Wound

USUAL_RPM = 300.0
"""Speed told about where the design asks for none."""

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


def shown_first(comparison: WindingComparison) -> tuple[Wound, ...]:
    """The windings with as many phases as the design has: those that shapes are told apart by; all as they stand."""
    if comparison.terms == AS_THEY_STAND:
        return comparison.wound
    phases = comparison.designs[0].winding.phases
    return tuple(row for row in comparison.wound if row.candidate.winding.phases == phases)


def verdict(comparison: WindingComparison) -> str:
    """Which shape wins on which count, and by how much, in one sentence."""
    rows = shown_first(comparison)
    if not rows:
        return f"Nothing can be laid here {counted_phases(comparison)}."
    if rows[0].merits.power_w_s2_per_rad2 == 0:
        return "No winding here meets any field: there is nothing to compare."
    in_space, speed = rows[0], speed_of(comparison)
    copper = max(rows, key=_per_kg)  # of equals the one that gives more in the space
    size = f"({POWER} {plain(power_w(in_space, speed), 'W')} at {speed:g} rpm)"
    first = f"{_setting(comparison)} {_the(in_space)} gives the most {size}{_lead(in_space, rows, _power)}"
    if copper is in_space:
        return f"{first}, and the most from equal copper too{_lead(copper, rows, _per_kg)}."
    return f"{first}; from equal copper {_the(copper)} gives the most{_lead(copper, rows, _per_kg)}."


def counted_phases(comparison: WindingComparison) -> str:
    """With how many phases shapes are told apart, in words."""
    phases = comparison.designs[0].winding.phases
    return f"with {COUNTS[phases]} phase{'s' if phases > 1 else ''}"


def _setting(comparison: WindingComparison) -> str:
    if comparison.terms == AS_THEY_STAND:
        return "As they stand"
    first = "Each at its best" if comparison.terms == OWN_BEST else "In equal space"
    return f"{first}, {counted_phases(comparison)},"


def _the(row: Wound) -> str:
    name, winding = row.candidate.name, row.candidate.winding
    if name != winding.shape:
        return name
    return f"the {name} in two belts" if winding.belts > 1 else f"the {name}"


def _power(row: Wound) -> float:
    return row.merits.power_w_s2_per_rad2


def _per_kg(row: Wound) -> float:
    return float(f"{row.merits.power_per_kg:.9g}")  # what differs by rounding is equal


def _lead(first: Wound, rows: Sequence[Wound], count: Callable[[Wound], float]) -> str:
    """By how much a winding leads the best of another name; nothing if there is none."""
    others = [row for row in rows if row.candidate.name != first.candidate.name]
    if not others:
        return ""
    second = max(others, key=count)
    if count(second) == 0:
        return f", while {_the(second)} gives nothing"
    percent = 100 * (count(first) / count(second) - 1)
    much = f"{percent:.0f} % more than" if percent >= 1 else f"{percent:.1f} % more than" if percent >= 0.05 else "as"
    return f", {much} {_the(second)}" if much != "as" else f", as much as {_the(second)}"


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
    return f" Equal copper, {plain(1000 * mass, 'g')} each in thinner wire on the same path, gives {plain(mass)} of it."


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
    yours = row.candidate.own and comparison.terms == EQUAL_SPACE
    return f"{label(row.candidate)} (yours)" if yours else label(row.candidate)


def ordered(comparison: WindingComparison) -> list[Wound]:
    """Those with the design's number of phases first, each group from the most to the least in the space."""
    first = shown_first(comparison)
    rest = [row for row in comparison.wound if not any(row is other for other in first)]
    return [*first, *sorted(rest, key=lambda row: (-row.candidate.winding.phases, -_power(row)))]


def angles_told(row: Wound) -> str:
    """Span, skew and straight share, as far as the shape has a use for them."""
    winding = row.candidate.winding
    keys = [key for key in ("span", "skew", "straight_share") if winding.shape in WINDING_OPTIONS[key]]
    return ", ".join(f"{key.replace('_', ' ')} {getattr(winding, key):.2f}" for key in keys)

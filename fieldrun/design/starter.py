"""A first design file from the answers to eight plain questions, as TOML text; asking is the caller's job."""

import math
import re
from collections.abc import Mapping

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.materials import magnet_grade
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.design.starter_answers import QUESTIONS, Answers, complaint, understood
from fieldrun.design.units import MM, RPM, metres
from fieldrun.design.wire import overall_diameter_m

AIR_BETWEEN = 1.25
"""Pitch over magnet width on the circle that is proposed: a fifth of it stays free."""

BEYOND = 0.15
"""How far the legs reach beyond the magnets' edges, over the magnets' length."""

CHARGING = 1.05
"""Charging voltage over nominal: 12.6 V for a 12 V battery."""

PHASES, MOST_LAYERS, CLEARANCE_MM = 3, 200, 1.0

STARTS_RPM = 200.0
"""Layers are no more than it takes to charge the battery from about here: what is more gives volts that nobody needs,
and resists."""

SPACE_BETWEEN = 0.85
"""Flux density's fundamental of magnets that leave a fifth free, over that of a full ring."""

WITHOUT_IRON = 0.7
"""What is left of the field without iron behind magnets that are about as thick as the gap."""

DIODES_V = 1.4

COPPER_HEIGHT = {1: 0.3, 2: 0.6}
"""Height of the copper over the magnets' thickness, by number of faces."""


def ask_questions(answers: Mapping[str, str], title: str = "My generator") -> str:
    """Text of a design file from raw answers by question key; an empty or absent one stands for its default.

    The winding is a serpentine in three phases that fills the ring, a little longer than the magnets, in a gap as
    narrow as its stack allows: something that works, to be edited.

    Raises
    ------
    DesignError
        With every answer that cannot be understood, keyed by its question.
    """
    asked = {question.key: answers.get(question.key, "").strip() or question.default for question in QUESTIONS}
    faults = [Fault(key, text) for key, answer in asked.items() if (text := complaint(key, answer))]
    if faults:
        raise DesignError(faults)
    return _text(understood(asked), title)


def _text(answers: Answers, title: str) -> str:
    return "\n\n".join([f'title = "{_quoted(title)}"', *(part for part in _parts(answers) if part)]) + "\n"


def _quoted(text: str) -> str:
    return re.sub(r"[\x00-\x1f\x7f]", " ", text).replace("\\", "\\\\").replace('"', '\\"')


def _parts(answers: Answers) -> tuple[str, ...]:
    return _magnets(answers), _rotor(answers), _winding(answers), _wire(answers), _load(answers)


def _magnets(answers: Answers) -> str:
    *sides, thickness = answers.sides_mm
    keys = ["diameter_mm"] if len(sides) == 1 else ["radial_mm", "tangential_mm"]
    return "\n".join(
        [
            "[magnets]",
            f'shape = "{"disc" if len(sides) == 1 else "block"}"',
            f"count = {answers.count}                   # on each face, north and south in turn",
            f"thickness_mm = {thickness:g}",
            *(f"{key} = {side:g}" for key, side in zip(keys, sides, strict=True)),
            f"pitch_diameter_mm = {_circle_mm(answers):g}      # circle through the centres",
            f'grade = "{answers.grade}"',
        ]
    )


def _circle_mm(answers: Answers) -> float:
    """As asked, else the tightest circle with a fifth of it free where the magnets are nearest to each other."""
    if answers.circle_mm > 0:
        return answers.circle_mm
    *sides, _ = answers.sides_mm
    half_pitch = math.pi / answers.count
    if len(sides) == 1:
        return float(math.ceil(AIR_BETWEEN * sides[0] / math.sin(half_pitch)))
    return float(math.ceil(sides[0] + AIR_BETWEEN * sides[1] / math.tan(half_pitch)))


def _rotor(answers: Answers) -> str:
    steel = (
        ['backing = "mild steel"', f"backing_mm = {answers.steel_mm:g}"] if answers.steel_mm else ['backing = "none"']
    )
    gap = (
        ['gap_mm = "stack"             # winding and two clearances; or the number you measure']
        if answers.faces == 2
        else []
    )
    return "\n".join(["[rotor]", f"faces = {answers.faces}", *gap, *steel])


def _winding(answers: Answers) -> str:
    middle, (depth, *across, _) = _circle_mm(answers) / 2, answers.sides_mm
    inner = middle - depth / 2 - BEYOND * depth
    outer = math.hypot(middle + depth / 2, (across[0] if across else 0.0) / 2) + BEYOND * depth
    return "\n".join(
        [
            "[winding]",
            f'shape = "serpentine"         # or {", ".join(NAMED_SHAPES[1:])}',
            f"inner_radius_mm = {_tenth(max(inner, 2.0)):g}",
            f"outer_radius_mm = {_tenth(outer):g}",
            f"phases = {PHASES}",
            'rounds = "fill"              # as many as fit side by side',
            f"layers = {_layers(answers)}",
        ]
    )


def _layers(answers: Answers) -> int:
    height = COPPER_HEIGHT[answers.faces] * answers.sides_mm[-1]
    most = min(max(round(height / _overall_mm(answers)), 1), MOST_LAYERS)
    if not answers.battery_v:
        return most
    return next((layers for layers in range(1, most) if _charges_from_rpm(answers, layers) <= STARTS_RPM), most)


def _overall_mm(answers: Answers) -> float:
    return overall_diameter_m(metres(answers.copper_mm)) / MM


def _charges_from_rpm(answers: Answers, layers: int) -> float:
    """Rough speed at which two phases in star reach the battery's voltage and that of two diodes.

    A round has a leg over every magnet, of the magnets' length: peak volts B l v each. Across the gap of their stack
    B = Br 2t / (2t + gap) between magnets on iron, half of that over one face, less without iron and where magnets
    leave space.
    """
    (depth, *_, thickness), radius = answers.sides_mm, _circle_mm(answers) / 2
    gap = layers * _overall_mm(answers) + 2 * CLEARANCE_MM
    iron = 1.0 if answers.steel_mm else WITHOUT_IRON
    flux_t = (
        iron
        * SPACE_BETWEEN
        * magnet_grade(answers.grade).remanence_t
        * answers.faces
        * thickness
        / (2 * thickness + gap)
    )
    inner_mm = 2 * math.pi * (radius - (0.5 + BEYOND) * depth)
    rounds = layers * max(1.0, inner_mm / answers.count / (PHASES * _overall_mm(answers)))
    phase_v_s = rounds * answers.count * flux_t * metres(depth) * metres(radius)
    return (_charging_v(answers) + DIODES_V) / (math.sqrt(3) * phase_v_s) / RPM


def _wire(answers: Answers) -> str:
    return f'[wire]\nkind = "solid"\ncopper_mm = {answers.copper_mm:g}              # without the enamel'


def _load(answers: Answers) -> str:
    if not answers.battery_v:
        return ""
    return f'[load]\nkind = "battery"\nvoltage_v = {_charging_v(answers):g}\nspeeds_rpm = [200, 300, 400, 500]'


def _charging_v(answers: Answers) -> float:
    return max(CHARGING * answers.battery_v, 0.5)


def _tenth(length: float) -> float:
    return round(length, 1)

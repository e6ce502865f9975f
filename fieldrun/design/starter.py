"""A first design file from eight plain questions: answers in, TOML text out; asking is the caller's job."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.materials import magnet_grade
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.design.units import MM, metres
from fieldrun.design.wire import COPPER_LEAST_M, COPPER_MOST_M, overall_diameter_m


@dataclass(frozen=True)
class Question:
    """One question, the key its answer goes by, and the answer that an empty line stands for."""

    key: str
    text: str
    default: str


QUESTIONS = (
    Question(
        "magnet",
        "Size of one magnet in mm (a disc: diameter x thickness; a block: along the radius x across x thickness)?",
        "20 x 6",
    ),
    Question("count", "How many magnets stand on one face?", "16"),
    Question("grade", "Which grade are they?", "N42"),
    Question("circle", "Diameter of the circle through their centres in mm (0: as tight as is sensible)?", "0"),
    Question("faces", "Magnets on one side of the winding or on both (1 or 2)?", "2"),
    Question("steel", "How thick is the steel behind the magnets in mm (0: wood or plastic)?", "5"),
    Question("copper", "How thick is the wire, bare copper, in mm?", "0.5"),
    Question("battery", "Which battery shall it charge, in volts (0: none)?", "12"),
)
"""The eight questions of `new --ask`, in the order they are asked."""

AIR_BETWEEN = 1.25
"""Pitch over magnet width on the circle that is proposed: a fifth of it stays free."""

BEYOND = 0.15
"""How far the legs reach beyond the magnets' edges, over the magnets' length."""

CHARGING = 1.05
"""Charging voltage over nominal: 12.6 V for a 12 V battery."""

COPPER_HEIGHT = {1: 0.3, 2: 0.6}
"""Height of the copper over the magnets' thickness, by number of faces."""


@dataclass(frozen=True)
class _Answers:
    sides_mm: tuple[float, ...]
    count: int
    grade: str
    circle_mm: float
    faces: int
    steel_mm: float
    copper_mm: float
    battery_v: float


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
    return _text(_understood(asked), title)


def complaint(key: str, answer: str) -> str:
    """What is wrong with the answer to a question; empty if nothing is, or if it is left to the default."""
    try:
        _READERS[key](answer) if answer.strip() else None
    except ValueError as error:
        return f"{error}; received {answer}"
    except DesignError as error:
        return error.faults[0].text
    return ""


def _understood(asked: Mapping[str, str]) -> _Answers:
    return _Answers(
        sides_mm=_sides(asked["magnet"]),
        count=_count(asked["count"]),
        grade=_grade(asked["grade"]),
        circle_mm=_circle(asked["circle"]),
        faces=_faces(asked["faces"]),
        steel_mm=_steel(asked["steel"]),
        copper_mm=_copper(asked["copper"]),
        battery_v=_battery(asked["battery"]),
    )


def _sides(answer: str) -> tuple[float, ...]:
    parts = [part for part in re.split(r"\s*[x×*]\s*|\s+", answer.lower().replace("mm", "").strip()) if part]
    if len(parts) not in {2, 3}:
        raise ValueError("must be two numbers for a disc or three for a block, such as 20 x 6 or 30 x 20 x 10")
    return tuple(_number(part, 0.3, 500, "mm") for part in parts)


def _count(answer: str) -> int:
    if not answer.strip().isdecimal() or int(answer) % 2 or not 4 <= int(answer) <= 400:
        raise ValueError("must be an even whole number, 4 or more: north and south alternate")
    return int(answer)


def _grade(answer: str) -> str:
    return magnet_grade(answer).name


def _faces(answer: str) -> int:
    if answer.strip() not in {"1", "2"}:
        raise ValueError("must be 1 or 2")
    return int(answer)


def _circle(answer: str) -> float:
    return _number(answer, 0, 10000, "mm")


def _steel(answer: str) -> float:
    return _number(answer, 0, 100, "mm")


def _copper(answer: str) -> float:
    return _number(answer, COPPER_LEAST_M / MM, COPPER_MOST_M / MM, "mm")


def _battery(answer: str) -> float:
    return _number(answer, 0, 1000, "V")


def _number(answer: str, low: float, high: float, unit: str) -> float:
    wrong = f"must be a number from {low:g} to {high:g} {unit}"
    try:
        number = float(answer.lower().removesuffix(unit.lower()).strip().replace(",", "."))
    except ValueError:
        raise ValueError(wrong) from None
    if not low <= number <= high:
        raise ValueError(wrong)
    return number


_READERS: dict[str, Callable[[str], object]] = {
    "magnet": _sides,
    "count": _count,
    "grade": _grade,
    "circle": _circle,
    "faces": _faces,
    "steel": _steel,
    "copper": _copper,
    "battery": _battery,
}


def _text(answers: _Answers, title: str) -> str:
    return "\n\n".join([f'title = "{_quoted(title)}"', *(part for part in _parts(answers) if part)]) + "\n"


def _quoted(text: str) -> str:
    return re.sub(r"[\x00-\x1f\x7f]", " ", text).replace("\\", "\\\\").replace('"', '\\"')


def _parts(answers: _Answers) -> tuple[str, ...]:
    return _magnets(answers), _rotor(answers), _winding(answers), _wire(answers), _load(answers)


def _magnets(answers: _Answers) -> str:
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


def _circle_mm(answers: _Answers) -> float:
    """As asked, else the tightest circle with a fifth of it free where the magnets are nearest to each other."""
    if answers.circle_mm > 0:
        return answers.circle_mm
    *sides, _ = answers.sides_mm
    half_pitch = math.pi / answers.count
    if len(sides) == 1:
        return float(math.ceil(AIR_BETWEEN * sides[0] / math.sin(half_pitch)))
    return float(math.ceil(sides[0] + AIR_BETWEEN * sides[1] / math.tan(half_pitch)))


def _rotor(answers: _Answers) -> str:
    steel = (
        ['backing = "mild steel"', f"backing_mm = {answers.steel_mm:g}"] if answers.steel_mm else ['backing = "none"']
    )
    gap = (
        ['gap_mm = "stack"             # winding and two clearances; or the number you measure']
        if answers.faces == 2
        else []
    )
    return "\n".join(["[rotor]", f"faces = {answers.faces}", *gap, *steel])


def _winding(answers: _Answers) -> str:
    middle, (depth, *across, _) = _circle_mm(answers) / 2, answers.sides_mm
    inner = middle - depth / 2 - BEYOND * depth
    outer = math.hypot(middle + depth / 2, (across[0] if across else 0.0) / 2) + BEYOND * depth
    return "\n".join(
        [
            "[winding]",
            f'shape = "serpentine"         # or {", ".join(NAMED_SHAPES[1:])}',
            f"inner_radius_mm = {_tenth(max(inner, 2.0)):g}",
            f"outer_radius_mm = {_tenth(outer):g}",
            "phases = 3",
            'rounds = "fill"              # as many as fit side by side',
            f"layers = {_layers(answers)}",
        ]
    )


def _layers(answers: _Answers) -> int:
    height = COPPER_HEIGHT[answers.faces] * answers.sides_mm[-1]
    return min(max(round(height / (overall_diameter_m(metres(answers.copper_mm)) / MM)), 1), 200)


def _wire(answers: _Answers) -> str:
    return f'[wire]\nkind = "solid"\ncopper_mm = {answers.copper_mm:g}              # without the enamel'


def _load(answers: _Answers) -> str:
    if not answers.battery_v:
        return ""
    voltage = max(CHARGING * answers.battery_v, 0.5)
    return f'[load]\nkind = "battery"\nvoltage_v = {voltage:g}\nspeeds_rpm = [200, 300, 400, 500]'


def _tenth(length: float) -> float:
    return round(length, 1)

"""The eight plain questions for a first design, their usual answers, and what is wrong with an answer."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fieldrun.design.errors import DesignError
from fieldrun.design.materials import magnet_grade
from fieldrun.design.units import MM
from fieldrun.design.wire import COPPER_LEAST_M, COPPER_MOST_M


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
    Question("copper", "How thick is the wire, bare copper, in mm?", "0.9"),
    Question("battery", "Which battery shall it charge, in volts (0: none)?", "12"),
)
"""The eight questions of `new --ask`, in the order they are asked."""


@dataclass(frozen=True)
class Answers:
    """All answers, as numbers; a length of 0 leaves the part out or to be chosen."""

    sides_mm: tuple[float, ...]
    count: int
    grade: str
    circle_mm: float
    faces: int
    steel_mm: float
    copper_mm: float
    battery_v: float


def complaint(key: str, answer: str) -> str:
    """What is wrong with the answer to a question; empty if nothing is, or if it is left to the default."""
    try:
        _READERS[key](answer) if answer.strip() else None
    except ValueError as error:
        return f"{error}; received {answer}"
    except DesignError as error:
        return error.faults[0].text
    return ""


def understood(asked: Mapping[str, str]) -> Answers:
    """Answers that nothing is wrong with, by question key.

    Raises
    ------
    ValueError, DesignError
        If something is wrong with one: ask `complaint` of each before.
    """
    return Answers(
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

"""Magnets, copper and steel by name, each with the source its numbers come from."""

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from fieldrun.design.bh_table import read_bh_table
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import SteelCurve
from fieldrun.design.nearest import nearest, one_of
from fieldrun.design.resources import toml_table
from fieldrun.design.steel_laws import sampled_law, table_with_formulas

COPPER_RESISTIVITY_20C_OHM_M = 1e-6 / 58
"""Annealed copper at 20 C: 58 m/(ohm mm^2), i.e. 1.7241e-8 ohm m (IEC 60028, looked up at second hand)."""

COPPER_RESISTIVITY_PER_K = 3.93e-3
"""Rise of copper's resistivity per kelvin, referred to 20 C (IEC 60028, looked up at second hand)."""

COPPER_DENSITY_KG_M3 = 8890.0
"""Density of annealed copper (IEC 60028, from memory)."""

REFERENCE_TEMPERATURE_C = 20.0
"""Temperature that catalogue values of magnets and copper are stated at."""


_GRADE_PARTS = re.compile(r"([A-Z]+)[ -]*(\d+)[ -]*([A-Z]*)")


@dataclass(frozen=True)
class MagnetGrade:
    """A magnet material at 20 C; coefficients per kelvin are fractions of the value at 20 C."""

    name: str
    remanence_t: float
    recoil_permeability: float
    remanence_per_k: float
    max_temperature_c: float
    density_kg_m3: float
    status: str
    source: str


def grade_names() -> tuple[str, ...]:
    """Every grade of the library."""
    return tuple(_grades())


def magnet_grade(name: str) -> MagnetGrade:
    """Look a grade up, whatever the case of its letters.

    Remanence is the middle of the grade's range for sintered NdFeB; makers of ferrite state the minimum only.

    Raises
    ------
    DesignError
        If nobody knows the grade; the text names the nearest ones.
    """
    grade = _grades().get(name.strip().upper())
    if grade is None:
        raise DesignError([Fault("", _unknown_grade(name))])
    return grade


def remanence_at(grade: MagnetGrade, temperature_c: float) -> float:
    """Remanence at a temperature: linear from the catalogue's 20 C, Br = Br20 (1 + a (T - 20)) [T]."""
    return grade.remanence_t * (1 + grade.remanence_per_k * (temperature_c - REFERENCE_TEMPERATURE_C))


def copper_resistivity(temperature_c: float) -> float:
    """Resistivity of annealed copper, linear from 20 C: rho20 (1 + 3.93e-3 (T - 20)) [ohm m]."""
    warmer = temperature_c - REFERENCE_TEMPERATURE_C
    return COPPER_RESISTIVITY_20C_OHM_M * (1 + COPPER_RESISTIVITY_PER_K * warmer)


def steel_names() -> tuple[str, ...]:
    """Every steel of the library, friendly names first."""
    data = toml_table("steels.toml")
    return (*data["aliases"], *data["law"], *data["table"])


def steel_curve(name: str, folder: Path | None = None) -> SteelCurve:
    """Magnetisation curve of a library steel, or of a B-H table (a file name ending in .csv) in `folder`.

    Raises
    ------
    DesignError
        If the name is unknown (the text lists the known ones) or the table is faulty (every fault with its line).
    """
    if name.lower().endswith(".csv"):
        return read_bh_table((folder or Path()) / name)
    known = {steel.casefold(): steel for steel in steel_names()}.get(name.strip().casefold())
    if known is None:
        raise DesignError([Fault("", unknown_steel(name))])
    return _library_steel(toml_table("steels.toml")["aliases"].get(known, known))


def unknown_steel(name: str, other_words: tuple[str, ...] = ()) -> str:
    """Say that nobody knows the steel, what was probably meant, and what is known; `other_words` may be meant too."""
    words = {word.casefold(): word for word in (*other_words, *steel_names())}
    close = nearest(name.casefold(), words)
    hint = f'did you mean "{words[close]}"? ' if close else ""
    return f'nobody here knows the steel "{name}"; {hint}known: {one_of(steel_names())}, or a B-H table ending in .csv'


@lru_cache
def _library_steel(name: str) -> SteelCurve:
    data = toml_table("steels.toml")
    if name in data["law"]:
        return sampled_law(name, data["law"][name])
    return table_with_formulas(name, data["table"][name])


@lru_cache
def _grades() -> dict[str, MagnetGrade]:
    tables = toml_table("magnet_grades.toml")
    sintered = [
        _sintered(name, suffix, tables)
        for name in tables["sintered_ndfeb"]["remanence_range_t"]
        for suffix in tables["ndfeb_class"]
    ]
    return {
        grade.name: grade for grade in (*sintered, *(_ferrite(n, tables) for n in tables["ferrite"]["remanence_t"]))
    }


def _sintered(name: str, suffix: str, tables: dict[str, Any]) -> MagnetGrade:
    common, limits = tables["sintered_ndfeb"], tables["ndfeb_class"][suffix]
    return MagnetGrade(
        name=name + suffix,
        remanence_t=sum(common["remanence_range_t"][name]) / 2,
        recoil_permeability=common["recoil_permeability"],
        remanence_per_k=common["remanence_per_k"],
        max_temperature_c=limits["max_temperature_c"],
        density_kg_m3=common["density_kg_m3"],
        status=limits["status"],
        source=f"remanence: {common['source']}; class: {limits['source']}",
    )


def _ferrite(name: str, tables: dict[str, Any]) -> MagnetGrade:
    common = tables["ferrite"]
    return MagnetGrade(
        name=name,
        remanence_t=common["remanence_t"][name],
        recoil_permeability=common["recoil_permeability"],
        remanence_per_k=common["remanence_per_k"],
        max_temperature_c=common["max_temperature_c"],
        density_kg_m3=common["density_kg_m3"],
        status=common["status"],
        source=common["source"],
    )


def _unknown_grade(name: str) -> str:
    plain = [grade for grade in grade_names() if _is_plain(grade)]
    hint = _nearest_grade(name.strip().upper(), plain)
    guess = f'did you mean "{hint}"? ' if hint else ""
    suffixes = ", ".join(s for s in toml_table("magnet_grades.toml")["ndfeb_class"] if s)
    return (
        f'unknown grade "{name}"; {guess}known: {one_of(plain)} (NdFeB grades also with {suffixes}); '
        "otherwise give remanence_t instead"
    )


def _nearest_grade(name: str, plain: list[str]) -> str | None:
    """Letters and suffix as written and the nearest number there is; else what looks alike."""
    parts = _GRADE_PARTS.fullmatch(name)
    alike = [grade for grade in plain if parts and grade.startswith(parts[1]) and grade + parts[3] in grade_names()]
    if parts is None or not alike:
        return nearest(name, grade_names())
    return min(alike, key=lambda grade: abs(_number_of(grade) - int(parts[2]))) + parts[3]


def _number_of(grade: str) -> int:
    parts = _GRADE_PARTS.fullmatch(grade)
    return int(parts[2]) if parts else 0


def _is_plain(grade: str) -> bool:
    data = toml_table("magnet_grades.toml")
    return grade in data["sintered_ndfeb"]["remanence_range_t"] or grade in data["ferrite"]["remanence_t"]

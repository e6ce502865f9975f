"""Windings side by side on equal terms: every shape in the space of one design, or several designs as they stand."""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Design
from fieldrun.design.read import design_hash
from fieldrun.design.stack import CROSSED_SHAPES
from fieldrun.field.field_map import FieldMap
from fieldrun.field.solve import field_of
from fieldrun.studies.best_winding import Found, best_winding, whole_rounds
from fieldrun.studies.candidates import LAYS, PHASES, Candidate, Space, candidates, space_of
from fieldrun.studies.wound import NotWound, Row, Wound, wind
from fieldrun.winding.factors import WEAK, factors, weakness_text
from fieldrun.winding.lay import lay

EQUAL_SPACE, OWN_BEST, AS_THEY_STAND = "equal space", "each at its best", "as they stand"
"""On which terms windings are compared."""

Tell = Callable[[str], None]
"""Told the name of each step before it starts."""


SearchKey = tuple[str, int]


@dataclass(frozen=True, eq=False)
class WindingComparison:
    """Windings side by side.

    Parameters
    ----------
    terms : one of `EQUAL_SPACE`, `OWN_BEST`, `AS_THEY_STAND`
    designs : one, or those compared
    design_hash : of all of them together
    space : what every winding got; None as they stand
    rows : one for each winding, laid or not
    remarks : what the user should know of single windings
    """

    terms: str
    designs: tuple[Design, ...]
    design_hash: str
    space: Space | None
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Of the designs, as a result folder knows it."""
        return ", ".join(design.name for design in self.designs)

    @property
    def wound(self) -> tuple[Wound, ...]:
        """The windings that could be laid, those that give most in the space first."""
        laid = [row for row in self.rows if isinstance(row, Wound)]
        return tuple(sorted(laid, key=lambda row: -row.merits.power_w_s2_per_rad2))

    @property
    def not_wound(self) -> tuple[NotWound, ...]:
        """The windings that could not."""
        return tuple(row for row in self.rows if isinstance(row, NotWound))

    @property
    def shown_first(self) -> tuple[Wound, ...]:
        """The windings with as many phases as the design has, and the user's own paths whatever their phases.

        Those that shapes are told apart by; all as they stand.
        """
        if self.terms == AS_THEY_STAND:
            return self.wound
        phases = self.designs[0].winding.phases
        return tuple(row for row in self.wound if row.candidate.winding.phases == phases or _own_path(row.candidate))

    @property
    def least_copper_kg(self) -> float:
        """Mass of the lightest winding shown: so much copper all the others can have too, in thinner wire.

        Paths do not count, because they are wound once as written and not filled: one loop of wire would be the measure
        of all; unless there is nothing else.
        """
        shown = self.shown_first or self.wound
        filled = [row for row in shown if row.candidate.winding.shape != "path" or self.terms == AS_THEY_STAND]
        return min(row.merits.copper_mass_kg for row in filled or shown)


def compare_windings(
    design: Design, files: tuple[Path, ...] = (), *, best: bool = False, tell: Tell = lambda _: None
) -> WindingComparison:
    """Hold every shape, belt and number of phases into the field of one design, which is solved once.

    Equal space: the same radii, wire, sheets and height; each as full as its lay lets it be. Equal copper needs no
    second sum: thinner wire on the same path, as many rounds, leaves the EMF and divides R's inverse and the mass
    alike, so that EMF^2/(R kg) stays and EMF^2/R follows the mass.

    Parameters
    ----------
    design : as read by `fieldrun.read_design`
    files : path files to hold against the named shapes
    best : look for each shape's own best radii and angles, near the magnets
    tell : called with the name of each step before it starts: one for the field, `searches` with `best`

    Raises
    ------
    DesignError
        If the design's winding cannot be laid, or a path file cannot be read: with every fault.
    SolveError
        If the field finds no solution.
    """
    space = space_of(design, lay(design.winding, design.magnets.pole_pairs, design.wire))
    asked = _readable(design, candidates(design, space, files))
    tell("field")
    field_map = field_of(design.magnets, design.rotor)
    rows = [wind(design, candidate, field_map, space.sheets) for candidate in asked]
    if best:
        rows = _at_their_best(design, field_map, rows, tell)
    return WindingComparison(
        terms=OWN_BEST if best else EQUAL_SPACE,
        designs=(design,),
        design_hash=_hash_of((design,), files),
        space=space,
        rows=tuple(rows),
        remarks=tuple(dict.fromkeys(_remarks(rows))),
    )


def compare_designs(designs: tuple[Design, ...], tell: Tell = lambda _: None) -> WindingComparison:
    """Set several designs side by side, each as it stands; machines that share magnets and rotor share one field.

    Raises
    ------
    SolveError
        If a field finds no solution.
    """
    solve = lru_cache(maxsize=None)(field_of)
    rows: list[Row] = []
    for number, design in enumerate(designs, 1):
        tell(design.title)
        candidate = Candidate(_own_name(number, design, designs), design.winding, own=True)
        rows.append(wind(design, candidate, solve(design.magnets, design.rotor)))
    found = (AS_THEY_STAND, designs, _hash_of(designs, ()), None, tuple(rows))
    return WindingComparison(*found, tuple(dict.fromkeys(_remarks(rows))))


def _own_name(number: int, design: Design, designs: tuple[Design, ...]) -> str:
    """The title, with the file's name where another design has the same title, and its place where that is the same."""
    alike = [other for other in designs if other.title == design.title]
    if len(alike) == 1:
        return design.title
    if sum(other.name == design.name for other in alike) == 1:
        return f"{design.title} ({design.name})"
    return f"{design.title} ({design.name}, design {number})"


def _hash_of(designs: tuple[Design, ...], files: tuple[Path, ...]) -> str:
    """One design's own hash where nothing else counts, so that its results know each other."""
    parts = [design_hash(design) for design in designs]
    parts += [hashlib.sha256(file.read_bytes()).hexdigest() for file in files]
    return parts[0] if len(parts) == 1 else hashlib.sha256(" ".join(parts).encode()).hexdigest()[:16]


def _readable(design: Design, asked: tuple[Candidate, ...]) -> list[Candidate]:
    """Leave out numbers of phases that a path file does not have; refuse a file that has none of them."""
    faults = {id(candidate): _path_faults(design, candidate) for candidate in asked}
    sound = {candidate.winding.file for candidate in asked if not faults[id(candidate)]}
    bad = [c for c in asked if c.winding.file not in sound and c.winding.phases == design.winding.phases]
    if bad:
        raise DesignError([fault for candidate in bad for fault in faults[id(candidate)]])
    return _owned(design, [candidate for candidate in asked if not faults[id(candidate)]])


def _own_path(candidate: Candidate) -> bool:
    return candidate.own and candidate.winding.shape == "path"


def _owned(design: Design, sound: list[Candidate]) -> list[Candidate]:
    """Mark a path file as the user's own by the phases it has where it does not have the design's."""
    matched = {candidate.winding.file for candidate in sound if candidate.winding.phases == design.winding.phases}
    return [c if c.winding.file in matched else replace(c, own=True) for c in sound]


def _path_faults(design: Design, candidate: Candidate) -> list[Fault]:
    if candidate.winding.shape != "path":
        return []
    try:
        lay(candidate.winding, design.magnets.pole_pairs, design.wire)
    except DesignError as error:
        return [f if f.file else Fault("--path", f"{candidate.name}: {f.text}") for f in error.faults]
    return []


def _remarks(rows: Iterable[Row]) -> Iterator[str]:
    """What to say of windings of the user's own that give next to nothing by their pattern."""
    for row in rows:
        if isinstance(row, Wound) and row.candidate.own:
            total = factors(row.lay, row.candidate.winding, row.design.wire).total
            if abs(total) < WEAK:
                yield f"{row.candidate.name}: {weakness_text(total)}"


def _at_their_best(design: Design, field_map: FieldMap, rows: list[Row], tell: Tell) -> list[Row]:
    """Look for each shape's best once for all rows that share it; what is best where it is stays there."""
    found: dict[SearchKey, Found | None] = {}
    for row in rows:
        stated = row.candidate.winding
        key = search_key(stated.shape, stated.phases)
        if stated.shape != "path" and key not in found:
            tell(f"best {stated.shape}")
            found[key] = best_winding(design, stated, field_map)
    keys = [search_key(row.candidate.winding.shape, row.candidate.winding.phases) for row in rows]
    return [_better(design, row, found.get(key), field_map) for row, key in zip(rows, keys, strict=True)]


def _better(design: Design, row: Row, found: Found | None, field_map: FieldMap) -> Row:
    if found is None:
        return row
    stated = row.candidate.winding
    kept = replace(found.winding, phases=stated.phases, belts=stated.belts)
    moved = wind(design, replace(row.candidate, winding=whole_rounds(design, kept, field_map)), field_map)
    if isinstance(moved, NotWound) or isinstance(row, NotWound):
        return row if isinstance(moved, NotWound) else moved
    gains = moved.merits.power_w_s2_per_rad2 > row.merits.power_w_s2_per_rad2
    return replace(moved, before=row.merits, at_edge=found.at_edge) if gains else replace(row, before=row.merits)


def search_key(shape: str, phases: int) -> SearchKey:
    """What a shape's best radii and angles depend on: the room for a flat lay's belts goes with the phases too."""
    return (shape, 0) if shape in CROSSED_SHAPES else (shape, phases)


def steps(*, best: bool) -> int:
    """How often `compare_windings` tells what it does."""
    return 1 + (len({search_key(shape, phases) for shape, _ in LAYS for phases in PHASES}) if best else 0)

"""What a picture of a sweep shows: keys that vary as numbers or names, quantities, where the design itself stands."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats
from fieldrun.outputs.sweep_words import axis_label, named, short
from fieldrun.studies.sweep.choice import Choice
from fieldrun.studies.sweep.record import Sweep
from fieldrun.studies.sweep.values import Value, first_spelling

FEW_VALUES = 3
"""A key with so few numbers is drawn as groups if another one can be the axis."""

Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Varied:
    """A key that takes more than one value.

    Parameters
    ----------
    key : of the design file
    at : (points,) its number in the key's unit, or for a named key the place of its name; NaN where there is none
    names : of a named key, in the order of the plan; empty for numbers
    base : where the design itself stands, in the same terms; None where it stands nowhere on this scale
    """

    key: str
    at: Floats
    names: tuple[str, ...]
    base: float | None

    @property
    def label(self) -> str:
        """Words and unit for an axis."""
        return axis_label(self.key)

    @property
    def levels(self) -> Floats:
        """Its distinct values (levels,), ascending, in the terms of `at`."""
        return np.unique(self.at[~np.isnan(self.at)])

    @property
    def holds_base(self) -> bool:
        """Whether the design itself stands among its values."""
        return self.base is not None and bool(self.levels[0] <= self.base <= self.levels[-1])

    def name_at(self, level: float) -> str:
        """One of its values in short words."""
        return self.names[int(level)] if self.names else short(float(level))

    def named_at(self, level: float) -> str:
        """One of its values in words that say what it is a value of."""
        return self.names[int(level)] if self.names else named(self.key, float(level))


@dataclass(frozen=True, eq=False)
class View:
    """All that is drawn of a sweep.

    Parameters
    ----------
    sweep, choice : what was found, and what is best of it
    varied : keys that take more than one value, in the plan's order
    quantities : picks that are numbers and are not the same everywhere, the drawn one first
    constant : picks that are the same everywhere
    """

    sweep: Sweep
    choice: Choice
    varied: tuple[Varied, ...]
    quantities: tuple[str, ...]
    constant: tuple[str, ...]

    @property
    def drawn(self) -> str:
        """The quantity shown where there is room for one."""
        return self.quantities[0]

    @property
    def is_grid(self) -> bool:
        """Whether every combination of values is a point."""
        return self.sweep.plan.kind == "grid"

    @property
    def best(self) -> int | None:
        """The best point, if one was asked for and found."""
        first = self.choice.best[:1]
        return first[0].index if first and first[0].goal == self.choice.goals[0] else None

    @property
    def largest(self) -> bool | None:
        """Whether more of the drawn quantity is better; None if nobody said."""
        return self.choice.goals[0].largest if self.choice.goals else None

    def status(self, name: str) -> Mask:
        """(points,), which points became that."""
        return np.array([row.status == name for row in self.sweep.rows])

    def values(self, key: str) -> "np.ma.MaskedArray[Any, Any]":
        """(points,), a quantity in its key's unit, masked where there is none."""
        return self.sweep.column(key)


def view_of(sweep: Sweep, choice: Choice) -> View:
    """Work out what a picture shows."""
    written = json.loads(sweep.design.written)
    varied = [_varied(key, sweep.cells(key), _base(key, written)) for key in sweep.keys]
    first = [goal.key for goal in choice.goals]
    numeric = [key for key in dict.fromkeys([*first, *sweep.picks]) if sweep.is_numeric(key)]
    reach = {key: sweep.column(key) for key in numeric}
    moves = tuple(key for key in numeric if reach[key].min() != reach[key].max())
    constant = tuple(key for key in numeric if key not in moves)
    if first and first[0] in constant:
        moves, constant = (first[0], *moves), tuple(key for key in constant if key != first[0])
    return View(sweep, choice, tuple(v for v in varied if len(v.levels) > 1), moves or constant[:1], constant)


def _varied(key: str, cells: Sequence[Any], base: Value | None) -> Varied:
    filled = [base if cell is None else cell for cell in cells]
    if any(isinstance(cell, str) for cell in filled):
        return _named(key, [None if cell is None else _told(cell) for cell in filled], base)
    at = np.array([np.nan if cell is None else float(cell) for cell in filled])
    return Varied(key, at, (), float(base) if isinstance(base, int | float) else None)


def _named(key: str, cells: Sequence[str | None], base: Value | None) -> Varied:
    names = tuple(dict.fromkeys(cell for cell in cells if cell is not None))
    places = {name: float(place) for place, name in enumerate(names)}
    at = np.array([np.nan if cell is None else places[cell] for cell in cells])
    return Varied(key, at, names, None if base is None else places.get(_told(base)))


def _told(cell: Value) -> str:
    return cell if isinstance(cell, str) else short(float(cell))


def _base(key: str, written: Any) -> Value | None:
    """The design's own value of a key, as its resolved file has it; a list of speeds has no one value."""
    value = _found(key, written)
    if value is None and first_spelling(key) != key:
        radius = _found(first_spelling(key), written)
        value = 2 * radius if isinstance(radius, int | float) else None
    return value if isinstance(value, int | float | str) and not isinstance(value, bool) else None


def _found(key: str, written: Any) -> Any:
    table, _, name = key.partition(".")
    return written.get(table, {}).get(name)


def axes_and_groups(view: View) -> tuple[list[Varied], list[Varied]]:
    """Keys of a grid that are axes of numbers, and keys whose values are groups: names, or just a few numbers."""
    axes = [one for one in view.varied if not one.names]
    groups = [one for one in view.varied if one.names]
    while len(axes) > 1 and len(fewest(axes).levels) <= FEW_VALUES:
        few = fewest(axes)
        axes, groups = [one for one in axes if one is not few], [*groups, few]
    return axes, groups


def fewest(keys: Sequence[Varied]) -> Varied:
    """The key with the fewest values, the last of several."""
    return min(reversed(keys), key=lambda one: len(one.levels))

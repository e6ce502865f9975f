"""What a sweep found: one frozen record, rows in the plan's order."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from fieldrun.design.arrays import frozen_array
from fieldrun.design.model import Design
from fieldrun.studies.sweep.picks import Picked
from fieldrun.studies.sweep.plan import Plan
from fieldrun.studies.sweep.task import Status
from fieldrun.studies.sweep.values import Value


@dataclass(frozen=True)
class Row:
    """One point.

    Parameters
    ----------
    index : its place in the plan
    values : of the keys that vary; None where a table leaves the design's own
    picked : one for each pick, None where it does not apply; all None unless `status` is "ok"
    status : "ok", "infeasible" (no such machine can be built) or "failed" (no answer was found)
    reason : why not
    """

    index: int
    values: tuple[Value | None, ...]
    picked: tuple[Picked, ...]
    status: Status
    reason: str = ""


@dataclass(frozen=True, eq=False)
class Sweep:
    """Many designs from one file.

    Parameters
    ----------
    design : the file as it stands
    design_hash : its hash
    plan : which points
    picks : keys of the result
    rows : one for each point, in the plan's order
    kept : changes that held at every point: a frozen winding
    facts : mesh and error estimate of the design as it stands, for files
    """

    design: Design
    design_hash: str
    plan: Plan
    picks: tuple[str, ...]
    rows: tuple[Row, ...]
    kept: Mapping[str, Any]
    facts: Mapping[str, str]

    @property
    def name(self) -> str:
        """Of the design, as a result folder knows it."""
        return self.design.name

    @property
    def keys(self) -> tuple[str, ...]:
        """What varies."""
        return self.plan.keys

    @property
    def shape(self) -> tuple[int, ...]:
        """Of a grid, one length for each key, the first outermost: `column(...).reshape(shape)`; else (points,)."""
        return self.plan.shape

    def cells(self, key: str) -> tuple[Picked, ...]:
        """Every point's value of a key that varies or is picked.

        Raises
        ------
        KeyError
            If the sweep has no such column.
        """
        if key in self.keys:
            place = self.keys.index(key)
            return tuple(row.values[place] for row in self.rows)
        if key not in self.picks:
            raise KeyError(key)
        place = self.picks.index(key)
        return tuple(row.picked[place] for row in self.rows)

    def column(self, key: str) -> "np.ma.MaskedArray[tuple[int], np.dtype[np.float64]]":
        """The same as numbers, (points,) in the key's unit; masked where there is none, or a word."""
        cells = self.cells(key)
        absent = [not _is_number(cell) for cell in cells]
        numbers = [0.0 if none else float(cell or 0) for cell, none in zip(cells, absent, strict=True)]
        return np.ma.masked_array(frozen_array(np.array(numbers)), absent)

    def is_numeric(self, key: str) -> bool:
        """Whether a column has numbers and no words."""
        cells = [cell for cell in self.cells(key) if cell is not None]
        return bool(cells) and all(_is_number(cell) for cell in cells)

    def of_status(self, status: Status) -> tuple[Row, ...]:
        """The points of which this became."""
        return tuple(row for row in self.rows if row.status == status)


def _is_number(cell: Picked) -> bool:
    return isinstance(cell, int | float) and not isinstance(cell, bool)

"""Many gaps of a family without steel: a few are solved first, and from them it is known where the others end up."""

from collections.abc import Iterator, Sequence

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.field.ring_family import Lower, gap_potential, solve_gaps

AT_ONCE = 8
"""Gaps solved side by side: their arrays still fit the processor's cache."""

Solved = Floats | SolveError
"""A potential, or why there is none."""


def gap_by_gap(lower: Lower, lines: Sequence[Floats], counts: Sequence[int]) -> Iterator[Solved]:
    """The potential over the face at each gap, in order; what fails beside others gets a try alone.

    Parameters
    ----------
    lower : the family
    lines, counts : lines of the mesh over the face [m] and number of harmonics, for each gap; gaps ascending

    Yields
    ------
    (n, r, z) over the nodes of the lines [A], or a gap's error.
    """
    ahead = _spread(len(lines))
    answers, loads = _together(lower, [lines[one] for one in ahead], [counts[one] for one in ahead])
    found = dict(zip(ahead, answers, strict=True))
    known = np.array([lines[one][-1] for one in ahead])
    for index in range(len(lines)):
        if index not in found:
            some = [one for one in range(index, len(lines)) if one not in ahead][:AT_ONCE]
            chosen = [lines[one] for one in some]
            start = None if loads is None else foretold(known, loads, np.array([one[-1] for one in chosen]))
            answers, _ = _together(lower, chosen, [counts[one] for one in some], start)
            found |= zip(some, answers, strict=True)
        yield found.pop(index)


def _spread(count: int) -> list[int]:
    """Which gaps are solved first: all of a few; of many a few, closer together towards both ends."""
    if count <= AT_ONCE:
        return list(range(count))
    places = (1 - np.cos(np.linspace(0, np.pi, AT_ONCE))) / 2 * (count - 1)
    return sorted({round(float(place)) for place in places})


def _together(
    lower: Lower, lines: Sequence[Floats], counts: Sequence[int], start: Floats | None = None
) -> tuple[list[Solved], Floats | None]:
    """Answers of some gaps, and their loads if they were found side by side."""
    try:
        solution = solve_gaps(lower, lines, counts, start)
    except SolveError as error:
        if len(lines) == 1:
            return [error], None
        return [_together(lower, [gap], [count])[0][0] for gap, count in zip(lines, counts, strict=True)], None
    return [gap_potential(solution, index) for index in range(len(lines))], solution.load


def foretold(known_m: Floats, loads: Floats, asked_m: Floats) -> Floats | None:
    """Loads at other gaps: Lagrange's polynomial in the gap's logarithm through the known ones.

    Parameters
    ----------
    known_m, asked_m : (k,), (g,) heights of the mesh over the face at the gaps that are solved, and at the others [m]
    loads : (r, n, k, z) at the known ones [A m]

    Returns
    -------
    (r, n, g, z) at the others [A m]; None if two of the known ones are the same gap
    """
    known, asked = np.log(known_m), np.log(asked_m)
    apart = np.subtract.outer(known, known) + np.eye(len(known))
    if np.any(apart == 0):
        return None
    away = np.subtract.outer(asked, known)
    shares = [np.prod(np.delete(away, i, 1), axis=1) / np.prod(apart[i]) for i in range(len(known))]
    return np.asarray(np.stack(shares, 1) @ loads)

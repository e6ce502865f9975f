"""Which pieces meet at which angle: turned copies counted once, so that a whole winding needs few pairs of pieces.

Pieces of one form and one height make a family, and the angles at which they stand make its comb. Families of a regular
winding share a few combs, each repeats with the pole pairs, and only differences of angles matter.
"""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import Distinct

SAME_ANGLE = 1e-9
"""Angles that differ by less [rad] are one: a hundred thousandth of a hair's breadth on any ring."""

SLACK = 1e-7
"""Comfort distance [rad] from where an angle is wrapped, so that rounding does not decide on which side it falls."""


@dataclass(frozen=True, eq=False)
class Families:
    """Pieces of one phase, grouped by form and height.

    Parameters
    ----------
    form : (f,) number of the distinct form that all of a family are turned and lifted copies of
    height_m : (f,) where they start [m]
    angle : (f,) where the first of them starts [rad]
    comb : (f,) number of the comb on which they stand
    combs : angles (t,) of each comb, from its first tooth, ascending within one turn [rad]
    """

    form: Ints
    height_m: Floats
    angle: Floats
    comb: Ints
    combs: tuple[Floats, ...]

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("form", "comb"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))
        for name in ("height_m", "angle"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        object.__setattr__(self, "combs", tuple(frozen_array(comb) for comb in self.combs))

    @property
    def sizes(self) -> Ints:
        """Pieces in each family, (f,)."""
        return np.array([len(comb) for comb in self.combs])[self.comb]


def lowered(pieces: Pieces) -> Pieces:
    """The same pieces, each starting at height 0."""
    start, end = pieces.start.copy(), pieces.end.copy()
    end[:, 2] -= start[:, 2]
    start[:, 2] = 0.0
    return Pieces(pieces.kind, start, end, pieces.phase, pieces.loop)


def families(pieces: Pieces, forms: Distinct, phase: int) -> Families:
    """Group the pieces of a phase.

    Parameters
    ----------
    pieces : every conductor
    forms : what is distinct among them once they are lowered
    phase : 0-based
    """
    chosen = np.flatnonzero(pieces.phase == phase)
    form, height = forms.which[chosen], np.round(pieces.start[chosen, 2], 12)
    angle = np.mod(pieces.start[chosen, 1] + SLACK, 2 * np.pi) - SLACK
    order = np.lexsort((angle, height, form))
    form, height, angle = form[order], height[order], angle[order]
    new = np.flatnonzero(np.r_[True, (np.diff(form) != 0) | (np.diff(height) != 0)])
    known: dict[bytes, int] = {}
    first, combs = zip(*(_from_widest_gap(own) for own in np.split(angle, new[1:])), strict=True)
    number = [known.setdefault(np.round(comb / SAME_ANGLE).astype(np.int64).tobytes(), len(known)) for comb in combs]
    kept = tuple(combs[number.index(i)] for i in range(len(known)))
    return Families(form[new], height[new], np.array(first), np.array(number), kept)


def _from_widest_gap(angle: Floats) -> tuple[float, Floats]:
    """Let a comb begin after its widest gap, so that turned copies of one comb begin alike: first angle and comb."""
    gap = np.round((angle - np.roll(angle, 1)) / SAME_ANGLE)
    gap[0] += 2 * np.pi / SAME_ANGLE
    first = float(angle[np.argmax(gap > gap.max() - 2)])
    return first, np.sort(np.mod(angle - first + SLACK, 2 * np.pi) - SLACK)


def repeats(comb: Floats, times: int) -> bool:
    """Whether a comb of angles (t,) [rad] is the same after each `times`-th part of a turn."""
    if len(comb) % times:
        return False
    tooth = np.sort(np.mod(comb + SLACK, 2 * np.pi / times)).reshape(-1, times)
    return bool(np.all(np.ptp(tooth, axis=1) < SAME_ANGLE))


def differences(a: Floats, b: Floats, pole_pairs: int) -> tuple[Floats, Floats]:
    """Angles from every tooth of comb `a` to every tooth of comb `b`, each once, and how often it occurs.

    Parameters
    ----------
    a, b : (t,) angles of two combs [rad]
    pole_pairs : if both repeat so many times, one part of `a` stands for all

    Returns
    -------
    (k,) angles, ascending within one turn [rad], and (k,) how often each occurs
    """
    times = pole_pairs if repeats(a, pole_pairs) and repeats(b, pole_pairs) else 1
    part = a[a + SLACK < 2 * np.pi / times]
    turn = np.mod(np.subtract.outer(b, part).ravel() + SLACK, 2 * np.pi) - SLACK
    turn.sort()
    new = np.flatnonzero(np.r_[True, np.diff(turn) > SAME_ANGLE])
    return turn[new], times * np.diff(np.r_[new, len(turn)]).astype(float)


def turned_copies(pieces: Pieces, whole: Distinct, shift: float, phases: int) -> bool:
    """Whether every phase is the first one turned by `shift` [rad] more than the phase before it.

    Parameters
    ----------
    pieces, whole : every conductor, and what is distinct among them
    shift : from phase to phase [rad]
    phases : number of phases
    """
    first = _places(pieces, whole, 0, 0.0)
    return all(_alike(first, _places(pieces, whole, phase, -phase * shift)) for phase in range(1, phases))


def _places(pieces: Pieces, whole: Distinct, phase: int, turned: float) -> tuple[Ints, Floats]:
    chosen = np.flatnonzero(pieces.phase == phase)
    which, angle = whole.which[chosen], np.mod(pieces.start[chosen, 1] + turned + SLACK, 2 * np.pi)
    order = np.lexsort((angle, which))
    return which[order], angle[order]


def _alike(a: tuple[Ints, Floats], b: tuple[Ints, Floats]) -> bool:
    return np.array_equal(a[0], b[0]) and bool(np.all(np.abs(a[1] - b[1]) < SAME_ANGLE))

"""Which forms meet at which lift and turn, each meeting once: what a sum over all pairs of pieces comes down to."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats, Ints
from fieldrun.winding.combs import SAME_ANGLE, Families, differences
from fieldrun.winding.filaments import Filaments
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.thinned import spread_lifts, thinned_turns

SAME_RADIUS_M = 1e-9
"""Arcs whose radii differ by less lie on one circle."""

SAME_LIFT_M = 1e-11
"""Lifts that differ by less are one."""


@dataclass(frozen=True)
class Image:
    """A mirrored winding: a height z becomes `sign` z + `shift_m`; currents along the plane keep their direction."""

    sign: int = 1
    shift_m: float = 0.0


ITSELF = Image()
"""The winding where it is."""


@dataclass(frozen=True, eq=False)
class Meetings:
    """Pairs of forms: form `b`, mirrored if `sign` is -1, lifted and turned over form `a`, and how often that occurs.

    All arrays are (k,); `lift` [m], `turn` [rad].
    """

    a: Ints
    b: Ints
    sign: Ints
    lift: Floats
    turn: Floats
    weight: Floats


def meetings_of(filaments: Filaments, a: Families, b: Families, pole_pairs: int) -> Meetings:
    """All meetings of two phases, or of a phase with itself, where they are.

    Parameters
    ----------
    filaments : of the forms
    a, b : families of the two phases
    pole_pairs : how often the winding may repeat
    """
    rows, weight = _merged(_rows(filaments, a, b, ITSELF))
    return _all_turns(rows, weight, lambda i, j, _: differences(a.combs[i], b.combs[j], pole_pairs))


def image_meetings(
    filaments: Filaments, a: Families, b: Families, images: tuple[Image, ...], pole_pairs: int
) -> Meetings:
    """Meetings of a phase with images of another, thinned out: from a distance nobody needs every one of them.

    Parameters
    ----------
    filaments : of the forms
    a, b : families of the two phases
    images : of the second, none of them as near as a wire's diameter
    pole_pairs : how often the winding may repeat
    """
    rows, weight = _merged(np.concatenate([_rows(filaments, a, b, image) for image in images]))
    rows, spread = spread_lifts(rows, weight)
    reach = float(np.max(np.hypot(*filaments.ends[0, :2])))

    nearest = float(np.min(np.abs(rows[:, 5])))

    @cache
    def enough(i: int, j: int) -> tuple[Floats, Floats]:
        return thinned_turns(*differences(a.combs[i], b.combs[j], pole_pairs), nearest / reach)

    def turns(i: int, j: int, lift: float) -> tuple[Floats, Floats]:
        return thinned_turns(*enough(i, j), abs(lift) / reach)

    return _all_turns(rows, spread, turns)


def _all_turns(rows: Floats, weight: Floats, turns: Callable[[int, int, float], tuple[Floats, Floats]]) -> Meetings:
    """Unfold every row, a family over a family, into the turns of its combs."""
    keys = [(int(i), int(j), float(lift)) for i, j, lift in rows[:, 3:6]]
    table = {key: turns(*key) for key in set(keys)}
    many = np.array([len(table[key][0]) for key in keys])
    turn = np.concatenate([table[key][0] for key in keys]) + np.repeat(rows[:, 6], many)
    often = np.concatenate([table[key][1] for key in keys]) * np.repeat(weight, many)
    a, b, sign = np.repeat(rows[:, :3].astype(np.int64), many, axis=0).T
    return Meetings(a, b, sign, np.repeat(rows[:, 5], many), turn, often)


def _rows(filaments: Filaments, a: Families, b: Families, image: Image) -> Floats:
    """Every family with every family, but for those that do not couple: form, form, sign, comb, comb, lift [m], turn.

    Level forms are the same upside down, so that their lift and their mirror have no sign.
    """
    i, j = (index.ravel() for index in np.indices((len(a.form), len(b.form))))
    level_a, level_b = filaments.level[a.form[i]], filaments.level[b.form[j]]
    upright_a, upright_b = filaments.upright[a.form[i]], filaments.upright[b.form[j]]
    square = (upright_a * level_b + upright_b * level_a).astype(bool)
    i, j, level = i[~square], j[~square], (level_a * level_b).astype(bool)[~square]
    lift = image.sign * b.height_m[j] + image.shift_m - a.height_m[i]
    sign = np.where(level, 1, image.sign)
    lift = np.where(level, np.abs(lift), lift)
    return np.column_stack([a.form[i], b.form[j], sign, a.comb[i], b.comb[j], lift, b.angle[j] - a.angle[i]])


def _merged(rows: Floats) -> tuple[Floats, Floats]:
    """Rows that are alike, once each, and how many there were."""
    keys = np.round(rows / [1, 1, 1, 1, 1, SAME_LIFT_M, SAME_ANGLE]).astype(np.int64)
    order = np.lexsort(keys.T)
    sorted_keys = keys[order]
    new = np.flatnonzero(np.r_[True, np.any(np.diff(sorted_keys, axis=0) != 0, axis=1)])
    return rows[order[new]], np.diff(np.r_[new, len(rows)]).astype(float)


def without_selves(meetings: Meetings, pieces: Floats) -> Meetings:
    """Take out that each of so many `pieces` (forms,) of every form meets itself; copies on top of each other stay."""
    nowhere = np.abs(_wrapped(meetings.turn)) < 2 * SAME_ANGLE
    same = (meetings.a == meetings.b) & (meetings.lift == 0) & nowhere
    weight = meetings.weight
    met = np.bincount(meetings.a[same], weight[same], len(pieces))[meetings.a]
    weight = np.where(same, weight * (1 - pieces[meetings.a] / np.maximum(met, 1)), weight)
    return kept(replace(meetings, weight=weight), weight > SAME_ANGLE)


def bundled(forms: Pieces, apart_m: Floats, meetings: Meetings) -> Meetings:
    """Let arcs that are drawn along each other on one circle keep the distance they have in their bundle.

    Parameters
    ----------
    forms : of which the meetings are
    apart_m : (forms,) that distance [m]; 0 for what is no such arc
    meetings : to be lifted where they are nearer than that
    """
    a, b, own_turn = meetings.a, meetings.b, forms.end[:, 1]
    middle = _wrapped(meetings.turn + (own_turn[b] - own_turn[a]) / 2)
    overlap = np.abs(middle) < (np.abs(own_turn[a]) + np.abs(own_turn[b])) / 2 - SAME_ANGLE
    circle = np.abs(forms.start[a, 0] - forms.start[b, 0]) < SAME_RADIUS_M
    near = circle & overlap & (np.abs(meetings.lift) < apart_m[a]) & (apart_m[b] > 0)
    return replace(meetings, lift=np.where(near, apart_m[a], meetings.lift))


def _wrapped(angle: Floats) -> Floats:
    return np.asarray(np.mod(angle + np.pi, 2 * np.pi) - np.pi)


def kept(meetings: Meetings, chosen: NDArray[np.bool_] | Ints) -> Meetings:
    """Pick meetings by number, (c,), or by mask, (k,)."""
    return Meetings(**{field.name: getattr(meetings, field.name)[chosen] for field in fields(meetings)})

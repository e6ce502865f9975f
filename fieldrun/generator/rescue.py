"""A phase wound on too far round the ring: how much it gives away, where to stop instead, and how to save it.

Rounds side by side add up like vectors. A belt of 180 electrical degrees gives the most volts, one of 133.6 the most
watts (EMF^2/R, where tan(b/2) = b), and one that goes all the way round gives nothing. A ring that has been wound full
can be opened: at half of its rounds, with the second half joined the other way round; or in thirds, as three phases.
"""

from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Complexes
from fieldrun.design.model import Winding
from fieldrun.field.field_map import FieldMap
from fieldrun.generator.emf import emf_harmonics, fundamental_only
from fieldrun.winding.lay import Lay


@dataclass(frozen=True)
class Rescue:
    """What another way of joining the same rounds would give; EMF per speed, effective value [V s/rad].

    Parameters
    ----------
    rounds : side by side in the belt of each layer
    as_wound : EMF of the phase as it is
    best_rounds : how many of them give the most EMF^2/R, stopped in time
    best : their EMF
    open_after : round of each layer after which to open it
    halves : EMF with what follows joined the other way round
    thirds_after : rounds after which to open it for three phases
    thirds : EMF of the weakest of the three
    """

    rounds: int
    as_wound: float
    best_rounds: int
    best: float
    open_after: int
    halves: float
    thirds_after: tuple[int, int]
    thirds: float


def rescue_of(field_map: FieldMap, laid: Lay, winding: Winding) -> Rescue | None:
    """How to save a single phase whose belt is so wide that its second half works against its first.

    Parameters
    ----------
    field_map : the rotor's field
    laid, winding : the winding; parallel groups and strands in series play no part in the comparison

    Returns
    -------
    None where nothing is to be saved: more phases, two belts, a path, a single round, or a belt whose halves agree
    """
    count = laid.rounds_per_group
    if winding.phases > 1 or winding.belts > 1 or winding.shape == "path" or count < 2:
        return None
    rounds = _side_by_side(field_map, laid, winding)
    half = round(count / 2)
    first, second = rounds[:half].sum(), rounds[half:].sum()
    if abs(first - second) <= abs(first + second):
        return None
    power = np.abs(np.cumsum(rounds)) ** 2 / (np.arange(count) + 1)
    best = int(np.argmax(power))
    cuts = (round(count / 3), round(2 * count / 3))
    return Rescue(
        rounds=count,
        as_wound=_effective(rounds.sum()),
        best_rounds=best + 1,
        best=_effective(rounds[: best + 1].sum()),
        open_after=half,
        halves=_effective(first - second),
        thirds_after=cuts,
        thirds=min(_effective(part.sum()) for part in np.split(rounds, cuts)),
    )


def _effective(amplitude: complex) -> float:
    return float(abs(amplitude) / np.sqrt(2))


def _side_by_side(field_map: FieldMap, laid: Lay, winding: Winding) -> Complexes:
    """Fundamental of each place in the belt, all layers together, (rounds,)."""
    pieces = laid.pieces
    per_round = pieces.count // (winding.layers * laid.rounds_per_group)
    place = (np.arange(pieces.count) // per_round) % laid.rounds_per_group
    return emf_harmonics(fundamental_only(field_map), replace(pieces, phase=place), laid.rounds_per_group)[:, 0]

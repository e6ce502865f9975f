"""A winding taken apart into its rounds, so that it can be put together again with a mistake in it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Complexes, Floats, Ints, frozen_array
from fieldrun.design.model import Design
from fieldrun.field.field_map import FieldMap
from fieldrun.generator.emf import emf_harmonics
from fieldrun.generator.result import RunResult
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import Pieces, lengths

Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Rounds:
    """Every round of a winding, in the order it is wound; a path's rounds are its loops.

    Parameters
    ----------
    of_piece : (m,) which round each piece of the lay belongs to
    phase : (r,) phase of each round
    layer, belt : (r,) which layer and belt of its phase; 0 for a path
    place : (r,) which of the rounds side by side; of a path, which of all
    metres : (r,) length of wire [m]
    """

    of_piece: Ints
    phase: Ints
    layer: Ints
    belt: Ints
    place: Ints
    metres: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("of_piece", "phase", "layer", "belt", "place"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))
        object.__setattr__(self, "metres", frozen_array(self.metres))

    @property
    def count(self) -> int:
        """Rounds of all phases."""
        return len(self.phase)


def rounds_of(laid: Lay, design: Design) -> Rounds:
    """Take a winding apart. Loops follow each other by phase, belt, layer and round, p closed loops to a round."""
    _, loop = np.unique(laid.pieces.loop, return_inverse=True)
    phase_of_loop = laid.pieces.phase[np.unique(loop, return_index=True)[1]]
    a_phase = int(np.sum(phase_of_loop == 0))
    per_round = a_phase // laid.rounds_per_phase if a_phase % laid.rounds_per_phase == 0 else 1
    of_piece = loop // per_round
    phase = phase_of_loop[::per_round]
    within = np.arange(len(phase)) % (a_phase // per_round)
    winding, group = design.winding, max(1, laid.rounds_per_group)
    path = winding.shape == "path"
    return Rounds(
        of_piece=of_piece,
        phase=phase,
        layer=0 * within if path else within // group % winding.layers,
        belt=0 * within if path else within // (group * winding.layers),
        place=within if path else within % group,
        metres=np.bincount(of_piece, lengths(laid.pieces), len(phase)).astype(float),
    )


def first_rounds(rounds: Rounds) -> Bools:
    """The round that is wound first in every layer of the first phase, (r,)."""
    return np.asarray((rounds.phase == 0) & (rounds.belt == 0) & (rounds.place == 0))


def one_round(result: RunResult) -> Complexes:
    """EMF amplitudes per speed of one round alone, its wire's strands joined as in the whole, (n,) [V s/rad].

    The first of a layer, mean of all layers: nobody knows in which the one that is measured lies. It is more than its
    share of the phase, whose rounds stand side by side and are not all at their best at once.
    """
    rounds, pieces = rounds_of(result.lay, result.design), result.paths
    first = first_rounds(rounds)
    here = first[rounds.of_piece]
    kept = {name: getattr(pieces, name)[here] for name in ("kind", "start", "end", "phase", "loop")}
    strands = result.design.wire.strands_in_series
    return np.asarray(strands * emf_harmonics(result.field_map, Pieces(**kept), 1)[0] / np.sum(first))


def round_harmonics(field_map: FieldMap, pieces: Pieces, rounds: Rounds) -> Complexes:
    """EMF amplitudes per speed of every round by itself, (r, n) [V s/rad]."""
    return emf_harmonics(field_map, replace(pieces, phase=rounds.of_piece), rounds.count)

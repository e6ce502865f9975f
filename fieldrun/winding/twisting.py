"""A bundle twisted at home: what a bench gives, how often the drill turns, where pieces are joined in the winding."""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.making import Cutting
from fieldrun.design.model import Winding, Wire
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import lengths

HAIR = 1e-9
"""A piece that lacks no more than this part of a round holds it."""


@dataclass(frozen=True)
class Joint:
    """Where one piece of bundle ends and the next begins: after so many whole rounds and turns of the next round.

    A turn goes round one pair of poles; a round has as many as there are pole pairs.
    """

    rounds: int
    turns: int


@dataclass(frozen=True)
class Twisting:
    """How to make the bundle of a winding on a bench.

    Parameters
    ----------
    bench_m : distance between the two holding points before twisting [m]
    passes : how often the single wire goes from post to post for one piece: one pass a strand
    drill_turns : whole turns that the finished piece holds
    piece_m : length of one piece between the posts once twisted; the difference to `bench_m` is how far one post gives
        way [m]
    usable_m : of it, what goes into the winding: less a tail at each end [m]
    rounds_per_piece : whole rounds that one piece gives; 0 if it gives less
    pieces_per_phase : pieces that a phase takes
    joints : where they meet in a phase; empty also if a piece gives less than one turn
    joints_in_legs : a piece gives less than one turn, so that joints would lie among the legs
    wire_per_piece_m, wire_m : single wire to unreel for one piece, and for all phases, spare included [m]
    """

    bench_m: float
    passes: int
    drill_turns: int
    piece_m: float
    usable_m: float
    rounds_per_piece: int
    pieces_per_phase: int
    joints: tuple[Joint, ...]
    joints_in_legs: bool
    wire_per_piece_m: float
    wire_m: float


def twisting(laid: Lay, winding: Winding, wire: Wire, cutting: Cutting) -> Twisting | None:
    """Plan a bundle twisted at home; None for any other wire.

    Strands keep their length when twisted, so that a piece shortens to bench / take-up. Pieces are joined at the end
    of a round, or of a turn (one pair of poles) where a piece gives no whole round; links between rounds are left to
    the spare.

    Parameters
    ----------
    laid, winding, wire : the winding; all rounds of a phase count as equally long
    cutting : tails and spare

    Raises
    ------
    ValueError
        If the tails leave nothing of a piece (the reader refuses such a bench).
    """
    if wire.bench_m is None or wire.lay_m is None:
        return None
    piece = wire.bench_m / wire.length_factor
    usable = piece - 2 * cutting.tail_m
    if usable <= 0:
        raise ValueError(f"a piece of {piece:g} m leaves nothing between two tails of {cutting.tail_m:g} m")
    phase_m = float(np.sum(lengths(laid.pieces))) / winding.phases
    turns_per_round = 1 if winding.shape == "path" else laid.pole_pairs
    joints, pieces = _joints(usable / phase_m, laid.rounds_per_phase, turns_per_round)
    per_piece = wire.strands * wire.bench_m * (1 + cutting.spare)
    return Twisting(
        bench_m=wire.bench_m,
        passes=wire.strands,
        drill_turns=round(piece / wire.lay_m),
        piece_m=piece,
        usable_m=usable,
        rounds_per_piece=min(_whole(usable / phase_m * laid.rounds_per_phase), laid.rounds_per_phase),
        pieces_per_phase=pieces,
        joints=joints,
        joints_in_legs=pieces > 1 and not joints,
        wire_per_piece_m=per_piece,
        wire_m=per_piece * pieces * winding.phases,
    )


def _joints(share: float, rounds: int, turns: int) -> tuple[tuple[Joint, ...], int]:
    """Joints of a phase and its pieces, by the share of a phase that a piece gives, rounds, and turns of a round."""
    step = _whole(share * rounds) * turns or _whole(share * rounds * turns)
    if step == 0:
        return (), math.ceil(1 / share)
    after = range(step, rounds * turns, step)
    return tuple(Joint(*divmod(done, turns)) for done in after), len(after) + 1


def _whole(number: float) -> int:
    return math.floor(number * (1 + HAIR))

"""A machine as it may have been built and read: what the terminals would show is worked out from this."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, frozen_array
from fieldrun.design.model import Connection
from fieldrun.field.field_map import FieldMap
from fieldrun.field.solve import field_of
from fieldrun.generator.result import RunResult
from fieldrun.studies.deviations import as_drawn
from fieldrun.studies.measured.rounds import Rounds, first_rounds, round_harmonics, rounds_of


@dataclass(frozen=True, eq=False)
class Parts:
    """What guesses are put together from.

    Parameters
    ----------
    result : the machine as drawn, answered
    rounds : its winding taken apart
    harmonics : (r, n) EMF amplitude per speed of every round alone [V s/rad]
    """

    result: RunResult
    rounds: Rounds
    harmonics: Complexes

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "harmonics", frozen_array(self.harmonics, np.complex128))

    @property
    def scale(self) -> float:
        """Terminals over the sum of rounds: strands in series, groups of rounds in parallel."""
        return self.result.design.wire.strands_in_series / self.result.design.winding.parallel

    def summed(self, weight: Floats) -> Complexes:
        """Amplitudes at the terminals with every round counted by a weight (r,): (phases, n) [V s/rad]."""
        phases = self.result.design.winding.phases
        member = self.rounds.phase == np.arange(phases)[:, None]
        return np.asarray(self.scale * (member * weight) @ self.harmonics)

    @property
    def one_round(self) -> Complexes:
        """One round as its wire's strands are joined, (n,): the first of a layer, mean of all layers [V s/rad]."""
        first = first_rounds(self.rounds)
        return np.asarray(self.result.design.wire.strands_in_series * self.harmonics[first].mean(axis=0))


@dataclass(frozen=True, eq=False)
class Guess:
    """One way the machine may have been built, or the readings taken.

    Parameters
    ----------
    key : stable name, for programs
    text : what happened, to follow "It may be that"
    amplitudes : (phases, n) open-circuit EMF per speed at the terminals [V s/rad]; the first phase is the one measured
    one_round : (n,) the same of one round, its wire's strands joined as in the whole [V s/rad]
    ohm : (phases,) ohms over those as drawn [1]
    connection : how the phases are joined
    shown : what each kind of reading really was: (kind, factor); itself where absent
    speed : true speed over the one written, by column
    """

    key: str
    text: str
    amplitudes: Complexes
    one_round: Complexes
    ohm: Floats
    connection: Connection
    shown: Mapping[str, tuple[str, float]] = field(default_factory=dict)
    speed: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "amplitudes", frozen_array(self.amplitudes, np.complex128))
        object.__setattr__(self, "one_round", frozen_array(self.one_round, np.complex128))
        object.__setattr__(self, "ohm", frozen_array(self.ohm))


def parts_of(result: RunResult) -> Parts:
    """Take a machine apart."""
    rounds = rounds_of(result.lay, result.design)
    return Parts(result, rounds, round_harmonics(result.field_map, result.paths, rounds))


def drawn(parts: Parts) -> Guess:
    """The machine as the design says, read as the kinds say."""
    result = parts.result
    return Guess(
        key="as_drawn",
        text="all is as drawn",
        amplitudes=result.emf.amplitudes,
        one_round=parts.one_round,
        ohm=np.ones(len(result.emf.amplitudes)),
        connection=result.design.winding.connection,
    )


def scaled(guess: Guess, factor: Complexes) -> Guess:
    """The same in magnets whose field induces `factor` (n,) times as much."""
    return replace(guess, amplitudes=guess.amplitudes * factor, one_round=guess.one_round * factor)


def lower_alone(parts: Parts) -> Complexes:
    """Harmonics of every round in the field of the lower face's magnets alone, (r, n) [V s/rad].

    The upper magnets are replaced by air: their recoil permeability is nearly that of air, and the steel behind them
    stays. Harmonics that the map with both faces has not are left out.

    Raises
    ------
    SolveError
        If the steel's flux does not converge.
    """
    magnets, rotor = as_drawn(parts.result.design).magnets, parts.result.design.rotor
    if rotor.faces == 1:
        return parts.harmonics
    gap = None if rotor.backing is None or rotor.gap_m is None else rotor.gap_m + magnets.thickness_m
    alone = replace(rotor, faces=1, gap_m=gap, return_plate=rotor.backing if gap is not None else None)
    return aligned(field_of(magnets, alone), parts)


def aligned(field_map: FieldMap, parts: Parts, lift_m: float = 0.0) -> Complexes:
    """Harmonics (r, n) [V s/rad] of every round in another field, the winding lifted by `lift_m` [m].

    In the parts' orders; zero for an order that the field lacks.

    Raises
    ------
    ValueError
        If a lifted conductor leaves the heights of the map.
    """
    pieces, up = parts.result.paths, np.array([0.0, 0.0, lift_m])
    found = round_harmonics(field_map, replace(pieces, start=pieces.start + up, end=pieces.end + up), parts.rounds)
    out = np.zeros_like(parts.harmonics)
    for index, order in enumerate(parts.result.emf.orders):
        same = np.flatnonzero(field_map.orders == order)
        out[:, index] = found[:, same[0]] if len(same) else 0.0
    return out

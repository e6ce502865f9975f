"""Mistakes in winding and magnets, each put together from the real rounds: what it does to volts and ohms.

A round that starts one pole pitch off, or is wound the other way, meets the opposite field: odd harmonics all change
their sign. A magnet turned over adds twice its own field the other way: a winding that repeats every pole pair sums the
ring, and keeps of one magnet's field the N-th part of the face's odd harmonics. Even harmonics come in by as much as
one magnet's share; they add to an effective value by the square of that and are left out.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.studies.measured.guess import Guess, Parts, drawn, lower_alone

if TYPE_CHECKING:
    from fieldrun.design.model import Connection

OFF = (1, 2)
"""So many rounds are miscounted, or lie a pole pitch off."""

BROKEN = (1, 2, 3)
"""So many strands of a bundle are broken."""


def winding_faults(parts: Parts) -> list[Guess]:
    """Every mistake in winding or magnets that this machine can have.

    Raises
    ------
    SolveError
        If the steel's flux of one face alone does not converge.
    """
    lower = replace(parts, harmonics=lower_alone(parts))
    return [
        *_miscounted(parts),
        *_one_in_each_layer(parts),
        *_a_pole_pitch_off(parts),
        *_backwards(parts),
        *_magnet_turned(parts, lower),
        *_like_poles(parts, lower),
        *_phase_reversed(parts),
        *_joined(parts),
        *_strands_broken(parts),
        *_strands_joined(parts),
    ]


def _guess(parts: Parts, key: str, text: str, amplitudes: Complexes, ohm: Floats | None = None) -> Guess:
    base = drawn(parts)
    return replace(base, key=key, text=text, amplitudes=amplitudes, ohm=base.ohm if ohm is None else ohm)


def _s(count: int) -> str:
    return "s" if count > 1 else ""


def _miscounted(parts: Parts) -> Iterator[Guess]:
    """One or two rounds more or fewer in every phase, the last of each phase left out or followed by others."""
    rounds, result = parts.rounds, parts.result
    each = rounds.count // len(result.emf.amplitudes)
    place = np.arange(rounds.count) % each
    emf, whole = parts.summed(np.ones(rounds.count)), rounds.metres[:each].sum()
    step = result.emf.pole_pairs * result.emf.orders * result.lay.step_rad
    for off in OFF:
        last = place >= each - off
        if off < each:
            fewer = emf - parts.summed(last.astype(float))
            less = 1 - rounds.metres[:each][last[:each]].sum() / whole
            text = f"every phase has {off} round{_s(off)} fewer than the drawing's {each}"
            yield _guess(parts, f"rounds_{off}_fewer", text, fewer, np.full(len(emf), less))
        beyond = parts.summed((place == each - 1).astype(float))
        more = emf + sum(beyond * np.exp(1j * step * i) for i in range(1, off + 1))
        ohm = np.full(len(emf), 1 + off * rounds.metres[each - 1] / whole)
        text = f"every phase has {off} round{_s(off)} more than the drawing's {each}"
        yield _guess(parts, f"rounds_{off}_more", text, more, ohm)


def _one_in_each_layer(parts: Parts) -> Iterator[Guess]:
    """One round more or fewer wherever rounds lie side by side: miscounted once, and wound so in every layer."""
    rounds, result, winding = parts.rounds, parts.result, parts.result.design.winding
    groups = winding.layers * winding.belts
    if winding.shape == "path" or groups in {1, *OFF}:
        return
    each = rounds.count // len(result.emf.amplitudes)
    last = rounds.place == rounds.place.max()
    emf, lasts = parts.summed(np.ones(rounds.count)), parts.summed(last.astype(float))
    share = rounds.metres[:each][last[:each]].sum() / rounds.metres[:each].sum()
    beyond = lasts * np.exp(1j * result.emf.pole_pairs * result.emf.orders * result.lay.step_rad)
    where = "layer" if winding.belts == 1 else "layer of each belt"
    for word, amplitudes, ohm in (("fewer", emf - lasts, 1 - share), ("more", emf + beyond, 1 + share)):
        if ohm > 0:
            text = f"every phase has {groups} rounds {word} than the drawing's {each}, one in each {where}"
            yield _guess(parts, f"rounds_{groups}_{word}", text, amplitudes, np.full(len(emf), ohm))


def _where(parts: Parts, wrong: Floats, key: str, text: str) -> Iterator[Guess]:
    """A mistake with weights (r,) in the phase that was measured alone, and in all of them."""
    first = parts.rounds.phase == 0
    if len(parts.result.emf.amplitudes) == 1:
        yield _guess(parts, key, text, parts.summed(wrong))
        return
    alone = parts.summed(np.where(first, wrong, 1.0))
    yield _guess(parts, f"{key}_in_one_phase", f"{text}, in the phase that was measured", alone)
    yield _guess(parts, f"{key}_in_every_phase", f"{text}, in every phase", parts.summed(wrong))


def _a_pole_pitch_off(parts: Parts) -> Iterator[Guess]:
    rounds = parts.rounds
    each = rounds.count // len(parts.result.emf.amplitudes)
    place = np.arange(rounds.count) % each
    for off in OFF:
        if each < 2 * off:
            continue
        text = f"{off} round{_s(off)} started one pole pitch off and work{'' if off > 1 else 's'} against the others"
        yield from _where(parts, np.where(place < off, -1.0, 1.0), f"pole_pitch_off_{off}", text)


def _backwards(parts: Parts) -> Iterator[Guess]:
    """One belt of two, or one layer of several, wound or joined the wrong way round."""
    winding, rounds = parts.result.design.winding, parts.rounds
    if winding.shape == "path":
        return
    if winding.belts > 1:
        text = "one of the two belts runs the wrong way and cancels the other"
        yield from _where(parts, np.where(rounds.belt == 1, -1.0, 1.0), "belt_backwards", text)
    if winding.layers > 1:
        text = f"one of the {winding.layers} layers runs the wrong way"
        yield from _where(parts, np.where(rounds.layer == 0, -1.0, 1.0), "layer_backwards", text)


def _like_poles(parts: Parts, lower: Parts) -> Iterator[Guess]:
    """The upper disc a pole pitch further: its field, what the lower one leaves of the whole, changes its sign."""
    if parts.result.design.rotor.faces == 1:
        return
    ones = np.ones(parts.rounds.count)
    amplitudes = 2 * lower.summed(ones) - parts.summed(ones)
    text = "the two discs face each other with like poles"
    one_round = 2 * lower.one_round - parts.one_round
    yield replace(_guess(parts, "like_poles", text, amplitudes), one_round=one_round)


def _magnet_turned(parts: Parts, lower: Parts) -> Iterator[Guess]:
    magnets = parts.result.design.magnets
    bodies = magnets.count * magnets.segments_per_pole
    one = replace(parts, harmonics=lower.harmonics / bodies)
    ones = np.ones(parts.rounds.count)
    amplitudes = parts.summed(ones) - 2 * one.summed(ones)
    text = "one magnet of a face is turned over"
    yield replace(_guess(parts, "magnet_turned_over", text, amplitudes), one_round=parts.one_round - 2 * one.one_round)


def _phase_reversed(parts: Parts) -> Iterator[Guess]:
    amplitudes = parts.result.emf.amplitudes
    if parts.result.design.winding.connection == "separate" or len(amplitudes) != 3:
        return
    turned = amplitudes * np.array([[-1.0], [1.0], [1.0]])
    yield _guess(parts, "phase_reversed", "one phase is joined the wrong way round", turned)


def _joined(parts: Parts) -> Iterator[Guess]:
    connection, base = parts.result.design.winding.connection, drawn(parts)
    if len(base.amplitudes) != 3 or connection == "separate":
        return
    other: Connection = "delta" if connection == "star" else "star"
    text = f"the phases are joined in {other}, not in {connection}"
    yield replace(base, key=f"{other}_for_{connection}", text=text, connection=other)


def _strands_broken(parts: Parts) -> Iterator[Guess]:
    """Of N/s strands in a group, b broken: that group has N/s / (N/s - b) times its ohms; the other groups theirs."""
    wire = parts.result.design.wire
    beside = wire.strands // wire.strands_in_series
    for broken in BROKEN:
        if wire.kind != "litz" or broken >= beside:
            return
        more = 1 + (beside / (beside - broken) - 1) / wire.strands_in_series / parts.result.design.winding.parallel
        ohm = np.ones(len(parts.result.emf.amplitudes))
        ohm[0] = more
        text = f"{broken} of the bundle's {wire.strands} strands {'is' if broken == 1 else 'are'} broken"
        yield _guess(parts, f"strands_broken_{broken}", text, parts.result.emf.amplitudes, ohm)


def _strands_joined(parts: Parts) -> Iterator[Guess]:
    """Strands, or groups of rounds, joined in other groups: EMF as their number in series, ohms as its square."""
    design, base = parts.result.design, drawn(parts)
    wire, winding = design.wire, design.winding
    for groups in range(1, wire.strands + 1) if wire.kind == "litz" else ():
        if wire.strands % groups or groups == wire.strands_in_series:
            continue
        more = groups / wire.strands_in_series
        how = "all in parallel" if groups == 1 else "all in series" if groups == wire.strands else f"{groups} in series"
        text = f"the bundle's strands are joined {how}"
        yield replace(
            _guess(parts, f"strands_{groups}_in_series", text, more * base.amplitudes, more**2 * base.ohm),
            one_round=more * base.one_round,
        )
    if winding.parallel > 1:
        more = float(winding.parallel)
        text = f"the {winding.parallel} groups of rounds are joined in series, not in parallel"
        yield _guess(parts, "groups_in_series", text, more * base.amplitudes, more**2 * base.ohm)

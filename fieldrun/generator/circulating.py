"""Currents that go round inside a winding and never reach its terminals: between strands or groups, in a delta."""

import math
from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.design.materials import copper_resistivity
from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.generator.emf import Emf, emf_harmonics
from fieldrun.generator.line_integral import per_piece, sum_by_phase
from fieldrun.winding.pieces import Pieces, lengths
from fieldrun.winding.sampling import Distinct, Samples, distinct, gauss_samples, selected


@dataclass(frozen=True)
class StrandLoss:
    """What currents between strands that lie side by side waste, all phases, over the square of speed.

    Parameters
    ----------
    in_order_w_s2 : every strand keeps its side of the bundle from end to end, in the worst of all orientations
    at_most_w_s2 : the bundle turns over at every bend, always so that the differences add up
    """

    in_order_w_s2: float
    at_most_w_s2: float


@dataclass(frozen=True)
class GroupLoss:
    """What groups of rounds that are not alike do to each other when they are joined in parallel.

    Parameters
    ----------
    difference : largest departure of a group's fundamental EMF from the mean of all, as a share of it, phase included
    current_a_s : largest effective current of a group that goes round, over speed [A s]
    loss_w_s2 : what all of them waste, all phases, over the square of speed [W s^2]
    """

    difference: float
    current_a_s: float
    loss_w_s2: float


def delta_current_a(emf: Emf, resistance_ohm: float, speed_rad_s: float, inductance_h: float = 0.0) -> float:
    """Effective current round a delta with nothing connected [A].

    What the phases' EMFs add up to, harmonic by harmonic (the third, ninth... of three phases that are alike), over the
    impedance of all of them in series.

    Parameters
    ----------
    emf : EMF per speed of every phase at its terminals
    resistance_ohm : of one phase, warm
    speed_rad_s : mechanical [rad/s]
    inductance_h : of one phase with equal currents in all of them (own and both mutual inductances); 0 leaves it out,
        which is on the safe side
    """
    phases = len(emf.amplitudes)
    reactance = emf.orders * emf.pole_pairs * speed_rad_s * inductance_h
    impedance = phases * (resistance_ohm + 1j * reactance)
    return float(np.linalg.norm(speed_rad_s * emf.amplitudes.sum(axis=0) / impedance) / math.sqrt(2))


def lie_side_by_side(wire: Wire) -> bool:
    """Whether strands are joined in parallel and nothing makes them change places: a bundle without a lay."""
    return wire.kind == "litz" and wire.lay_m is None and wire.strands > wire.strands_in_series


def strand_loss(field_map: FieldMap, pieces: Pieces, wire: Wire, phases: int) -> StrandLoss:
    """What strands in parallel waste by EMFs that differ over the width of an untwisted bundle.

    Two strands a distance s apart enclose a strip along the whole phase, whose flux changes: to first order the EMFs
    differ by E_n = j n p s integral of b_m,n exp(j n p theta) along the wire, m square to both wire and distance (B_z
    for strands side by side in the sheet, the field square to the wire in the plane for strands above each other).
    That holds the gradients over radius and height and the shift in angle alike. N strands evenly over the width w have
    departures u from the middle with a mean square of w^2 / 12 (N + 1) / (N - 1), each drives (E u)^2 / (2 R) in its
    strand's own resistance R.

    Parameters
    ----------
    field_map : harmonics of the rotor's field
    pieces : all conductors
    wire : a bundle that `lie_side_by_side`
    phases : number of phases
    """
    different = distinct(pieces)
    fastest = field_map.pole_pairs * int(np.max(field_map.orders))
    samples = gauss_samples(different.pieces, np.unique(field_map.radii_m), fastest)
    strips = [per_piece(flux, samples.piece, different.pieces.count) for flux in _strip_flux(field_map, samples)]
    per_metre = [1j * field_map.pole_pairs * field_map.orders[:, None] * own for own in strips]
    whole = np.stack([sum_by_phase(own, different, pieces, phases, field_map) for own in per_metre], axis=1)
    gram = np.einsum("kin,kjn->kij", whole, np.conj(whole)).real
    in_order = np.linalg.eigvalsh(gram)[:, -1]
    adding = _all_adding(per_metre, different, pieces, phases)
    ohms = _strand_ohms(pieces, wire, phases)
    driven = wire.strands * _mean_square_place_m2(wire) / (2 * ohms)
    return StrandLoss(float(driven @ in_order), float(driven @ adding))


def _strip_flux(field_map: FieldMap, samples: Samples) -> list[Complexes]:
    """Flux per metre of width through strips along each step: beside the wire in the plane, and above it. (n, s)"""
    b_r, b_theta, b_z = amplitudes_at(field_map, samples.point[:, 0], samples.point[:, 2])
    wave = np.exp(1j * field_map.pole_pairs * np.outer(field_map.orders, samples.point[:, 1]))
    outward, round_ = samples.step[:, 0], samples.point[:, 0] * samples.step[:, 1]
    return [b_z * np.hypot(outward, round_) * wave, (b_theta * outward - b_r * round_) * wave]


def _all_adding(per_metre: list[Complexes], different: Distinct, pieces: Pieces, phases: int) -> Floats:
    """Square of what the pieces' differences come to if all add up, by phase."""
    each = np.linalg.norm(np.stack(per_metre), axis=(0, 1))[different.which]
    return np.asarray(np.bincount(pieces.phase, each, phases) ** 2)


def _strand_ohms(pieces: Pieces, wire: Wire, phases: int) -> Floats:
    """Resistance of one strand from end to end of each phase, warm."""
    length = np.bincount(pieces.phase, lengths(pieces), phases)
    return np.asarray(copper_resistivity(wire.temperature_c) * length / (math.pi / 4 * wire.strand_diameter_m**2))


def _mean_square_place_m2(wire: Wire) -> float:
    """Mean square distance of strands from the middle of those joined in parallel, evenly over the bundle's width."""
    count = wire.strands // wire.strands_in_series
    width = wire.overall_diameter_m - wire.strand_diameter_m
    return width**2 / 12 * (count + 1) / (count - 1)


def group_loss(
    field_map: FieldMap, pieces: Pieces, winding: Winding, wire: Wire, resistance_ohm: float
) -> GroupLoss | None:
    """What goes round between groups in parallel if they are wound one after the other; None if it cannot be told.

    The rounds of the first phase, in the order they are wound, are cut into `winding.parallel` equal groups. Groups
    that hold the same places of their belts are alike; others differ in phase (places of a belt) or in size (layers
    over one face of magnets). Only resistance limits the current.

    Parameters
    ----------
    field_map : harmonics of the rotor's field
    pieces : all conductors
    winding, wire : for groups, phases and strands in series
    resistance_ohm : of a whole phase at its terminals, warm

    Returns
    -------
    None where the closed loops of a phase cannot be shared equally by the groups (a path wound in one piece).
    """
    groups = _in_groups(pieces, winding.parallel)
    if groups is None:
        return None
    each = wire.strands_in_series * emf_harmonics(field_map, groups, winding.parallel)
    off = each - each.mean(axis=0)
    mean = float(abs(each[:, 0].mean()))
    ohms = winding.parallel * resistance_ohm
    amps = np.linalg.norm(off, axis=1) / (math.sqrt(2) * ohms)
    share = float(np.max(np.abs(off[:, 0]))) / mean if mean > 0 else 0.0
    return GroupLoss(share, float(np.max(amps)), winding.phases * ohms * float(amps @ amps))


def _in_groups(pieces: Pieces, groups: int) -> Pieces | None:
    """The first phase's pieces with the number of their group in place of the phase."""
    first = selected(pieces, np.flatnonzero(pieces.phase == 0))
    loops, order = np.unique(first.loop, return_inverse=True)
    if len(loops) % groups:
        return None
    return replace(first, phase=order // (len(loops) // groups))

"""The quick estimates: what an engineer writes on the back of an envelope, each with what it leaves out."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from fieldrun.design.model import Magnets, Rotor, Winding
from fieldrun.reference.circuit import axis_b1, circuit_b1, closes_a_circuit, square_wave_b1
from fieldrun.reference.estimates import machine_stack
from fieldrun.reference.layers import amplitudes, solve_layers
from fieldrun.reference.leakage import leaky_circuit_b1
from fieldrun.reference.shares import bend_radii, covered_share
from fieldrun.reference.solid_outline import outline_area
from fieldrun.studies.estimates_map.coil import shape_factor

FieldFormula = Callable[[Magnets, Rotor, float, float], float]
"""Of magnets, rotor, height and radius [m]: the fundamental of B_z there [T]."""

EmfFormula = Callable[[Magnets, Rotor, float, float, Winding], float]
"""Of magnets, rotor, height, the magnets' mean radius [m] and one round of a winding: effective value of the
fundamental EMF per phase and speed [V s/rad]."""

Quantity = Literal["field", "emf"]


@dataclass(frozen=True)
class Estimate:
    """One way to a number without finite elements.

    Parameters
    ----------
    key, name : for programs, for people
    quantity : what it estimates, B1 or the EMF of one round
    formula : of magnets, rotor, height, radius and winding; those of a field do not look at the winding
    leaves_out : one sentence
    unfit : why it does not hold for an arrangement at all, half a sentence; empty if it does
    """

    key: str
    name: str
    quantity: Quantity
    formula: EmfFormula
    leaves_out: str
    unfit: Callable[[Magnets, Rotor], str] = lambda _magnets, _rotor: ""


def of_field(formula: FieldFormula) -> EmfFormula:
    """A field's formula that is handed a winding and does not look at it."""
    return lambda magnets, rotor, height_m, radius_m, _: formula(magnets, rotor, height_m, radius_m)


def layered_b1(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float) -> float:
    """Fundamental of B_z by the layered Fourier solution at one radius [T]."""
    field = solve_layers(machine_stack(magnets, rotor, radius_m, (1,)))
    return float(amplitudes(field, height_m)[1][0, 0].real)


def hand_b1(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float) -> float:
    """What the EMF formulas take for B1: the circuit with leakage where steel closes one, else the hand calculation."""
    best = leaky_circuit_b1 if _has_circuit(magnets, rotor) else circuit_b1
    return best(magnets, rotor, height_m, radius_m)


def b_l_v(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float, winding: Winding) -> float:
    """EMF of one round by wire length, field and speed: k 2p l r B1 / sqrt 2 [V s/rad].

    l is the part of the radius that both legs and magnets cover, r the magnets' mean radius, k the factor of the
    winding's shape in an even field: text-book law.
    """
    legs, k = 2 * magnets.pole_pairs, shape_factor(winding, magnets.pole_pairs)
    length = _shared_length_m(magnets, winding)
    return k * legs * length * radius_m * hand_b1(magnets, rotor, height_m, radius_m) / math.sqrt(2)


def four_forty_four(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float, winding: Winding) -> float:
    """EMF of one round by its flux: 4.44 f N k Phi over the speed [V s/rad].

    4.44 stands for sqrt(2) pi, f = p / 2 pi per rad/s, N = p turns in series, Phi the flat field of a magnet times the
    area of its face, k the factor of the winding's shape in an even field: text-book law.
    """
    turns, k = magnets.pole_pairs, shape_factor(winding, magnets.pole_pairs)
    share = covered_share(magnets, radius_m)
    area = outline_area(magnets.outline, magnets.count)
    flat = hand_b1(magnets, rotor, height_m, radius_m) / square_wave_b1(share, 1.0)
    return math.sqrt(2) * math.pi * magnets.pole_pairs / (2 * math.pi) * turns * k * flat * area


def _shared_length_m(magnets: Magnets, winding: Winding) -> float:
    breaks = bend_radii(magnets.outline)
    inner, outer = winding.inner_radius_m or 0.0, winding.outer_radius_m or math.inf
    return max(0.0, min(outer, breaks[-1]) - max(inner, breaks[0]))


def _has_circuit(magnets: Magnets, rotor: Rotor) -> bool:
    return closes_a_circuit(rotor) and magnets.pattern == "alternating"


def _no_circuit(magnets: Magnets, rotor: Rotor) -> str:
    if magnets.pattern == "halbach":
        return "a Halbach face guides its flux without a circuit of steel"
    return "" if closes_a_circuit(rotor) else "no steel stands at both ends of the flux's way across the gap"


def _on_its_side(magnets: Magnets, _: Rotor) -> str:
    return "some bodies of a Halbach face lie on their side" if magnets.pattern == "halbach" else ""


def _upright(magnets: Magnets, _: Rotor) -> str:
    return "" if magnets.pattern == "halbach" else "the magnets are no Halbach face"


def _no_poles_face(magnets: Magnets, _: Rotor) -> str:
    return "a pole of a Halbach face is made of several bodies" if magnets.pattern == "halbach" else ""


ESTIMATES = (
    Estimate(
        "circuit",
        "circuit, no leakage",
        "field",
        of_field(circuit_b1),
        "All flux goes straight across the gap: none leaks to the next magnet, none spreads past the ends.",
        _no_circuit,
    ),
    Estimate(
        "leaky",
        "circuit with leakage",
        "field",
        of_field(leaky_circuit_b1),
        "Leakage only from face to face along circles; the field is flat under a magnet; no flux past the ends.",
        _no_circuit,
    ),
    Estimate(
        "axis",
        "single magnets on axis",
        "field",
        of_field(axis_b1),
        "No neighbours beside a magnet, one mate or mirror image, recoil permeability 1, its axis stands for its face.",
        _on_its_side,
    ),
    Estimate(
        "halbach",
        "Halbach formula",
        "field",
        of_field(circuit_b1),
        "Magnets endless along the radius, recoil permeability 1, no steel.",
        _upright,
    ),
    Estimate(
        "layered",
        "layered Fourier",
        "field",
        of_field(layered_b1),
        "Magnets endless along the radius; air between them counts as magnet material; steel never saturates.",
    ),
    Estimate(
        "blv",
        "B l v",
        "emf",
        b_l_v,
        "The best hand formula's B1 as far as legs and magnets both reach, none beyond; the factor is of whole legs.",
    ),
    Estimate(
        "flux",
        "4.44 f N k \N{GREEK CAPITAL LETTER PHI}",
        "emf",
        four_forty_four,
        "The best hand formula's flat field over a magnet's face and none beside it, taken for a sine's flux.",
        _no_poles_face,
    ),
)
"""From the crudest to the best, fields first."""

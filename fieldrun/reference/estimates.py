"""Quick independent answers for one machine, each with what it leaves out: to hold the finite elements against."""

import math
from dataclasses import dataclass

from fieldrun.design.model import Magnets, Plate, Rotor, SteelCurve
from fieldrun.design.units import MU0
from fieldrun.reference.circuit import circuit_b1, closes_a_circuit
from fieldrun.reference.layers import Boundary, Layer, Stack, amplitudes, remanence_harmonics, solve_layers
from fieldrun.reference.shares import bodies_per_pole, covered_share, mean_radius


@dataclass(frozen=True)
class Estimate:
    """The fundamental of B_z at one point [T], the method's name, and one sentence on what it leaves out."""

    name: str
    b1_t: float
    leaves_out: str


def estimates(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float | None = None) -> tuple[Estimate, ...]:
    """Fundamental of B_z by hand calculation and by the layered Fourier solution.

    Parameters
    ----------
    magnets, rotor : the machine
    height_m : above the lower magnets, inside the gap [m]
    radius_m : where; default the magnets' mean radius [m]

    Raises
    ------
    ValueError
        If the height is not in the gap.
    """
    top = math.inf if rotor.gap_m is None else rotor.gap_m
    if not 0 <= height_m <= top:
        raise ValueError(f"height {height_m:.6g} m is not in the gap, 0..{top:.6g} m")
    radius = mean_radius(magnets.outline) if radius_m is None else radius_m
    by_hand = Estimate(
        _hand_name(magnets, rotor), circuit_b1(magnets, rotor, height_m, radius), _hand_gap(magnets, rotor)
    )
    field = solve_layers(machine_stack(magnets, rotor, radius, (1,)))
    layered = float(amplitudes(field, height_m)[1][0, 0].real)
    return by_hand, Estimate("layered Fourier", layered, _layered_gap(rotor))


def machine_stack(magnets: Magnets, rotor: Rotor, radius_m: float, orders: tuple[int, ...]) -> Stack:
    """The machine cut at one radius and unrolled, as layers for `solve_layers`.

    A steel plate becomes a layer with the largest permeability its curve reaches, air behind; an ideal plate ends the
    stack. Without anything above the gap the air of the gap goes on for ever.
    """
    lower = _magnet_layer(magnets, radius_m, orders, strong_side_up=True)
    below, under = _plate(rotor.backing)
    above, over = _plate(rotor.return_plate if rotor.faces == 1 else rotor.backing)
    gap = () if rotor.gap_m is None else (Layer(rotor.gap_m),)
    upper = (_magnet_layer(magnets, radius_m, orders, strong_side_up=False),) if rotor.faces == 2 else ()
    bottom = -magnets.thickness_m - sum(layer.thickness_m for layer in under)
    pole_pitch = math.pi * radius_m / magnets.pole_pairs
    return Stack(pole_pitch, orders, (*under, lower, *gap, *upper, *over), bottom, below, above)


def largest_permeability(curve: SteelCurve) -> float:
    """Largest B / (mu0 H) among the points of the curve; at least 1."""
    points = zip(curve.b_t, curve.h_a_per_m, strict=True)
    return max([1.0, *(b / (MU0 * h) for b, h in points if h > 0)])


def _magnet_layer(magnets: Magnets, radius: float, orders: tuple[int, ...], *, strong_side_up: bool) -> Layer:
    share = covered_share(magnets, radius)
    along_x, along_z = remanence_harmonics(
        magnets.remanence_t, share, bodies_per_pole(magnets), orders, strong_side_up=strong_side_up
    )
    return Layer(magnets.thickness_m, magnets.recoil_permeability, along_x, along_z)


def _plate(plate: Plate | None) -> tuple[Boundary, tuple[Layer, ...]]:
    if plate is None:
        return "air", ()
    if plate.steel is None:
        return "iron", ()
    return "air", (Layer(plate.thickness_m, largest_permeability(plate.steel)),)


def _hand_name(magnets: Magnets, rotor: Rotor) -> str:
    if magnets.pattern == "halbach":
        return "Halbach formula"
    return "magnetic circuit" if closes_a_circuit(rotor) else "single magnets on their axis"


def _hand_gap(magnets: Magnets, rotor: Rotor) -> str:
    if magnets.pattern == "halbach":
        return "Takes the magnets as endless along the radius, with recoil permeability 1 and no steel behind them."
    if closes_a_circuit(rotor):
        return "Takes the steel as perfect and lets no flux leak from magnet to magnet, so it reads high."
    return "Takes each magnet as if it had no neighbours, with recoil permeability 1 and any steel as perfect."


def _layered_gap(rotor: Rotor) -> str:
    ends = "Takes the magnets as endless along the radius and the air between them as magnet material"
    return f"{ends}; its steel never saturates." if rotor.real_steel else f"{ends}."

"""The hand calculation: what a builder with a pocket calculator gets for the field between the magnets."""

import math
from typing import assert_never

from fieldrun.design.model import Arc, Block, Disc, Magnets, Rotor
from fieldrun.reference.closed_forms import HalbachFace, cuboid_on_axis, cylinder_on_axis, halbach_face
from fieldrun.reference.shares import bodies_per_pole, covered_share, mean_radius


def circuit_b1(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float) -> float:
    """Fundamental of B_z by the magnetic circuit, or by single magnets where no steel closes one.

    Steel at both ends of the loop: B_flat = Br H / (H + mu_rec G), H the magnets' height in the loop, G the gap; no
    leakage, perfect steel, the same at every height. Otherwise B_flat is the sum of the axis fields of the magnet
    and of its mate or mirror images (steel behind a magnet doubles its height), as if it had no neighbours.
    Either way the fundamental of the square wave: (4 / pi) sin(share pi / 2) B_flat. A Halbach face, which needs no
    steel, has its own text-book form; steel behind it is then left out.

    Parameters
    ----------
    magnets, rotor : the machine
    height_m : above the lower magnets [m]
    radius_m : where the share of the pole pitch is taken [m]

    Returns
    -------
    [T], positive over a north pole
    """
    share = covered_share(magnets, radius_m)
    if magnets.pattern == "halbach":
        return share * sum(_halbach(magnets, radius_m, z) for z in _distances(rotor, height_m))
    return square_wave_b1(share, _flat(magnets, rotor, height_m))


def closes_a_circuit(rotor: Rotor) -> bool:
    """Whether steel stands at both ends of the flux's way across the gap."""
    return rotor.backing is not None and (rotor.faces == 2 or rotor.return_plate is not None)


def axis_b1(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float) -> float:
    """Fundamental of B_z by single magnets on their axis [T]: `circuit_b1` as if no steel closed a circuit.

    Upright magnets only: a Halbach face has bodies on their side.
    """
    return square_wave_b1(covered_share(magnets, radius_m), _flat_on_axis(magnets, rotor, height_m))


def square_wave_b1(share: float, flat_t: float) -> float:
    """Fundamental of a field that is flat over `share` of each pole and nothing between [T].

    Fourier's coefficient of a square wave of that width: (4 / pi) sin(share pi / 2) B.
    """
    return 4 / math.pi * math.sin(share * math.pi / 2) * flat_t


def _flat(magnets: Magnets, rotor: Rotor, height_m: float) -> float:
    if closes_a_circuit(rotor) and rotor.gap_m is not None:
        loop = rotor.faces * magnets.thickness_m
        return magnets.remanence_t * loop / (loop + magnets.recoil_permeability * rotor.gap_m)
    return _flat_on_axis(magnets, rotor, height_m)


def _flat_on_axis(magnets: Magnets, rotor: Rotor, height_m: float) -> float:
    height = magnets.thickness_m * (1 if rotor.backing is None else 2)
    return sum(_on_axis(magnets, height, z) for z in _distances(rotor, height_m))


def _distances(rotor: Rotor, height_m: float) -> tuple[float, ...]:
    """How far the point is from the magnet below it and, if there is one, from its mate or its image in the plate."""
    if rotor.gap_m is None or (rotor.faces == 1 and rotor.return_plate is None):
        return (height_m,)
    mate = rotor.gap_m if rotor.faces == 2 else 2 * rotor.gap_m
    return (height_m, mate - height_m)


def _on_axis(magnets: Magnets, height: float, z: float) -> float:
    outline = magnets.outline
    if isinstance(outline, Disc):
        return float(cylinder_on_axis(outline.diameter_m / 2, height, magnets.remanence_t, z))
    if isinstance(outline, Arc):
        long = outline.outer_radius_m - outline.inner_radius_m
        wide = outline.share * 2 * math.pi / magnets.count * mean_radius(outline)
        return float(cuboid_on_axis(long, wide, height, magnets.remanence_t, z))
    if isinstance(outline, Block):
        return float(cuboid_on_axis(outline.radial_m, outline.tangential_m, height, magnets.remanence_t, z))
    assert_never(outline)


def _halbach(magnets: Magnets, radius_m: float, z: float) -> float:
    wavelength = 2 * math.pi * radius_m / magnets.pole_pairs
    face = HalbachFace(wavelength, magnets.thickness_m, magnets.remanence_t, 2 * bodies_per_pole(magnets))
    return halbach_face(face, 1, z)

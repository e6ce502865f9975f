"""The magnetic circuit with the flux that goes from magnet to magnet without crossing the gap."""

import math

from fieldrun.design.model import Magnets, Rotor
from fieldrun.reference.circuit import closes_a_circuit, square_wave_b1
from fieldrun.reference.shares import covered_share


def leakage_factor(magnets: Magnets, rotor: Rotor, radius_m: float) -> float:
    """How many times a magnet's own permeance stands beside its gap, with the leakage to both neighbours in it; from 1.

    From the face of one magnet to the next one's flux goes along quarter circles of radius x and straight between the
    flanks, s + pi x long; all x up to the surface that flux crosses squarely, at g, carry mu0 / pi ln(1 + pi g / s) per
    metre and ampere. Beside the magnet's mu0 mu_r a tau / h:

        K = 1 + 4 h / (pi mu_r a tau) ln(1 + pi g / s),  s = (1 - a) tau,

    a the share of the pole pitch tau, h the thickness (Hanselman, Brushless Permanent-Magnet Motor Design, 1994, ch. 4;
    from memory). Here circles start no farther in than the magnet's middle: g is at most a tau / 2. Flux straight from
    flank to flank and past the magnets' inner and outer ends is left out.

    Raises
    ------
    ValueError
        If no steel closes a circuit, the magnets leave no room between them, or there are none at this radius.
    """
    if not closes_a_circuit(rotor) or rotor.gap_m is None:
        raise ValueError("no steel closes a circuit that flux could leak from")
    pitch, share = math.pi * radius_m / magnets.pole_pairs, covered_share(magnets, radius_m)
    if not 0 < share < 1 - 1e-9:
        raise ValueError(f"magnets must cover more than none and less than all of the circle; received {share:.6g}")
    reach = min(rotor.gap_m / rotor.faces, share * pitch / 2)
    paths = math.log(1 + math.pi * reach / ((1 - share) * pitch))
    return 1 + 4 * magnets.thickness_m / (math.pi * magnets.recoil_permeability * share * pitch) * paths


def leaky_flat(magnets: Magnets, rotor: Rotor, radius_m: float) -> float:
    """Flux density over a magnet's face: Br H / (H + mu_rec K G), the circuit's with leakage [T]; raises likewise."""
    factor, gap = leakage_factor(magnets, rotor, radius_m), rotor.gap_m or 0.0
    loop = rotor.faces * magnets.thickness_m
    return magnets.remanence_t * loop / (loop + magnets.recoil_permeability * factor * gap)


def leaky_circuit_b1(magnets: Magnets, rotor: Rotor, height_m: float, radius_m: float) -> float:  # noqa: ARG001
    """Fundamental of B_z by the magnetic circuit with leakage, the same at every height (hence unused) [T]."""
    return square_wave_b1(covered_share(magnets, radius_m), leaky_flat(magnets, rotor, radius_m))

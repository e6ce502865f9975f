"""What a ring of magnets is to each harmonic: its remanence, and its recoil permeability's couplings.

Bodies of one pole pair sit at theta_j = j pi / (p m), m per pole, each turned by pi / m against the one before: their
remanence is B_r cos along z and -B_r sin along the motion (the strong side of a Halbach array is up). Each covers the
angles psi_i to psi_o on both sides of its axis (field.outline). Everything below is a closed form at one radius.
"""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.model import Magnets
from fieldrun.field.outline import covered_half_angles


@dataclass(frozen=True, eq=False)
class Remanence:
    """Amplitudes of the magnets' remanence, each (n, ...) over orders and radii [T].

    `axial` and `radial` go with cos(n p theta), `tangential` with sin(n p theta).
    """

    axial: Floats
    radial: Floats
    tangential: Floats

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in ("axial", "radial", "tangential"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def remanence_amplitudes(magnets: Magnets, orders: Ints, radii_m: Floats) -> Remanence:
    """Fourier amplitudes over theta of the lower face's remanence.

    Parameters
    ----------
    magnets : the lower face; each body evenly magnetised along one direction
    orders : (n,) odd
    radii_m : (...) [m]
    """
    p, m = magnets.pole_pairs, magnets.segments_per_pole
    inner, outer = covered_half_angles(magnets, radii_m)
    wave = np.asarray(p * orders, float).reshape(-1, *(1,) * inner.ndim)
    turn = np.arange(2 * m) * math.pi / m
    upright = 2 * p / math.pi * magnets.remanence_t * np.cos(np.outer(orders, turn)) @ np.cos(turn)
    across = -p / math.pi * magnets.remanence_t * np.sin(np.outer(orders, turn)) @ np.sin(turn)
    upright, across = (one.reshape(wave.shape) for one in (upright, across))

    def between(k: Floats) -> Floats:
        return np.asarray(_sine_over(k, outer) - _sine_over(k, inner))

    return Remanence(
        axial=upright * between(wave),
        radial=-across * (between(wave - 1) - between(wave + 1)),
        tangential=across * (between(wave - 1) + between(wave + 1)),
    )


def _sine_over(k: Floats, angle: Floats) -> Floats:
    """sin(k a) / k, which is a for k = 0."""
    return np.asarray(angle * np.sinc(k * angle / np.pi))


def recoil_couplings(magnets: Magnets, orders: Ints, radii_m: Floats) -> tuple[Floats, Floats]:
    """How the magnets' permeability above air's couples harmonics n and m.

    (1/pi) INT (mu_rec - 1) cos cos dtheta over the bodies, with cos(n p theta) cos(m p theta), and the same with sines.

    Parameters
    ----------
    magnets : the lower face
    orders : (n,) odd
    radii_m : (...) [m]

    Returns
    -------
    C, S : each (n, n, ...) [1]
    """
    p, m = magnets.pole_pairs, magnets.segments_per_pole
    inner, outer = covered_half_angles(magnets, radii_m)
    shape = (len(orders), len(orders), *(1,) * inner.ndim)
    less, more = np.subtract.outer(orders, orders), np.add.outer(orders, orders)

    def over_bodies(order: Ints) -> Floats:
        # the bodies' axes stand 2 m to a wave: every other difference of orders cancels over them
        kept = np.where(order % (2 * m) == 0, 2 * m, 0).reshape(shape)
        k = np.asarray(p * order, float).reshape(shape)
        return np.asarray(kept * (_sine_over(k, outer) - _sine_over(k, inner)))

    scale = (magnets.recoil_permeability - 1) * p / math.pi
    near, far = over_bodies(less), over_bodies(more)
    return scale * (near + far), scale * (near - far)

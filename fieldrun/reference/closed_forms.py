"""Text-book solutions written out: arrays unrolled at one radius, single magnets on their axis, a nonlinear tube.

Arrays (infinite in y, linear magnets, air or ideal iron outside, permeability uniform along x in the magnets' layer)
come from phi_n = f_n(z) cos(k_n x), f'' = k^2 f, with f and mu0 mu_r f' - Br_n continuous at faces and f = 0 on iron.
Heights are above the lower magnets' gap-side face [m]; amplitudes B_z,n are (n,) over the face's harmonics [T].
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import quad

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.units import MU0


@dataclass(frozen=True, eq=False)
class BlockFace:
    """Harmonics of one face of magnets: (n,) k_n [1/m] and Br_n [T], thickness h [m], recoil permeability."""

    wave_number: Floats
    remanence_t: Floats
    thickness_m: float
    mu_r: float

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("wave_number", "remanence_t"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def block_face(
    order: ArrayLike, pole_pitch_m: float, remanence_t: float, share: float, layer: tuple[float, float]
) -> BlockFace:
    """North and south blocks in turn, x = 0 at a pole's centre: Br_n = 4 Br / (n pi) sin(n share pi / 2).

    Parameters
    ----------
    order : (n,) odd harmonics
    pole_pitch_m, remanence_t : tau [m], Br [T]
    share : width of a block over the pole pitch, 0..1
    layer : thickness [m] and recoil permeability of the magnets
    """
    n = np.asarray(order, float)
    harmonics = 4 * remanence_t / (n * np.pi) * np.sin(n * share * np.pi / 2)
    return BlockFace(n * np.pi / pole_pitch_m, harmonics, *layer)


def one_face_in_air(face: BlockFace, z: float) -> Floats:
    """B_z,n over magnets in air: Br_n tanh(kh/2) / (tanh(kh/2) + mu_r) exp(-kz), (n,) [T]."""
    t = np.tanh(face.wave_number * face.thickness_m / 2)
    return np.asarray(face.remanence_t * t / (t + face.mu_r) * np.exp(-face.wave_number * z))


def one_face_on_iron(face: BlockFace, z: float) -> Floats:
    """B_z,n over magnets on ideal iron: Br_n t / (t + mu_r) exp(-kz), t = tanh(kh) [T]."""
    t = np.tanh(face.wave_number * face.thickness_m)
    return np.asarray(face.remanence_t * t / (t + face.mu_r) * np.exp(-face.wave_number * z))


def two_faces_on_iron(face: BlockFace, g: float, z: float) -> Floats:
    """B_z,n between unlike poles on ideal iron, g apart [T].

    Br_n t [cosh k(z-g/2) / cosh(kg/2)] / (t + mu_r tanh(kg/2)), t = tanh(kh).
    """
    k, t = face.wave_number, np.tanh(face.wave_number * face.thickness_m)
    return np.asarray(face.remanence_t * t * _cosh_ratio(k, z - g / 2, g / 2) / (t + face.mu_r * np.tanh(k * g / 2)))


def two_faces_in_air(face: BlockFace, g: float, z: float) -> Floats:
    """B_z,n between unlike poles in air, g apart [T].

    Br_n (1 - q + t/mu_r) [cosh k(z-g/2) / cosh(kg/2)] / (1 + t/mu_r + tanh(kg/2) (1 + mu_r t)), q = 1/cosh(kh).
    """
    k, t, mu = face.wave_number, np.tanh(face.wave_number * face.thickness_m), face.mu_r
    drive = face.remanence_t * (1 - _cosh_ratio(k, 0.0, face.thickness_m) + t / mu)
    return np.asarray(drive * _cosh_ratio(k, z - g / 2, g / 2) / (1 + t / mu + np.tanh(k * g / 2) * (1 + mu * t)))


def on_iron_to_plate(face: BlockFace, g: float, z: float) -> Floats:
    """B_z,n between magnets on ideal iron and an ideal plate at g: the lower half of two faces 2 g apart, (n,) [T]."""
    return two_faces_on_iron(face, 2 * g, z)


def in_air_to_plate(face: BlockFace, g: float, z: float) -> Floats:
    """B_z,n between magnets in air and an ideal plate at g: the lower half of two faces in air 2 g apart, (n,) [T]."""
    return two_faces_in_air(face, 2 * g, z)


@dataclass(frozen=True)
class HalbachFace:
    """M bodies per wavelength, each turned by 2 pi / M from the one before; endless along the radius, mu_r = 1."""

    wavelength_m: float
    thickness_m: float
    remanence_t: float
    bodies: int


def halbach_face(face: HalbachFace, order: int, z: float) -> float:
    """Amplitude of B_z (and of B_x) at z from one Halbach face in air [T].

    Br (1 - exp(-nkd)) |sin(n pi/M) / (n pi/M)| exp(-nkz), k = 2 pi / wavelength, thickness d.
    Orders 1, M+1, 2M+1... appear on the strong side only, M-1, 2M-1... on the weak side only (Halbach, Nucl. Instrum.
    Methods 169 (1980) 1, and Mallinson, IEEE Trans. Magn. 9 (1973) 678; both from memory).
    """
    nk = 2 * np.pi * order / face.wavelength_m
    at_face = face.remanence_t * -np.expm1(-nk * face.thickness_m) * abs(np.sinc(order / face.bodies))
    return float(at_face * np.exp(-nk * z))


def halbach_gap(face: HalbachFace, order: int, g: float, z: float) -> float:
    """B_z between two strong sides g apart, at z above the lower one: the sum of both faces' fields [T]."""
    return halbach_face(face, order, z) + halbach_face(face, order, g - z)


def bar_on_axis(w: float, h: float, remanence_t: float, z: ArrayLike) -> Floats:
    """B_z over the middle of an endless bar, width w, height h: Br/pi [atan(w/2z) - atan(w/(2(z+h)))] [T]; mu_r = 1."""
    return np.asarray(remanence_t / np.pi * (np.arctan2(w, np.multiply(2, z)) - np.arctan2(w, 2 * np.add(z, h))))


def cuboid_on_axis(length: float, width: float, h: float, remanence_t: float, z: ArrayLike) -> Floats:
    """B_z on the axis of a block, z from its pole face, uniform magnetisation (mu_r = 1) [T].

    Br/pi {F(z) - F(z + h)}, F(s) = atan[L W / (2 s sqrt(4 s^2 + L^2 + W^2))] (Furlani, Permanent Magnet and
    Electromechanical Devices, 2001, ch. 4; from memory).
    """

    def solid_angle(s: ArrayLike) -> Floats:
        s = np.asarray(s, float)
        return np.asarray(np.arctan2(length * width, 2 * s * np.sqrt(4 * s**2 + length**2 + width**2)))

    return np.asarray(remanence_t / np.pi * (solid_angle(z) - solid_angle(np.add(z, h))))


def cylinder_on_axis(radius: float, h: float, remanence_t: float, z: ArrayLike) -> Floats:
    """B_z on the axis of a disc magnet, z from its pole face (mu_r = 1); Furlani 2001, ch. 4, from memory [T].

    Br/2 {(h+z) / sqrt(R^2 + (h+z)^2) - z / sqrt(R^2 + z^2)}; a ring is the outer cylinder less the inner one.
    """
    near, far = np.asarray(z, float), np.add(z, h)
    return np.asarray(remanence_t / 2 * (far / np.hypot(radius, far) - near / np.hypot(radius, near)))


def flux_per_pole(order: ArrayLike, k: ArrayLike, harmonic_t: ArrayLike) -> float:
    """Flux of one pole per metre along the radius: sum of 2 B_n / k_n sin(n pi / 2) [Wb/m].

    B_z integrated over one pole pitch; orders, k [1/m] and B_n [T] each (n,).
    """
    return float(np.sum(2 * np.asarray(harmonic_t) / np.asarray(k) * np.sin(np.asarray(order) * np.pi / 2)))


def pull_pressure(harmonic_t: ArrayLike) -> float:
    """Maxwell stress on a plane where B_x vanishes (mid-gap, or the plate): sum of B_n^2 / (4 mu0) [Pa]."""
    return float(np.sum(np.asarray(harmonic_t) ** 2) / (4 * MU0))


def tube_flux(
    current_a: float,
    inner_m: float,
    outer_m: float,
    flux_density: Callable[[float], float],
    bends: Sequence[float] = (),
) -> float:
    """Flux round an iron tube with a current on its axis, per metre of length: exact however the iron saturates.

    By symmetry H = I / (2 pi r) whatever the material, so the flux is the integral of B(H(r)) over r.

    Parameters
    ----------
    current_a : I [A]
    inner_m, outer_m : radii of the tube [m]
    flux_density : B(H) of the iron, [A/m] to [T]
    bends : field strengths where B(H) has a corner [A/m]; the integral is split there

    Returns
    -------
    [Wb/m]
    """
    radii = [current_a / (2 * np.pi * h) for h in bends if h > 0]
    inside = sorted(r for r in radii if inner_m < r < outer_m)
    cuts = [inner_m, *inside, outer_m]

    def flux(low: float, high: float) -> float:
        return float(quad(lambda r: flux_density(current_a / (2 * np.pi * r)), low, high, epsrel=1e-12, epsabs=0)[0])

    return sum(flux(low, high) for low, high in pairwise(cuts))


def _cosh_ratio(k: Floats, top: ArrayLike, bottom: float) -> Floats:
    """cosh(k top) / cosh(k bottom), |top| <= bottom, without overflow."""
    a, b = k * np.abs(top), k * bottom
    return np.asarray(np.exp(a - b) * (1 + np.exp(-2 * a)) / (1 + np.exp(-2 * b)))

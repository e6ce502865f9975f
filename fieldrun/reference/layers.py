"""Layered Fourier solution: any stack of uniform layers, unrolled at one radius, solved exactly per harmonic.

x runs along the motion with x = 0 at a pole's centre, z along the shaft; every quantity is
Re sum over n of q_n(z) exp(j k_n x), k_n = n pi / pole pitch. A layer's permeability is the same all along x: the air
between separate magnets counts as magnet material, which makes the fundamental 0.3 to 0.5 % low at mu_r 1.05.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Complexes, Floats, frozen_array
from fieldrun.design.units import MU0

Boundary = Literal["air", "iron"]


@dataclass(frozen=True)
class Layer:
    """One uniform layer: thickness [m], relative permeability, remanence harmonics along x and z [T]; () is none."""

    thickness_m: float
    mu_r: float = 1.0
    remanence_x_t: tuple[complex, ...] = ()
    remanence_z_t: tuple[complex, ...] = ()


@dataclass(frozen=True)
class Stack:
    """Layers from the lowest up; `below` and `above` say what fills the half spaces: air, or ideal iron (mu infinite).

    `orders` are the harmonics n that the layers' remanence tuples list, in the same order.
    """

    pole_pitch_m: float
    orders: tuple[int, ...]
    layers: tuple[Layer, ...]
    bottom_m: float = 0.0
    below: Boundary = "air"
    above: Boundary = "air"


@dataclass(frozen=True, eq=False)
class LayeredField:
    """The solved stack, to be read at any height by `amplitudes`.

    Parameters
    ----------
    stack : what was solved
    wave_number : (n,) k_n [1/m]
    edges_m : (l + 1,) heights of the layers' faces [m]
    falling, rising : (l, n) parts of mu0 k phi that decay away from a layer's lower and upper face [T]
    """

    stack: Stack
    wave_number: Floats
    edges_m: Floats
    falling: Complexes
    rising: Complexes

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("wave_number", "edges_m"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        for name in ("falling", "rising"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.complex128))


def solve_layers(stack: Stack) -> LayeredField:
    """Potential of every layer from the conditions at its faces.

    With H = -grad phi and u = mu0 k phi [T], a layer obeys u'' = k^2 (u - u_p), u_p = -j J_x / mu_r, so that
    u = u_p + falling exp(-k (z - low)) + rising exp(-k (high - z)) and B_z = mu_r (falling - rising parts) + J_z:
    exponentials never exceed 1, however thick the layer. Faces: u and B_z continuous; u = 0 on ideal iron; B_z = u
    where air begins above, B_z = -u where it ends below.

    Raises
    ------
    ValueError
        If a layer is not thicker than zero, its permeability is not positive, or its harmonics do not match `orders`.
    """
    _check(stack)
    k = np.array(stack.orders) * np.pi / stack.pole_pitch_m
    matrix, right = _face_conditions(stack, k)
    parts = np.linalg.solve(matrix, right[:, :, None])[:, :, 0].astype(np.complex128)
    edges = stack.bottom_m + np.cumsum([0.0, *(layer.thickness_m for layer in stack.layers)])
    return LayeredField(stack, k, edges, parts[:, 0::2].T, parts[:, 1::2].T)


def amplitudes(field: LayeredField, height_m: ArrayLike) -> tuple[Complexes, Complexes]:
    """Harmonic amplitudes of B_x and B_z.

    Parameters
    ----------
    field : the solved stack
    height_m : (z,) heights [m], inside the stack or in the air outside; a face belongs to the layer above it

    Returns
    -------
    b_x, b_z : (n, z) complex amplitudes [T]

    Raises
    ------
    ValueError
        If a height lies in ideal iron, where the potential does not tell B.
    """
    heights = np.atleast_1d(np.asarray(height_m, float))
    columns = [_amplitudes_at(field, float(z)) for z in heights]
    return np.array([b_x for b_x, _ in columns]).T, np.array([b_z for _, b_z in columns]).T


def waveform(harmonic_t: Complexes, wave_number: Floats, x_m: Floats) -> Floats:
    """Field along x from its harmonics: Re sum of b_n exp(j k_n x).

    Parameters
    ----------
    harmonic_t, wave_number : (n,) [T], [1/m]
    x_m : (x,) [m]

    Returns
    -------
    (x,) [T]
    """
    return np.asarray((harmonic_t @ np.exp(1j * np.outer(wave_number, x_m))).real)


def pressure(field: LayeredField, height_m: float) -> float:
    """Pull between what is below and above a plane in air, per area: the mean of (B_z^2 - B_x^2) / (2 mu0) [Pa]."""
    b_x, b_z = amplitudes(field, height_m)
    return float(np.sum(abs(b_z) ** 2 - abs(b_x) ** 2) / (4 * MU0))


def remanence_harmonics(
    remanence_t: float, share: float, bodies_per_pole: int, orders: tuple[int, ...], *, strong_side_up: bool = True
) -> tuple[tuple[complex, ...], tuple[complex, ...]]:
    """Remanence harmonics along x and z of bodies that turn by pi / bodies_per_pole from one to the next.

    One body per pole is the alternating array, 4 Br / (n pi) sin(n share pi / 2) along z. With more the flux gathers
    on the strong side: there J = Br (-sin kx, cos kx) when that side is up (Halbach 1980, from memory).

    Parameters
    ----------
    remanence_t : Br [T]
    share : part of its pitch that each body covers, 0..1
    bodies_per_pole : 1 alternating, 2 or more Halbach
    orders : harmonics n
    strong_side_up : which side the flux gathers on; without meaning for one body per pole
    """
    bodies = 2 * bodies_per_pole
    turn = 2 * np.pi * np.arange(bodies) / bodies
    n = np.array(orders)
    block = 2 * share / bodies * np.sinc(n * share / bodies)
    phase = np.exp(-1j * np.outer(n, turn))
    along_z = remanence_t * block * (phase @ np.cos(turn))
    along_x = remanence_t * block * (phase @ np.sin(turn)) * (-1 if strong_side_up else 1)
    if bodies_per_pole == 1:  # sin(j pi) is rounding noise
        along_x = np.zeros_like(along_z)
    return tuple(along_x.tolist()), tuple(along_z.tolist())


def _check(stack: Stack) -> None:
    for number, layer in enumerate(stack.layers):
        if not layer.thickness_m > 0 or not layer.mu_r > 0:
            size = f"thickness {layer.thickness_m!r} m and permeability {layer.mu_r!r}"
            raise ValueError(f"layer {number} has {size}: both must be above zero")
        for given in (layer.remanence_x_t, layer.remanence_z_t):
            if given and len(given) != len(stack.orders):
                raise ValueError(f"layer {number} lists {len(given)} harmonics, the stack {len(stack.orders)}")


def _harmonics(given: tuple[complex, ...], orders: tuple[int, ...]) -> Complexes:
    return np.array(given or [0.0] * len(orders), dtype=np.complex128)


def _known(layer: Layer, orders: tuple[int, ...]) -> Complexes:
    """(n, 2) what remanence alone gives to u and B_z, the same at every height of the layer."""
    u = -1j * _harmonics(layer.remanence_x_t, orders) / layer.mu_r
    return np.stack([u, _harmonics(layer.remanence_z_t, orders)], axis=1)


def _at_faces(layer: Layer, k: Floats) -> tuple[Floats, Floats]:
    """(n, 2, 2) factors that turn (falling, rising) into (u, B_z), at the lower and at the upper face."""
    fade, one, mu = np.exp(-k * layer.thickness_m), np.ones_like(k), layer.mu_r
    low = np.array([[one, fade], [mu * one, -mu * fade]])
    high = np.array([[fade, one], [mu * fade, -mu * one]])
    return np.moveaxis(low, 2, 0), np.moveaxis(high, 2, 0)


def _face_conditions(stack: Stack, k: Floats) -> tuple[Complexes, Complexes]:
    """Square systems, one per harmonic: the lower end, u and B_z at every inner face, the upper end."""
    size = 2 * len(stack.layers)
    matrix, right = np.zeros((len(k), size, size), complex), np.zeros((len(k), size), complex)
    faces = [_at_faces(layer, k) for layer in stack.layers]
    known = [_known(layer, stack.orders) for layer in stack.layers]
    lower, upper = np.array([1.0, stack.below == "air"]), np.array([1.0, -1.0 * (stack.above == "air")])
    matrix[:, 0, :2], right[:, 0] = lower @ faces[0][0], -known[0] @ lower
    matrix[:, -1, -2:], right[:, -1] = upper @ faces[-1][1], -known[-1] @ upper
    for index in range(len(stack.layers) - 1):
        rows, left = slice(2 * index + 1, 2 * index + 3), 2 * index
        matrix[:, rows, left : left + 2] = faces[index][1]
        matrix[:, rows, left + 2 : left + 4] = -faces[index + 1][0]
        right[:, rows] = known[index + 1] - known[index]
    return matrix, right


def _amplitudes_at(field: LayeredField, z: float) -> tuple[Complexes, Complexes]:
    edges, k, stack = field.edges_m, field.wave_number, field.stack
    slack = 1e-12 * (edges[-1] - edges[0])  # the faces are sums of thicknesses, and round
    if z < edges[0] - slack or z > edges[-1] + slack:
        return _outside(field, z)
    index = int(np.searchsorted(edges[1:-1], z, side="right"))
    layer = stack.layers[index]
    falling = field.falling[index] * np.exp(-k * (z - edges[index]))
    rising = field.rising[index] * np.exp(-k * (edges[index + 1] - z))
    b_x = -1j * layer.mu_r * (falling + rising)  # the particular part of H_x cancels J_x exactly
    b_z = layer.mu_r * (falling - rising) + _harmonics(layer.remanence_z_t, stack.orders)
    return b_x, b_z


def _outside(field: LayeredField, z: float) -> tuple[Complexes, Complexes]:
    above = z > field.edges_m[-1]
    if (field.stack.above if above else field.stack.below) == "iron":
        raise ValueError(f"height {z:.6g} m lies in ideal iron")
    face = float(field.edges_m[-1] if above else field.edges_m[0])
    _, b_z = _amplitudes_at(field, face)
    b_z = b_z * np.exp(-field.wave_number * abs(z - face))
    return (-1j if above else 1j) * b_z, b_z

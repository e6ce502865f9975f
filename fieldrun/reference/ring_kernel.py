"""The field of whole magnets, harmonic by harmonic, from their charge sheets: exact for ideal plates and mu_r = 1.

A magnet along z is two sheets of magnetic charge, +J on its upper face and -J on its lower one. Round the ring the
charge at radius r' has the harmonics J_n(r') = (4 Br / n pi) (sin n p psi_leaves - sin n p psi_enters), psi the angles
at which the circle enters and leaves half a magnet. With the harmonic n p of 1/R (see `toroidal`) the scalar potential
of a sheet at distance d below is

    phi_n(r, z) = (1 / 2 pi) integral of sqrt(r' / r) J_n(r') Q_(np-1/2)(cosh eta) dr'

and B = -grad Re phi_n exp(j n p theta); its derivatives are those of Q: no slice, no mesh, no expansion.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from fieldrun.design.arrays import Complexes, Floats, frozen_array
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.field_map import FieldMap
from fieldrun.reference.images import Bodies, image_bodies
from fieldrun.reference.shares import bend_radii, half_angles
from fieldrun.reference.toroidal import legendre_table

FAINT = 1e-9
"""Sheets whose harmonic falls to less than this part of itself on its way to the wire are left out."""

STEPS, FAR_STEPS = 12, 8
"""Steps of the rule below for every unit of t, near a sheet and further away; half as many as the order on top."""

STEP_END = 3.1
"""Double exponential rule x = tanh(pi/2 sinh t), |t| < 3.1: it ends 3e-15 of the stretch from its ends."""


def ring_kernel_map(
    magnets: Magnets, rotor: Rotor, radii_m: ArrayLike, heights_m: ArrayLike, orders: Iterable[int]
) -> FieldMap:
    """B_r, B_theta and B_z of every harmonic at given radii and heights, exact but for quadrature.

    Assumes magnets along z with recoil permeability 1, and plates, where there are any, of infinite permeability and
    extent. Within 1e-8 of magpylib's closed forms of whole magnets and images from 0.02 magnet thicknesses off a face.

    Parameters
    ----------
    magnets, rotor : the machine
    radii_m : (r,) ascending [m]; the map is splined between them: as close together as the field varies
    heights_m : (z,) ascending, in the gap and off its faces [m]
    orders : (n,) odd harmonics

    Raises
    ------
    ValueError
        For what would come out wrong: a Halbach array, recoil permeability other than 1, real steel, heights that are
        not between the faces.
    """
    radii, heights = np.asarray(radii_m, float), np.asarray(heights_m, float)
    _refuse_other_physics(magnets, rotor)
    _refuse_heights(rotor, heights)
    wanted = np.array(list(orders), np.int64)
    parts = [_amplitudes(magnets, rotor, radii, heights, int(n)) for n in wanted]
    b_r, b_theta, b_z = np.stack(parts, axis=1)
    return FieldMap(magnets.pole_pairs, wanted, radii, heights, b_r, b_theta, b_z)


def _refuse_other_physics(magnets: Magnets, rotor: Rotor) -> None:
    if magnets.pattern != "alternating":
        raise ValueError("the kernel's charge sheets hold for magnets along z only, not for a Halbach array")
    if magnets.recoil_permeability != 1:
        received = f"received {magnets.recoil_permeability:g}"
        raise ValueError(
            f"the kernel is exact for recoil permeability 1 only; {received} (1.05 lowers the EMF by 2-3 %)"
        )
    if rotor.real_steel:
        raise ValueError("the kernel's images stand for ideal plates only; received a plate of real steel")


def _refuse_heights(rotor: Rotor, heights: Floats) -> None:
    top = np.inf if rotor.gap_m is None else rotor.gap_m
    if heights.min() <= 0 or heights.max() >= top:
        asked = f"{heights.min():.6g}..{heights.max():.6g} m"
        raise ValueError(f"heights must lie between the faces, 0..{top:.6g} m, and not on them; received {asked}")


@dataclass(frozen=True, eq=False)
class Strips:
    """Rings of charge that stand for a sheet, as a wire at each of (r,) radii needs them.

    Parameters
    ----------
    m : n p, how often the charge alternates round the ring [1]
    wire_m : (r, 1) the wire's radii [m]
    source_m : (r or 1, q) radii r' of the rings [m]
    charge : (r or 1, q) J_n(r') dr' [T m]
    """

    m: int
    wire_m: Floats
    source_m: Floats
    charge: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("wire_m", "source_m", "charge"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @cached_property
    def share(self) -> Floats:
        """(r, q) charge sqrt(r' / r) / 2 pi [T m]."""
        return np.asarray(self.charge * np.sqrt(self.source_m / self.wire_m) / (2 * np.pi))

    @cached_property
    def product(self) -> Floats:
        """(r, q) r r' [m2]."""
        return np.asarray(self.wire_m * self.source_m)

    @cached_property
    def aside(self) -> Floats:
        """(r, q) r - r' [m]."""
        return np.asarray(self.wire_m - self.source_m)

    @cached_property
    def inward(self) -> Floats:
        """(r, q) r^2 - r'^2 [m2]."""
        return np.asarray(self.aside * (self.wire_m + self.source_m))


def _amplitudes(magnets: Magnets, rotor: Rotor, radii: Floats, heights: Floats, order: int) -> Complexes:
    """(3, r, z) amplitudes of one harmonic."""
    near, far = _strips(magnets, radii, order), _far_strips(magnets, radii, order)
    bends = bend_radii(magnets.outline)
    reach, longest = _reach_m(near.m, max(float(radii.max()), bends[-1])), max(np.diff(bends))
    sheets = _sheets(image_bodies(magnets, rotor, reach))
    table = _table(near, np.abs(np.subtract.outer(heights, [height for _, height in sheets])))
    sums = np.zeros((3, len(radii), len(heights)))
    for i, height in enumerate(heights):
        for sign, at in sheets:
            if abs(height - at) <= reach:
                strips = far if abs(height - at) > longest else near
                sums[:, :, i] += sign * _sheet_field(table, strips, height - at)
    return np.asarray(sums * np.array([1, -1j, 1])[:, None, None])


def _reach_m(m: int, radius: float) -> float:
    """Distance at which two rings of this radius see each other's harmonic, exp(-(m + 1) eta), as `FAINT` [m]."""
    return 2 * radius * float(np.sinh(-np.log(FAINT) / (2 * (m + 1))))


def _sheets(bodies: Bodies) -> tuple[tuple[float, float], ...]:
    """Sign of the charge and height [m] of every body's faces."""
    return tuple(sheet for low, high in bodies for sheet in ((-1.0, low), (1.0, high)))


def _strips(magnets: Magnets, radii: Floats, order: int) -> Strips:
    """Strips over the magnets, each stretch between two bends, the one under the wire cut at the wire's own radius.

    The double exponential rule then copes with a disc's edge, which starts like a square root, and with a sheet that
    lies close to the wire.
    """
    bends = bend_radii(magnets.outline)
    cuts = np.repeat([bends], len(radii), axis=0)
    under = np.clip(radii, bends[0], bends[-1])[:, None]
    return _over(magnets, radii, np.sort(np.concatenate([cuts, under], axis=1), axis=1), order, STEPS)


def _far_strips(magnets: Magnets, radii: Floats, order: int) -> Strips:
    """The same strips for every wire: as good where the sheet is further away than its longest stretch is long."""
    return _over(magnets, radii, np.array([bend_radii(magnets.outline)]), order, FAR_STEPS)


def _over(magnets: Magnets, radii: Floats, cuts: Floats, order: int, steps: int) -> Strips:
    x, weight = _double_exponential(order, steps)
    middle, half = (cuts[:, :-1] + cuts[:, 1:])[..., None] / 2, np.diff(cuts)[..., None] / 2
    source = (middle + half * x).reshape(len(cuts), -1)
    charge = _remanence(magnets, source, order) * (half * weight).reshape(len(cuts), -1)
    return Strips(order * magnets.pole_pairs, radii[:, None], source, charge)


def _double_exponential(order: int, steps: int) -> tuple[Floats, Floats]:
    """Nodes in (-1, 1) and weights; the closer, the faster sin(n p psi) winds over a magnet."""
    count = int(STEP_END * (steps + order / 2))
    t = np.linspace(-STEP_END, STEP_END, 2 * count + 1)
    inner = np.pi / 2 * np.sinh(t)
    return np.tanh(inner), np.pi / 2 * np.cosh(t) / np.cosh(inner) ** 2 * STEP_END / count


def _remanence(magnets: Magnets, radius: Floats, order: int) -> Floats:
    enters, leaves = half_angles(magnets, radius)
    m = order * magnets.pole_pairs
    return 4 * magnets.remanence_t / (order * np.pi) * (np.sin(m * leaves) - np.sin(m * enters))


def _table(strips: Strips, distance: Floats) -> CubicSpline:
    """Legendre functions for every eta that these distances between wire and sheet can bring."""
    wire, source = strips.wire_m, strips.source_m
    low = _eta(wire.max(), source.max(), 0.0, distance.min())
    aside = np.ptp([wire.min(), wire.max(), source.min(), source.max()])
    high = _eta(wire.min(), source.min(), aside, distance.max())
    return legendre_table(strips.m, 0.9 * float(low), 1.1 * float(high))


def _eta(wire: ArrayLike, source: ArrayLike, aside: ArrayLike, distance: ArrayLike) -> Floats:
    return np.asarray(2 * np.arcsinh(np.hypot(aside, distance) / (2 * np.sqrt(np.multiply(wire, source)))))


def _sheet_field(table: CubicSpline, strips: Strips, distance: float) -> Floats:
    """B_r, B_theta over -j, and B_z of a sheet so far below the wire (above it: negative), (3, r).

    d(cosh eta)/dr = (r^2 - r'^2 - d^2) / (2 r^2 r'), d(cosh eta)/dz = d / (r r'). Few and plain operations on the
    large arrays: this is where the kernel's time goes.
    """
    r, m = strips.wire_m[:, 0], strips.m
    square = (strips.aside**2 + distance**2) / (4 * strips.product)
    eta = 2 * np.arcsinh(np.sqrt(square))
    scaled, share = table(np.log(eta)), strips.share * np.exp(-(m + 0.5) * eta)
    steep = share * scaled[..., 1] / (2 * eta * np.sqrt(square * (1 + square)) * strips.source_m)
    value, slope = np.einsum("rq,rq->r", share, scaled[..., 0]), steep.sum(axis=1)
    over_r = (np.einsum("rq,rq->r", steep, strips.inward) - distance**2 * slope) / (2 * r**2)
    return np.stack([over_r + value / (2 * r), value * m / r, slope * distance / r])

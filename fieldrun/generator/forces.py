"""How hard magnets pull across the gap: Maxwell's stress on a plane between what pulls and what is pulled."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Rotor
from fieldrun.design.units import MU0
from fieldrun.field.field_map import FieldMap, amplitudes_at

TOWARDS_PLATE = 0.75
"""Where the stress is taken under a return plate, as a share of the gap: the field along the plate, which subtracts, is
small there, and the corners of magnets and plate are both some way off."""

STILL_TO_COME = 4.0
"""All harmonics beyond the map's, over its last two: at most 3.2 was found for seven rings of 4 to 16 small magnets,
d20 x 10 mm, on circles of 150 to 600 mm, where 0.001 % to 36 % of the pull were cut off."""


@dataclass(frozen=True)
class Forces:
    """What the parts of a machine do to each other at rest.

    Parameters
    ----------
    disc_pull_n : attraction between the two discs, or between the disc and its return plate [N]; None for one face
        with nothing above it
    cut_off : what harmonics beyond the map's may add to it, as a share: next to nothing but for few small magnets on a
        large circle
    """

    disc_pull_n: float | None
    cut_off: float = 0.0


def forces_of(field_map: FieldMap, rotor: Rotor) -> Forces:
    """Attraction across the gap, taken where it is best conditioned: at mid-gap between two faces, where the field has
    no component along the plane to subtract; in the upper part of the gap under a plate.

    Parameters
    ----------
    field_map : the rotor's field; what lies outside the map's radii is left out
    rotor : for the faces and the gap

    Raises
    ------
    ValueError
        If that plane lies outside the map's heights.
    """
    if rotor.gap_m is None:
        return Forces(None)
    share = 0.5 if rotor.faces == 2 else TOWARDS_PLATE
    by_order = pull_by_order(field_map, share * rotor.gap_m)
    pull = float(np.sum(by_order))
    return Forces(pull, STILL_TO_COME * float(np.sum(np.abs(by_order[-2:]))) / pull if pull > 0 else 0.0)


def pull_by_order(field_map: FieldMap, height_m: float) -> Floats:
    """Attraction across a plane of the gap, harmonic by harmonic.

    F_z = INT INT (B_z^2 - B_r^2 - B_theta^2) / (2 mu0) r dr dtheta over the whole plane, pulling together what is above
    it and what is below it. Over a turn, products of different harmonics vanish and cos^2 leaves pi:
    F_n = pi / (2 mu0) INT (|b_z,n|^2 - |b_r,n|^2 - |b_theta,n|^2) r dr. Any plane of the gap gives the same sum, which
    is exact for the map: between its radii it is a cubic. Maxwell's stress tensor as in Furlani, Permanent Magnet and
    Electromechanical Devices (2001), chapter 3 (from memory).

    Parameters
    ----------
    field_map : harmonics n; nothing is assumed outside its radii
    height_m : the plane, in air [m]

    Returns
    -------
    (n,) [N]; their sum is the pull. The last ones tell what higher harmonics might add: across a gap g they fall like
    exp(-n p g / r), slowly for few small magnets on a large circle

    Raises
    ------
    ValueError
        If the plane lies outside the map's heights.
    """
    radius, width = _gauss(np.unique(field_map.radii_m))
    b_r, b_theta, b_z = np.abs(amplitudes_at(field_map, radius, np.full_like(radius, height_m))) ** 2
    return np.asarray((b_z - b_r - b_theta) @ (radius * width) * np.pi / (2 * MU0))


def _gauss(knots: Floats) -> tuple[Floats, Floats]:
    """Points and widths between the map's radii: four are exact for the square of a cubic, times r."""
    node, weight = np.polynomial.legendre.leggauss(4)
    half = np.diff(knots)[:, None] / 2
    return ((knots[1:] + knots[:-1])[:, None] / 2 + half * node).ravel(), (half * weight).ravel()

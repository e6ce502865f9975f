"""The field in the gap, exactly continued from the potential on the lines that bound it.

The gap holds no material, so each harmonic of A obeys a'' = k^2 a between the magnets' face (z = 0) and the upper line.
Values are continued away from the magnets only: towards them, the mesh's noise would grow like exp(k z).
"""

import numpy as np
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.field.harmonics import harmonic_weights, wave_numbers, weighted
from fieldrun.field.level_line import level_amplitudes
from fieldrun.field.magnetostatics import SectionField
from fieldrun.field.section import Section

FAINT = 1e-3
"""A harmonic on the upper line below this share of the fundamental is mesh noise: an ideal surface's value is taken."""


def potential_amplitudes(field: SectionField, height_m: float, orders: Ints) -> Complexes:
    """Harmonic amplitudes a_n of A at a height, (n,) [Wb/m], of orders (n,): on a line that bounds the gap, or across
    elements.
    """
    line = field.line_at(height_m)
    if line is None:
        return level_amplitudes(field.section, field.basis, field.potential, height_m, orders)
    ends, dofs = line
    return weighted(harmonic_weights(field.section, ends, orders), field.potential[dofs])


def gap_amplitudes(field: SectionField, heights_m: ArrayLike, orders: Ints) -> tuple[Complexes, Complexes]:
    """Harmonics of the flux density at heights in the gap.

    Parameters
    ----------
    field : a solved section
    heights_m : (z,) from the lower magnets' face upwards, inside the gap [m]
    orders : (n,) odd orders

    Returns
    -------
    B_x and B_z amplitudes, each (n, z) complex [T], for B = Re sum b_n exp(j k_n x)
    """
    section = field.section
    lower = potential_amplitudes(field, 0.0, orders)
    upper = _upper_amplitudes(field, lower, orders)
    return continued(section, lower, upper, np.asarray(heights_m, float), orders)


def _upper_amplitudes(field: SectionField, lower: Complexes, orders: Ints) -> Complexes:
    """Amplitudes on the upper line: measured where a real plate makes them, else as on a surface crossed squarely."""
    section = field.section
    ideal = ideal_upper(section, lower, orders, _line(section))
    if section.top == "normal" or section.upper_line_m is None:
        return ideal
    measured = potential_amplitudes(field, section.upper_line_m, orders)
    return np.where(np.abs(ideal) > FAINT * np.abs(ideal[0]), measured, ideal)


def ideal_upper(section: Section, lower: Complexes, orders: Ints, line_m: Floats | None) -> Complexes:
    """Amplitudes on an upper line that flux crosses squarely: a(H) = a(0) / cosh kH, from a'' = k^2 a with a'(H) = 0.

    Parameters
    ----------
    section : whose pole pitch counts
    lower : (..., n) amplitudes of A at z = 0 [Wb/m]
    orders : (n,) odd
    line_m : (...) heights H of the line [m]; None where there is none

    Returns
    -------
    (..., n) [Wb/m]; zero where there is no line
    """
    if line_m is None:
        return np.zeros_like(lower)
    return np.asarray(lower / np.cosh(np.minimum(wave_numbers(section, orders) * line_m[..., None], 700.0)))


def continued(
    section: Section, lower: Complexes, upper: Complexes, heights_m: Floats, orders: Ints
) -> tuple[Complexes, Complexes]:
    """Solve a'' = k^2 a between the two lines, or with decay where there is no upper one.

    a(z) = [lower sinh k(H - z) + upper sinh kz] / sinh kH, written with falling exponentials so that nothing overflows;
    above a mirrored gap's middle the lower half is repeated.

    Parameters
    ----------
    section : whose lines and pole pitch count
    lower, upper : (n,) amplitudes of A on the two lines [Wb/m]
    heights_m : (z,) [m]
    orders : (n,)

    Returns
    -------
    B_x and B_z amplitudes, each (n, z) complex [T]
    """
    return continued_between(section, _line(section), lower, upper, heights_m, orders)


def _line(section: Section) -> Floats | None:
    return None if section.upper_line_m is None else np.array(section.upper_line_m)


def continued_between(  # noqa: PLR0917 - as `continued`
    section: Section, line_m: Floats | None, lower: Complexes, upper: Complexes, heights_m: Floats, orders: Ints
) -> tuple[Complexes, Complexes]:
    """`continued` for many gaps of one section, by the same law.

    Their upper lines (...) and heights (..., z) [m], amplitudes (..., n) [Wb/m] of orders (n,); B_x and B_z each
    (..., n, z) [T].
    """
    k = wave_numbers(section, orders)[:, None]
    z, low = heights_m[..., None, :], lower[..., None]
    if line_m is None:
        a = low * np.exp(-k * z)
        return k * a, 1j * k * a
    H, high = line_m[..., None, None], upper[..., None]
    if section.mirrored:
        above = z > H
        z = np.where(above, 2 * H - z, z)
    down, up, far = np.exp(-k * z), np.exp(-k * (H - z)), np.exp(-k * H)
    scale = 1 / -np.expm1(-2 * k * H)
    a = (scale * (down - far * up)) * low + (scale * (up - far * down)) * high
    slope = (k * scale * (up + far * down)) * high - (k * scale * (down + far * up)) * low
    return np.where(above, slope, -slope) if section.mirrored else -slope, 1j * k * a

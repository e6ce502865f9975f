"""Magnets and their images: what stands for ideal plates where the fields of bodies in free space are summed."""

from fieldrun.design.model import Magnets, Rotor

Bodies = tuple[tuple[float, float], ...]
"""Lowest and highest height [m] of each body; every body has the outline and the magnetisation of the lower magnets."""


def image_bodies(magnets: Magnets, rotor: Rotor, reach_m: float) -> Bodies:
    """Magnet bodies and their images in ideal plates of unlimited extent.

    A magnet along z keeps its sign in the image, so magnets on a plate and their image make one body of twice the
    thickness, [-2h, 0]. Two faces in air are [-h, 0] and [g, g + h]; a plate facing magnets in air mirrors them to
    [2g, 2g + h]; between two plates [-2h, 0] repeats for ever, every g + 2h if both carry magnets, else every
    2 (g + h).

    Parameters
    ----------
    magnets : along z; only the thickness counts
    rotor : which faces and plates there are; a plate of real steel is taken as ideal
    reach_m : endless rows of images go on until they are so far from the gap [m]
    """
    h, gap = magnets.thickness_m, rotor.gap_m
    own = (-2 * h if rotor.backing is not None else -h, 0.0)
    if gap is None:
        return (own,)
    plated = rotor.faces == 1
    if rotor.backing is None:
        return (own, (2 * gap, 2 * gap + h) if plated else (gap, gap + h))
    period = 2 * (gap + h) if plated else gap + 2 * h
    last = int(reach_m / period) + 2
    return tuple((own[0] + n * period, own[1] + n * period) for n in range(-last, last + 1))

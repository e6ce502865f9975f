"""Rings of whole magnets as magpylib's bodies, for tests that take their fields in closed form."""

import math
from collections.abc import Callable
from types import ModuleType
from typing import Any

import numpy as np

from fieldrun.design.model import Arc, Disc, Magnets, Outline


def ring_of_bodies(
    magpylib: ModuleType, magnets: Magnets, between_m: tuple[float, float], outline: Outline | None = None
) -> list[Any]:
    """All magnets of a disc between two heights, north poles first; with another outline if one is given."""
    pitch = 360 / magnets.count
    poles = [_body(magpylib, magnets, between_m, outline or magnets.outline, (-1) ** j) for j in range(magnets.count)]
    return [pole.rotate_from_angax(j * pitch, "z", anchor=0) for j, pole in enumerate(poles)]


def by_half_poles(field: Callable[[np.ndarray], np.ndarray], count: int, points: np.ndarray) -> np.ndarray:
    """The field (k, 3) of a ring of `count` equal magnets at Cartesian points (k, 3), each different place asked once.

    The ring turned by one magnet is itself with poles exchanged, and mirrored at a magnet's axis it is itself: every
    point has its like within half a magnet's pitch. A wire turned step by step meets few different places there.
    """
    pitch, theta = 2 * math.pi / count, np.arctan2(points[:, 1], points[:, 0])
    turns = np.rint(theta / pitch)
    aside, pole, side = theta - turns * pitch, (-1) ** (turns % 2), np.where(theta < turns * pitch, -1.0, 1.0)
    places = np.stack([np.hypot(points[:, 0], points[:, 1]), np.abs(aside), points[:, 2]], axis=1)
    _, first, like = np.unique(places.round(12), axis=0, return_index=True, return_inverse=True)
    r, turn, z = places[first].T
    found = field(np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1))
    radial, around = np.cos(turn) * found[:, 0] + np.sin(turn) * found[:, 1], np.cos(turn) * found[:, 1]
    around = (around - np.sin(turn) * found[:, 0])[like.ravel()] * side
    radial, axial, c, s = radial[like.ravel()], found[like.ravel(), 2], np.cos(theta), np.sin(theta)
    return np.asarray(pole[:, None] * np.stack([c * radial - s * around, s * radial + c * around, axial], axis=1))


def _body(magpylib: ModuleType, magnets: Magnets, between_m: tuple[float, float], outline: Outline, sign: int) -> Any:
    low, high = between_m
    polarization, middle = (0, 0, sign * magnets.remanence_t), (low + high) / 2
    if isinstance(outline, Arc):
        half = math.degrees(outline.share * math.pi / magnets.count)
        sector = (outline.inner_radius_m, outline.outer_radius_m, high - low, -half, half)
        return magpylib.magnet.CylinderSegment(polarization=polarization, dimension=sector, position=(0, 0, middle))
    place = (outline.pitch_radius_m, 0, middle)
    if isinstance(outline, Disc):
        size = (outline.diameter_m, high - low)
        return magpylib.magnet.Cylinder(polarization=polarization, dimension=size, position=place)
    sides = (outline.radial_m, outline.tangential_m, high - low)
    return magpylib.magnet.Cuboid(polarization=polarization, dimension=sides, position=place)

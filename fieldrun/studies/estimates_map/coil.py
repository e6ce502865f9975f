"""The winding that the study holds into every machine: one round of the design's shape, flat at one height."""

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from fieldrun.design.model import Magnets, Winding, Wire
from fieldrun.design.shapes import numbers_of
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import radial_breaks_m
from fieldrun.generator.emf import emf_harmonics
from fieldrun.winding.factors import factors
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import Pieces, lengths
from fieldrun.winding.sampling import selected

HAIR = Wire("solid", 1e-6, 1, 1e-6)
"""A wire that takes no room: one round lies where its shape is drawn, whatever the wire."""


def one_round(winding: Winding, magnets: Magnets) -> Winding:
    """One round of a winding's shape over its own radii; of a path, which has none, a serpentine over the magnets."""
    path = winding.shape == "path"
    inner, *_, outer = radial_breaks_m(magnets)
    return Winding(
        shape="serpentine" if path else winding.shape,
        inner_radius_m=inner if path else winding.inner_radius_m,
        outer_radius_m=outer if path else winding.outer_radius_m,
        phases=1,
        rounds=1,
        layers=1,
        height_m=winding.height_m,
        leg=winding.leg,
        connection="separate",
        **numbers_of(winding),
    )


def shape_factor(winding: Winding, pole_pairs: int) -> float:
    """Fundamental factor of one round in a field that is even along the legs, against radial legs."""
    return _shape_factor(one_height(winding), pole_pairs)


def one_height(winding: Winding) -> Winding:
    """The winding without its height: what is remembered must not depend on it."""
    return replace(winding, height_m=0.0)


@lru_cache(maxsize=16)
def _shape_factor(winding: Winding, pole_pairs: int) -> float:
    return abs(factors(_laid(winding, pole_pairs), winding, HAIR).total)


@lru_cache(maxsize=16)
def _laid(winding: Winding, pole_pairs: int) -> Lay:
    return lay(winding, pole_pairs, HAIR)


def emf_of_round(field_map: FieldMap, winding: Winding, height_m: float) -> float:
    """Effective value of the fundamental EMF per speed of one round, all its wire at one height [V s/rad]."""
    pieces = _flattened(_laid(one_height(winding), field_map.pole_pairs).pieces, height_m)
    first = emf_harmonics(field_map, pieces, 1)[0, field_map.orders == 1]
    return float(np.abs(first[0])) / math.sqrt(2)


def _flattened(pieces: Pieces, height_m: float) -> Pieces:
    """All of a round at one height; what only led from sheet to sheet has no length left and goes."""
    start, end = (np.column_stack([ends[:, :2], np.full(len(ends), height_m)]) for ends in (pieces.start, pieces.end))
    flat = replace(pieces, start=start, end=end)
    return selected(flat, np.flatnonzero(lengths(flat) > 0))

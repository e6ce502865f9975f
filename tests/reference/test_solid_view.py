"""The judge's field in space: right-handed tetrahedra, whole volumes, the field that the judge's own map tells."""

import math

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import field_at
from fieldrun.reference.solid import solve_solid
from fieldrun.reference.solid_view import solid_view

MAGNETS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
ROTOR = Rotor(2, 0.008, Plate(steel_curve("mild steel"), 0.006), None, 0.050, 0.082)
HEIGHT = 0.003


@pytest.fixture(scope="module")
def view():
    return solid_view(MAGNETS, ROTOR, HEIGHT)


def volumes(view):
    """Of each tetrahedron between its corners, in (r, theta, z) scaled to true lengths at its middle."""
    corners = view.places[view.tets[:, :4]]
    edges = corners[:, 1:] - corners[:, :1]
    return np.linalg.det(edges) / 6 * view.centres[:, 0]


def test_every_tetrahedron_is_right_handed_and_none_is_missing(view):
    size = volumes(view)
    assert size.min() > 0
    (r0, _, z0), (r1, theta, z1) = view.places.min(axis=0), view.places.max(axis=0)
    assert theta == pytest.approx(math.pi / 16)
    assert size.sum() == pytest.approx(theta * (r1**2 - r0**2) / 2 * (z1 - z0), rel=1e-9)


def test_middles_of_edges_are_where_they_are_said_to_be(view):
    places = view.places[view.tets]
    for node, (a, b) in zip(range(4, 10), ((0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)), strict=True):
        assert places[:, node] == pytest.approx((places[:, a] + places[:, b]) / 2)


def test_regions_have_their_volumes(view):
    assert view.regions == ("magnet_up", "backing")
    size = volumes(view)
    steel = size[view.region == 1].sum()
    assert steel == pytest.approx(math.pi / 16 * (0.082**2 - 0.050**2) / 2 * 0.006, rel=1e-6)
    magnet = size[view.region == 0].sum()
    assert magnet == pytest.approx(math.pi * 0.01**2 / 2 * 0.006, rel=0.05)  # by cells that are half covered or more
    assert np.all(view.permeability[view.region == 1] > 50)


def test_its_field_is_that_of_the_judge_s_map(view):
    """Gradients in the middle of coarse tetrahedra against weak fluxes on planes: 1 % of the peak, effective."""
    heights = [0.001, 0.002, HEIGHT, 0.004]
    field_map = solve_solid(MAGNETS, ROTOR, heights).field_map
    r, _, z = view.centres.T
    inside = (z > 0.001) & (z < 0.004) & (r > 0.05) & (r < 0.085)
    assert inside.sum() > 500
    known = field_at(field_map, *view.centres[inside].T)
    off = view.flux_t[inside].T - known
    assert np.sqrt(np.mean(off**2)) < 0.01 * np.abs(known).max()


def test_the_potential_vanishes_between_poles_and_at_mid_gap(view):
    edge = np.isclose(view.places[:, 1], math.pi / 16)
    assert np.all(view.potential_a[edge] == 0)
    assert np.all(view.potential_a[np.isclose(view.places[:, 2], 0.004)] == 0)
    assert np.abs(view.potential_a).max() > 100


def test_what_it_does_not_know_is_refused():
    lying = Magnets(Block(0.02, 0.01, 0.066), 16, 0.006, 1.3, 1.05, 7500.0, pattern="halbach", segments_per_pole=2)
    with pytest.raises(ValueError, match="along z in turn only"):
        solid_view(lying, ROTOR, HEIGHT)

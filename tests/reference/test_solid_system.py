"""Grid, matrix and drive of the solid judge: lines where they must be, and scikit-fem's matrix of the same mesh."""

import math
from dataclasses import replace

import numpy as np
import pytest
import skfem
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.design.units import MU0
from fieldrun.reference.solid_grid import SolidGrid, solid_grid, with_midpoints
from fieldrun.reference.solid_outline import coverage
from fieldrun.reference.solid_shapes import TET_NODES
from fieldrun.reference.solid_system import linear_system, stiffness

STEEL = Plate(SteelCurve("even", (0.0, 2.0), (0.0, 2.0 / (1000 * MU0))), 0.004)
MAGNETS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
TWO_FACES = Rotor(2, 0.009, STEEL, None, 0.050, 0.082)
SMALL = SolidGrid(
    pole_pairs=8,
    radii_m=np.array([0.050, 0.052, 0.055]),
    angles_rad=np.linspace(0, math.pi / 16, 4),
    heights_m=np.array([-0.002, 0.0, 0.001, 0.004]),
    magnet_layers=(0, 1),
    steels=(),
    closed_below=True,
    closed_above=True,
)


@skfem.BilinearForm
def rounded(u, v, w):
    """Gradients in (r, theta, z), volume r dr dtheta dz."""
    du, dv, r = u.grad, v.grad, w.x[0]
    return r * (du[0] * dv[0] + du[1] * dv[1] / r**2 + du[2] * dv[2])


def test_matrix_is_scikit_fems():
    lines = SMALL.radii_m, SMALL.angles_rad, SMALL.heights_m
    corners = np.stack(np.meshgrid(*lines, indexing="ij")).reshape(3, -1)
    first = np.stack(np.meshgrid(*(np.arange(count) for count in SMALL.cells), indexing="ij")).reshape(3, -1)
    shape = tuple(len(line) for line in lines)
    tets = [np.ravel_multi_index(first[:, :, None] + nodes[:4].T[:, None] // 2, shape) for nodes in TET_NODES]
    mesh = skfem.MeshTet(corners, np.concatenate(tets).T.copy(), sort_t=True)
    basis = skfem.Basis(mesh, skfem.ElementTetP2(), intorder=8)
    fine = [with_midpoints(line) for line in lines]
    place = [np.argmin(np.abs(fine[axis][:, None] - basis.doflocs[axis]), axis=0) for axis in range(3)]
    node = np.ravel_multi_index(place, SMALL.nodes)
    assert len(set(node)) == np.prod(SMALL.nodes)
    ours = stiffness(SMALL, np.ones((*SMALL.cells, 6)), slice(0, 3))[node][:, node].toarray()
    theirs = rounded.assemble(basis).toarray()
    assert ours == pytest.approx(theirs, abs=1e-7 * np.abs(theirs).max())  # 1 / r is no polynomial


def test_layers_add_up_to_the_whole():
    mu = np.random.default_rng(1).uniform(1, 2, (*SMALL.cells, 6))
    parts = [stiffness(SMALL, mu, slice(k, k + 1)) for k in range(3)]
    whole = stiffness(SMALL, mu, slice(0, 3))
    assert abs(whole - (parts[0] + parts[1] + parts[2])).max() < 1e-12 * abs(whole).max()


def test_matrix_is_symmetric_and_blind_to_a_constant():
    matrix = stiffness(SMALL, np.ones((*SMALL.cells, 6)), slice(0, 3))
    assert abs(matrix - matrix.T).max() < 1e-14 * abs(matrix).max()
    assert np.abs(matrix @ np.ones(matrix.shape[0])).max() < 1e-13 * abs(matrix).max()


def test_magnets_drive_their_faces_only():
    arc = replace(MAGNETS, outline=Arc(0.050, 0.055, 1.0))
    cover = coverage(arc.outline, 16, SMALL.radii_m, SMALL.angles_rad)
    system = linear_system(SMALL, arc, cover)
    drive = system.drive.reshape(SMALL.nodes)
    assert drive[:, :, 2].sum() == pytest.approx(1.3 * math.pi / 32 * (0.055**2 - 0.050**2))
    assert drive[:, :, 0].sum() == pytest.approx(-drive[:, :, 2].sum())
    assert not drive[:, :, [1, 3, 4, 5, 6]].any()
    assert system.permeability[:, :, 0] == pytest.approx(1.05)
    assert system.permeability[:, :, 1:] == pytest.approx(1)


def test_held_nodes():
    system = linear_system(SMALL, MAGNETS, coverage(Disc(0.004, 0.0525), 16, SMALL.radii_m, SMALL.angles_rad))
    free = system.free.reshape(SMALL.nodes)
    assert free[1:-1, 0, 1:-1].all()
    for edge in (free[0], free[-1], free[:, -1], free[..., 0], free[..., -1]):
        assert not edge.any()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    inner=st.floats(0.0, 0.064),
    outer=st.floats(0.068, 0.2),
    heights=st.lists(st.floats(0.0001, 0.0045), min_size=1, max_size=5),
    count=st.sampled_from([2, 4, 16, 40]),
    thick=st.floats(0.0005, 0.03),
)
def test_lines_pass_where_they_must(inner, outer, heights, count, thick):
    plate = replace(STEEL, thickness_m=thick)
    grid = solid_grid(
        replace(MAGNETS, count=count),
        replace(TWO_FACES, backing=plate, steel_inner_radius_m=inner, steel_outer_radius_m=outer),
        heights,
        0.6,
    )
    for lines in (grid.radii_m, grid.angles_rad, grid.heights_m):
        assert np.all(np.diff(lines) > 0)
    assert grid.angles_rad[-1] == pytest.approx(math.pi / count)
    (_, (low, high), (first, last)) = grid.steels[0]
    assert grid.heights_m[[low, high]] == pytest.approx([-0.006 - thick, -0.006], abs=1e-12)
    assert grid.heights_m[list(grid.magnet_layers)] == pytest.approx([-0.006, 0], abs=1e-12)
    assert grid.heights_m[-1] == pytest.approx(0.0045)
    assert grid.radii_m[last] == pytest.approx(outer)
    if inner > grid.radii_m[0]:
        assert grid.radii_m[first] == pytest.approx(inner)
    else:
        assert first == 0
    for z in heights:
        assert np.min(np.abs(grid.heights_m - z)) < 1.2e-6
    assert 0 < grid.radii_m[0] < 0.056
    assert grid.radii_m[-1] > 0.076


@pytest.mark.parametrize(
    ("rotor", "closed", "steels"),
    [
        (Rotor(1, None, None, None, 0.05, 0.08), (False, False), 0),
        (Rotor(1, None, Plate(None), None, 0.05, 0.08), (True, False), 0),
        (Rotor(1, 0.009, Plate(None), Plate(None), 0.05, 0.08), (True, True), 0),
        (Rotor(1, 0.009, STEEL, STEEL, 0.05, 0.08), (False, False), 2),
        (Rotor(2, 0.009, None, None, 0.05, 0.08), (False, True), 0),
        (Rotor(2, 0.009, STEEL, None, 0.05, 0.08), (False, True), 1),
    ],
)
def test_what_closes_the_field(rotor, closed, steels):
    grid = solid_grid(replace(MAGNETS, outline=Block(0.02, 0.012, 0.066)), rotor, [0.004], 0.6)
    assert (grid.closed_below, grid.closed_above) == closed
    assert len(grid.steels) == steels

"""Rings between steel discs: against axisymmetric finite elements, endless plates, and the limits of both."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.special import ellipe, ellipk
from skfem import Basis, BilinearForm, ElementQuad2, MeshQuad, condense, solve

from fieldrun.design.model import Winding, Wire
from fieldrun.generator import shaft_rings
from fieldrun.generator.mirrors import Disc, Plates, images
from fieldrun.generator.ring_discs import disc_rings_sums, ring_field
from fieldrun.generator.shaft_rings import Rings, coaxial, far_rings_sum, image_rings_sum, rings_of
from fieldrun.winding.combs import families, lowered
from fieldrun.winding.lay import lay
from fieldrun.winding.meetings import Image
from fieldrun.winding.sampling import distinct

RINGS = Rings(np.array([0.055, 0.066, 0.076]), np.array([0.003, 0.004, 0.005]), np.ones(3))
LOW, HIGH = Disc(-0.006, -0.012, (0.05, 0.082)), Disc(0.014, 0.020, (0.05, 0.082))
AIR = 1.0
"""Distance to where the finite elements end [m]."""


def graded(places, parts):
    """Lines through all places, crowded near each of them, then ever farther apart out to the end of the air."""
    share = (1 - np.cos(np.linspace(0, np.pi, parts + 1)[1:])) / 2
    lines = [places[0], *np.concatenate([low + (high - low) * share for low, high in pairwise(places)])]
    return np.r_[lines, lines[-1] + outwards(lines[-1] - lines[-2])]


def outwards(step):
    return np.cumsum(step * 1.2 ** np.arange(1, np.log(AIR / step * 0.2) / np.log(1.2)))


def added_by_elements(rings, discs, parts):
    """What discs add to the flux linkage of rings by their own current, in units of mu0 / 4 pi.

    psi = r A on second-order quads minimises the integral of |grad psi|^2 / (2 mu r) less the currents' psi, 2 pi psi
    being the flux through a ring. Both times on one mesh, so that what rings see of themselves cancels.
    """
    heights = sorted({*rings.height, *(z for disc in discs for z in (disc.face_m, disc.back_m))})
    radii = sorted({0.0, *rings.radius, *(r for disc in discs for r in disc.radii_m)})
    up = graded(heights, parts)
    mesh = MeshQuad.init_tensor(graded(radii, parts), np.r_[heights[0] - outwards(up[1] - up[0])[::-1], up])
    basis = Basis(mesh, ElementQuad2())

    @BilinearForm
    def energy(u, v, w):
        r, z = w.x
        permeability = np.ones_like(r)
        for disc in w.discs:
            low, high = sorted((disc.face_m, disc.back_m))
            permeability[(r > disc.radii_m[0]) & (r < disc.radii_m[1]) & (z > low) & (z < high)] = 1e6
        return (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]) / (permeability * r)

    at = [
        basis.nodal_dofs[0][np.argmin(np.hypot(mesh.p[0] - r, mesh.p[1] - z))]
        for r, z in zip(rings.radius, rings.height, strict=True)
    ]
    current = np.zeros(basis.N)
    current[at] = rings.turns
    rim = basis.get_dofs().flatten()
    air, steel = (solve(*condense(energy.assemble(basis, discs=d), current, D=rim)) for d in ((), discs))
    return 8 * np.pi**2 * float(rings.turns @ (steel - air)[at])


@pytest.mark.slow
@pytest.mark.parametrize("discs", [(LOW, HIGH), (LOW,), (LOW, Disc(0.0065, 0.0085, (0.05, 0.082)))])
def test_what_discs_add_is_what_finite_elements_find(discs):
    coarse, added = (added_by_elements(RINGS, discs, parts) for parts in (4, 7))
    assert coarse == pytest.approx(added, rel=5e-3)
    assert disc_rings_sums([RINGS], discs)[0, 0] == pytest.approx(added, rel=0.01)


def test_a_large_disc_is_a_mirror():
    wide = Disc(-0.006, -0.016, (1e-4, 1.0))
    mirror = images(Plates((-0.006,)), 0.004, 0.0)
    ring = Rings(np.array([0.066]), np.array([0.014]), np.ones(1))
    assert disc_rings_sums([ring], (wide,))[0, 0] == pytest.approx(image_rings_sum(ring, ring, mirror), rel=0.03)


def test_a_disc_without_a_hole_is_one_with_a_tiny_hole():
    whole, pierced = (replace(LOW, radii_m=(inner, 0.082)) for inner in (0.0, 1e-3))
    added = disc_rings_sums([RINGS], (whole,))
    assert added == pytest.approx(disc_rings_sums([RINGS], (pierced,)), rel=2e-3)
    assert added > disc_rings_sums([RINGS], (LOW,))


def test_discs_add_less_than_endless_plates_and_more_the_larger_they_are():
    endless = far_rings_sum(RINGS, RINGS, Plates((-0.006, 0.014)), 0.0)
    sizes = [(0.06, 0.07), (0.05, 0.082), (0.03, 0.1), (0.01, 0.2)]
    added = [
        disc_rings_sums([RINGS], (replace(LOW, radii_m=radii), replace(HIGH, radii_m=radii)))[0, 0] for radii in sizes
    ]
    assert 0 < added[0] < added[1] < added[2] < added[3] < endless


def test_phases_couple_through_discs_as_their_sum_does():
    other = Rings(np.array([0.06]), np.array([0.008]), np.array([-2.0]))
    both = Rings(*(np.r_[getattr(RINGS, n), getattr(other, n)] for n in ("radius", "height", "turns")))
    matrix = disc_rings_sums([RINGS, other], (LOW, HIGH))
    assert matrix == pytest.approx(matrix.T, rel=1e-2)  # charges on panels, potential between them: not exactly so
    assert disc_rings_sums([both], (LOW, HIGH))[0, 0] == pytest.approx(matrix.sum(), rel=1e-9)


def test_no_turns_round_the_shaft_meet_no_discs():
    none = Rings(np.zeros(0), np.zeros(0), np.zeros(0))
    assert disc_rings_sums([none, none], (LOW, HIGH)) == pytest.approx(np.zeros((2, 2)))
    assert far_rings_sum(none, RINGS, Plates((-0.006, 0.014)), 0.0) == 0
    assert disc_rings_sums([RINGS, none], (LOW,))[0, 1] == 0


def test_field_of_a_circle_on_its_axis_and_far_away():
    """On the axis a^2 / (2 (a^2 + z^2)^(3/2)); far away a dipole."""
    outward, upward = ring_field(np.array(0.05), np.array(1e-9), np.array(0.03))
    assert upward == pytest.approx(0.05**2 / (2 * (0.05**2 + 0.03**2) ** 1.5), rel=1e-6)
    assert abs(outward) < 1e-6
    moment, r, z = np.pi * 0.05**2, 3.0, 4.0
    outward, upward = ring_field(np.array(0.05), np.array(r), np.array(z))
    assert outward == pytest.approx(3 * moment * r * z / (4 * np.pi * 5**5), rel=1e-3)
    assert upward == pytest.approx(moment * (3 * z**2 - 25) / (4 * np.pi * 5**5), rel=5e-3)


def test_far_rings_and_near_rings_make_one_row():
    plates, radius = Plates((0.0, 0.03)), np.array(0.05)
    one = Rings(np.array([0.05]), np.array([0.01]), np.ones(1))
    shifts = 0.06 * np.arange(20_000)
    row = coaxial(radius, radius, np.concatenate([0.02 + shifts, 0.04 + shifts])).sum()
    row += 2 * coaxial(radius, radius, shifts[1:]).sum()
    for split in (0.0, 0.05, 0.21, 2.0):
        near = image_rings_sum(one, one, images(plates, 0.01, split))
        assert near + far_rings_sum(one, one, plates, split) == pytest.approx(row, rel=1e-3)


def test_coaxial_circles():
    m = 4 * 0.05 * 0.03 / (0.08**2 + 0.02**2)
    wanted = 4 * np.pi * np.sqrt(0.05 * 0.03 / m) * ((2 - m) * ellipk(m) - 2 * ellipe(m))
    assert coaxial(np.array(0.05), np.array(0.03), np.array(0.02)) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize(
    ("shape", "belts", "turns"), [("zigzag", 1, 2), ("zigzag", 2, 0), ("serpentine", 1, 2), ("diamond", 1, 0)]
)
def test_a_wave_goes_once_round_the_shaft_and_a_closed_turn_does_not(shape, belts, turns):
    winding = Winding(shape, 0.05, 0.08, 3, 2, 1, 0.006, belts=belts)
    pieces = lay(winding, 6, Wire("solid", 0.5e-3, 1, 0.6e-3)).pieces
    kinds = distinct(lowered(pieces))
    assert rings_of(kinds.pieces, families(pieces, kinds, 0)).turns.sum() == pytest.approx(turns, abs=1e-5)


def test_very_many_rings_on_a_grid_link_what_they_link_one_by_one(monkeypatch):
    """The grid's step is a hundredth of the radius, which may move what two equal phases link by some thousandths."""
    winding = Winding("zigzag", 0.05, 0.08, 1, 24, 12, 0.008)
    pieces = lay(winding, 6, Wire("solid", 0.5e-3, 1, 0.6e-3)).pieces
    kinds = distinct(lowered(pieces))
    one_by_one = rings_of(kinds.pieces, families(pieces, kinds, 0))
    monkeypatch.setattr(shaft_rings, "RINGS_AT_MOST", 3)
    fewer = rings_of(kinds.pieces, families(pieces, kinds, 0))
    assert 3 < len(fewer.radius) < len(one_by_one.radius)
    assert fewer.turns.sum() == pytest.approx(one_by_one.turns.sum(), rel=1e-9)
    above = Rings(np.array([0.066]), np.array([0.03]), np.ones(1))
    linked = [image_rings_sum(above, rings, (Image(1, 0.0),)) for rings in (one_by_one, fewer)]
    assert linked[1] == pytest.approx(linked[0], rel=5e-3)

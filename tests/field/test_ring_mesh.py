"""Where the mesh of the rings has its lines: on everything that is built, and far enough away."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.axis import Axis
from fieldrun.field.outline import radial_breaks_m
from fieldrun.field.ring_mesh import LEFT_FAR_AWAY, RingDensity, RingMesh, Span, axis_of_span, reach, ring_mesh

GAP = 0.009
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.022, 0.016, 0.066))
ARCS = replace(DISCS, outline=Arc(0.056, 0.076, 0.7))
MILD = steel_curve("mild steel")
OPEN = Rotor(1, None, None, None, 0.05, 0.085)
FACING = replace(OPEN, faces=2, gap_m=GAP)
STEEL = replace(FACING, backing=Plate(MILD, 0.004))
PLATED = replace(OPEN, gap_m=GAP, backing=Plate(MILD, 0.005), return_plate=Plate(MILD, 0.003))
BENEATH = replace(OPEN, gap_m=GAP, return_plate=Plate(None))
IDEAL = replace(FACING, backing=Plate(None))
ROTORS = {"open": OPEN, "facing": FACING, "steel": STEEL, "plated": PLATED, "beneath": BENEATH, "ideal": IDEAL}


def mesh_of(rotor: Rotor, magnets: Magnets = DISCS, density: RingDensity | None = None) -> RingMesh:
    return ring_mesh(magnets, rotor, density or RingDensity())


def ends(axis: Axis, span: Span) -> tuple[float, float]:
    return float(axis.vertices_m[span.first]), float(axis.vertices_m[span.end])


@pytest.mark.parametrize("rotor", ROTORS)
@pytest.mark.parametrize("magnets", [DISCS, BLOCKS, ARCS], ids=["discs", "blocks", "arcs"])
def test_lines_lie_on_magnets_and_gap(magnets: Magnets, rotor: str) -> None:
    mesh = mesh_of(ROTORS[rotor], magnets)
    breaks = radial_breaks_m(magnets)
    assert set(breaks) <= set(mesh.radial.vertices_m.tolist())
    assert ends(mesh.radial, mesh.magnet_radial) == (breaks[0], breaks[-1])
    assert ends(mesh.axial, mesh.magnet_axial) == (-0.006, 0.0)
    bottom, top = ends(mesh.axial, mesh.gap)
    assert bottom == 0.0
    above = {"open": mesh.axial.vertices_m[-1], "plated": GAP, "beneath": GAP}
    assert top == above.get(rotor, GAP / 2)
    for axis in (mesh.radial, mesh.axial):
        assert np.all(np.diff(axis.vertices_m) > 0)


def test_steel_lies_behind_its_face() -> None:
    for rotor, expected in (
        (STEEL, {"backing": (-0.010, -0.006)}),
        (PLATED, {"backing": (-0.011, -0.006), "return plate": (GAP, 0.012)}),
        (OPEN, {}),
        (IDEAL, {}),
    ):
        mesh = mesh_of(rotor)
        found = {steel.name: ends(mesh.axial, steel.axial) for steel in mesh.steels}
        assert found.keys() == expected.keys()
        for steel in mesh.steels:
            assert found[steel.name] == pytest.approx(expected[steel.name], abs=1e-15)
            assert ends(mesh.radial, steel.radial) == (0.05, 0.085)
            assert steel.axial.end - steel.axial.first == RingDensity().plate
            assert steel.curve is MILD
        assert [steel.thickness_m for steel in mesh.steels] == [
            plate.thickness_m for plate in (rotor.backing, rotor.return_plate) if plate and plate.steel
        ]


@pytest.mark.parametrize(("inner", "outer"), [(0.060, 0.070), (0.050, 0.070), (0.056, 0.076), (0.060, 0.2)])
def test_steel_may_be_smaller_than_the_magnets_or_larger(inner: float, outer: float) -> None:
    mesh = mesh_of(replace(STEEL, steel_inner_radius_m=inner, steel_outer_radius_m=outer), ARCS)
    (steel,) = mesh.steels
    assert ends(mesh.radial, steel.radial) == (inner, outer)
    assert ends(mesh.radial, mesh.magnet_radial) == (0.056, 0.076)


def test_ideal_plates_end_the_mesh() -> None:
    assert mesh_of(IDEAL).axial.vertices_m[[0, -1]].tolist() == [-0.006, GAP / 2]
    assert mesh_of(BENEATH).axial.vertices_m[-1] == GAP
    assert mesh_of(BENEATH).axial.vertices_m[0] < -0.06


def test_air_reaches_far() -> None:
    """Radially to where r^(n p) has lost a factor of a thousand; beyond the faces nine radii per pole pair."""
    for count in (2, 4, 16, 60):
        mesh = mesh_of(OPEN, replace(ARCS, count=count))
        fade = LEFT_FAR_AWAY ** (-1 / count)
        assert mesh.radial.vertices_m[[0, -1]] == pytest.approx([0.056 / fade, 0.076 * fade])
        assert mesh.axial.vertices_m[-1] == pytest.approx(9 * 0.066 / (count / 2))
        assert mesh.axial.vertices_m[0] <= -9 * 0.066 / (count / 2)


@pytest.mark.parametrize("rotor", ROTORS)
@pytest.mark.parametrize("wave", [8, 24, 248])
def test_reach_covers_everything_solid_and_shrinks_with_the_wave(rotor: str, wave: int) -> None:
    """Its ends are the mesh's own, or lie beyond radii and heights where the harmonic has died out."""
    mesh = mesh_of(ROTORS[rotor])
    inner, outer, low, high = mesh.core_m
    across, along = reach(mesh, wave)
    fade, far = LEFT_FAR_AWAY ** (-1 / (2 * wave)), 9 * (inner + outer) / 2 / wave
    sides = (
        (mesh.radial, across, (inner / fade, outer * fade)),
        (mesh.axial, along, (low - far, high + far)),
    )
    for axis, nodes, (least, most) in sides:
        start, end = nodes.start - 1, nodes.stop  # held at zero
        assert start % 2 == end % 2 == 0
        assert start == 0 or axis.nodes_m[start] <= least < axis.nodes_m[start + 2]
        assert end == axis.count - 1 or axis.nodes_m[end - 2] < most <= axis.nodes_m[end]
    further_across, further_along = reach(mesh, 8)
    for near, other in ((across, further_across), (along, further_along)):
        assert other.start <= near.start < near.stop <= other.stop


def test_core_is_the_box_round_magnets_and_steel() -> None:
    assert mesh_of(OPEN).core_m == pytest.approx((0.056, 0.076, -0.006, 0.0))
    assert mesh_of(PLATED).core_m == pytest.approx((0.05, 0.085, -0.011, 0.012))


@pytest.mark.parametrize("magnets", [DISCS, BLOCKS, ARCS], ids=["discs", "blocks", "arcs"])
def test_elements_are_small_at_edges_and_grow_away_from_them(magnets: Magnets) -> None:
    mesh, density = mesh_of(STEEL, magnets), RingDensity()
    breaks = radial_breaks_m(magnets)
    length = breaks[-1] - breaks[0]
    lines = mesh.radial.vertices_m
    swell = 1.03 * math.expm1(density.growth) / density.growth
    for edge in (breaks[0], breaks[-1]):
        here = int(np.searchsorted(lines, edge))
        assert lines[here + 1] - lines[here] <= swell * density.edge * length
        assert lines[here] - lines[here - 1] <= swell * density.edge * length
    over = mesh.magnet_radial
    assert np.diff(lines[over.first : over.end + 1]).max() <= 1.03 * density.within * length


def test_a_coarser_mesh_has_fewer_elements_and_a_finer_one_more() -> None:
    for rotor in ROTORS.values():
        sizes = [
            (mesh.radial.count, mesh.axial.count)
            for mesh in (mesh_of(rotor, density=RingDensity().coarser(factor)) for factor in (4, 2, 1, 0.5))
        ]
        for coarse, fine in pairwise(sizes):
            assert coarse[0] < fine[0]
            assert coarse[1] < fine[1]


def test_coarser_by_one_is_the_same() -> None:
    assert RingDensity().coarser(1) == RingDensity()
    assert RingDensity().coarser(100).plate == 1
    assert RingDensity().coarser(0.5).plate == 6


def test_nodes_of_a_span_and_elements_taken_out() -> None:
    mesh = mesh_of(STEEL)
    span = mesh.magnet_radial
    nodes = mesh.radial.nodes_m[span.nodes]
    assert nodes[[0, -1]] == pytest.approx([0.056, 0.076])
    own = axis_of_span(mesh.radial, span, 3)
    np.testing.assert_allclose(own.nodes_m, nodes, rtol=1e-15)
    assert own.points_m.shape == (span.end - span.first, 3)


def test_arrays_are_read_only() -> None:
    mesh = mesh_of(OPEN)
    for axis in (mesh.radial, mesh.axial):
        with pytest.raises(ValueError, match="read-only"):
            axis.nodes_m[0] = 0.0

"""Slabs of a drawn outline: they cover what is drawn at the mean radius, and thinner ones say the same."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, Plate, Rotor
from fieldrun.design.read import read_design
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.outline import covered_half_angles, mean_radius_m
from fieldrun.field.own_slabs import STEP, drawn_stack
from fieldrun.field.ring_field import ring_field
from fieldrun.field.section import section_at
from fieldrun.field.slabs import Slab, longest, of_slab, slabs_of
from tests.sections import structured_mesh

ROOT = Path(__file__).parents[2]
R, H = 0.066, 0.006
DISCS = Magnets(Disc(0.020, R), 16, H, 1.3, 1.05, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.024, 0.016, R))
ARCS = replace(DISCS, outline=Arc(0.056, 0.076, 0.8))
HALBACH = replace(DISCS, outline=Block(0.022, 0.010, R), pattern="halbach", segments_per_pole=2)
BARE = Rotor(1, None, None, None, 0.04, 0.09)
FACING = Rotor(2, 0.009, Plate(None), None, 0.04, 0.09)
SIZES: dict[str, Magnets] = {"discs": DISCS, "blocks": BLOCKS, "arcs": ARCS}


def drawn(path: Path, magnets: Magnets, rotor: Rotor, chamfer_m: float = 0.0, wider_m: float = 0.0) -> Magnets:
    """Magnets with a mesh of their section, wider all the way up, its upper corners broken at 45 degrees.

    The mesh of the plain magnet is sheared, so that no mesher is needed.
    """
    section = section_at(magnets, rotor, mean_radius_m(magnets))
    mesh = structured_mesh(section)
    half = max(x for x, _ in section.regions[0].polygon_m)
    x, z = mesh.mesh.p
    levels = [section.bottom_m, -H - 1e-9, -H, -chamfer_m, 0.0, section.top_m]
    moved = np.interp(z, levels, [0.0, wider_m, wider_m, wider_m, wider_m - chamfer_m, 0.0])
    share = np.where(x <= half, x / half, (section.width_m - x) / (section.width_m - half))
    lines = np.unique(z)
    foot = lines[np.argmin(np.abs(lines + chamfer_m))]
    z = np.where(z == foot, -chamfer_m, z)  # a line of the mesh where the chamfer begins
    points = np.stack([x + moved * share, z])
    write_section_mesh(path, section, SectionMesh(type(mesh.mesh)(points, mesh.mesh.t), mesh.region))
    return replace(magnets, section_mesh=str(path))


def widths(magnets: Magnets, stack: tuple[Slab, ...]) -> np.ndarray:
    middle = mean_radius_m(magnets)
    return np.array([middle * covered_half_angles(of_slab(magnets, slab), middle)[1] for slab in stack])


def heights(stack: tuple[Slab, ...]) -> np.ndarray:
    return np.array([slab.high_m - slab.low_m for slab in stack])


def parts(field_map: FieldMap) -> np.ndarray:
    return np.stack([field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t])


@pytest.mark.parametrize("name", SIZES)
def test_a_mesh_of_the_plain_magnet_is_one_slab_of_it(tmp_path: Path, name: str) -> None:
    magnets = SIZES[name]
    for ends in ("plain", "cut"):
        (slab,) = drawn_stack(replace(drawn(tmp_path / "own.msh", magnets, FACING), outline_ends=ends), FACING)
        assert (slab.low_m, slab.high_m) == (-H, 0.0)
        assert vars(slab.outline) == pytest.approx(vars(magnets.outline), rel=1e-12)


@pytest.mark.parametrize("name", SIZES)
def test_slabs_of_a_chamfer_cover_what_is_drawn_at_the_mean_radius(tmp_path: Path, name: str) -> None:
    magnets, chamfer = SIZES[name], 0.0013
    own = drawn(tmp_path / "own.msh", magnets, BARE, chamfer)
    plain = float(mean_radius_m(magnets) * covered_half_angles(magnets, mean_radius_m(magnets))[1])
    for ends in ("plain", "cut"):
        stack = drawn_stack(replace(own, outline_ends=ends), BARE)
        wide = widths(magnets, stack)
        assert wide @ heights(stack) == pytest.approx(plain * H - chamfer**2 / 2, rel=1e-12)
        assert wide[0] == pytest.approx(plain, rel=1e-12)
        assert np.all(np.diff(wide) < 0)
        assert np.abs(np.diff(wide)).max() <= STEP * plain * (1 + 1e-9)
        assert [slab.low_m for slab in stack[1:]] == [slab.high_m for slab in stack[:-1]]


def ends_of(outline: Outline) -> tuple[float, float]:
    if isinstance(outline, Arc):
        return outline.inner_radius_m, outline.outer_radius_m
    length = outline.radial_m if isinstance(outline, Block) else outline.diameter_m
    return outline.pitch_radius_m - length / 2, outline.pitch_radius_m + length / 2


@pytest.mark.parametrize("name", SIZES)
def test_ends_are_cut_as_far_as_the_flanks_are_where_told_and_of_discs_always(tmp_path: Path, name: str) -> None:
    magnets = SIZES[name]
    own = drawn(tmp_path / "own.msh", magnets, BARE, 0.0013)
    plain, cut = (drawn_stack(replace(own, outline_ends=ends), BARE)[-1].outline for ends in ("plain", "cut"))
    (inner, outer), whole = ends_of(cut), ends_of(magnets.outline)
    lost = 0.0013 * (1 - STEP / 2 * 8 / 1.3)  # what the uppermost slab loses: the chamfer less about half a step
    assert inner - whole[0] == pytest.approx(lost, rel=0.1)
    assert whole[1] - outer == pytest.approx(inner - whole[0], rel=1e-9)
    assert ends_of(plain) == (whole if name != "discs" else ends_of(cut))


def test_magnets_may_be_drawn_wider_than_the_design_has_them(tmp_path: Path) -> None:
    own = drawn(tmp_path / "own.msh", DISCS, BARE, wider_m=0.001)
    (slab,) = drawn_stack(own, BARE)
    assert isinstance(slab.outline, Disc)
    assert slab.outline.diameter_m == pytest.approx(0.022, rel=2e-3)
    assert longest(own, (Slab(-H, -0.001, Disc(0.02, R)), slab)).outline == slab.outline


def test_plain_magnets_are_a_slab_of_their_own() -> None:
    assert drawn_stack(DISCS, BARE) == ()
    assert slabs_of(DISCS, ()) == (Slab(-H, 0.0, DISCS.outline),)
    assert longest(DISCS, ()) == DISCS


def test_a_halbach_face_has_no_slabs(tmp_path: Path) -> None:
    section = section_at(HALBACH, BARE, R, "full pole")
    write_section_mesh(tmp_path / "own.msh", section, structured_mesh(section))
    assert drawn_stack(replace(HALBACH, section_mesh=str(tmp_path / "own.msh")), BARE) == ()


def test_blocks_that_would_overlap_at_their_inner_corners_have_no_slabs(tmp_path: Path) -> None:
    room = 2 * (R - 0.012) * np.tan(np.pi / 16) - 0.016
    for more, count in ((0.45 * room, 1), (0.60 * room, 0)):
        assert len(drawn_stack(drawn(tmp_path / "own.msh", BLOCKS, BARE, wider_m=more), BARE)) == count


def test_a_mesh_that_does_not_fit_is_refused(tmp_path: Path) -> None:
    own = replace(drawn(tmp_path / "own.msh", DISCS, BARE), thickness_m=0.008)
    with pytest.raises(DesignError, match=r"own\.msh: magnets\.section_mesh: has magnets down to y = -6 mm"):
        drawn_stack(own, BARE)


@pytest.mark.parametrize("name", ["chamfered", "rounded"])
def test_thinner_slabs_say_the_same(name: str) -> None:
    """On steel, with recoil permeability, 3 mm above the magnets: 0.01 % of the fundamental for half as thick."""
    design = read_design(ROOT / "fieldrun" / "design" / "examples" / "hut-charger.toml")
    own = replace(design.magnets, section_mesh=str(ROOT / "meshes" / f"hut_charger_{name}.msh"))
    usual, thin = (drawn_stack(own, design.rotor, step) for step in (STEP, STEP / 2))
    assert len(thin) > 1.5 * len(usual) > 10
    radii = np.linspace(0.055, 0.077, 12)
    one, other = (
        amplitudes_at(ring_field(own, design.rotor, stack=stack).field_map, radii, np.full(12, 0.003))[2, :4]
        for stack in (usual, thin)
    )
    assert np.abs(one - other).max() < 1e-4 * np.abs(other).max()


@pytest.mark.parametrize("rotor", [BARE, FACING], ids=["bare", "facing"])
@pytest.mark.parametrize("name", SIZES)
def test_the_rings_of_a_mesh_of_the_plain_magnet_are_the_plain_rings(tmp_path: Path, name: str, rotor: Rotor) -> None:
    magnets = SIZES[name]
    own = drawn(tmp_path / "own.msh", magnets, rotor)
    plain, found = (parts(ring_field(magnets, rotor, stack=s).field_map) for s in ((), drawn_stack(own, rotor)))
    np.testing.assert_allclose(found, plain, atol=1e-9 * np.abs(plain).max())

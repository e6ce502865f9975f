"""An outline of the user's own over the map: nothing changes for the plain one, and the section's word holds."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.mesh import MeshDensity, SectionMesh
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.own_outline import halved, own_section_field, with_own_outline
from fieldrun.field.section import Region, Section, rectangle, section_at
from fieldrun.field.solve import field_of, mean_section_field, slices_of
from tests.sections import structured_mesh

R, H = 0.066, 0.006
DISCS = Magnets(Disc(0.020, R), 16, H, 1.3, 1.05, 7500.0)
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, H, 1.3, 1.05, 7500.0)
SHEET = Plate(steel_curve("mild steel"), 0.004)
ROTORS = {
    "open": Rotor(1, None, None, None, 0.04, 0.09),
    "facing, steel": Rotor(2, 0.009, SHEET, None, 0.04, 0.09),
    "plated": Rotor(1, 0.009, SHEET, Plate(steel_curve("mild steel"), 0.002), 0.04, 0.09),
}


def stepped(section: Section) -> Section:
    """Take 2 mm off the upper half of the magnet: still upright rectangles, so that no gmsh is needed."""
    (magnet,) = (region for region in section.regions if region.name == "magnet_up")
    others = [region for region in section.regions if region is not magnet]
    width = max(x for x, _ in magnet.polygon_m)
    low = replace(magnet, polygon_m=rectangle(0, width, -H, -H / 2))
    high: Region = replace(magnet, polygon_m=rectangle(0, width - 0.002, -H / 2, 0))
    return replace(section, regions=(low, high, *others))


def with_mesh(folder: Path, magnets: Magnets, rotor: Rotor, *, step: bool) -> Magnets:
    section = section_at(magnets, rotor, R)
    drawn = stepped(section) if step else section
    write_section_mesh(folder / "own.msh", drawn, structured_mesh(drawn))
    return replace(magnets, section_mesh=str(folder / "own.msh"))


def parts(field_map: FieldMap) -> np.ndarray:
    return np.stack([field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t])


@pytest.mark.parametrize("magnets", [DISCS, ARCS], ids=["discs", "arcs"])
@pytest.mark.parametrize("name", ROTORS)
def test_a_mesh_of_the_plain_magnets_changes_nothing(tmp_path: Path, name: str, magnets: Magnets) -> None:
    rotor = ROTORS[name]
    plain = field_of(magnets, rotor)
    own = with_own_outline(plain, with_mesh(tmp_path, magnets, rotor, step=False), rotor)
    kept = np.isin(own.radii_m, plain.radii_m) & np.append(np.diff(own.radii_m) > 0, True)
    assert np.array_equal(own.radii_m[kept], plain.radii_m)  # the magnets' ends stand there once more
    assert np.abs(parts(own)[:, :, kept] - parts(plain)).max() < 1e-9 * np.abs(parts(plain)).max()


@pytest.mark.parametrize("magnets", [DISCS, ARCS], ids=["discs", "arcs"])
@pytest.mark.parametrize("name", ROTORS)
def test_at_the_mean_radius_the_map_is_the_own_section(tmp_path: Path, name: str, magnets: Magnets) -> None:
    rotor = ROTORS[name]
    own = with_mesh(tmp_path, magnets, rotor, step=True)
    field_map, heights = with_own_outline(slices_of(magnets, rotor), own, rotor), [0.001, 0.003]
    section = gap_amplitudes(mean_section_field(own, rotor), heights, field_map.orders[:6])
    plain = gap_amplitudes(mean_section_field(magnets, rotor), heights, field_map.orders[:6])
    _, b_theta, b_z = amplitudes_at(field_map, [R, R], heights)[:, :6]
    size = abs(section[1][0, 0])
    assert abs(section[1][0, 0] - plain[1][0, 0]) > 0.03 * size  # the step is felt
    assert np.abs(b_z - section[1]).max() < 2e-4 * size
    assert np.abs(b_theta - section[0]).max() < 2e-4 * size


def test_elsewhere_the_fundamental_keeps_the_ratio_and_the_rest_the_scaled_difference(tmp_path: Path) -> None:
    rotor = ROTORS["facing, steel"]
    plain = field_of(DISCS, rotor)
    own = with_own_outline(plain, with_mesh(tmp_path, DISCS, rotor, step=True), rotor)
    (at_mean, at_edge), (own_mean, own_edge) = (
        amplitudes_at(one, [R, 0.059], [0.003, 0.003])[2].T for one in (plain, own)
    )
    assert own_edge[0] / at_edge[0] == pytest.approx(own_mean[0] / at_mean[0], rel=1e-6)
    assert at_edge[0].real < 0.9 * at_mean[0].real
    shrunk = abs(at_edge[0] / at_mean[0])
    assert own_edge[1:6] - at_edge[1:6] == pytest.approx((own_mean - at_mean)[1:6] * shrunk, abs=1e-4 * abs(at_mean[0]))


def test_off_the_magnets_nothing_is_added_and_the_fundamental_is_scaled(tmp_path: Path) -> None:
    """A map that reaches beyond the magnets, with no radius at their ends, as three-dimensional models give it."""
    rotor = ROTORS["open"]
    own = with_mesh(tmp_path, ARCS, rotor, step=True)
    radii, heights = np.linspace(0.050, 0.0823, 42), np.linspace(0, 0.02, 5)
    wave = np.exp(-(((radii - R) / 0.008) ** 2))[:, None] * np.exp(-heights / 0.008)
    amplitude = np.stack([0.4 * wave, -0.03 * wave, 0.01 * wave]).astype(complex)
    smooth = FieldMap(8, np.array([1, 3, 5]), radii, heights, 0.1 * amplitude, 1j * amplitude, amplitude)
    found = with_own_outline(smooth, own, rotor)
    # each end of the magnets stands twice: the map may jump there, and the values beside the jump are the spline's
    assert sorted(set(np.round(found.radii_m, 12)) - set(np.round(radii, 12))) == pytest.approx([0.056, 0.076])
    assert np.sum(np.diff(found.radii_m) == 0) == 2
    before, after = (amplitudes_at(one, [0.052, R, 0.080], [0.003] * 3) for one in (smooth, found))
    ratio = after[2, 0] / before[2, 0]
    assert ratio == pytest.approx(ratio[1] * np.ones(3), rel=1e-3)
    assert np.abs(ratio[1] - 1) > 0.02
    assert after[2, 1:, [0, 2]] == pytest.approx(before[2, 1:, [0, 2]], abs=1e-6)
    assert np.abs(after[2, 1:, 1] - before[2, 1:, 1]).min() > 1e-3
    assert after[0, 1:] == pytest.approx(before[0, 1:], abs=1e-6)  # the section knows no radial field


def test_a_map_that_has_the_magnets_ends_among_its_radii_gets_each_once_more(tmp_path: Path) -> None:
    rotor = ROTORS["open"]
    own = with_mesh(tmp_path, ARCS, rotor, step=True)
    radii, heights = np.array([0.050, 0.056, 0.066, 0.076, 0.080]), np.linspace(0, 0.02, 3)
    even = np.full((2, 5, 3), 0.1 + 0j)
    found = with_own_outline(FieldMap(8, np.array([1, 3]), radii, heights, even, even, even), own, rotor)
    assert found.radii_m == pytest.approx([0.050, 0.056, 0.056, 0.066, 0.076, 0.076, 0.080])
    assert found.b_z_t[1, [0, 1, 5, 6]] == pytest.approx(even[1, :4])
    assert np.abs(found.b_z_t[1, 2:5] - 0.1).min() > 1e-4


def test_a_refined_density_halves_the_elements_of_the_file(tmp_path: Path) -> None:
    rotor = ROTORS["facing, steel"]
    own = with_mesh(tmp_path, DISCS, rotor, step=True)
    usual, fine = (mean_section_field(own, rotor, density) for density in (None, MeshDensity().refined()))
    assert len(fine.mesh.region) == 4 * len(usual.mesh.region)
    first, second = (gap_amplitudes(field, [0.003], np.array([1]))[1][0, 0].real for field in (usual, fine))
    assert first == pytest.approx(second, rel=1e-4)
    assert first != second


@pytest.mark.parametrize("kind", ["quads", "triangles"])
def test_halved_elements_keep_their_region(kind: str) -> None:
    mesh = structured_mesh(stepped(section_at(DISCS, ROTORS["facing, steel"], R)))
    if kind == "triangles":
        cut = mesh.mesh.to_meshtri()
        mesh = SectionMesh(cut, np.tile(mesh.region, cut.t.shape[1] // len(mesh.region)))
    finer = halved(mesh, 2)
    for index in np.unique(mesh.region):
        assert area(finer, index) == pytest.approx(area(mesh, index), rel=1e-12)
    assert len(finer.region) == 16 * len(mesh.region)


def area(mesh: SectionMesh, index: int) -> float:
    x, z = mesh.mesh.p[:, mesh.mesh.t[:, mesh.region == index]]
    return float(np.abs(np.sum(x * np.roll(z, -1, axis=0) - np.roll(x, -1, axis=0) * z, axis=0)).sum()) / 2


def test_a_mesh_that_does_not_fit_stops_the_map(tmp_path: Path) -> None:
    own = with_mesh(tmp_path, DISCS, ROTORS["open"], step=True)
    with pytest.raises(DesignError, match=r"own\.msh: magnets\.section_mesh: lacks the 2D group steel"):
        field_of(own, ROTORS["facing, steel"])


@pytest.mark.usefixtures("gmsh_or_skip")
def test_another_mesher_says_the_same(tmp_path: Path) -> None:
    from fieldrun.field.gmsh_mesh import outline_mesh

    rotor = ROTORS["facing, steel"]
    drawn = stepped(section_at(DISCS, rotor, R))
    write_section_mesh(tmp_path / "free.msh", drawn, outline_mesh(drawn))
    free: SectionField = own_section_field(replace(DISCS, section_mesh=str(tmp_path / "free.msh")), rotor)
    regular = solve_section(drawn, structured_mesh(drawn))
    orders = np.array([1, 3, 5, 7])
    one, other = (gap_amplitudes(field, [0.003], orders)[1] for field in (free, regular))
    assert np.abs(one - other).max() < 2e-4 * abs(one[0, 0])

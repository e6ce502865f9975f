"""Grids of cells: another library reads back regions, whole volumes, right-handed cells, and where they come from."""

import json
import math

import meshio
import numpy as np
import pytest

from fieldrun.field.ring_view import ring_view
from fieldrun.outputs.fields.space_files import SWEPT_STEPS, write_rings, write_solid, write_swept_rings
from fieldrun.outputs.fields.tables import write_space
from fieldrun.reference.solid_view import solid_view

ABOUT = {"fieldrun": "0", "design_hash": "ab--cd", "error_estimate": "0.2 percent"}


@pytest.fixture(scope="module")
def view(hut):
    return ring_view(hut.design.magnets, hut.design.rotor)


@pytest.fixture(scope="module")
def written(view, hut, tmp_path_factory):
    folder = tmp_path_factory.mktemp("space")
    write_rings(folder / "rings.vtu", view, ABOUT)
    write_swept_rings(folder / "swept.vtu", view, ABOUT)
    write_solid(folder / "solid.vtu", solid_view(hut.design.magnets, hut.design.rotor, 0.004), ABOUT)
    return folder


def about_of(mesh):
    return json.loads(bytes(mesh.field_data["about"].astype(np.uint8)))


def counts(mesh):
    names = about_of(mesh)["regions"]
    values, count = np.unique(mesh.cell_data["region"][0], return_counts=True)
    return {"air" if value < 0 else names[value]: int(number) for value, number in zip(values, count, strict=True)}


def test_half_plane(written, view):
    mesh = meshio.vtu.read(written / "rings.vtu")
    (block,) = mesh.cells
    assert block.type == "quad"
    assert len(block.data) == (len(view.radii_m) - 1) * (len(view.heights_m) - 1)
    assert set(counts(mesh)) == {"air", "magnet_up", "upper magnet_up", "backing", "upper backing"}
    assert np.all(mesh.points[:, 1] == 0)
    x, z = mesh.points[block.data, 0], mesh.points[block.data, 2]
    area = np.sum(x * np.roll(z, -1, axis=1) - np.roll(x, -1, axis=1) * z, axis=1) / 2
    assert area.min() > 0
    total = sum(mesh.point_data[f"phi_{n}"] for n in range(1, 2 * len(view.waves), 2))
    assert total == pytest.approx(mesh.point_data["phi"], abs=1e-9)
    middle = mesh.points[block.data].mean(axis=1)
    in_magnet = np.abs(middle[:, 0] - 0.066) < 0.01
    in_magnet &= (middle[:, 2] > -0.006) & (middle[:, 2] < 0)
    names = about_of(mesh)["regions"]
    assert np.array_equal(mesh.cell_data["region"][0] == names.index("magnet_up"), in_magnet)
    assert np.all(mesh.cell_data["relative_permeability"][0][in_magnet] == 1.05)
    assert mesh.cell_data["B"][0][in_magnet, 2].min() > 0.3


def test_swept_over_a_pole_pair(written, view, hut):
    mesh = meshio.vtu.read(written / "swept.vtu")
    (block,) = mesh.cells
    assert block.type == "hexahedron"
    found = counts(mesh)
    assert set(found) == {"air", *view.regions}
    assert found["magnet_up"] == found["magnet_down"] == found["upper magnet_up"]
    assert found["backing"] == found["upper backing"]
    corners = mesh.points[block.data]
    edges = corners[:, [1, 3, 4]] - corners[:, :1]
    assert np.linalg.det(edges).min() > 0  # right-handed, as VTK wants them
    r = np.hypot(*mesh.points[:, :2].T)
    wedge = math.sin(2 * math.pi / 8 / SWEPT_STEPS) * SWEPT_STEPS / 2  # flat cells in place of round ones
    whole = wedge * (r.max() ** 2 - r.min() ** 2) * np.ptp(mesh.points[:, 2])
    assert volumes(corners).sum() == pytest.approx(whole, rel=1e-6)
    middle, flux = corners.mean(axis=1), mesh.cell_data["B"][0]
    inside = (middle[:, 2] > 0.001) & (middle[:, 2] < 0.007)
    radius, angle = np.hypot(*middle[:, :2].T), np.arctan2(middle[:, 1], middle[:, 0])
    inside &= (radius > 0.05) & (radius < 0.09)
    radius /= math.cos(math.pi / 8 / SWEPT_STEPS)  # the middle of a flat cell lies inside the circle of its corners
    b_r, b_theta, b_z = hut.field_at(radius[inside], angle[inside], middle[inside, 2])
    known = np.column_stack(
        [
            b_r * np.cos(angle[inside]) - b_theta * np.sin(angle[inside]),
            b_r * np.sin(angle[inside]) + b_theta * np.cos(angle[inside]),
            b_z,
        ]
    )
    assert np.abs(flux[inside] - known).max() < 0.01 * np.abs(known).max()


def volumes(corners):
    """Of hexahedra, each cut into six tetrahedra along one diagonal."""
    tets = ((0, 1, 2, 6), (0, 2, 3, 6), (0, 3, 7, 6), (0, 7, 4, 6), (0, 4, 5, 6), (0, 5, 1, 6))
    return sum(np.abs(np.linalg.det(corners[:, t[1:]] - corners[:, t[:1]])) / 6 for t in map(list, tets))


def test_tetrahedra(written):
    mesh = meshio.vtu.read(written / "solid.vtu")
    (block,) = mesh.cells
    assert block.type == "tetra10"
    assert set(counts(mesh)) == {"air", "magnet_up", "backing"}
    places = mesh.points[block.data]
    corners = places[:, :4]
    assert np.linalg.det(corners[:, 1:4] - corners[:, :1]).min() > 0
    middles = ((0, 1), (1, 2), (0, 2), (0, 3), (1, 3), (2, 3))  # VTK's order
    for node, (a, b) in zip(range(4, 10), middles, strict=True):
        chord = (corners[:, a] + corners[:, b]) / 2
        length = np.linalg.norm(corners[:, a] - corners[:, b], axis=1)
        off = np.linalg.norm(places[:, node] - chord, axis=1)
        assert np.all(off < 0.03 * length)  # nodes lie on circles, chords a little inside them
    assert about_of(mesh)["mesh"] == f"{len(block.data)} tetrahedra, {len(mesh.points)} nodes"


@pytest.mark.parametrize("name", ["rings", "swept", "solid"])
def test_where_it_comes_from_stands_inside_twice(name, written):
    path = written / f"{name}.vtu"
    about = about_of(meshio.vtu.read(path))
    assert about["design_hash"] == "ab--cd"
    assert about["shows"]
    comment = path.read_text(encoding="ascii").split("<!-- ")[1].split(" -->")[0]
    assert json.loads(comment) == about


def test_same_bytes_twice(view, written, tmp_path):
    write_rings(tmp_path / "again.vtu", view, ABOUT)
    assert (tmp_path / "again.vtu").read_bytes() == (written / "rings.vtu").read_bytes()


def test_the_section_has_them_too(hut, view, tmp_path):
    write_space(hut, view, tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"field-section.vtu", "field-rings.vtu"}
    mesh = meshio.vtu.read(tmp_path / "field-section.vtu")
    assert set(counts(mesh)) == {"air", "magnet_up", "backing"}
    assert about_of(mesh)["design_hash"] == hut.design_hash


def test_vtk_reads_them(written):
    vtk = pytest.importorskip("vtk", reason="vtk is not installed")
    expected = {"rings": 5, "swept": 7, "solid": 3}
    for name, regions in expected.items():
        reader = vtk.vtkXMLUnstructuredGridReader()
        reader.SetFileName(str(written / f"{name}.vtu"))
        reader.Update()
        grid = reader.GetOutput()
        region = grid.GetCellData().GetArray("region")
        assert len({region.GetTuple1(k) for k in range(grid.GetNumberOfCells())}) == regions
        assert grid.GetFieldData().GetArrayName(0) == "about"
        assert grid.GetCellData().GetArray("B").GetNumberOfComponents() == 3

"""Field files for other programs: what another library reads back is what was solved."""

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import meshio
import numpy as np
import pytest

from fieldrun.design.magnetisation import flux_density
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Block, Magnets, Plate, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.section import section_at
from fieldrun.field.vtu_file import write_vtu
from tests.sections import structured_mesh

MAGNETS = Magnets(Block(0.02, 0.018, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
STEEL = steel_curve("mild steel")
ROTOR = Rotor(2, 0.009, Plate(STEEL, 0.004), None, 0.04, 0.09)
ABOUT = {"fieldrun": "0.1", "design_hash": "ab--cd-->", "error_estimate_percent": 0.2}


@pytest.fixture(scope="module", params=["quads", "triangles"])
def field(request: pytest.FixtureRequest) -> SectionField:
    section = section_at(MAGNETS, ROTOR, 0.066)
    mesh = structured_mesh(section)
    if request.param == "triangles":
        cut = mesh.mesh.to_meshtri()
        mesh = SectionMesh(cut, np.tile(mesh.region, cut.t.shape[1] // len(mesh.region)))
    return solve_section(section, mesh)


@pytest.fixture
def written(field: SectionField, tmp_path: Path) -> Path:
    write_vtu(tmp_path / "field.vtu", field, ABOUT)
    return tmp_path / "field.vtu"


def test_every_node_and_element_is_there(field: SectionField, written: Path) -> None:
    read = meshio.vtu.read(written)
    (block,) = read.cells
    assert read.points.shape == (field.basis.N, 3)
    assert len(block.data) == 4 * len(field.mesh.region)
    assert np.array_equal(read.point_data["A"], field.potential)
    assert np.array_equal(read.cell_data["region"][0][::4], field.mesh.region)
    x, z = read.points[block.data, 0], read.points[block.data, 1]
    area = np.abs(np.sum(x * np.roll(z, -1, axis=1) - np.roll(x, -1, axis=1) * z, axis=1)) / 2
    section = field.section
    assert area.sum() == pytest.approx(section.width_m * (section.top_m - section.bottom_m))
    whole = area.reshape(-1, 4)
    assert np.ptp(whole, axis=1).max() < 1e-9 * whole.max()  # four equal parts


def test_flux_density_has_three_columns_and_is_the_solved_one(field: SectionField, written: Path) -> None:
    read = meshio.vtu.read(written)
    flux, size = read.cell_data["B"][0], read.cell_data["B_magnitude"][0]
    assert flux.shape[1] == 3
    assert np.all(flux[:, 2] == 0)
    assert np.linalg.norm(flux, axis=1) == pytest.approx(size)
    mean = flux.reshape(-1, 4, 3).mean(axis=1)[:, :2]
    gauss = field.flux_density_t.mean(axis=1)
    assert np.abs(mean - gauss).max() < 0.02 * size.max()  # at other places of the same element


def test_permeability_is_that_of_each_material(field: SectionField, written: Path) -> None:
    read = meshio.vtu.read(written)
    region, size = read.cell_data["region"][0], read.cell_data["B_magnitude"][0]
    mu = read.cell_data["relative_permeability"][0]
    names = [r.name for r in field.section.regions]
    assert np.all(mu[region == -1] == 1.0)
    assert np.all(mu[region == names.index("magnet_up")] == 1.05)
    steel = region == names.index("backing")
    strength = size[steel] / (MU0 * mu[steel])
    assert flux_density(STEEL, strength) == pytest.approx(size[steel], rel=1e-9)
    assert mu[steel].min() > 1


def test_where_it_came_from_stands_in_the_file(written: Path) -> None:
    ET.parse(written)  # noqa: S314  # our own file; still XML, whatever the hash holds
    (comment,) = re.findall(r"<!-- (\{.*\}) -->", written.read_text(encoding="ascii"))
    about = json.loads(comment)
    assert about == {**ABOUT, "regions": ["magnet_up", "backing"]}


def test_same_bytes_twice(field: SectionField, written: Path) -> None:
    again = written.with_name("again.vtu")
    write_vtu(again, field, ABOUT)
    assert again.read_bytes() == written.read_bytes()

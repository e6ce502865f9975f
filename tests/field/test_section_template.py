"""One template serves many designs: the answers are those of plain scikit-fem scripts and of unshared templates."""

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.sparse
import skfem
from skfem.helpers import dot, grad

from fieldrun.design.arrays import Floats
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.harmonics import facets_at_height, mesh_line, open_side_block
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.mesh import SectionMesh, structured_grid
from fieldrun.field.section import Region, Section, rectangle, section_at
from fieldrun.field.section_template import grid_template, template_of
from tests.sections import structured_mesh

R = 0.066
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
HALBACH = replace(ARCS, pattern="halbach", segments_per_pole=2)
SHEET = Plate(steel_curve("mild steel"), 0.003)
ROTORS = {
    "open": Rotor(1, None, None, None, 0.04, 0.09),
    "ideal": Rotor(2, 0.009, Plate(None), None, 0, 1),
    "facing": Rotor(2, 0.009, None, None, 0.04, 0.09),
    "plate": Rotor(1, 0.009, None, Plate(None), 0, 1),
}


def on_linear_iron(section: Section) -> Section:
    """The magnets of a box that ends below them, on 5 mm of iron of permeability 2000 with air behind."""
    iron = Region("iron", rectangle(0, section.width_m, -0.011, -0.006), 2000.0)
    return replace(section, bottom_m=-0.018, bottom="open", regions=(*section.regions, iron))


def plain_script(section: Section, mesh: SectionMesh) -> Floats:
    """What anyone writes from scikit-fem's manual, plus the dense coupling of open sides."""
    basis = skfem.CellBasis(mesh.mesh, skfem.ElementQuad2(), intorder=4)
    flat = basis.with_element(skfem.ElementQuad0())
    nu = 1 / (MU0 * np.array([*(region.permeability for region in section.regions), 1.0])[mesh.region])
    br_x, br_z = np.array([*(region.remanence_t for region in section.regions), (0.0, 0.0)])[mesh.region].T
    fields = {"nu": flat.interpolate(nu), "x": flat.interpolate(br_x), "z": flat.interpolate(br_z)}
    stiffness = skfem.BilinearForm(lambda u, v, w: w["nu"] * dot(grad(u), grad(v))).assemble(basis, **fields)
    load = skfem.LinearForm(lambda v, w: w["nu"] * (w["z"] * grad(v)[0] - w["x"] * grad(v)[1])).assemble(
        basis, **fields
    )
    for height, side in ((section.bottom_m, section.bottom), (section.top_m, section.top)):
        if side == "open":
            block = open_side_block(section, mesh_line(basis, facets_at_height(mesh.mesh, height)), mesh.mesh.p)
            rows, columns = np.meshgrid(block.dofs, block.dofs, indexing="ij")
            stiffness = stiffness + scipy.sparse.csr_matrix(
                (block.matrix.ravel(), (rows.ravel(), columns.ravel())), shape=stiffness.shape
            )
    held = basis.get_dofs(lambda x: x[0] < 1e-12)
    return np.asarray(skfem.solve(*skfem.condense(stiffness, load, D=held)))


@pytest.mark.parametrize("magnets", [ARCS, HALBACH], ids=["alternating", "halbach"])
@pytest.mark.parametrize("name", ROTORS)
def test_as_plain_scikit_fem(name: str, magnets: Magnets) -> None:
    section = section_at(magnets, ROTORS[name], R)
    mesh = structured_mesh(section)
    found, wanted = solve_section(section, mesh).potential, plain_script(section, mesh)
    assert np.abs(found - wanted).max() < 1e-12 * np.abs(wanted).max()


def test_linear_iron_as_plain_scikit_fem() -> None:
    section = on_linear_iron(section_at(ARCS, ROTORS["ideal"], R))
    mesh = structured_mesh(section)
    found, wanted = solve_section(section, mesh).potential, plain_script(section, mesh)
    assert np.abs(found - wanted).max() < 1e-12 * np.abs(wanted).max()


@pytest.mark.parametrize("width", ["half pole", "full pole"])
@pytest.mark.parametrize("rotor", [ROTORS["open"], Rotor(1, 0.009, SHEET, SHEET, 0, 1)], ids=["open", "plated"])
def test_a_template_never_shared_gives_the_same(rotor: Rotor, width: str) -> None:
    section = section_at(ARCS, rotor, R, width)  # type: ignore[arg-type]  # from a parameter list
    mesh = structured_mesh(section)
    shared, own = solve_section(section, mesh), solve_section(section, SectionMesh(mesh.mesh, mesh.region))
    assert shared.template is not own.template
    assert shared.newton_steps == own.newton_steps
    assert np.abs(shared.potential - own.potential).max() < 1e-11 * np.abs(own.potential).max()


def test_neighbours_share_a_template_and_other_layouts_do_not() -> None:
    def template(magnets: Magnets, rotor: Rotor, radius: float = R) -> object:
        section = section_at(magnets, rotor, radius)
        return template_of(section, structured_mesh(section))

    first = template(ARCS, ROTORS["facing"])
    assert template(replace(ARCS, thickness_m=0.01), replace(ROTORS["facing"], gap_m=0.02), 0.06) is first
    assert template(ARCS, ROTORS["ideal"]) is not first
    assert template(replace(ARCS, outline=Arc(0.056, 0.076, 1.0)), ROTORS["facing"]) is not first
    assert template(replace(ARCS, remanence_t=0.4), ROTORS["facing"]) is first


def test_a_grid_is_its_mesh() -> None:
    section = section_at(ARCS, Rotor(1, 0.009, SHEET, SHEET, 0, 1), R)
    grid, mesh = structured_grid(section), structured_mesh(section)
    assert np.array_equal(grid.points_m, mesh.mesh.p)
    template = grid_template(grid.layout, "half pole", "open", "open")
    assert np.array_equal(template.region, mesh.region)
    assert np.array_equal(template.ops.corners, mesh.mesh.t)
    for name, height in (("face", 0.0), ("upper", 0.009), ("bottom", section.bottom_m), ("top", section.top_m)):
        assert np.abs(grid.points_m[1, template.lines[name].points] - height).max() < 1e-15


def test_lines_are_found_on_meshes_of_any_kind() -> None:
    section = section_at(ARCS, ROTORS["plate"], R)
    mesh = structured_mesh(section)
    triangles = SectionMesh(mesh.mesh.to_meshtri(), np.repeat(mesh.region, 2))
    template = template_of(section, triangles)
    assert set(template.lines) == {"face", "upper", "top", "bottom"}
    ends = triangles.mesh.p[0, template.lines["face"].points]
    assert np.diff(ends).sum() == pytest.approx(math.pi * R / 16)

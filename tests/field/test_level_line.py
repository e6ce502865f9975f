"""Amplitudes across elements: the same as on a mesh line, and right where there is none."""

import math

import numpy as np
import pytest
import skfem

from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.gap import potential_amplitudes
from fieldrun.field.level_line import crossings_m, level_amplitudes
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.mesh import MeshDensity, SectionMesh
from fieldrun.field.section import Section, section_at
from fieldrun.reference.closed_forms import block_face, two_faces_on_iron
from tests.sections import structured_mesh

R, GAP = 0.066, 0.009
PITCH = math.pi * R / 8
MAGNETS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.0, 7500.0)
ROTOR = Rotor(2, GAP, Plate(None), None, 0.0, 1.0)
ORDERS = 2 * np.arange(6) + 1


def triangles(section: Section) -> SectionMesh:
    """The template's rectangles cut in two: the first half of the triangles are the lower ones, and so on."""
    quads = structured_mesh(section, MeshDensity())
    mesh = quads.mesh.to_meshtri()
    return SectionMesh(mesh, np.tile(quads.region, len(mesh.t.T) // len(quads.region)))


def solved(width: str, kind: str) -> SectionField:
    section = section_at(MAGNETS, ROTOR, R, width)  # type: ignore[arg-type]  # from a parameter list
    return solve_section(section, structured_mesh(section) if kind == "quads" else triangles(section))


@pytest.mark.parametrize("width", ["half pole", "full pole"])
@pytest.mark.parametrize("kind", ["quads", "triangles"])
def test_equals_the_mesh_line_where_there_is_one(width: str, kind: str) -> None:
    field = solved(width, kind)
    on_line = potential_amplitudes(field, 0.0, ORDERS)
    across = level_amplitudes(field.section, field.basis, field.potential, 0.0, ORDERS)
    assert np.abs(on_line - across).max() < 1e-12 * abs(on_line[0])


@pytest.mark.parametrize("kind", ["quads", "triangles"])
@pytest.mark.parametrize("height", [0.0007, 0.00123, 0.0038])
def test_right_between_mesh_lines(kind: str, height: float) -> None:
    field = solved("half pole", kind)
    k = ORDERS * np.pi / PITCH
    found = 1j * k * potential_amplitudes(field, height, ORDERS)
    exact = two_faces_on_iron(block_face(ORDERS, PITCH, 1.3, 0.7, (0.006, 1.0)), GAP, height)
    assert np.abs(found - exact)[:3].max() < 2e-4 * exact[0]


def test_crossings_are_where_sides_meet_the_level() -> None:
    mesh = skfem.MeshTri.init_tensor(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0]))  # diagonals from (1, 0) up left
    assert crossings_m(mesh, 0.25) == pytest.approx(sorted({0, 1, 2, *_diagonals(mesh, 0.25)}))
    assert crossings_m(mesh, 0.0) == pytest.approx([0, 1, 2])


def _diagonals(mesh: skfem.Mesh, height: float) -> list[float]:
    ends = mesh.p[:, mesh.facets]
    slanted = (ends[0, 0] != ends[0, 1]) & (ends[1, 0] != ends[1, 1])
    x, z = ends[:, :, slanted]
    return [float(v) for v in x[0] + (height - z[0]) / (z[1] - z[0]) * (x[1] - x[0])]

"""A section's usual mesh in one step, for tests that look at the mesh itself."""

from fieldrun.field.mesh import MeshDensity, SectionMesh, mesh_of, structured_grid
from fieldrun.field.section import Section


def structured_mesh(section: Section, density: MeshDensity | None = None) -> SectionMesh:
    """Cover a section of upright rectangles with the tensor mesh that a run takes."""
    return mesh_of(structured_grid(section, density))

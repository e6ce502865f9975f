"""From magnets and steel to the field: the chain of this folder in one place."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fieldrun.design.errors import FieldrunError
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.field_map import FieldMap
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.mesh import MeshDensity, structured_mesh
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.own_outline import own_section_field, with_own_outline
from fieldrun.field.own_slabs import drawn_stack
from fieldrun.field.ring_field import RingField, ring_field
from fieldrun.field.section import section_at
from fieldrun.field.slabs import Stack
from fieldrun.field.slices import slice_map


def section_field(magnets: Magnets, rotor: Rotor, radius_m: float, density: MeshDensity | None = None) -> SectionField:
    """Unroll, mesh and solve the machine at one radius [m] on the structured template."""
    section = section_at(magnets, rotor, radius_m)
    return solve_section(section, structured_mesh(section, density))


def mean_section_field(magnets: Magnets, rotor: Rotor, density: MeshDensity | None = None) -> SectionField:
    """The section at the magnets' mean radius, with the user's own mesh if there is one: the picture people know."""
    if magnets.section_mesh:
        return own_section_field(magnets, rotor, density)
    return section_field(magnets, rotor, mean_radius_m(magnets), density)


def slices_of(magnets: Magnets, rotor: Rotor, density: MeshDensity | None = None) -> FieldMap:
    """The map of plain sections at several radii: what flat slices say, no flux spreading past the magnets' ends.

    Raises
    ------
    SolveError
        If the steel of a section does not converge.
    """

    def solve_at(radius_m: float, neighbour: SectionField | None) -> SectionField:
        section = section_at(magnets, rotor, radius_m)
        return solve_section(section, structured_mesh(section, density), neighbour)

    return slice_map(magnets, rotor, solve_at)


@dataclass(frozen=True, eq=False)
class RotorField:
    """A machine's field.

    Parameters
    ----------
    field_map : the answer
    rings : what it rests on
    stack : the magnets' slabs in the rings where an outline of their own is drawn; none if they are plain there
    """

    field_map: FieldMap
    rings: RingField
    stack: Stack = ()

    @property
    def is_corrected(self) -> bool:
        """Whether an outline of the magnets' own is laid over plain rings by flat sections."""
        return self.field_map is not self.rings.field_map


def rotor_field(magnets: Magnets, rotor: Rotor) -> RotorField:
    """Solve a machine by rings.

    An outline of the magnets' own is in their sources, slab by slab; one that has no profile, such as a pole shoe's, is
    laid over rings of plain magnets by sections.

    Raises
    ------
    DesignError
        If the mesh of an own outline does not fit the machine.
    SolveError
        If the steel's flux does not converge.
    """
    stack = drawn_stack(magnets, rotor)
    rings = ring_field(magnets, rotor, stack=stack)
    if stack or not magnets.section_mesh:
        return RotorField(rings.field_map, rings, stack)
    return RotorField(with_own_outline(rings.field_map, magnets, rotor), rings)


def rotor_fields(machines: Sequence[tuple[Magnets, Rotor]]) -> Iterator[RotorField | FieldrunError]:
    """Solve many machines; a machine that cannot be solved yields its error in its place.

    Parameters
    ----------
    machines : in any order, all different
    """
    for magnets, rotor in machines:
        try:
            yield rotor_field(magnets, rotor)
        except FieldrunError as error:
            yield error


def field_of(magnets: Magnets, rotor: Rotor) -> FieldMap:
    """The field map alone of `rotor_field`."""
    return rotor_field(magnets, rotor).field_map

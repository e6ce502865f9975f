"""From magnets and steel to the field: the chain of this folder in one place."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.design.errors import FieldrunError, SolveError
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.families import families
from fieldrun.field.field_map import FieldMap
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.mesh import MeshDensity, structured_grid
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.own_outline import own_section_field, with_own_outline
from fieldrun.field.own_slabs import drawn_stack
from fieldrun.field.ring_field import RingField, ring_field, ring_fields
from fieldrun.field.section import section_at
from fieldrun.field.section_sweep import swept_gap_amplitudes
from fieldrun.field.slabs import Stack
from fieldrun.field.slices import ORDERS, slice_map


def section_field(magnets: Magnets, rotor: Rotor, radius_m: float, density: MeshDensity | None = None) -> SectionField:
    """Unroll, mesh and solve the machine at one radius [m] on the structured template."""
    section = section_at(magnets, rotor, radius_m)
    return solve_section(section, structured_grid(section, density))


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

    def solve_at(radii_m: Floats, heights_m: Floats) -> Iterator[tuple[Complexes, Complexes]]:
        sections = [section_at(magnets, rotor, float(radius)) for radius in radii_m]
        return swept_gap_amplitudes(sections, [heights_m] * len(sections), ORDERS, density)

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
    answer = next(rotor_fields([(magnets, rotor)]))
    if isinstance(answer, FieldrunError):
        raise answer
    return answer


def rotor_fields(machines: Sequence[tuple[Magnets, Rotor]]) -> Iterator[RotorField | FieldrunError]:
    """Solve many machines; a machine that cannot be solved yields its error in its place.

    Machines that differ in the gap only are solved together, gap by gap (`families.families`): what is under the
    magnets' face is made once for all of them. An answer comes as soon as its turn does; those of its family that are
    solved before their turn wait. The last digits of an answer may depend on its family, and on no other machine: a
    study that resumes asks for whole families again.

    Parameters
    ----------
    machines : in any order; those of a family side by side, gaps ascending, need no waiting
    """
    found: dict[int, RotorField | FieldrunError] = {}
    solving: dict[int, Iterator[tuple[int, RotorField | FieldrunError]]] = {}
    for family in families(machines):
        answers = zip(family, _family(machines[family[0]][0], [machines[one][1] for one in family]), strict=True)
        solving |= dict.fromkeys(family, answers)
    for index in range(len(machines)):
        while index not in found:
            place, answer = next(solving[index])
            found[place] = answer
        yield found.pop(index)


def _family(magnets: Magnets, rotors: list[Rotor]) -> Iterator[RotorField | FieldrunError]:
    drawn = bool(magnets.section_mesh)
    yield from (_drawn(magnets, rotor) for rotor in rotors) if drawn else map(_plain, ring_fields(magnets, rotors))


def _plain(answer: RingField | SolveError) -> RotorField | SolveError:
    return RotorField(answer.field_map, answer) if isinstance(answer, RingField) else answer


def _drawn(magnets: Magnets, rotor: Rotor) -> RotorField | FieldrunError:
    """A machine with an outline of its own, or what is wrong with it."""
    try:
        stack = drawn_stack(magnets, rotor)
        rings = ring_field(magnets, rotor, stack=stack)
        plain = rings.field_map
        return RotorField(plain if stack else with_own_outline(plain, magnets, rotor), rings, stack)
    except FieldrunError as error:
        return error


def field_of(magnets: Magnets, rotor: Rotor) -> FieldMap:
    """The field map alone of `rotor_field`."""
    return rotor_field(magnets, rotor).field_map

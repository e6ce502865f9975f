"""Which machines of many share all but their gap: they are solved together, each gap helped by the one before."""

from collections.abc import Sequence
from dataclasses import replace

from fieldrun.design.model import Magnets, Rotor


def families(machines: Sequence[tuple[Magnets, Rotor]]) -> tuple[tuple[int, ...], ...]:
    """Cut many machines into families: same magnets and steel, different gaps.

    `solve.rotor_fields` may let one machine of a family help the next, so that the last digits of its answers depend on
    the families it is handed, and on nothing else: a study that resumes solves whole families again.

    Parameters
    ----------
    machines : in any order

    Returns
    -------
    Indices of each family's machines, gaps ascending (equal gaps as given); families in the order in which they first
    appear. A machine without a gap, or like no other, is a family of its own.
    """
    found: dict[tuple[Magnets, Rotor], list[int]] = {}
    for index, (magnets, rotor) in enumerate(machines):
        found.setdefault((magnets, replace(rotor, gap_m=None)), []).append(index)
    return tuple(tuple(sorted(family, key=lambda one: machines[one][1].gap_m or 0.0)) for family in found.values())

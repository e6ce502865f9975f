"""One winding tried in one machine: laid and measured, or refused with the reason."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Design, Wire
from fieldrun.design.stack import CROSSED_SHAPES
from fieldrun.field.field_map import FieldMap
from fieldrun.studies.candidates import Candidate
from fieldrun.studies.merits import Merits, merits
from fieldrun.winding.lay import Lay, lay, place_faults


@dataclass(frozen=True, eq=False)
class Wound:
    """A winding that can be laid, and what it gives.

    Parameters
    ----------
    candidate : what was asked for; at its best: with the radii and angles that were found
    design : the machine it stands in
    lay : its conductors
    merits : its figures
    before : its figures in the design's own space, if better radii and angles were looked for
    at_edge : keys of the winding that are best at the edge of where was looked
    """

    candidate: Candidate
    design: Design
    lay: Lay
    merits: Merits
    before: Merits | None = None
    at_edge: tuple[str, ...] = ()


@dataclass(frozen=True)
class NotWound:
    """A winding that cannot be laid here, and why: half a sentence or more."""

    candidate: Candidate
    reason: str


Row = Wound | NotWound


def wind(design: Design, candidate: Candidate, field_map: FieldMap, sheets: int | None = None) -> Row:
    """Lay a winding out and hold it into a field; what cannot be laid is a row with its reason.

    Parameters
    ----------
    design : the machine and its wire
    candidate : the winding
    field_map : of that machine
    sheets : as many as there is room for, if it is a matter of one or two
    """
    magnets, winding = design.magnets, candidate.winding
    if sheets == 1 and winding.shape in CROSSED_SHAPES:
        return NotWound(candidate, "takes two sheets of wire, and there is room for one")
    try:
        laid = lay(winding, magnets.pole_pairs, design.wire)
        faults = place_faults(laid, magnets, design.rotor, winding, design.wire)
    except DesignError as error:
        return NotWound(candidate, _told(error.faults))
    if faults:
        return NotWound(candidate, _told(faults))
    return Wound(candidate, design, laid, merits(field_map, laid, winding, design.wire))


def _told(faults: Iterable[Fault]) -> str:
    return "; ".join(dict.fromkeys(fault.text for fault in faults))


def equal_copper_wire(row: Wound, mass_kg: float) -> Wire:
    """The thinner wire that gives a winding another mass on the same path: strands scaled by sqrt(mass)."""
    scale = (mass_kg / row.merits.copper_mass_kg) ** 0.5
    wire = row.design.wire
    return replace(
        wire,
        strand_diameter_m=scale * wire.strand_diameter_m,
        overall_diameter_m=scale * wire.overall_diameter_m,
    )

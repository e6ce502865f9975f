"""Self and mutual inductance of the phases: how much the winding holds its own current back when it alternates."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Magnets, Rotor, Winding, Wire
from fieldrun.design.units import MU0
from fieldrun.design.wire import bundle_diameter_m, overall_diameter_m
from fieldrun.generator.mirrors import NO_STEEL, Plates, images, plates_of, reach_m
from fieldrun.generator.ring_discs import disc_rings_sums
from fieldrun.generator.shaft_rings import Rings, far_rings_sum, image_rings_sum, rings_of
from fieldrun.winding.belts import PHASE_STEP
from fieldrun.winding.combs import Families, families, lowered, repeats, turned_copies
from fieldrun.winding.ends import end_bundles
from fieldrun.winding.filaments import bundled_apart_m, filaments_of
from fieldrun.winding.lay import Lay
from fieldrun.winding.meetings import Image
from fieldrun.winding.neumann_sum import Forms, TooManyPairsError, image_sum, own_sum
from fieldrun.winding.path import ring_m
from fieldrun.winding.pieces import Pieces, lengths
from fieldrun.winding.sampling import Distinct, distinct, selected


@dataclass(frozen=True, eq=False)
class Inductance:
    """Inductance of the phases at their terminals.

    Parameters
    ----------
    matrix_h : (phases, phases) symmetric: flux linkage of one phase by the current of another [H]; positive if phases
        run the same way round help each other
    """

    matrix_h: Floats

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "matrix_h", frozen_array(self.matrix_h))

    @property
    def self_h(self) -> float:
        """Of one phase, the others open; the mean, should a path treat its phases differently."""
        return float(np.mean(np.diag(self.matrix_h)))

    @property
    def mutual_h(self) -> float | None:
        """Between two phases, the mean over all; None for a single phase."""
        phases = len(self.matrix_h)
        if phases == 1:
            return None
        return float(np.sum(self.matrix_h) - np.trace(self.matrix_h)) / (phases * (phases - 1))

    @property
    def balanced_h(self) -> float:
        """What a phase shows with all phases at work.

        Three phases whose currents add up to nothing at any moment: L - M, in star as in delta. One phase: L. Two
        phases, a quarter of a period apart: L, for what M takes from one it gives to the other.
        """
        mutual = self.mutual_h
        return self.self_h if mutual is None or len(self.matrix_h) == 2 else self.self_h - mutual

    @property
    def common_h(self) -> float:
        """What a phase shows with the same current in all: round a delta, L + 2 M of three phases."""
        return float(np.sum(self.matrix_h)) / len(self.matrix_h)


def inductance(laid: Lay | Pieces, wire: Wire, winding: Winding, magnets: Magnets, rotor: Rotor) -> Inductance | None:
    """Inductance of an air-cored winding between its steel discs.

    Neumann's integral over the real paths, M = mu0 / 4 pi double integral of dl . dl' / R, filaments along the wires'
    axes; a wire with itself as a round wire of its copper's radius, its current spread evenly (low frequency: the
    field inside the copper counts). Magnets are as air. Steel is an ideal mirror at its gap-side face, without end for
    the winding's poles, a disc with hole, rim and thickness for its turns round the shaft: saturation and eddy currents
    in the steel are left out; links between turns too. Times (strands in series / parallel groups)^2, groups carrying
    equal shares of the current.

    Parameters
    ----------
    laid, wire, winding : the winding, or its pieces alone
    magnets, rotor : where the steel stands

    Returns
    -------
    The inductance; None for a winding so large and so irregular that it would take more than some seconds.
    """
    pieces = laid.pieces if isinstance(laid, Lay) else laid
    scale = MU0 / (4 * np.pi) * (wire.strands_in_series / winding.parallel) ** 2
    try:
        matrix = neumann_matrix(pieces, wire, winding.phases, magnets.pole_pairs, plates_of(magnets, rotor))
    except TooManyPairsError:
        return None
    return Inductance(scale * matrix)


def copper_radius_m(wire: Wire) -> float:
    """Half the diameter within which a wire's copper lies: of a bundle, without its serving [m].

    Raises
    ------
    ValueError
        If a bundle's strands are thicker than the table of enamelled wire.
    """
    if wire.kind == "solid":
        return wire.strand_diameter_m / 2
    bundle = bundle_diameter_m(overall_diameter_m(wire.strand_diameter_m), wire.strands)
    return min(bundle, wire.overall_diameter_m) / 2


def neumann_matrix(pieces: Pieces, wire: Wire, phases: int, pole_pairs: int, plates: Plates = NO_STEEL) -> Floats:
    """Neumann's integral between all phases, each as one wire in series, (phases, phases) [m].

    Where every phase is the first one turned, one self and one mutual integral tell all.

    Parameters
    ----------
    pieces : every conductor
    wire : its copper's radius, and how near wires come that are drawn on top of each other
    phases : number of phases
    pole_pairs : p; where the winding repeats so often, one part stands for all
    plates : mirrors, none, one or two

    Raises
    ------
    TooManyPairsError
        If it would take more than some seconds.
    """
    pieces = selected(pieces, np.flatnonzero(lengths(pieces) > 0))
    kinds = distinct(lowered(pieces))
    forms = _forms(pieces, kinds, wire, pole_pairs)
    groups = [families(pieces, kinds, phase) for phase in range(phases)]
    reach = _reach_m(pieces, groups, pole_pairs)
    mirrored = images(plates, _middle_m(pieces), reach)

    def between(a: int, b: int) -> float:
        own = own_sum(forms, groups[a], groups[b])
        return own + image_sum(forms, groups[a], groups[b], mirrored) if mirrored else own

    if phases > 1 and turned_copies(pieces, distinct(pieces), PHASE_STEP[phases] / pole_pairs, phases):
        mutual = between(0, 1)
        near = mutual + (between(0, 0) - mutual) * np.eye(phases)
        return np.asarray(near + _where_steel_ends([rings_of(forms.pieces, groups[0])], plates, mirrored, reach))
    upper = np.array([[between(a, b) if a <= b else 0.0 for b in range(phases)] for a in range(phases)])
    rings = [rings_of(forms.pieces, group) for group in groups]
    return np.asarray(upper + np.triu(upper, 1).T + _where_steel_ends(rings, plates, mirrored, reach))


def _where_steel_ends(rings: list[Rings], plates: Plates, mirrored: tuple[Image, ...], reach_m: float) -> Floats:
    """What is to be added to the images near by, phase by phase: all far ones, or for discs that end, the end."""
    if plates.discs:
        images_only = np.array([[image_rings_sum(a, b, mirrored) for b in rings] for a in rings])
        return np.asarray(disc_rings_sums(rings, plates.discs) - images_only)
    if len(plates.heights_m) < 2:
        return np.zeros((len(rings), len(rings)))
    return np.array([[far_rings_sum(a, b, plates, reach_m) for b in rings] for a in rings])


def _forms(pieces: Pieces, kinds: Distinct, wire: Wire, pole_pairs: int) -> Forms:
    diameter = wire.overall_diameter_m
    apart = bundled_apart_m(kinds.pieces, end_bundles(pieces, diameter), diameter)
    return Forms(kinds.pieces, filaments_of(kinds.pieces), apart, diameter, copper_radius_m(wire), pole_pairs)


def _middle_m(pieces: Pieces) -> float:
    height = np.concatenate([pieces.start[:, 2], pieces.end[:, 2]])
    return float(height.min() + height.max()) / 2


def _reach_m(pieces: Pieces, groups: list[Families], pole_pairs: int) -> float:
    regular = all(repeats(comb, pole_pairs) for group in groups for comb in group.combs)
    return reach_m(ring_m(pieces)[1], pole_pairs if regular else 1)

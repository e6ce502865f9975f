"""How far to trust an answer: what a coarser mesh and fewer harmonics would say, and what the model leaves out."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fieldrun.design.model import Arc, Block, Disc, Magnets, Rotor
from fieldrun.field.field_map import FieldMap
from fieldrun.field.mesh_file import read_section_mesh
from fieldrun.field.outline import mean_radius_m, radial_breaks_m
from fieldrun.field.ring_field import ring_field
from fieldrun.field.ring_mesh import RingDensity
from fieldrun.field.section import Section, polygon_area, section_at
from fieldrun.field.solve import RotorField
from fieldrun.generator.emf import emf_harmonics, fundamental_only
from fieldrun.winding.lay import Lay

COARSER = 2.0
"""The second mesh has elements this many times as large; second-order elements lose far more than half by it."""

FEWER = 4
"""Harmonics coupled in steel for the second answer: against six they show what coupling all of them would change."""

FLOOR_PERCENT = 0.2
"""Left in any case: sums cut at some harmonic, the far sides of the mesh (worst of the machines in README's table)."""

EXTRAPOLATED_T, EXTRAPOLATED_PERCENT = 2.3, 1.0
"""Above this flux density magnetisation curves are drawn on by rule, not measured; what that may cost (judgement)."""

OUTLINE_PERCENT, OUTLINE_SHARE = 0.2, 0.15
"""An outline of the user's own without a profile (pole shoes, Halbach) is known from a flat section at one radius only:
left at least, and this share of what the outline changes. Measured with profiles laid over plain rings the same way,
against magpylib's sums over whole stacked magnets: 50 random machines whose ends stay plain missed 0.5 % at most where
the outline took up to 12 % (0.1 % and a tenth of the change held), eight designed ones 0.6 %, but for 1.4 of 9.5 % with
few blocks as wide as long. Outlines that have a profile are in the rings: they miss 0.01 %, which the floor holds."""

ENDS_SHARE = {Disc: 1.6, Block: 1.0, Arc: 1.0}
"""Left by such a section where the magnets' inner and outer ends are cut back like their flanks, as discs always are:
this share of the magnet that would be missing at its ends. 108 random machines cut back all round missed up to 1.44 of
it on top of the above with discs, 0.85 with blocks, 0.77 with arcs. Steel shoes have not been measured."""


@dataclass(frozen=True)
class Accuracy:
    """How far the answer can be trusted.

    Parameters
    ----------
    numerical_percent : change of the fundamental EMF on a mesh with elements twice as large and, where steel saturates,
        with fewer harmonics coupled
    model_percent : what the model leaves out
    """

    numerical_percent: float
    model_percent: float

    @property
    def error_estimate_percent(self) -> float:
        """Both together."""
        return self.numerical_percent + self.model_percent


def accuracy_of(magnets: Magnets, rotor: Rotor, field: RotorField, laid: Lay, phases: int) -> Accuracy:
    """Estimate the error of the fundamental EMF.

    Parameters
    ----------
    magnets, rotor : the machine
    field : its solution
    laid, phases : the winding

    Raises
    ------
    SolveError
        If the steel's flux does not converge on the coarser mesh.
    """

    def fundamental(field_map: FieldMap) -> float:
        return float(abs(emf_harmonics(fundamental_only(field_map), laid.pieces, phases)[0, 0]))

    plain = fundamental(field.rings.field_map)
    coarser = RingDensity().coarser(COARSER)
    second = fundamental(ring_field(magnets, rotor, coarser, FEWER, field.stack).field_map)
    model = FLOOR_PERCENT
    if any(steel.peak_t > EXTRAPOLATED_T for steel in field.rings.steel):
        model += EXTRAPOLATED_PERCENT
    if field.is_corrected:
        model += OUTLINE_PERCENT + OUTLINE_SHARE * _change_percent(fundamental(field.field_map), plain)
        if isinstance(magnets.outline, Disc) or magnets.outline_ends == "cut":
            model += ENDS_SHARE[type(magnets.outline)] * _missing_ends_percent(magnets, rotor)
    return Accuracy(_change_percent(second, plain), model)


def _change_percent(found: float, known: float) -> float:
    return 0.0 if known == 0 else 100 * abs(found / known - 1)


def _missing_ends_percent(magnets: Magnets, rotor: Rotor) -> float:
    """Share of a magnet that its ends would lose (or win) if the area drawn differs there as it does at its flanks."""
    own, _ = read_section_mesh(Path(magnets.section_mesh), magnets, rotor)
    plain = section_at(magnets, rotor, mean_radius_m(magnets), own.width)
    bodies = magnets.segments_per_pole / (2 if own.width == "half pole" else 1)
    length, h = float(np.ptp(radial_breaks_m(magnets))), magnets.thickness_m
    return 100 * abs(_solid_area(own, h) - _solid_area(plain, h)) / (bodies * length * h)


def _solid_area(section: Section, thickness_m: float) -> float:
    """Area of magnets, pole shoes included, inside a section's box [m^2]: of all bodies centred at their height."""
    polygons = [region.polygon_m for region in section.regions]
    return sum(polygon_area(one) for one in polygons if -thickness_m < np.mean(one, axis=0)[1] < 0)

"""How far to trust an answer: what a coarser mesh and fewer harmonics would say, and what the model leaves out."""

from dataclasses import dataclass

from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.field_map import FieldMap
from fieldrun.field.ring_field import ring_field
from fieldrun.field.ring_mesh import RingDensity
from fieldrun.field.solve import RotorField
from fieldrun.generator.emf import emf_harmonics
from fieldrun.winding.lay import Lay

COARSER = 2.0
"""The second mesh has elements this many times as large; second-order elements lose far more than half by it."""

FEWER = 4
"""Harmonics coupled in steel for the second answer: against six they show what coupling all of them would change."""

FLOOR_PERCENT = 0.2
"""Left in any case: sums cut at some harmonic, the far sides of the mesh (worst of the machines in README's table)."""

EXTRAPOLATED_T, EXTRAPOLATED_PERCENT = 2.3, 1.0
"""Above this flux density magnetisation curves are drawn on by rule, not measured; what that may cost (judgement)."""

OUTLINE_PERCENT, OUTLINE_SHARE = 0.5, 0.25
"""An outline of the user's own is known from a flat section only: left at least, and this share of what the outline
changes (judgement)."""


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
        return float(abs(emf_harmonics(field_map, laid.pieces, phases)[0, 0]))

    plain, whole = fundamental(field.rings.field_map), fundamental(field.field_map)
    second = fundamental(ring_field(magnets, rotor, RingDensity().coarser(COARSER), FEWER).field_map)
    model = FLOOR_PERCENT
    if any(steel.peak_t > EXTRAPOLATED_T for steel in field.rings.steel):
        model += EXTRAPOLATED_PERCENT
    if magnets.section_mesh:
        model += OUTLINE_PERCENT + OUTLINE_SHARE * _change_percent(whole, plain)
    return Accuracy(_change_percent(second, plain), model)


def _change_percent(found: float, known: float) -> float:
    return 0.0 if known == 0 else 100 * abs(found / known - 1)

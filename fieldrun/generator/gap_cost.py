"""What each millimetre of gap costs in volts."""

from dataclasses import replace

import numpy as np

from fieldrun.design.model import Magnets, Rotor, Wire
from fieldrun.field.ring_fundamental import fundamental_map
from fieldrun.generator.emf import emf_harmonics
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import selected

STEP_M = 0.25e-3
"""The gap is opened and closed by so much; the difference is good to 0.1 % of itself."""

WIRE_SHARE = 0.4
"""A gap closed by more of a wire's thickness might touch the middle of the uppermost wire."""

MIDDLE_M = 1e-6
"""A winding as near as this to the middle of the gap was put there, and stays there."""


def emf_change_per_gap_m(magnets: Magnets, rotor: Rotor, laid: Lay, wire: Wire) -> float | None:
    """Relative change of a phase's fundamental EMF per metre of gap [1/m]; None without a gap, or without an EMF.

    Central difference of two fields of the fundamental, (E+ - E-) / (E+ + E-) / step. A winding in the middle of the
    gap stays there, any other keeps its height above the lower magnets.

    Raises
    ------
    SolveError
        If the steel's flux does not converge.
    """
    if rotor.gap_m is None:
        return None
    first = selected(laid.pieces, laid.pieces.phase == 0)
    middle = (first.start[:, 2].min() + first.start[:, 2].max()) / 2
    follows = 0.5 if abs(middle - rotor.gap_m / 2) < MIDDLE_M else 0.0
    step = min(STEP_M, WIRE_SHARE * wire.overall_diameter_m)
    narrow, wide = (_emf(magnets, rotor, first, opened, follows * opened) for opened in (-step, step))
    return None if narrow + wide == 0 else (wide - narrow) / (narrow + wide) / step


def _emf(magnets: Magnets, rotor: Rotor, pieces: Pieces, opened_m: float, lifted_m: float) -> float:
    field_map = fundamental_map(magnets, replace(rotor, gap_m=(rotor.gap_m or 0.0) + opened_m))
    lift = np.array([0.0, 0.0, lifted_m])
    moved = replace(pieces, start=pieces.start + lift, end=pieces.end + lift)
    return float(abs(emf_harmonics(field_map, moved, 1)[0, 0]))

"""What a winding wastes with nothing connected, all in one record."""

from dataclasses import dataclass

from fieldrun.design.model import Winding, Wire
from fieldrun.design.units import KRPM
from fieldrun.field.field_map import FieldMap
from fieldrun.generator.circulating import (
    GroupLoss,
    StrandLoss,
    delta_current_a,
    group_loss,
    lie_side_by_side,
    strand_loss,
)
from fieldrun.generator.eddy import eddy_loss_w_s2
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
from fieldrun.winding.lay import Lay


@dataclass(frozen=True)
class Losses:
    """Losses that need no current at the terminals, all phases; they grow with the square of speed.

    Parameters
    ----------
    eddy_w_s2 : eddy currents within strands, over the square of speed [W s^2]
    strands : currents between strands side by side; None for solid or twisted wire
    groups : currents between groups in parallel; None for a single group and where it cannot be told
    delta_a_krpm : effective current round a delta at 1000 rpm [A]; None without a delta. With resistance alone it
        goes with speed, inductance makes it lag behind speed
    delta_w_krpm2 : what that wastes at 1000 rpm [W]
    """

    eddy_w_s2: float
    strands: StrandLoss | None = None
    groups: GroupLoss | None = None
    delta_a_krpm: float | None = None
    delta_w_krpm2: float = 0.0

    @property
    def idle_w_s2(self) -> float:
        """All of them together, strands in order, over the square of speed [W s^2]."""
        strands = self.strands.in_order_w_s2 if self.strands else 0.0
        groups = self.groups.loss_w_s2 if self.groups else 0.0
        return self.eddy_w_s2 + strands + groups + self.delta_w_krpm2 / KRPM**2


@dataclass(frozen=True, eq=False)
class Circuit:
    """What a phase is at its terminals; `inductance` None where it is not known."""

    emf: Emf
    copper: Impedance
    inductance: Inductance | None = None

    @property
    def in_unison_h(self) -> float:
        """Inductance of a phase with equal currents in all of them [H]; 0 where it is not known."""
        return 0.0 if self.inductance is None else self.inductance.common_h


def losses_of(field_map: FieldMap, laid: Lay, winding: Winding, wire: Wire, circuit: Circuit) -> Losses:
    """Everything the winding wastes with nothing connected.

    Parameters
    ----------
    field_map : the rotor's field
    laid, winding, wire : the winding
    circuit : its EMF, its resistance and, if it is known, its inductance at its terminals
    """
    pieces, ohms = laid.pieces, circuit.copper.resistance_hot_ohm
    round_ = _round_delta(circuit) if winding.connection == "delta" else None
    return Losses(
        eddy_w_s2=eddy_loss_w_s2(field_map, pieces, wire),
        strands=strand_loss(field_map, pieces, wire, winding.phases) if lie_side_by_side(wire) else None,
        groups=group_loss(field_map, pieces, winding, wire, ohms) if winding.parallel > 1 else None,
        delta_a_krpm=round_,
        delta_w_krpm2=winding.phases * ohms * round_**2 if round_ is not None else 0.0,
    )


def _round_delta(circuit: Circuit) -> float:
    return delta_current_a(circuit.emf, circuit.copper.resistance_hot_ohm, KRPM, circuit.in_unison_h)

"""One estimate over all machines, held against finite elements: its errors, or why it has no numbers."""

import math
from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Winding
from fieldrun.studies.estimates_map.formulas import Estimate, Quantity
from fieldrun.studies.estimates_map.grid import Axes, Machine, Point
from fieldrun.studies.estimates_map.region import Region, region_where
from fieldrun.studies.estimates_map.truth import Truth


@dataclass(frozen=True)
class Label:
    """Of an estimate: key and name, for programs and people, what it estimates, one sentence on what it leaves out."""

    key: str
    name: str
    quantity: Quantity
    leaves_out: str


@dataclass(frozen=True, eq=False)
class Outcome:
    """How one estimate does.

    Parameters
    ----------
    label : whose numbers these are
    values, errors_percent : (m,) over the grid's machines, in T or V s/rad; above the rings' answer [%]
    flat_errors_percent : (m,) of a field: above one flat section's [%]; none of an EMF
    own_value, own_error_percent : at the design itself
    region : where its error stays within what is allowed
    allowed_percent : that
    """

    label: Label
    values: Floats
    errors_percent: Floats
    flat_errors_percent: Floats | None
    own_value: float
    own_error_percent: float
    region: Region | None
    allowed_percent: float

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "values", frozen_array(self.values))
        object.__setattr__(self, "errors_percent", frozen_array(self.errors_percent))
        if self.flat_errors_percent is not None:
            object.__setattr__(self, "flat_errors_percent", frozen_array(self.flat_errors_percent))

    @property
    def median_percent(self) -> float:
        """Median size of the error over the grid."""
        return float(np.median(np.abs(self.errors_percent)))

    @property
    def flat_median_percent(self) -> float | None:
        """Median size of the error against a flat section: what the third dimension has no part in."""
        return None if self.flat_errors_percent is None else float(np.median(np.abs(self.flat_errors_percent)))

    @property
    def worst_percent(self) -> float:
        """Largest error over the grid, with its sign."""
        return float(self.errors_percent[np.argmax(np.abs(self.errors_percent))])

    @property
    def share_within(self) -> float:
        """Part of the grid's machines in which the error stays within what is allowed."""
        return float(np.mean(np.abs(self.errors_percent) <= self.allowed_percent))


@dataclass(frozen=True)
class Unfit:
    """An estimate without numbers, and why: half a sentence."""

    label: Label
    reason: str


@dataclass(frozen=True, eq=False)
class Judge:
    """What estimates are held against.

    Parameters
    ----------
    axes : the grid
    points, machines : the grid's in its order, and last of all the design's own
    winding : one round, its height left to each machine
    truth : finite elements' numbers for the machines
    allowed_percent : error that counts as good enough
    """

    axes: Axes
    points: tuple[Point, ...]
    machines: tuple[Machine, ...]
    winding: Winding
    truth: Truth
    allowed_percent: float

    def row(self, estimate: Estimate) -> Outcome | Unfit:
        """The estimate's errors, or why it has none: it does not hold for the arrangement, raises, or is not finite."""
        label = Label(estimate.key, estimate.name, estimate.quantity, estimate.leaves_out)
        reason = estimate.unfit(self.machines[0].magnets, self.machines[0].rotor)
        if reason:
            return Unfit(label, reason)
        values = np.empty(len(self.machines))
        for index, (machine, point) in enumerate(zip(self.machines, self.points, strict=True)):
            value = self._value(estimate, machine)
            if isinstance(value, str):
                return Unfit(label, f"it {value} at {_told(point)}")
            values[index] = value
        return self.outcome(label, values)

    def outcome(self, label: Label, values: Floats) -> Outcome:
        """Hold one value for each machine, (machines,) [T] or [V s/rad] as the label's quantity, against the truth."""
        truth, is_field = self.truth, label.quantity == "field"
        errors = 100 * (values / (truth.b1_t if is_field else truth.emf_v_s_per_rad) - 1)
        holds = np.abs(errors[:-1]) <= self.allowed_percent
        return Outcome(
            label=label,
            values=values[:-1],
            errors_percent=errors[:-1],
            flat_errors_percent=100 * (values / truth.flat_b1_t - 1)[:-1] if is_field else None,
            own_value=float(values[-1]),
            own_error_percent=float(errors[-1]),
            region=region_where(holds.reshape(self.axes.shape), self.axes),
            allowed_percent=self.allowed_percent,
        )

    def _value(self, estimate: Estimate, machine: Machine) -> float | str:
        """The estimate's number, or what it did instead of giving one."""
        coil = replace(self.winding, height_m=machine.height_m)
        try:
            value = float(estimate.formula(machine.magnets, machine.rotor, machine.height_m, machine.radius_m, coil))
        except Exception as error:  # noqa: BLE001 - a function of the user's own may raise anything: that is its row
            return f"raised {type(error).__name__}: {error}"
        return value if math.isfinite(value) else f"gave {value}"


def _told(point: Point) -> str:
    return f"gap {point.gap:.3g}, thickness {point.thickness:.3g} of the pole pitch, share {point.share:.3g}"

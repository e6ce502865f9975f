"""The chain from a design to its answer, link by link: each is worked out once, and only when it is asked for."""

from dataclasses import dataclass
from functools import cached_property, lru_cache, partial

import numpy as np

from fieldrun.design.model import Design, Winding, Wire
from fieldrun.design.units import RPM
from fieldrun.field.field_map import FieldMap
from fieldrun.field.magnetostatics import SectionField
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.solve import RotorField, mean_section_field, rotor_field
from fieldrun.generator.accuracy import Accuracy, accuracy_of
from fieldrun.generator.emf import Emf, emf_per_speed
from fieldrun.generator.forces import Forces, forces_of
from fieldrun.generator.gap_cost import emf_change_per_gap_m
from fieldrun.generator.heating import Heat, heat_of
from fieldrun.generator.impedance import Impedance, impedance
from fieldrun.generator.inductance import Inductance, inductance
from fieldrun.generator.load.charging import charging_starts_rad_s
from fieldrun.generator.load.delivery import Delivery, deliver
from fieldrun.generator.losses import Circuit, Losses, losses_of
from fieldrun.generator.motor import Motor, motor_of
from fieldrun.generator.moving import Moving, moving_of
from fieldrun.generator.rescue import Rescue, rescue_of
from fieldrun.generator.speeds import asked_speeds, top_speed_rpm
from fieldrun.generator.wind.never import Never, never_why
from fieldrun.generator.wind.operating import Machine
from fieldrun.generator.wind.runaway import Runaway, runaway_at, runaway_in_wind
from fieldrun.generator.wind.year import Wind, wind_of
from fieldrun.reference.estimates import Estimate, estimates
from fieldrun.winding.factors import Factors, factors
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.twisting import Twisting, twisting


@dataclass(frozen=True, eq=False)
class Chain:
    """A design's answer, worked out as far as it is asked for: nothing needs to be called before anything else.

    Every link may raise what its stage raises: `DesignError` if the winding cannot be laid, `SolveError` if steel's
    flux does not converge. Winding, wire, speed and load never touch the field.

    Parameters
    ----------
    design : as read by `generator.machine.read_design`
    solved : its field if somebody has it already: of the same magnets and rotor, which is not checked
    """

    design: Design
    solved: RotorField | None = None

    @cached_property
    def field(self) -> RotorField:
        """The field of magnets and steel."""
        return self.solved or rotor_field(self.design.magnets, self.design.rotor)

    @property
    def field_map(self) -> FieldMap:
        """The field's harmonics, as in a result."""
        return self.field.field_map

    @cached_property
    def section(self) -> SectionField:
        """The section at the magnets' mean radius, on a mesh twice as fine as usual."""
        return mean_section_field(self.design.magnets, self.design.rotor, MeshDensity().refined())

    @cached_property
    def lay(self) -> Lay:
        """The winding laid out."""
        return lay(self.design.winding, self.design.magnets.pole_pairs, self.design.wire)

    @property
    def paths(self) -> Pieces:
        """The winding's conductors, as in a result."""
        return self.lay.pieces

    @cached_property
    def emf(self) -> Emf:
        """Volts per speed of every phase."""
        return emf_per_speed(self.field.field_map, self.lay, self.design.winding, self.design.wire)

    @cached_property
    def estimates(self) -> tuple[Estimate, ...]:
        """What hand calculations say of the field at the copper's middle."""
        height, radius = middle_height_m(self.lay), mean_radius_m(self.lay)
        return estimates(self.design.magnets, self.design.rotor, height, radius)

    @cached_property
    def factors(self) -> Factors:
        """Winding factors and copper shares."""
        return factors(self.lay, self.design.winding, self.design.wire)

    @cached_property
    def rescue(self) -> Rescue | None:
        """What a winding that cancels itself gives if it is cut open."""
        return rescue_of(self.field.field_map, self.lay, self.design.winding)

    @cached_property
    def impedance(self) -> Impedance:
        """Metres, ohms and kilograms of the copper."""
        winding, wire = self.design.winding, self.design.wire
        if winding.file:
            return impedance(self.lay.pieces, wire, winding)
        return _copper_of(winding, self.design.magnets.pole_pairs, wire)

    @cached_property
    def twisting(self) -> Twisting | None:
        """How a bundle is made at home; None for other wire."""
        return twisting(self.lay, self.design.winding, self.design.wire, self.design.cutting)

    @cached_property
    def inductance(self) -> Inductance | None:
        """Own and mutual inductances of the phases."""
        design = self.design
        return inductance(self.lay, design.wire, design.winding, design.magnets, design.rotor)

    @cached_property
    def circuit(self) -> Circuit:
        """What a phase is at its terminals."""
        return Circuit(self.emf, self.impedance, self.inductance)

    @cached_property
    def losses(self) -> Losses:
        """What the winding wastes with nothing connected."""
        return losses_of(self.field.field_map, self.lay, self.design.winding, self.design.wire, self.circuit)

    @cached_property
    def heat(self) -> Heat:
        """How much current the winding stands."""
        return heat_of(self.design, self.lay, self.impedance, self.losses.idle_w_s2)

    @cached_property
    def moving(self) -> Moving:
        """What turns, and its inertia."""
        return moving_of(self.design, self.lay, self.impedance)

    @cached_property
    def forces(self) -> Forces:
        """What pulls at the discs."""
        return forces_of(self.field.field_map, self.design.rotor)

    @cached_property
    def motor(self) -> Motor:
        """The machine as a motor."""
        return motor_of(self.emf, self.impedance, self.design.winding)

    @cached_property
    def accuracy(self) -> Accuracy:
        """How far the EMF can be trusted; takes another field, on a coarser mesh."""
        design = self.design
        return accuracy_of(design.magnets, design.rotor, self.field, self.lay, design.winding.phases)

    @cached_property
    def emf_change_per_gap_m(self) -> float | None:
        """What a metre of gap changes of the EMF, relative [1/m]; takes two more fields, of the fundamental."""
        return emf_change_per_gap_m(self.design.magnets, self.design.rotor, self.lay, self.design.wire)

    @cached_property
    def charging_starts_rad_s(self) -> float | None:
        """Speed from which a battery is charged [rad/s]; None without a load or where it never is."""
        load = self.design.load
        return charging_starts_rad_s(self.emf, self.design.winding.connection, load) if load else None

    @cached_property
    def delivery(self) -> Delivery | None:
        """What the load gets at the asked speeds; None without a load."""
        load = self.design.load
        if load is None:
            return None
        speeds = RPM * np.array(asked_speeds(self.design))
        return deliver(self.emf, self.impedance, self.inductance, self.losses, self.design.winding, load, speeds)

    @cached_property
    def wind(self) -> Wind | None:
        """The rotor and its year; None without a rotor."""
        turbine = self.design.turbine
        return wind_of(turbine, self._loaded, self.charging_starts_rad_s) if turbine else None

    @cached_property
    def never(self) -> Never | None:
        """Why the load gets no power in any wind; None if it does, or without a rotor or a load."""
        turbine, machine, wind = self.design.turbine, self._loaded, self.wind
        if turbine is None or machine is None or wind is None or wind.fed is None or wind.fed.cut_in_m_s is not None:
            return None
        return never_why(turbine, machine, self.charging_starts_rad_s)

    @cached_property
    def runaway(self) -> Runaway:
        """What happens if the load is lost at the highest speed."""
        if self.wind is None:
            return runaway_at(top_speed_rpm(self.design) * RPM, self.design, self.emf, self.moving)
        return runaway_in_wind(self.wind.rotor, self.wind.top_m_s, self.design, self.emf, self.moving)

    @property
    def _loaded(self) -> Machine | None:
        """The generator with its load, speed by speed; None without a load that takes power."""
        load = self.design.load
        if load is None or load.kind == "open":
            return None
        return partial(deliver, self.emf, self.impedance, self.inductance, self.losses, self.design.winding, load)


@lru_cache(maxsize=256)
def _copper_of(winding: Winding, pole_pairs: int, wire: Wire) -> Impedance:
    """Of a named shape: other magnets, steel and loads of a sweep leave the copper as it is."""
    return impedance(lay(winding, pole_pairs, wire).pieces, wire, winding)


def middle_height_m(laid: Lay) -> float:
    """Height of the middle of the copper [m]."""
    heights = np.concatenate([laid.pieces.start[:, 2], laid.pieces.end[:, 2]])
    return float(heights.min() + heights.max()) / 2


def mean_radius_m(laid: Lay) -> float:
    """Mean of the winding's two radii [m]."""
    return (laid.inner_radius_m + laid.outer_radius_m) / 2

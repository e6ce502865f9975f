"""The chain from a design to its answer, in the order a builder would tell it."""

from collections.abc import Mapping
from functools import partial
from pathlib import Path

import numpy as np

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Design
from fieldrun.design.read import design_hash, told_by_line
from fieldrun.design.read import read_design as read_file
from fieldrun.design.units import RPM
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.mesh_file import section_mesh_faults
from fieldrun.field.quality import mesh_quality
from fieldrun.field.solve import mean_section_field, rotor_field
from fieldrun.generator.accuracy import accuracy_of
from fieldrun.generator.emf import Emf, emf_per_speed
from fieldrun.generator.forces import forces_of
from fieldrun.generator.gap_cost import emf_change_per_gap_m
from fieldrun.generator.heating import heat_of
from fieldrun.generator.impedance import Impedance, impedance
from fieldrun.generator.inductance import Inductance, inductance
from fieldrun.generator.inductance_remarks import inductance_assumptions, inductance_warnings
from fieldrun.generator.joining import joinings
from fieldrun.generator.load.charging import charging_starts_rad_s
from fieldrun.generator.load.delivery import Delivery, deliver
from fieldrun.generator.load.load_remarks import delivery_warnings, load_assumptions
from fieldrun.generator.loss_remarks import part_assumptions, part_warnings
from fieldrun.generator.losses import Circuit, Losses, losses_of
from fieldrun.generator.motor import motor_of
from fieldrun.generator.moving import moving_of
from fieldrun.generator.remarks import (
    assumptions_of,
    bundle_warnings,
    end_warnings,
    field_warnings,
    narrow_steel,
    warnings_of,
)
from fieldrun.generator.rescue import rescue_of
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds, top_speed_rpm
from fieldrun.generator.wind.operating import Machine
from fieldrun.generator.wind.runaway import runaway_at, runaway_in_wind
from fieldrun.generator.wind.wind_remarks import wind_assumptions, wind_warnings
from fieldrun.generator.wind.year import faults_in_wind, wind_of
from fieldrun.reference.estimates import estimates
from fieldrun.winding.factors import factors
from fieldrun.winding.lay import Lay, lay, lay_faults
from fieldrun.winding.twisting import twisting


def read_design(path: Path | str, changes: Mapping[str, object] | None = None) -> Design:
    """Read a design file and check it as far as can be told without a field: the winding's geometry, its mesh, and
    whether the rotor ever turns.

    Parameters
    ----------
    path, changes : as for `design.read.read_design`

    Raises
    ------
    DesignError
        With every fault of the file; that nothing turns only shows where there is no other.
    """
    design = read_file(path, (lay_faults, section_mesh_faults), changes)
    if faults := faults_in_wind(design.turbine) if design.turbine else []:
        with told_by_line(path):
            raise DesignError(faults)
    return design


def run(design: Design) -> RunResult:
    """Answer a design: field, winding, EMF, ohms, and how far to trust them.

    Parameters
    ----------
    design : as read by `read_design`

    Raises
    ------
    DesignError
        If the winding cannot be laid.
    SolveError
        If the steel's flux does not converge.
    """
    magnets, rotor, winding, wire = design.magnets, design.rotor, design.winding, design.wire
    field = rotor_field(magnets, rotor)
    section = mean_section_field(magnets, rotor, MeshDensity().refined())
    laid = lay(winding, magnets.pole_pairs, wire)
    emf = emf_per_speed(field.field_map, laid, winding, wire)
    height = middle_height_m(laid)
    fundamental = float(abs(emf.amplitudes[0, 0])) * winding.parallel / wire.strands_in_series
    shares, rescue = factors(laid, winding, wire), rescue_of(field.field_map, laid, winding)
    copper, plan = impedance(laid.pieces, wire, winding), twisting(laid, winding, wire, design.cutting)
    henries = inductance(laid, wire, winding, magnets, rotor)
    circuit = Circuit(emf, copper, henries)
    losses = losses_of(field.field_map, laid, winding, wire, circuit)
    heat, moving = heat_of(design, laid, copper, losses.idle_w_s2), moving_of(design, laid, copper)
    charging = charging_starts_rad_s(emf, winding.connection, design.load) if design.load else None
    delivery = _delivered(design, circuit, losses)
    wind = wind_of(design.turbine, _loaded(design, emf, copper, henries, losses), charging) if design.turbine else None
    runaway = (
        runaway_in_wind(wind.rotor, wind.top_m_s, design, emf, moving)
        if wind
        else runaway_at(top_speed_rpm(design) * RPM, design, emf, moving)
    )
    return RunResult(
        design=design,
        design_hash=design_hash(design),
        field=field,
        section=section,
        quality=mesh_quality(section.mesh),
        estimates=estimates(magnets, rotor, height, mean_radius_m(laid)),
        lay=laid,
        factors=shares,
        emf=emf,
        impedance=copper,
        inductance=henries,
        forces=forces_of(field.field_map, rotor),
        losses=losses,
        heat=heat,
        moving=moving,
        rescue=rescue,
        charging_starts_rad_s=charging,
        joinings=joinings(emf, copper, design),
        twisting=plan,
        emf_change_per_gap_m=emf_change_per_gap_m(magnets, rotor, laid, wire),
        accuracy=accuracy_of(magnets, rotor, field, laid, winding.phases),
        motor=motor_of(emf, copper, winding),
        delivery=delivery,
        runaway=runaway,
        wind=wind,
        warnings=(
            *field_warnings(field.field_map, laid, fundamental),
            *end_warnings(laid, magnets, rotor, winding.clearance_m),
            *warnings_of(field.rings.steel, shares, rescue, narrow_steel(magnets, rotor)),
            *bundle_warnings(plan),
            *part_warnings(design, losses, emf, copper),
            *inductance_warnings(henries),
            *delivery_warnings(design, delivery, heat),
            *wind_warnings(design, wind, runaway, heat),
        ),
        assumptions=(
            *assumptions_of(design),
            *part_assumptions(design, losses, henries),
            *inductance_assumptions(henries),
            *load_assumptions(design, henries),
            *wind_assumptions(design, wind),
        ),
    )


def _loaded(design: Design, emf: Emf, copper: Impedance, henries: Inductance | None, losses: Losses) -> Machine | None:
    """The generator with its load, speed by speed; None without a load that takes power."""
    load = design.load
    if load is None or load.kind == "open":
        return None
    return partial(deliver, emf, copper, henries, losses, design.winding, load)


def _delivered(design: Design, circuit: Circuit, losses: Losses) -> Delivery | None:
    """What the load gets at the asked speeds; None without a load."""
    if design.load is None:
        return None
    emf, copper, henries = circuit.emf, circuit.copper, circuit.inductance
    speeds = RPM * np.array(asked_speeds(design))
    return deliver(emf, copper, henries, losses, design.winding, design.load, speeds)


def middle_height_m(laid: Lay) -> float:
    """Height of the middle of the copper [m]."""
    heights = np.concatenate([laid.pieces.start[:, 2], laid.pieces.end[:, 2]])
    return float(heights.min() + heights.max()) / 2


def mean_radius_m(laid: Lay) -> float:
    """Mean of the winding's two radii [m]."""
    return (laid.inner_radius_m + laid.outer_radius_m) / 2

"""From a design file to its answer: what is read, and what a run tells of it."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Design, Turbine
from fieldrun.design.read import Template, design_hash, open_design, told_by_line, vary
from fieldrun.field.mesh_file import section_mesh_faults
from fieldrun.field.quality import mesh_quality
from fieldrun.generator.chain import Chain, mean_radius_m, middle_height_m
from fieldrun.generator.inductance_remarks import inductance_assumptions, inductance_warnings
from fieldrun.generator.joining import joinings
from fieldrun.generator.load.load_remarks import delivery_warnings, load_assumptions
from fieldrun.generator.loss_remarks import part_assumptions, part_warnings
from fieldrun.generator.remarks import (
    assumptions_of,
    bundle_warnings,
    end_warnings,
    field_warnings,
    narrow_steel,
    warnings_of,
)
from fieldrun.generator.result import Remark, RunResult
from fieldrun.generator.wind.wind_remarks import wind_assumptions, wind_warnings
from fieldrun.generator.wind.year import faults_in_wind
from fieldrun.winding.lay import lay_faults

__all__ = ["mean_radius_m", "middle_height_m", "open_design", "read_design", "result_of", "run", "vary_design"]


def read_design(path: Path | str, changes: Mapping[str, object] | None = None) -> Design:
    """Read a design file and check it as far as can be told without a field: the winding's geometry, its mesh, and
    whether the rotor ever turns.

    Parameters
    ----------
    path, changes : as for `design.read.open_design` and `vary`

    Raises
    ------
    DesignError
        With every fault of the file; that nothing turns only shows where there is no other.
    """
    return vary_design(open_design(path), changes)


def vary_design(template: Template, changes: Mapping[str, object] | None = None) -> Design:
    """The design that a file says with some of its values changed, for many of them.

    Parameters
    ----------
    template : the file, opened once
    changes : new values in the file's units by key, such as {"rotor.gap_mm": 9}

    Raises
    ------
    DesignError
        As `read_design`.
    """
    design = vary(template, (lay_faults, section_mesh_faults), changes)
    if faults := _never_turns(design.turbine) if design.turbine else ():
        with told_by_line(template.path, template.text):
            raise DesignError(faults)
    return design


@lru_cache(maxsize=8)
def _never_turns(turbine: Turbine) -> tuple[Fault, ...]:
    return tuple(faults_in_wind(turbine))


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
    return result_of(Chain(design))


def result_of(chain: Chain) -> RunResult:
    """Everything that a chain can tell, with its warnings and assumptions; raises what its links raise."""
    design = chain.design
    return RunResult(
        design=design,
        design_hash=design_hash(design),
        field=chain.field,
        section=chain.section,
        quality=mesh_quality(chain.section.mesh),
        estimates=chain.estimates,
        lay=chain.lay,
        factors=chain.factors,
        emf=chain.emf,
        impedance=chain.impedance,
        inductance=chain.inductance,
        forces=chain.forces,
        losses=chain.losses,
        heat=chain.heat,
        moving=chain.moving,
        rescue=chain.rescue,
        charging_starts_rad_s=chain.charging_starts_rad_s,
        joinings=joinings(chain.emf, chain.impedance, design),
        twisting=chain.twisting,
        emf_change_per_gap_m=chain.emf_change_per_gap_m,
        accuracy=chain.accuracy,
        motor=chain.motor,
        delivery=chain.delivery,
        runaway=chain.runaway,
        wind=chain.wind,
        warnings=_warnings(chain),
        assumptions=_assumptions(chain),
    )


def _warnings(chain: Chain) -> tuple[Remark, ...]:
    design, field = chain.design, chain.field
    magnets, rotor, winding = design.magnets, design.rotor, design.winding
    fundamental = float(abs(chain.emf.amplitudes[0, 0])) * winding.parallel / design.wire.strands_in_series
    return (
        *field_warnings(field.field_map, chain.lay, fundamental),
        *end_warnings(chain.lay, magnets, rotor, winding.clearance_m),
        *warnings_of(field.rings.steel, chain.factors, chain.rescue, narrow_steel(magnets, rotor)),
        *bundle_warnings(chain.twisting),
        *part_warnings(design, chain.losses, chain.emf, chain.impedance),
        *inductance_warnings(chain.inductance),
        *delivery_warnings(design, chain.delivery, chain.heat),
        *wind_warnings(design, chain.wind, chain.runaway, chain.heat, chain.never),
    )


def _assumptions(chain: Chain) -> tuple[str, ...]:
    design, henries = chain.design, chain.inductance
    return (
        *assumptions_of(design),
        *part_assumptions(design, chain.losses, henries),
        *inductance_assumptions(henries),
        *load_assumptions(design, henries),
        *wind_assumptions(design, chain.wind),
    )

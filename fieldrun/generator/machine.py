"""The chain from a design to its answer, in the order a builder would tell it."""

import math
from functools import partial

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Design
from fieldrun.design.read import design_hash
from fieldrun.design.read import read_design as read_file
from fieldrun.field.field_map import FieldMap
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import SectionField
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.mesh_file import section_mesh_faults
from fieldrun.field.quality import mesh_quality
from fieldrun.field.solve import field_of, mean_section_field
from fieldrun.generator.charging import charging_starts_rad_s
from fieldrun.generator.emf import emf_harmonics, emf_per_speed
from fieldrun.generator.forces import forces_of
from fieldrun.generator.impedance import impedance
from fieldrun.generator.remarks import assumptions_of, field_warnings, warnings_of
from fieldrun.generator.result import Accuracy, RunResult
from fieldrun.reference.end_effects import spread_map
from fieldrun.reference.estimates import estimates
from fieldrun.winding.factors import factors
from fieldrun.winding.lay import Lay, lay, lay_faults
from fieldrun.winding.pieces import points_along

read_design = partial(read_file, more_checks=(lay_faults, section_mesh_faults))
"""Read a design file and check it as far as can be told without a field: the winding's geometry and its mesh too."""

SLICES_MISS_PERCENT = 26.0
"""What slices miss at worst for 95 of 100 machines (computed for 240 random ones); taken where no better is known."""

LEFT_OVER_PERCENT = 1.0
"""What the K1 estimate itself may miss with real steel and recoil permeability."""


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
    field_map = field_of(magnets, rotor)
    section = mean_section_field(magnets, rotor, MeshDensity().refined())
    laid = lay(winding, magnets.pole_pairs, wire)
    emf = emf_per_speed(field_map, laid, winding, wire)
    height = middle_height_m(laid)
    accuracy = _accuracy(design, section, field_map, laid)
    shares = factors(laid, winding, wire)
    return RunResult(
        design=design,
        design_hash=design_hash(design),
        field_map=field_map,
        section=section,
        quality=mesh_quality(section.mesh),
        estimates=estimates(magnets, rotor, height, mean_radius_m(laid)),
        lay=laid,
        factors=shares,
        emf=emf,
        impedance=impedance(laid.pieces, wire, winding),
        forces=forces_of(field_map, rotor),
        charging_starts_rad_s=charging_starts_rad_s(emf, winding.connection, design.load) if design.load else None,
        accuracy=accuracy,
        warnings=(*field_warnings(float(abs(emf.amplitudes[0, 0]))), *warnings_of(section, shares, accuracy)),
        assumptions=assumptions_of(design),
    )


def middle_height_m(laid: Lay) -> float:
    """Height of the middle of the copper [m]."""
    heights = np.concatenate([laid.pieces.start[:, 2], laid.pieces.end[:, 2]])
    return float(heights.min() + heights.max()) / 2


def mean_radius_m(laid: Lay) -> float:
    """Mean of the winding's two radii [m]."""
    return (laid.inner_radius_m + laid.outer_radius_m) / 2


def _accuracy(design: Design, fine: SectionField, field_map: FieldMap, laid: Lay) -> Accuracy:
    mesh = _mesh_percent(design, fine, middle_height_m(laid))
    ends = _ends_percent(design, field_map, laid)
    known = SLICES_MISS_PERCENT if ends is None else abs(ends) + LEFT_OVER_PERCENT
    return Accuracy(mesh, ends, known + mesh)


def _mesh_percent(design: Design, fine: SectionField, height_m: float) -> float:
    """Change of the mean section's fundamental when every element is halved."""
    coarse = mean_section_field(design.magnets, design.rotor)
    amplitudes = (gap_amplitudes(field, [height_m], np.array([1]))[1][0, 0] for field in (coarse, fine))
    before, after = (abs(amplitude) for amplitude in amplitudes)
    return float(100 * abs(after / before - 1))


def _ends_percent(design: Design, field_map: FieldMap, laid: Lay) -> float | None:
    """Change of the fundamental EMF by flux that spreads past the magnets' ends; None where K1 does not hold."""
    if design.magnets.pattern != "alternating" or design.magnets.section_mesh:
        return None
    pieces = laid.pieces
    points = points_along(pieces, np.broadcast_to(np.linspace(0, 1, 17), (pieces.count, 17)))
    low, high = points[:, :, 2].min(), points[:, :, 2].max()
    heights = _heights_round(low, high, math.inf if field_map.open_above else field_map.heights_m[-1])
    radii = np.linspace(points[:, :, 0].min(), points[:, :, 0].max() * (1 + 1e-9), 61)
    spread = spread_map(field_map, design.magnets, design.rotor, radii, heights)
    flat = abs(emf_harmonics(field_map, pieces, design.winding.phases)[0, 0])
    whole = abs(emf_harmonics(spread, pieces, design.winding.phases)[0, 0])
    return None if flat == 0 else float(100 * (whole / flat - 1))


def _heights_round(low_m: float, high_m: float, top_m: float) -> Floats:
    """Chebyshev heights over copper from `low` to `high` and a little beyond, never at the faces 0 and `top` [m]."""
    margin = max(0.1 * (high_m - low_m), 0.05 * low_m)
    first, last = max(low_m - margin, low_m / 2), min(high_m + margin, (high_m + top_m) / 2)
    return np.asarray((first + last) / 2 - (last - first) / 2 * np.cos(np.linspace(0, np.pi, 7)))

"""From checked tables in file units to frozen records in SI. Call only with tables that the checks found sound."""

from pathlib import Path
from typing import TypeVar, assert_never

from fieldrun.design.checks_rotor import has_plate, is_open, steel_radii_mm
from fieldrun.design.cp_table import read_cp_table
from fieldrun.design.file_tables import FormerTable, LoadTable, MagnetsTable, ToleranceTable, WindingTable, WindTable
from fieldrun.design.heights import gap_of_mm, height_of_mm
from fieldrun.design.making import Cutting, FormerPlan
from fieldrun.design.materials import magnet_grade, remanence_at, steel_curve
from fieldrun.design.model import (
    Arc,
    Block,
    Connection,
    Disc,
    Load,
    Magnets,
    MagnetShape,
    Outline,
    Plate,
    Rotor,
    Tolerance,
    Turbine,
    Winding,
)
from fieldrun.design.shapes import SHAPE_DEFAULTS
from fieldrun.design.tables import Tables
from fieldrun.design.units import DEGREE, KM_H, KNOT, metres
from fieldrun.design.wind_record import read_wind_record

T = TypeVar("T")

NDFEB_DENSITY_KG_M3, FERRITE_DENSITY_KG_M3 = 7500.0, 4850.0
FERRITE_AT_MOST_T = 0.5
"""A magnet known only by its remanence is taken for ferrite below this, else for NdFeB (for its density alone)."""

PLAIN_RECOIL_PERMEABILITY = 1.05

DIODES_PASSED = {"bridge": 2, "bridge per phase": 2, "doubler": 1, "none": 1}
"""Diodes in the current's way."""

PLAIN_WIND_KEYS = (
    "tip_speed_ratio",
    "peak_cp",
    "start_torque_coefficient",
    "rotor_height_m",
    "drag_nm",
    "air_temperature_c",
    "measured_height_m",
    "hub_height_m",
    "shear_exponent",
    "roughness_m",
    "furl_m_s",
    "stop_m_s",
)
"""Keys of [wind] that are taken as they stand: their defaults depend on the machine."""


def given(value: T | None) -> T:
    """The value of a key that the checks have seen to be there."""
    if value is None:
        raise AssertionError("a needed key slipped through the checks")
    return value


def magnets_of(tables: Tables, folder: Path) -> Magnets:
    """One face of magnets, remanence at their temperature.

    Raises
    ------
    DesignError
        If nobody knows the grade, which the checks have asked before.
    """
    table = tables.magnets
    remanence, permeability, density = _material(table)
    return Magnets(
        outline=_outline(table),
        count=given(table.count),
        thickness_m=metres(given(table.thickness_mm)),
        remanence_t=remanence,
        recoil_permeability=permeability,
        density_kg_m3=density,
        grade=magnet_grade(table.grade).name if table.grade else "",
        temperature_c=float(table.temperature_c),
        pattern=table.pattern,
        segments_per_pole=table.segments_per_pole or 1,
        section_mesh=_absolute(table.section_mesh, folder),
        outline_ends=table.outline_ends or "plain",
    )


def rotor_of(tables: Tables, folder: Path) -> Rotor:
    """Faces, gap and steel; the steel's radii by default one magnet thickness beyond the magnets."""
    table = tables.rotor
    gap = None if is_open(table) else gap_of_mm(tables)
    inner, outer = given(steel_radii_mm(tables.magnets, table))
    return Rotor(
        faces=given(table.faces),
        gap_m=None if gap is None else metres(gap),
        backing=_plate(given(table.backing), table.backing_mm, folder),
        return_plate=_plate(given(table.return_plate), table.return_plate_mm, folder) if has_plate(table) else None,
        steel_inner_radius_m=metres(inner),
        steel_outer_radius_m=metres(outer),
        spins=table.spins,
    )


def winding_of(tables: Tables, folder: Path) -> Winding:
    """The copper's path, its height resolved."""
    table = tables.winding
    path = table.shape == "path"
    return Winding(
        shape=given(table.shape),
        inner_radius_m=_mm(table.inner_radius_mm),
        outer_radius_m=_mm(table.outer_radius_mm),
        phases=given(table.phases),
        rounds=rounds_of(table),
        layers=1 if path else given(table.layers),
        height_m=metres(given(height_of_mm(tables))),
        leg=table.leg,
        belts=table.belts,
        belt_rad=None if table.belt_deg is None else table.belt_deg * DEGREE,
        **{key: _or(getattr(table, key), default) for key, default in SHAPE_DEFAULTS.items()},
        start_rad=table.start_deg * DEGREE,
        clearance_m=metres(table.clearance_mm),
        former_in_gap_m=metres(table.former_in_gap_mm),
        resin_m=metres(table.resin_mm),
        parallel=table.parallel,
        connection=connection_of(tables),
        file=_absolute(table.file, folder),
        step_rad=None if table.step_deg is None else table.step_deg * DEGREE,
        inner_notches=table.inner_notches,
        outer_notches=table.outer_notches,
    )


def rounds_of(table: WindingTable) -> int | None:
    """Rounds per phase; None for "fill". A path is wound once unless it says otherwise."""
    if table.shape == "path" and table.rounds is None:
        return 1
    return None if table.rounds == "fill" else given(table.rounds)


def connection_of(tables: Tables) -> Connection:
    """Star for three phases behind common diodes; otherwise, and with diodes of their own, phases stay separate."""
    table = tables.winding
    if table.phases == 1:
        return "separate"
    own_diodes = tables.load is not None and tables.load.rectifier in {"bridge per phase", "doubler"}
    return table.connection or ("star" if table.phases == 3 and not own_diodes else "separate")


def load_of(table: LoadTable, wind: WindTable | None = None) -> Load:
    """The load, speeds in the order given; what brushes drop is shared out to the diodes that the current passes."""
    brushes = _or(wind.brush_drop_v, 0.0) if wind else 0.0
    return Load(
        kind=given(table.kind),
        voltage_v=_float(table.voltage_v),
        resistance_ohm=_float(table.resistance_ohm),
        rectifier=table.rectifier,
        diode_drop_v=table.diode_drop_v + brushes / DIODES_PASSED[table.rectifier],
        diode_slope_ohm=float(table.diode_slope_ohm),
        cable_ohm=float(table.cable_ohm),
        speeds_rpm=tuple(float(speed) for speed in table.speeds_rpm),
    )


def turbine_of(table: WindTable, folder: Path) -> Turbine:
    """The rotor and its wind; tables and records read.

    Raises
    ------
    DesignError
        With every fault of a table or a record.
    """
    own_curve = table.cp_curve not in {None, "default"}
    return Turbine(
        rotor_diameter_m=given(_float(table.rotor_diameter_m)),
        gear_ratio=float(table.gear_ratio),
        cp=read_cp_table(folder / given(table.cp_curve)) if own_curve else None,
        brush_drop_v=_or(table.brush_drop_v, 0.0),
        altitude_m=_or(table.altitude_m, 0.0),
        mean_m_s=mean_wind_m_s(table),
        weibull_shape=float(table.weibull_shape),
        record=read_wind_record(folder / table.record) if table.record else None,
        **{key: _float(getattr(table, key)) for key in PLAIN_WIND_KEYS},
    )


def mean_wind_m_s(table: WindTable) -> float | None:
    """The mean wind in whatever unit it was given [m/s]."""
    units = {"mean_m_s": 1.0, "mean_km_h": KM_H, "mean_knots": KNOT}
    return next((getattr(table, key) * unit for key, unit in units.items() if getattr(table, key) is not None), None)


def tolerance_of(table: ToleranceTable | None) -> Tolerance:
    """Standard deviations; usual ones if the file says nothing of them."""
    table = table or ToleranceTable()
    lengths = (metres(length) for length in (table.gap_mm, table.magnet_mm, table.placement_mm))
    return Tolerance(table.remanence_percent / 100, *lengths)


def cutting_of(table: FormerTable | None) -> Cutting:
    """Tails and spare wire; usual ones if the file says nothing of them."""
    table = table or FormerTable()
    return Cutting(metres(table.tail_mm), table.spare_percent / 100)


def former_plan_of(table: FormerTable | None) -> FormerPlan:
    """The former as stated; a usual one if the file says nothing of it."""
    table = table or FormerTable()
    return FormerPlan(
        notch_m=None if table.notch_mm == "auto" else metres(table.notch_mm),
        ends=table.ends,
        comb=table.comb,
        clearance_m=FormerPlan.clearance_m if table.clearance_mm is None else metres(table.clearance_mm),
        kerf_m=metres(table.kerf_mm),
        hub_hole_m=_mm(table.hub_hole_mm),
        rim_m=_mm(table.rim_mm),
        thickness_m=_mm(table.thickness_mm),
        sheet=table.sheet,
    )


def _material(table: MagnetsTable) -> tuple[float, float, float]:
    """Remanence at the magnets' temperature [T], recoil permeability, density [kg/m3]."""
    if table.grade is not None:
        grade = magnet_grade(table.grade)
        permeability = _or(table.recoil_permeability, grade.recoil_permeability)
        return remanence_at(grade, table.temperature_c), permeability, grade.density_kg_m3
    remanence = float(given(table.remanence_t))
    density = FERRITE_DENSITY_KG_M3 if remanence < FERRITE_AT_MOST_T else NDFEB_DENSITY_KG_M3
    return remanence, _or(table.recoil_permeability, PLAIN_RECOIL_PERMEABILITY), density


def _outline(table: MagnetsTable) -> Outline:
    shape: MagnetShape = given(table.shape)
    if shape == "disc":
        return Disc(metres(given(table.diameter_mm)), metres(given(table.pitch_radius_mm)))
    if shape == "block":
        radial, tangential = given(table.radial_mm), given(table.tangential_mm)
        return Block(metres(radial), metres(tangential), metres(given(table.pitch_radius_mm)))
    if shape == "arc":
        inner, outer = given(table.inner_radius_mm), given(table.outer_radius_mm)
        return Arc(metres(inner), metres(outer), float(given(table.arc_share)))
    assert_never(shape)


def _plate(name: str, thickness_mm: float | None, folder: Path) -> Plate | None:
    if name == "none":
        return None
    if name == "ideal":
        return Plate(None)
    return Plate(steel_curve(name, folder), metres(given(thickness_mm)))


def _absolute(name: str | None, folder: Path) -> str:
    return str((folder / name).resolve()) if name else ""


def _mm(length: float | None) -> float | None:
    return None if length is None else metres(length)


def _float(value: float | None) -> float | None:
    return None if value is None else float(value)


def _or(value: float | None, default: float) -> float:
    return default if value is None else float(value)

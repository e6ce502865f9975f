"""The design file's tables and keys: types, defaults and a line about each, nothing else.

Every key may be absent here: what a shape needs or has no use for is judged by the checks, so that one missing key does
not hide the file's other faults. Plausible sizes stand in `ranges`.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from fieldrun.design.model import Connection, Leg, LoadKind, MagnetShape, OutlineEnds, Pattern, WindingShape
from fieldrun.design.wire import BUNCHING


def _key(text: str, default: Any = None) -> Any:
    return Field(default, description=text)


def _no_look_alike(value: object) -> object:
    """Refuse `true` and 1.0, which equal 1 and would pass as a member of a list of numbers."""
    if isinstance(value, bool | float):
        raise PydanticCustomError("whole_number", "must be a whole number")
    return value


OneOrTwo = Annotated[Literal[1, 2], BeforeValidator(_no_look_alike)]
OneToThree = Annotated[Literal[1, 2, 3], BeforeValidator(_no_look_alike)]


class Table(BaseModel):
    """Common to all tables: no coercion, no unknown keys, nothing changed after reading, no NaN."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", allow_inf_nan=False)


class MagnetsTable(Table):
    """One face of magnets."""

    shape: MagnetShape | None = _key("outline of one magnet")
    count: int | None = _key("poles on one face: even, alternating north and south")
    thickness_mm: float | None = _key("height of a magnet along the shaft")
    diameter_mm: float | None = _key("disc: diameter")
    radial_mm: float | None = _key("block: side along the radius")
    tangential_mm: float | None = _key("block: side along the motion")
    pitch_radius_mm: float | None = _key("disc, block: radius of the circle through the centres")
    pitch_diameter_mm: float | None = _key("disc, block: the same circle as a diameter")
    inner_radius_mm: float | None = _key("arc: inner radius")
    inner_diameter_mm: float | None = _key("arc: inner diameter, instead of the radius")
    outer_radius_mm: float | None = _key("arc: outer radius")
    outer_diameter_mm: float | None = _key("arc: outer diameter, instead of the radius")
    arc_share: float | None = _key("arc: share of its pitch that each body covers, 0 to 1")
    grade: str | None = _key('grade such as "N42": middle of its range at 20 C; or give remanence_t')
    remanence_t: float | None = _key("remanence as it stands at the magnets' temperature, instead of a grade")
    recoil_permeability: float | None = _key(
        "relative recoil permeability; default: the grade's, 1.05 with remanence_t"
    )
    temperature_c: float = _key("temperature of the magnets", 20.0)
    pattern: Pattern = _key("alternating, or halbach with the strong side to the winding", "alternating")
    segments_per_pole: int | None = _key("halbach: bodies per pole")
    section_mesh: str | None = _key("mesh of an outline of your own (.msh), beside the design file")
    outline_ends: OutlineEnds | None = _key(
        "section_mesh of blocks, arcs: inner and outer ends plain (the default), or cut like the flanks drawn"
    )


class RotorTable(Table):
    """Faces of magnets, the gap between them, and what stands behind."""

    faces: OneOrTwo | None = _key("1: magnets below the winding only; 2: both sides, unlike poles facing")
    gap_mm: float | Literal["stack"] | None = _key(
        'magnet face to magnet face, or to the return plate; "stack": winding + former + resin + two clearances'
    )
    backing: str | None = _key('behind the magnets: "none", "ideal", a steel of the library, or a B-H table (.csv)')
    backing_mm: float | None = _key("thickness of the backing steel")
    return_plate: str | None = _key("faces = 1: steel above the winding, named like backing")
    return_plate_mm: float | None = _key("thickness of the return plate")
    steel_inner_radius_mm: float | None = _key("default: the magnets' inner radius less thickness_mm")
    steel_outer_radius_mm: float | None = _key("default: the magnets' outer radius plus thickness_mm")
    spins: Literal["magnets", "coil"] = _key("which of the two turns", "magnets")


class WindingTable(Table):
    """The copper's path."""

    shape: WindingShape | None = _key("shape of one round, or path for a file of your own")
    inner_radius_mm: float | None = _key("radius of the inner ends")
    inner_diameter_mm: float | None = _key("the same as a diameter")
    outer_radius_mm: float | None = _key("radius of the outer ends")
    outer_diameter_mm: float | None = _key("the same as a diameter")
    phases: OneToThree | None = _key("number of phases")
    rounds: int | Literal["fill"] | None = _key('rounds per phase, or "fill": what fits the belts')
    layers: int | None = _key("one sheet each in flat lay, two in crossed lay")
    leg: Leg = _key("chord: straight in the plane; spiral: radius and angle linear", "chord")
    belts: OneOrTwo = _key("2: second half a pole pitch on and run backwards", 1)
    belt_deg: float | None = _key("electrical width of one group of one layer; default: what is available, at most 120")
    span: float | None = _key("width of a round over the pole pitch, 0 to 1 (1)")
    skew: float | None = _key("rhomboid: slant of a leg over the pole pitch, 0 to 1 (0.5)")
    straight_share: float | None = _key("hexagon: radial share of the legs' depth, 0 to 1 (1/3)")
    start_deg: float = _key("mechanical angle that the whole winding is turned by", 0.0)
    clearance_mm: float = _key("air on each side of the winding", 1.0)
    height_mm: float | None = _key("middle of the winding above the lower magnets; default: mid-gap")
    former_in_gap_mm: float = _key("wrapped winding: thickness of the former left between its two sheets", 0.0)
    resin_mm: float = _key("what casting adds to the thickness, both sides together", 0.0)
    parallel: int = _key("equal groups of rounds joined in parallel", 1)
    connection: Connection | None = _key("star, delta or separate; default: star with three phases, else separate")
    file: str | None = _key("path: table of corners (.csv), beside the design file")
    step_deg: float | None = _key("path: angle from one of the rounds to the next")
    inner_notches: int | None = _key("path as a notch list: equally spaced notches at the inner radius")
    outer_notches: int | None = _key("path as a notch list: equally spaced notches at the outer radius")


class WireTable(Table):
    """The conductor."""

    kind: Literal["solid", "litz"] | None = _key("solid: one enamelled wire; litz: a bundle, bought or twisted at home")
    copper_mm: float | None = _key("solid: bare diameter")
    awg: int | None = _key("solid: American wire gauge, instead of copper_mm")
    strand_mm: float | None = _key("litz: bare diameter of one strand")
    strands: int | None = _key("litz: number of strands")
    enamel: OneOrTwo = _key("grade of the enamel, IEC 60317", 1)
    temperature_c: float = _key("temperature of the copper at work", 60.0)
    lay_mm: float | None = _key("litz: length of one turn of the twist; absent: strands counted as straight")
    bunching: float = _key("litz: bundle diameter over sqrt(strands) x strand", BUNCHING)
    serving_mm: float = _key("litz: what a serving adds to the diameter", 0.0)
    strands_in_series: int = _key("litz: groups of strands joined in series", 1)
    bench_mm: float | None = _key("litz twisted at home: distance between the two holding points")


class LoadTable(Table):
    """What hangs on the generator."""

    kind: LoadKind | None = _key("what takes the power")
    voltage_v: float | None = _key("battery: voltage at which it charges")
    resistance_ohm: float | None = _key("resistor: its resistance; battery: internal resistance")
    rectifier: Literal["bridge", "bridge per phase", "doubler", "none"] = _key("diodes", "bridge")
    diode_drop_v: float = _key("forward voltage of each diode", 0.7)
    diode_slope_ohm: float = _key("resistance of each diode", 0.0)
    cable_ohm: float = _key("resistance of the cable, both ways", 0.0)
    speeds_rpm: list[float] = _key("speeds to compute", [])


class WindTable(Table):
    """The rotor in the wind."""

    rotor_diameter_m: float | None = _key("diameter of the wind rotor")
    rotor_height_m: float | None = _key("upright axis only: height of the rotor, whose area is diameter x height")
    cp_curve: str | None = _key('power coefficient: "default" or a table (.csv); or tip_speed_ratio and peak_cp')
    tip_speed_ratio: float | None = _key("tip speed over wind speed at work")
    peak_cp: float | None = _key("power coefficient at that tip speed ratio (0.35)")
    start_torque_coefficient: float | None = _key(
        "torque coefficient at standstill (0.5 over the best tip speed ratio squared)"
    )
    gear_ratio: float = _key("generator speed over rotor speed", 1.0)
    drag_nm: float | None = _key("friction torque of bearings and brushes at the generator (0.015 x diameter squared)")
    brush_drop_v: float | None = _key("voltage lost at slip rings, both ways together (0)")
    altitude_m: float | None = _key("height above the sea (0)")
    air_temperature_c: float | None = _key("temperature of the air; default: that of the standard air at the altitude")
    mean_m_s: float | None = _key("mean wind")
    mean_km_h: float | None = _key("mean wind, in km/h")
    mean_knots: float | None = _key("mean wind, in knots")
    weibull_shape: float = _key("shape of the wind's distribution; 2: Rayleigh", 2.0)
    record: str | None = _key("measured wind (.csv)")
    measured_height_m: float | None = _key("height at which the wind was measured")
    hub_height_m: float | None = _key("height of the rotor")
    shear_exponent: float | None = _key("growth of wind with height, as a power (0.2)")
    roughness_m: float | None = _key("growth of wind with height, by the ground's roughness instead")
    furl_m_s: float | None = _key("wind at which the rotor turns away")
    stop_m_s: float | None = _key("wind at which the rotor is stopped")


class FormerTable(Table):
    """The former that the winding is made on."""

    notch_mm: float | Literal["auto"] = _key(
        'width of a notch, or diameter of a pin; "auto": what its wires need', "auto"
    )
    ends: Literal["notches", "pins"] = _key("what holds the ends", "notches")
    comb: Literal["first round", "all"] = _key("which rounds get a notch", "first round")
    clearance_mm: float | None = _key("play of the wires in a notch (0.2)")
    kerf_mm: float = _key("width of the saw or laser cut", 0.0)
    hub_hole_mm: float | None = _key("diameter of the hole in the middle")
    rim_mm: float | None = _key("rim beyond the ends")
    thickness_mm: float | None = _key("thickness of its board; default: winding.former_in_gap_mm, else 4")
    sheet: Literal["A4", "Letter"] = _key("paper for templates", "A4")
    tail_mm: float = _key("wire left over at each end", 150.0)
    spare_percent: float = _key("wire bought in excess", 5.0)


class ToleranceTable(Table):
    """Standard deviations of what is bought and made."""

    remanence_percent: float = _key("remanence", 2.0)
    gap_mm: float = _key("gap", 0.3)
    magnet_mm: float = _key("magnet's sides", 0.1)
    placement_mm: float = _key("magnet's place", 0.3)

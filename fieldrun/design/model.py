"""What the user wants built, resolved and in SI: frozen records of scalars and tuples that can be compared and hashed.

Lengths in m, angles in rad, remanence in T at the magnets' temperature. Heights are above the gap-side face of the
lower magnets (z = 0); the gap reaches up to `Rotor.gap_m`.
"""

from dataclasses import dataclass, field
from typing import Literal

from fieldrun.design.making import Cutting, FormerPlan

MagnetShape = Literal["disc", "block", "arc"]
Pattern = Literal["alternating", "halbach"]
OutlineEnds = Literal["plain", "cut"]
WindingShape = Literal["serpentine", "zigzag", "rhomboid", "diamond", "hexagon", "path"]
Leg = Literal["chord", "spiral"]
Connection = Literal["star", "delta", "separate"]
LoadKind = Literal["battery", "resistor", "open"]


@dataclass(frozen=True)
class Disc:
    """Round magnets, centres on a circle."""

    diameter_m: float
    pitch_radius_m: float


@dataclass(frozen=True)
class Block:
    """Rectangular magnets, centres on a circle, one side along the radius."""

    radial_m: float
    tangential_m: float
    pitch_radius_m: float


@dataclass(frozen=True)
class Arc:
    """Ring sectors; `share` is the part of its pitch that each body covers, 0..1."""

    inner_radius_m: float
    outer_radius_m: float
    share: float


Outline = Disc | Block | Arc


@dataclass(frozen=True)
class Magnets:
    """One face of magnets. A face carries `count` poles; a Halbach face `count * segments_per_pole` bodies."""

    outline: Outline
    count: int
    thickness_m: float
    remanence_t: float
    recoil_permeability: float
    density_kg_m3: float
    grade: str = ""
    temperature_c: float = 20.0
    pattern: Pattern = "alternating"
    segments_per_pole: int = 1
    section_mesh: str = ""
    outline_ends: OutlineEnds = "plain"

    @property
    def pole_pairs(self) -> int:
        """Pole pairs p: the field repeats every 2 pi / p."""
        return self.count // 2


@dataclass(frozen=True)
class SteelCurve:
    """A magnetisation curve: flux density against field strength, straight lines between points, slope mu0 beyond."""

    name: str
    b_t: tuple[float, ...]
    h_a_per_m: tuple[float, ...]
    source: str = ""


@dataclass(frozen=True)
class Plate:
    """A steel disc. `steel` None means ideal: infinitely permeable and thick, and `thickness_m` has no meaning."""

    steel: SteelCurve | None
    thickness_m: float = 0.0


@dataclass(frozen=True)
class Rotor:
    """Faces of magnets, the gap between them, and the steel behind.

    `gap_m` None: one face and no plate, open above.
    """

    faces: Literal[1, 2]
    gap_m: float | None
    backing: Plate | None
    return_plate: Plate | None
    steel_inner_radius_m: float
    steel_outer_radius_m: float
    spins: Literal["magnets", "coil"] = "magnets"

    @property
    def plates(self) -> tuple[Plate, ...]:
        """Those of backing and return plate that there are."""
        return tuple(plate for plate in (self.backing, self.return_plate) if plate is not None)

    @property
    def real_steel(self) -> tuple[Plate, ...]:
        """The plates that have a curve, a thickness and an end: those that are not ideal."""
        return tuple(plate for plate in self.plates if plate.steel is not None)


@dataclass(frozen=True)
class Winding:
    """The copper's path as the design file states it; `winding.lay` turns it into conductors.

    `rounds` None means "fill"; `belt_rad` (electrical) None means the default of the lay; `height_m` is always
    resolved: the middle of the winding's thickness. For `path`, radii are None and `file` names the CSV.
    """

    shape: WindingShape
    inner_radius_m: float | None
    outer_radius_m: float | None
    phases: Literal[1, 2, 3]
    rounds: int | None
    layers: int
    height_m: float
    leg: Leg = "chord"
    belts: Literal[1, 2] = 1
    belt_rad: float | None = None
    span: float = 1.0
    skew: float = 0.5
    straight_share: float = 1 / 3
    start_rad: float = 0.0
    clearance_m: float = 1e-3
    former_in_gap_m: float = 0.0
    resin_m: float = 0.0
    parallel: int = 1
    connection: Connection = "star"
    file: str = ""
    step_rad: float | None = None
    inner_notches: int | None = None
    outer_notches: int | None = None


@dataclass(frozen=True)
class Wire:
    """One conductor as it is laid: a solid wire or a bundle of strands.

    `overall_diameter_m` is the largest over the enamel, bunching and serving: what packs. `length_factor` is strand
    length per bundle length (the lay's take-up), 1 for solid wire. `lay_m`, one turn of the twist, and `bench_m`, the
    distance between the two holding points of a bundle twisted at home, are None where they are not known.
    """

    kind: Literal["solid", "litz"]
    strand_diameter_m: float
    strands: int
    overall_diameter_m: float
    temperature_c: float = 60.0
    length_factor: float = 1.0
    strands_in_series: int = 1
    lay_m: float | None = None
    bench_m: float | None = None


@dataclass(frozen=True)
class Load:
    """What hangs on the generator, and the speeds the user asks about.

    `diode_drop_v` is that of each diode, with its share of what brushes drop in the same current's way.
    """

    kind: LoadKind
    voltage_v: float | None = None
    resistance_ohm: float | None = None
    rectifier: Literal["bridge", "bridge per phase", "doubler", "none"] = "bridge"
    diode_drop_v: float = 0.7
    diode_slope_ohm: float = 0.0
    cable_ohm: float = 0.0
    speeds_rpm: tuple[float, ...] = ()


@dataclass(frozen=True)
class PowerCoefficients:
    """A rotor's power coefficient against its tip-speed ratio, as measured: straight lines between the points."""

    name: str
    tip_speed_ratio: tuple[float, ...]
    cp: tuple[float, ...]


@dataclass(frozen=True)
class WindRecord:
    """A measured wind: how many hours each speed blew, in rising order, and what the record lacks.

    `first` and `last` are times of readings as text, `interval_s` the usual time between two of them; `missing_hours`
    lie in `gaps` holes and count neither as calm nor as wind. `lulls` are speeds with the longest unbroken hours of no
    more wind than that, both rising.
    """

    name: str
    speeds_m_s: tuple[float, ...]
    hours: tuple[float, ...]
    first: str = ""
    last: str = ""
    interval_s: float = 0.0
    gaps: int = 0
    missing_hours: float = 0.0
    longest_gap_hours: float = 0.0
    lulls: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Turbine:
    """The rotor in the wind, in SI, as the design file states it; None where a default of the generator stage holds.

    `cp` None means a formula: the open one as it stands, or stretched through `tip_speed_ratio` and `peak_cp`.
    `rotor_height_m` is for upright axes. Drag is at the generator's shaft. Wind is a mean or a record, or neither; it
    was measured at `measured_height_m` and the rotor stands at `hub_height_m`.
    """

    rotor_diameter_m: float
    tip_speed_ratio: float | None = None
    gear_ratio: float = 1.0
    peak_cp: float | None = None
    cp: PowerCoefficients | None = None
    start_torque_coefficient: float | None = None
    rotor_height_m: float | None = None
    drag_nm: float | None = None
    brush_drop_v: float = 0.0
    altitude_m: float = 0.0
    air_temperature_c: float | None = None
    mean_m_s: float | None = None
    weibull_shape: float = 2.0
    record: WindRecord | None = None
    measured_height_m: float | None = None
    hub_height_m: float | None = None
    shear_exponent: float | None = None
    roughness_m: float | None = None
    furl_m_s: float | None = None
    stop_m_s: float | None = None


@dataclass(frozen=True)
class Tolerance:
    """Standard deviations of what is bought and made: `remanence` is a share, `magnet_m` is that of every side."""

    remanence: float
    gap_m: float
    magnet_m: float
    placement_m: float


@dataclass(frozen=True)
class Design:
    """A whole machine. `name` is the design file's stem; `written` the resolved keys in file units, as JSON.

    `file_hashes` holds the key and the SHA-256 of every file that the design refers to, as it was when read.
    """

    name: str
    title: str
    magnets: Magnets
    rotor: Rotor
    winding: Winding
    wire: Wire
    tolerance: Tolerance
    cutting: Cutting = field(default_factory=Cutting)
    former: FormerPlan = field(default_factory=FormerPlan)
    load: Load | None = None
    turbine: Turbine | None = None
    notes: tuple[str, ...] = ()
    written: str = "{}"
    file_hashes: tuple[tuple[str, str], ...] = ()

"""What a run yields: one frozen record with everything that outputs and studies may ask for."""

from dataclasses import dataclass

from numpy.typing import ArrayLike

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Design
from fieldrun.field.field_map import FieldMap, field_at
from fieldrun.field.magnetostatics import SectionField
from fieldrun.field.quality import MeshQuality
from fieldrun.field.solve import RotorField
from fieldrun.generator.accuracy import Accuracy
from fieldrun.generator.emf import Emf
from fieldrun.generator.forces import Forces
from fieldrun.generator.heating import Heat
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.joining import Joining
from fieldrun.generator.load.delivery import Delivery
from fieldrun.generator.losses import Losses
from fieldrun.generator.motor import Motor
from fieldrun.generator.moving import Moving
from fieldrun.generator.rescue import Rescue
from fieldrun.generator.wind.runaway import Runaway
from fieldrun.generator.wind.year import Wind
from fieldrun.reference.estimates import Estimate
from fieldrun.winding.factors import Factors
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.twisting import Twisting


@dataclass(frozen=True)
class Remark:
    """Something the user should know about a result; `code` is stable, for programs."""

    code: str
    text: str


@dataclass(frozen=True, eq=False)
class RunResult:
    """A design's answer. Arrays inside are read-only.

    `section` is the one at the magnets' mean radius, on a mesh twice as fine as the map's: for pictures and field
    files. `joinings` and `twisting` are for bundles only; `emf_change_per_gap_m` is relative. `delivery`
    holds the asked speeds, None without a load.
    """

    design: Design
    design_hash: str
    field: RotorField
    section: SectionField
    quality: MeshQuality
    estimates: tuple[Estimate, ...]
    lay: Lay
    factors: Factors
    emf: Emf
    impedance: Impedance
    inductance: Inductance | None
    forces: Forces
    losses: Losses
    heat: Heat
    moving: Moving
    rescue: Rescue | None
    charging_starts_rad_s: float | None
    joinings: tuple[Joining, ...]
    twisting: Twisting | None
    emf_change_per_gap_m: float | None
    accuracy: Accuracy
    motor: Motor
    delivery: Delivery | None
    runaway: Runaway
    wind: Wind | None
    warnings: tuple[Remark, ...]
    assumptions: tuple[str, ...]

    @property
    def field_map(self) -> FieldMap:
        """The machine's field in the gap."""
        return self.field.field_map

    @property
    def paths(self) -> Pieces:
        """Every conductor of the winding."""
        return self.lay.pieces

    def field_at(self, r_m: ArrayLike, theta_rad: ArrayLike, z_m: ArrayLike) -> Floats:
        """B_r, B_theta, B_z at points of the rotor's frame, rotor angle zero, (3, ...) [T].

        Parameters
        ----------
        r_m, theta_rad, z_m : arrays that broadcast together [m, rad, m]

        Raises
        ------
        ValueError
            As `field_map.field_at`: for a point that is not finite, a negative radius, or a height outside the map.
        """
        return field_at(self.field_map, r_m, theta_rad, z_m)

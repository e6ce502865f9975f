"""What happens when nothing holds the rotor back: how fast, how many volts, and how hard everything pulls outwards."""

import math
from dataclasses import dataclass
from typing import assert_never

from fieldrun.design.model import Arc, Block, Design, Disc, Load, Magnets
from fieldrun.design.outlines import reach_m
from fieldrun.generator.emf import Emf
from fieldrun.generator.load.charging import rectified_peak
from fieldrun.generator.moving import Moving, magnets_part
from fieldrun.generator.wind.turbine import WindRotor, free_speed_rad_s


@dataclass(frozen=True)
class Runaway:
    """A machine that runs with nothing connected.

    Parameters
    ----------
    speed_rad_s : of the generator [rad/s]
    wind_m_s, tip_speed_m_s : of the rotor, where there is one [m/s]
    peak_v : highest voltage behind the rectifier, or between two lines where there is none [V]
    line_rms_v : effective voltage between two lines [V]
    rim_speed_m_s : of the outermost part of what turns [m/s]
    magnet_n : force that pulls each magnet outwards [N]; None if the winding turns
    halves_n : force that pulls the two halves of a winding that turns apart [N]; None if the magnets turn
    """

    speed_rad_s: float
    wind_m_s: float | None
    tip_speed_m_s: float | None
    peak_v: float
    line_rms_v: float
    rim_speed_m_s: float
    magnet_n: float | None
    halves_n: float | None


def runaway_in_wind(rotor: WindRotor, wind_m_s: float, design: Design, emf: Emf, moving: Moving) -> Runaway:
    """A rotor in the strongest wind with nothing connected: speed where it gives no torque, no drag subtracted."""
    free = free_speed_rad_s(rotor, wind_m_s)
    return _at(rotor.gear_ratio * free, (wind_m_s, free * rotor.radius_m), design, emf, moving)


def runaway_at(speed_rad_s: float, design: Design, emf: Emf, moving: Moving) -> Runaway:
    """The same at a speed that is known without a rotor."""
    return _at(speed_rad_s, None, design, emf, moving)


def _at(speed: float, wind: tuple[float, float] | None, design: Design, emf: Emf, moving: Moving) -> Runaway:
    coil = design.rotor.spins == "coil"
    return Runaway(
        speed_rad_s=speed,
        wind_m_s=None if wind is None else wind[0],
        tip_speed_m_s=None if wind is None else wind[1],
        peak_v=speed * open_peak(emf, design),
        line_rms_v=speed * emf.line_rms,
        rim_speed_m_s=speed * rim_radius_m(design, moving),
        magnet_n=None if coil else magnet_load_n(design.magnets, speed),
        halves_n=halves_load_n(moving, speed) if coil else None,
    )


def open_peak(emf: Emf, design: Design) -> float:
    """Highest voltage that anybody can touch at the open terminals, per speed [V s/rad].

    Without current a rectifier's smooth side floats up to the peak; a doubler's to twice that of a phase.
    """
    rectifier = (design.load or Load("open")).rectifier
    peak = rectified_peak(emf, design.winding.connection, "bridge" if rectifier == "none" else rectifier)
    return 2 * peak if rectifier == "doubler" else peak


def rim_radius_m(design: Design, moving: Moving) -> float:
    """Radius of the outermost known part of what turns [m]; of a path file that turns, its radius of gyration."""
    if design.rotor.spins == "coil":
        return design.winding.outer_radius_m or _gyration_m(moving)
    return design.rotor.steel_outer_radius_m if design.rotor.real_steel else reach_m(design.magnets.outline)[1]


def magnet_load_n(magnets: Magnets, speed_rad_s: float) -> float:
    """Force that keeps one body on its circle, m omega^2 R, R the radius of its centre of mass [N]."""
    bodies = magnets.count * magnets.segments_per_pole
    mass = magnets_part(magnets, 1).mass_kg / bodies
    return mass * speed_rad_s**2 * _centre_m(magnets, bodies)


def halves_load_n(moving: Moving, speed_rad_s: float) -> float:
    """Force across a diameter of a turning ring, m omega^2 r / pi, r its radius of gyration [N].

    Half of a thin ring has its centre of mass at 2 r / pi; two cuts share the force, and this is both together.
    """
    return moving.mass_kg * speed_rad_s**2 * _gyration_m(moving) / math.pi


def _gyration_m(moving: Moving) -> float:
    return math.sqrt(moving.inertia_kg_m2 / moving.mass_kg) if moving.mass_kg > 0 else 0.0


def _centre_m(magnets: Magnets, bodies: int) -> float:
    """Radius of one body's centre of mass; that of a sector is 2/3 (r2^3 - r1^3) / (r2^2 - r1^2) sin(a) / a."""
    outline = magnets.outline
    if isinstance(outline, Disc | Block):
        return outline.pitch_radius_m
    if isinstance(outline, Arc):
        inner, outer, half = outline.inner_radius_m, outline.outer_radius_m, math.pi * outline.share / bodies
        return 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2) * math.sin(half) / half
    assert_never(outline)

"""With nothing to hold it back: volts, rim speed, and what pulls outwards."""

import dataclasses
import math

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Load, Magnets
from fieldrun.generator.load.charging import rectified_peak
from fieldrun.generator.moving import Moving, Part
from fieldrun.generator.wind.runaway import (
    halves_load_n,
    magnet_load_n,
    open_peak,
    rim_radius_m,
    runaway_at,
    runaway_in_wind,
)
from fieldrun.generator.wind.turbine import free_speed_rad_s


def magnets(outline, count=16):
    return Magnets(outline, count, 0.006, 1.3, 1.05, 7500.0)


def test_a_round_magnet_on_its_circle():
    """By m omega^2 R: 14.14 g at 66 mm and 100 rad/s."""
    mass = math.pi / 4 * 0.02**2 * 0.006 * 7500
    assert magnet_load_n(magnets(Disc(0.02, 0.066)), 100.0) == pytest.approx(mass * 1e4 * 0.066, rel=1e-12)
    assert magnet_load_n(magnets(Block(0.02, 0.01, 0.066)), 100.0) == pytest.approx(
        0.02 * 0.01 * 0.006 * 7500 * 1e4 * 0.066, rel=1e-12
    )


def test_a_sector_s_centre_of_mass_by_sums_over_points():
    outline = Arc(0.05, 0.08, 0.8)
    r = np.linspace(0.05, 0.08, 2001)
    r = (r[1:] + r[:-1]) / 2
    angle = np.linspace(-0.8 * math.pi / 8, 0.8 * math.pi / 8, 2001)
    angle = (angle[1:] + angle[:-1]) / 2
    area = 0.8 * 2 * math.pi / 8 * (0.08**2 - 0.05**2) / 2
    dr, da = r[1] - r[0], angle[1] - angle[0]
    first_moment = np.sum(r**2) * dr * np.sum(np.cos(angle)) * da
    wanted = area * 0.006 * 7500 * 1e4 * first_moment / area
    assert magnet_load_n(magnets(outline, 8), 100.0) == pytest.approx(wanted, rel=1e-6)


def test_halves_of_a_thin_ring_by_sums_over_points():
    """Outward forces of one half, the part across the cut."""
    ring = Moving((Part("ring", 2.0, 2.0 * 0.1**2),))
    angle = (np.arange(1000) + 0.5) * math.pi / 1000
    wanted = np.sum(2.0 / 2000 * 50.0**2 * 0.1 * np.sin(angle))
    assert halves_load_n(ring, 50.0) == pytest.approx(wanted, rel=1e-5)


def test_in_the_wind(bundled):
    hut = bundled("hut-charger")
    away = hut.runaway
    assert (away.wind_m_s, away.halves_n) == (8.0, None)
    assert away.speed_rad_s == pytest.approx(free_speed_rad_s(hut.wind.rotor, 8.0))
    assert away.tip_speed_m_s == pytest.approx(0.9 * away.speed_rad_s)
    assert away.peak_v == pytest.approx(rectified_peak(hut.emf, "star", "bridge") * away.speed_rad_s)
    assert away.line_rms_v == pytest.approx(hut.emf.line_rms * away.speed_rad_s)
    assert away.line_rms_v < away.peak_v < 1.6 * away.line_rms_v
    assert away.rim_speed_m_s == pytest.approx(hut.design.rotor.steel_outer_radius_m * away.speed_rad_s)
    assert away.magnet_n == pytest.approx(magnet_load_n(hut.design.magnets, away.speed_rad_s))


def test_a_gear_turns_the_generator_faster_than_the_tips(bundled):
    hut = bundled("hut-charger")
    geared = dataclasses.replace(hut.wind.rotor, gear_ratio=3.0)
    away = runaway_in_wind(geared, 8.0, hut.design, hut.emf, hut.moving)
    assert away.speed_rad_s == pytest.approx(3 * hut.runaway.speed_rad_s)
    assert away.tip_speed_m_s == pytest.approx(hut.runaway.tip_speed_m_s)
    assert away.magnet_n == pytest.approx(9 * hut.runaway.magnet_n)


def test_a_coil_that_spins(answered):
    result = answered("hut-charger", {"rotor.spins": "coil"})
    away = result.runaway
    assert away.magnet_n is None
    assert away.halves_n == pytest.approx(halves_load_n(result.moving, away.speed_rad_s))
    assert away.rim_speed_m_s == pytest.approx(0.079 * away.speed_rad_s)


def test_without_a_rotor_the_speed_is_the_one_asked_about(bundled):
    plank = bundled("plank-ring")
    assert plank.wind is None
    away = plank.runaway
    assert away.speed_rad_s == pytest.approx(
        max(plank.design.load.speeds_rpm if plank.design.load else (300,)) * math.pi / 30
    )
    assert (away.wind_m_s, away.tip_speed_m_s) == (None, None)
    assert runaway_at(2 * away.speed_rad_s, plank.design, plank.emf, plank.moving).peak_v == pytest.approx(
        2 * away.peak_v
    )


def test_a_doubler_floats_to_twice_the_phase(bundled):
    hut = bundled("hut-charger")
    separate = dataclasses.replace(hut.design, winding=dataclasses.replace(hut.design.winding, connection="separate"))
    single = dataclasses.replace(separate, load=Load("battery", 12.6, rectifier="bridge per phase"))
    doubled = dataclasses.replace(separate, load=Load("battery", 12.6, rectifier="doubler"))
    assert open_peak(hut.emf, doubled) == pytest.approx(2 * open_peak(hut.emf, single))
    bare = dataclasses.replace(hut.design, load=Load("resistor", resistance_ohm=3.0, rectifier="none"))
    assert open_peak(hut.emf, bare) == open_peak(hut.emf, hut.design)


def test_the_rim_without_steel_is_the_magnets(bundled):
    hut = bundled("hut-charger")
    wooden = dataclasses.replace(hut.design.rotor, backing=None, return_plate=None)

    def rim(outline):
        design = dataclasses.replace(hut.design, rotor=wooden, magnets=magnets(outline))
        return rim_radius_m(design, hut.moving)

    assert rim(Disc(0.02, 0.066)) == pytest.approx(0.076)
    assert rim(Block(0.02, 0.03, 0.066)) == pytest.approx(math.hypot(0.076, 0.015))
    assert rim(Arc(0.05, 0.08, 0.8)) == 0.08

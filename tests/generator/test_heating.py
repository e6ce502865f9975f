"""How much current a winding stands: against fixed-point iteration, hand calculation and laws of scaling."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.examples import example_path
from fieldrun.design.materials import COPPER_DENSITY_KG_M3, copper_resistivity
from fieldrun.design.model import Design, Load
from fieldrun.design.read import read_design
from fieldrun.generator.heating import (
    AIR_C,
    CAST_W_M_K,
    MOVING_AIR_W_M2_K,
    SOFTENS_C,
    STILL_AIR_W_M2_K,
    Heat,
    face_m2,
    heat_of,
    rise_k_per_w,
    steady_temperature_c,
)
from fieldrun.generator.impedance import impedance
from fieldrun.winding.lay import Lay, lay

HUT = read_design(example_path("hut-charger"))


def laid(design: Design = HUT) -> Lay:
    return lay(design.winding, design.magnets.pole_pairs, design.wire)


def heat(design: Design = HUT, idle_w_s2: float = 0.0) -> Heat:
    copper = impedance(laid(design).pieces, design.wire, design.winding)
    return heat_of(design, laid(design), copper, idle_w_s2)


def iterated(watts_20c: float, rise: float, air: float, other: float) -> float:
    """Resistance at the temperature, temperature by the resistance, over and over."""
    temperature = air
    for _ in range(2000):
        warm = watts_20c * copper_resistivity(temperature) / copper_resistivity(20.0)
        temperature = air + rise * (warm + other)
    return temperature


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.floats(0, 20), st.floats(0.1, 10), st.floats(-30, 45), st.floats(0, 5))
def test_the_steady_temperature_is_where_iteration_ends(watts: float, rise: float, air: float, other: float) -> None:
    found = steady_temperature_c(watts, rise, air, other)
    if rise * watts * 3.93e-3 < 0.95:
        assert found == pytest.approx(iterated(watts, rise, air, other), rel=1e-9, abs=1e-9)


def test_copper_that_warms_itself_faster_than_it_cools_has_no_steady_temperature() -> None:
    assert steady_temperature_c(100.0, 1 / 0.393) is None
    assert steady_temperature_c(99.9, 1 / 0.393) is not None


@pytest.mark.parametrize("part", ["still", "moving"])
@pytest.mark.parametrize("idle", [0.0, 3e-4])
def test_the_limit_current_warms_the_copper_to_the_limit(part: str, idle: float) -> None:
    found = heat(idle_w_s2=idle)
    cooling = getattr(found, part)
    copper = impedance(laid().pieces, HUT.wire, HUT.winding)
    cold = 3 * cooling.current_a**2 * copper.resistance_20c_ohm
    temperature = steady_temperature_c(cold, cooling.rise_k_per_w, AIR_C, found.idle_w)
    assert temperature == pytest.approx(SOFTENS_C, abs=1e-9)
    assert cooling.copper_w == pytest.approx(cold * copper_resistivity(SOFTENS_C) / copper_resistivity(20.0), rel=1e-12)


def test_a_slab_by_hand() -> None:
    """The hut charger: 53 to 79 mm, wire 0.679 mm over its enamel, 8 sheets; 10 W/m2K and 0.5 W/mK."""
    inner, outer = 53e-3 - 0.679e-3 / 2, 79e-3 + 0.679e-3 / 2
    area = math.pi * (outer**2 - inner**2)
    assert face_m2(laid(), HUT.wire) == pytest.approx(area, rel=1e-12)
    found = rise_k_per_w(laid(), HUT.winding, HUT.wire, 10.0)
    assert found == pytest.approx((0.1 + 8 * 0.679e-3 / 2) / (2 * area), rel=1e-12)
    assert heat().still.copper_w == pytest.approx(35 / found, rel=1e-12)


def test_the_middle_of_a_slab_by_differences() -> None:
    """Conduction through the thickness, solved on a fine grid with heat leaving both faces: T'' = -q/k, -k T' = h T."""
    thickness, cells, transfer = 0.006, 2000, 30.0
    dx = thickness / cells
    flux = 1 / (2 * face_m2(laid(), HUT.wire))  # of one watt, through each face
    temperature = flux / transfer
    for cell in range(cells // 2):  # inward from a face: what is still to leave falls linearly
        middle = (cell + 0.5) * dx
        temperature += flux * (1 - 2 * middle / thickness) * dx / CAST_W_M_K
    wide = replace(laid(), thickness_m=thickness)
    assert rise_k_per_w(wide, HUT.winding, HUT.wire, transfer) == pytest.approx(temperature, rel=1e-6)


def test_density_is_the_current_in_the_copper_of_one_wire() -> None:
    area = math.pi / 4 * 0.63e-3**2
    assert heat().still.density_a_m2 == pytest.approx(heat().still.current_a / area, rel=1e-12)
    # and it heats that copper: rho J^2 per volume times the volume is the loss
    copper = impedance(laid().pieces, HUT.wire, HUT.winding)
    volume = copper.copper_mass_kg / COPPER_DENSITY_KG_M3
    watts = copper_resistivity(SOFTENS_C) * heat().still.density_a_m2 ** 2 * volume
    assert watts == pytest.approx(heat().still.copper_w, rel=1e-9)


@pytest.mark.parametrize("groups", [2, 4])
def test_groups_in_parallel_stand_more_current_of_the_same_density(groups: int) -> None:
    joined = heat(replace(HUT, winding=replace(HUT.winding, parallel=groups)))
    assert joined.still.current_a == pytest.approx(groups * heat().still.current_a, rel=1e-12)
    assert joined.still.density_a_m2 == pytest.approx(heat().still.density_a_m2, rel=1e-12)


def test_strands_in_series_stand_less_current_of_the_same_density() -> None:
    wire = replace(HUT.wire, kind="litz", strands=6, strand_diameter_m=0.2e-3)
    one, three = (heat(replace(HUT, wire=replace(wire, strands_in_series=s))) for s in (1, 3))
    assert three.still.current_a == pytest.approx(one.still.current_a / 3, rel=1e-12)
    assert three.still.density_a_m2 == pytest.approx(one.still.density_a_m2, rel=1e-12)


def test_moving_air_is_better_by_the_root_of_the_heat_it_takes() -> None:
    found = heat()
    assert (found.still.transfer_w_m2_k, found.moving.transfer_w_m2_k) == (STILL_AIR_W_M2_K, MOVING_AIR_W_M2_K)
    ratio = found.still.rise_k_per_w / found.moving.rise_k_per_w
    assert found.moving.current_a / found.still.current_a == pytest.approx(math.sqrt(ratio), rel=1e-12)
    assert 2 < ratio < 3


def test_idle_losses_are_counted_at_the_highest_speed_and_the_limits_resistivity() -> None:
    speed = 500 * math.pi / 30
    found = heat(idle_w_s2=1e-3)
    share = copper_resistivity(HUT.wire.temperature_c) / copper_resistivity(SOFTENS_C)
    assert found.speed_rad_s == pytest.approx(speed)
    assert found.idle_w == pytest.approx(1e-3 * speed**2 * share, rel=1e-12)
    assert found.still.copper_w + found.idle_w == pytest.approx(heat().still.copper_w, rel=1e-12)
    slow = heat(replace(HUT, load=Load("open", speeds_rpm=(250.0, 100.0))), 1e-3)
    assert slow.idle_w == pytest.approx(found.idle_w / 4, rel=1e-12)


def test_a_winding_that_eddy_currents_alone_overheat_stands_no_current() -> None:
    found = heat(idle_w_s2=1.0)
    assert found.still.current_a == found.still.density_a_m2 == found.still.copper_w == 0


def test_resin_makes_the_slab_thicker() -> None:
    cast = replace(HUT.winding, resin_m=2e-3)
    thin, thick = (rise_k_per_w(laid(), winding, HUT.wire, 10.0) for winding in (HUT.winding, cast))
    assert thick - thin == pytest.approx(2e-3 / (4 * CAST_W_M_K) / (2 * face_m2(laid(), HUT.wire)), rel=1e-9)

"""The whole [wind] table arrives in SI."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.model import Design, PowerCoefficients, Turbine, WindRecord

Reader = Callable[[dict[str, str]], Design]

WIRE = "copper_mm = 0.5"
LOAD = '\n[load]\nkind = "battery"\nvoltage_v = 12.6\n'


def wind(lines: str, before: str = "") -> dict[str, str]:
    return {WIRE: f"{WIRE}\n{before}[wind]\nrotor_diameter_m = 2\n{lines}"}


def test_every_key(design: Reader) -> None:
    lines = """
        rotor_height_m = 3
        tip_speed_ratio = 2.5
        peak_cp = 0.3
        start_torque_coefficient = 0.02
        gear_ratio = 4
        drag_nm = 0.1
        brush_drop_v = 1.5
        altitude_m = 800
        air_temperature_c = -5
        mean_km_h = 18
        weibull_shape = 1.8
        measured_height_m = 4
        hub_height_m = 12
        shear_exponent = 0.15
        furl_m_s = 9
        stop_m_s = 14
    """
    assert design(wind(lines)).turbine == Turbine(
        rotor_diameter_m=2.0,
        rotor_height_m=3.0,
        tip_speed_ratio=2.5,
        peak_cp=0.3,
        start_torque_coefficient=0.02,
        gear_ratio=4.0,
        drag_nm=0.1,
        brush_drop_v=1.5,
        altitude_m=800.0,
        air_temperature_c=-5.0,
        mean_m_s=5.0,
        weibull_shape=1.8,
        measured_height_m=4.0,
        hub_height_m=12.0,
        shear_exponent=0.15,
        furl_m_s=9.0,
        stop_m_s=14.0,
    )


def test_a_knot_is_a_nautical_mile_an_hour(design: Reader) -> None:
    turbine = design(wind("mean_knots = 10")).turbine
    assert turbine is not None
    assert turbine.mean_m_s == pytest.approx(5.14444, abs=1e-5)


def test_tables_are_read_from_beside_the_design(design: Reader, spoilt: Callable[[dict[str, str]], Path]) -> None:
    folder = spoilt({}).parent
    (folder / "cp.csv").write_text("tip_speed_ratio,cp\n2,0.1\n5,0.3\n8,0\n", encoding="utf-8")
    (folder / "mast.csv").write_text("time,speed_m_s\n2024-01-01T00:00,4\n2024-01-01T01:00,6\n", encoding="utf-8")
    turbine = design(wind('cp_curve = "cp.csv"\nrecord = "mast.csv"')).turbine
    assert turbine is not None
    assert turbine.cp == PowerCoefficients("cp.csv", (2, 5, 8), (0.1, 0.3, 0))
    assert turbine.record == WindRecord(
        "mast.csv",
        (4.0, 6.0),
        (1.0, 1.0),
        "2024-01-01T00:00",
        "2024-01-01T01:00",
        3600.0,
        lulls=((4.0, 1.0), (6.0, 2.0)),
    )
    assert hash(turbine) == hash(turbine)


def test_the_default_curve_is_no_table(design: Reader) -> None:
    assert design(wind('cp_curve = "default"')).turbine == Turbine(2.0)


@pytest.mark.parametrize(
    ("rectifier", "each"), [("bridge", 0.7 + 0.75), ("bridge per phase", 0.7 + 0.75), ("doubler", 0.7 + 1.5)]
)
def test_what_brushes_drop_is_shared_by_the_diodes_in_the_way(design: Reader, rectifier: str, each: float) -> None:
    load = LOAD + f'rectifier = "{rectifier}"\n'
    coil = {"faces = 2": 'faces = 2\nspins = "coil"'}
    read = design(coil | wind("brush_drop_v = 1.5", load))
    assert read.load is not None
    assert read.load.diode_drop_v == pytest.approx(each)
    assert read.notes == ()


def test_brushes_without_a_use_are_noted(design: Reader) -> None:
    still = design(wind("brush_drop_v = 1.5", LOAD)).notes
    assert still == (
        'wind.brush_drop_v counts although rotor.spins = "magnets": a winding that stands still has no brushes.',
    )
    unused = "wind.brush_drop_v is ignored: it counts only where a rectifier's current passes the brushes."
    assert design(wind("brush_drop_v = 1.5")).notes == (unused,)
    assert design(wind("brush_drop_v = 0", LOAD)).notes == ()


def test_a_changed_record_is_another_design(design: Reader, spoilt: Callable[[dict[str, str]], Path]) -> None:
    folder = spoilt({}).parent
    hashes = []
    for speed in (4, 5):
        rows = f"2024-01-01T00:00,{speed}\n2024-01-01T01:00,6\n"
        (folder / "mast.csv").write_text("time,speed_m_s\n" + rows, encoding="utf-8")
        hashes.append(design(wind('record = "mast.csv"')).file_hashes)
    assert hashes[0] != hashes[1]

"""The study as a whole: scans that tell gap from magnets, units that cannot be meant, loads, and what is not seen."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import table_path
from fieldrun.design.readings import FieldScan, Reading, Readings, ScanPoint, read_readings, read_scan
from fieldrun.design.units import MM, RPM
from fieldrun.field.field_map import field_at
from fieldrun.generator.load.delivery import deliver
from fieldrun.generator.machine import read_design, run
from fieldrun.studies.measured.curves import whitened
from fieldrun.studies.measured.study import measured


def scan_of(result, *, heights_mm, turned_deg=0.0, noise_t=0.0, seed=1):
    dice = np.random.default_rng(seed)
    points = [
        ScanPoint(i + 2, r * MM, np.radians(theta), z * MM, 0.0)
        for i, (z, r, theta) in enumerate((z, r, t) for z in heights_mm for r in (60, 66, 72) for t in range(0, 46, 3))
    ]
    fields = [
        field_at(result.field_map, p.r_m, p.theta_rad + np.radians(turned_deg), p.z_m)[2] + noise_t * dice.normal()
        for p in points
    ]
    return FieldScan("scan.csv", tuple(replace(p, b_z_t=float(b)) for p, b in zip(points, fields, strict=True)))


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_a_scan_at_three_heights_tells_gap_from_magnets(prepared, bench, seed):
    """A gap 6 % wider and magnets 4 % stronger nearly cancel in volts; the scan sees both."""
    designed = prepared("hut-charger")
    built = prepared(
        "hut-charger", (("rotor.gap_mm", 8.5), ("magnets.grade", None), ("magnets.remanence_t", 1.35))
    ).result
    readings = bench.readings_of(bench.real(built), seed=seed)
    scan = scan_of(built, heights_mm=(1.5, 4.0, 6.5), turned_deg=2.0, noise_t=0.004, seed=seed)
    found = measured(designed.result, readings, scan)
    both = found.both
    assert both.told_apart
    assert both.gap_m == pytest.approx(8.5e-3, abs=3 * both.gap_error_m)
    assert both.remanence_t == pytest.approx(1.35, abs=3 * both.remanence_error_t)
    assert both.gap_m == pytest.approx(8.5e-3, rel=0.02)
    assert abs(both.correlation) < 0.8
    assert found.scan.turned_rad == pytest.approx(np.radians(2.0), abs=np.radians(0.2))
    assert not designed.measured(readings).both.told_apart


@pytest.mark.slow
def test_the_bundled_tables_are_told_as_they_were_made(bundled):
    """Made with a gap of 8.5 mm and one phase the wrong way round; magnets as drawn."""
    result = bundled("hut-charger")
    readings = read_readings(table_path(Path("hut-charger-readings.csv")))
    found = measured(result, readings, read_scan(table_path(Path("hut-charger-scan.csv"))))
    assert found.best.key == "phase_reversed+gap"
    assert found.best.explains
    assert not found.agrees
    assert not found.contradicts
    assert found.fitted.key == "phase_reversed"
    assert found.gap.value == pytest.approx(8.5e-3, rel=0.01)
    assert found.both.remanence_t == pytest.approx(result.design.magnets.remanence_t, rel=0.02)


def table(*rows):
    return Readings(
        "bench.csv",
        tuple(
            Reading(i + 2, kind, value, speed, "speed_rpm" if speed else "")
            for i, (kind, value, speed) in enumerate(rows)
        ),
    )


def told(result, readings, scan=None):
    with pytest.raises(DesignError) as caught:
        measured(result, readings, scan)
    return [str(fault) for fault in caught.value.faults]


def test_thousandths_are_named(bundled):
    result = bundled("hut-charger")
    volts = float(result.emf.rms[0]) * 200 * RPM
    found = told(result, table(("open_phase_rms_v", 1000 * volts, 200.0), ("phase_ohm", 1440.0, 0.0)))
    assert found == [
        (
            f"bench.csv:2: value: {1000 * volts:g} V at 200 rpm, predicted {volts:.3g}: is it in millivolts? "
            "value must be in volts"
        ),
        "bench.csv:3: value: 1440 ohm, predicted 1.44: is it in milliohms? value must be in ohms",
    ]
    found = told(result, table(("open_phase_rms_v", volts / 1000, 200.0), ("open_phase_rms_v", volts / 500, 400.0)))
    assert [text.split(": ")[-1] for text in found] == ["is it in kilovolts? value must be in volts"] * 2
    assert told(result, table(("loaded_dc_a", 3170.0, 382.0)))[0].endswith(
        "is it in milliamperes? value must be in amperes"
    )


def test_a_load_that_is_not_there(design_file):
    result = run(read_design(design_file("plank-ring", {"load": None})))
    found = told(result, table(("loaded_dc_a", 1.0, 200.0)))
    assert found[0].startswith("bench.csv:2: kind: the design has no [load] that takes power; add one with kind =")


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"z_m": 9 * MM}, "scan.csv:2: z_mm: must lie in the gap, 0 to 8 mm; received 9"),
        ({"z_m": -1 * MM}, "scan.csv:2: z_mm: must lie in the gap, 0 to 8 mm; received -1"),
        ({"r_m": 0.066 * MM}, "received 0.066; is it in metres?"),
        ({"r_m": 0.3}, "must lie where the field is known"),
        ({"b_z_t": 650.0}, "is it in millitesla? b_z_t must be in tesla"),
        ({"b_z_t": 6500.0}, "is it in gauss? b_z_t must be in tesla"),
    ],
)
def test_points_and_units_of_a_scan_that_cannot_be(bundled, change, text):
    result = bundled("hut-charger")
    point = replace(ScanPoint(2, 0.066, 0.0, 4 * MM, 0.6), **change)
    found = told(result, table(("open_phase_rms_v", 5.39, 200.0)), FieldScan("scan.csv", (point,)))
    assert text in found[0]


def test_many_bad_points_are_cut_short(bundled):
    points = tuple(ScanPoint(i + 2, 0.066, 0.0, 0.05, 0.6) for i in range(30))
    found = told(bundled("hut-charger"), table(("open_phase_rms_v", 5.39, 200.0)), FieldScan("scan.csv", points))
    assert len(found) == 11
    assert found[-1] == "scan.csv:12: and 20 more faults like these"


@pytest.mark.slow
def test_what_is_not_seen_is_said_and_how_to_see_it(prepared):
    """Phase volts alone: neither the joints nor the ohms show; a gap or magnets stay open."""
    design = prepared("hut-charger")
    result = design.result
    per_rpm = float(result.emf.rms[0]) * RPM
    found = design.measured(table(*(("open_phase_rms_v", per_rpm * rpm, float(rpm)) for rpm in (150, 200, 300))))
    assert found.agrees
    assert {"phase_reversed", "delta_for_star"} <= {guess.key for guess in found.unseen}
    assert "magnet_turned_over" not in {guess.key for guess in found.unseen}


@pytest.mark.slow
def test_ohms_alone_say_nothing_of_the_gap(prepared):
    found = prepared("hut-charger").measured(table(("phase_ohm", 1.44, 0.0)))
    assert (found.gap, found.remanence, found.both) == (None, None, None)
    assert found.agrees


@pytest.mark.slow
def test_nothing_explains_what_cannot_be(prepared):
    """Phase and line volts that no star, delta or mistake joins."""
    design = prepared("hut-charger")
    result = design.result
    volts = float(result.emf.rms[0]) * 200 * RPM
    found = design.measured(table(("open_phase_rms_v", 1.4 * volts, 200.0), ("open_peak_v", 0.3 * volts, 200.0)))
    assert not found.best.explains
    assert found.contradicts


@pytest.mark.slow
@pytest.mark.parametrize(("others", "gap"), [(1.0, None), (0.95, 8.0e-3 * 1.055)])
def test_one_reading_against_all_others_is_named(prepared, others, gap):
    """A slip of the pen at 250 rpm; a gap 5.5 % wider gives about 5 % less (8.8 % of the volts for a millimetre)."""
    design = prepared("hut-charger")
    result = design.result
    volts = others * float(result.emf.rms[0]) * RPM
    rows = [
        ("open_phase_rms_v", (1.3 if rpm == 250 else 1.0) * volts * rpm, float(rpm)) for rpm in (150, 200, 250, 300)
    ]
    rows += [
        ("open_line_rms_v", np.sqrt(3) * volts * 200, 200.0),
        ("phase_ohm", result.impedance.resistance_20c_ohm, 0.0),
    ]
    found = design.measured(table(*rows))
    assert found.contradicts
    assert found.odd.row == 2
    assert (found.odd.gap is None) == (gap is None)
    assert gap is None or found.odd.gap.value == pytest.approx(gap, rel=0.02)


@pytest.mark.slow
def test_two_readings_that_contradict_each_other_blame_neither(prepared):
    design = prepared("hut-charger")
    result = design.result
    volts = float(result.emf.rms[0]) * RPM
    rows = [("open_phase_rms_v", factor * volts * 200, 200.0) for factor in (0.8, 1.0, 1.0, 1.25)]
    assert design.measured(table(*rows)).odd is None


@pytest.mark.slow
def test_a_battery_s_current_is_predicted_at_its_own_voltage(prepared):
    """`deliver` with five times the steps, into the voltage that was read beside it."""
    design = prepared("hut-charger")
    result = design.result
    load = replace(result.design.load, voltage_v=13.4)
    amps = deliver(
        result.emf,
        result.impedance,
        result.inductance,
        result.losses,
        result.design.winding,
        load,
        np.array([400 * RPM]),
    ).dc_current_a[0]
    found = design.measured(table(("loaded_dc_v", 13.4, 400.0), ("loaded_dc_a", float(amps), 400.0)))
    assert found.bench.used.tolist() == [False, True]
    assert found.bench.ratio[1] == pytest.approx(1, rel=2e-3)
    assert found.agrees


def test_a_shared_error_is_whitened_as_its_covariance_says():
    """Against the inverse of the whole covariance."""
    dice = np.random.default_rng(5)
    misses, sigma, common = dice.normal(size=6), dice.uniform(0.5, 2, 6), dice.uniform(-1, 1, 6)
    covariance = np.diag(sigma**2) + np.outer(common, common)
    white = whitened(misses, sigma, common)
    assert white @ white == pytest.approx(misses @ np.linalg.solve(covariance, misses))
    assert whitened(misses, sigma, 0 * common) == pytest.approx(misses / sigma)

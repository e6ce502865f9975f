"""The answer in the builder's words: what is said, in which words, and with the right figures."""

import dataclasses
import math

import pytest

from fieldrun.design.model import Load
from fieldrun.generator.rescue import Rescue
from fieldrun.outputs.result_file import result_dict
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import CAUTION, _estimate_row, asked_speeds, cautions, changes, sentences, table_rows
from fieldrun.reference.estimates import Estimate

RPM = 2 * math.pi / 60


def with_design(result, **parts):
    return dataclasses.replace(result, design=dataclasses.replace(result.design, **parts))


def with_winding(result, **keys):
    return with_design(result, winding=dataclasses.replace(result.design.winding, **keys))


def with_lay(result, **keys):
    return dataclasses.replace(result, lay=dataclasses.replace(result.lay, **keys))


def test_sentences_tell_volts_copper_battery_wind_and_rim(bundled):
    hut = bundled("hut-charger")
    volts, copper, charging, _gets, _evenly, _year, _light, rim = sentences(hut)
    rms, line = hut.emf.rms[0], hut.emf.line_rms
    assert volts == (
        f"With nothing connected each phase gives {plain(rms * 200 * RPM, 'V')} at 200 rpm, "
        f"{plain(rms * 300 * RPM, 'V')} at 300 rpm, {plain(rms * 400 * RPM, 'V')} at 400 rpm and "
        f"{plain(rms * 500 * RPM, 'V')} at 500 rpm (effective value, as a meter on AC shows it; between two lines "
        f"{plain(line * 500 * RPM, 'V')} at 500 rpm)."
    )
    ohms = hut.impedance
    assert copper == (
        f"Each of the 3 phases takes {hut.lay.rounds_per_phase} rounds, {plain(ohms.conductor_length_m, 'm')} of wire, "
        f"and has {plain(ohms.resistance_20c_ohm, 'ohm')} cold ({plain(ohms.resistance_hot_ohm, 'ohm')} at 60 C); the "
        f"copper weighs {plain(ohms.copper_mass_kg * 1000, 'g')} in all."
    )
    assert charging.startswith(f"A battery at 12.6 V starts to charge at {hut.charging_starts_rad_s / RPM:.0f} rpm, ")
    assert (
        rim == f"Stop after {hut.lay.rim_m_per_phase * 1000:.1f} mm of the inner rim per phase in each of its 4 layers."
    )


def test_the_bundled_charger_charges_in_a_breeze(bundled):
    """A breeze is under 3.4 m/s on Beaufort's scale (2: light breeze, 1.6 to 3.3 m/s)."""
    hut = bundled("hut-charger")
    assert hut.wind.starts_at_m_s < hut.wind.fed.cut_in_m_s < 3.4
    assert f"with a rotor of 1.8 m in a wind of {plain(hut.wind.fed.cut_in_m_s, 'm/s')}" in sentences(hut)[2]


def test_no_wind_without_a_rotor(bundled):
    charging = sentences(dataclasses.replace(bundled("hut-charger"), wind=None))[2]
    assert charging.endswith(" rpm.")


@pytest.mark.parametrize(
    ("rpm", "told"),
    [(0.00042, "0.00042"), (0.5, "0.50"), (9.96, "10"), (131.4, "131"), (12345, "12345"), (2.5612e9, "2600000000")],
)
def test_charging_is_told_in_plain_digits(bundled, rpm, told):
    slow = dataclasses.replace(bundled("plank-ring"), charging_starts_rad_s=rpm * RPM)
    assert f"starts to charge at {told} rpm." in " ".join(sentences(slow))


@pytest.mark.parametrize("load", [None, Load("open"), Load("resistor", resistance_ohm=5.0)])
def test_no_battery_no_sentence_about_one(bundled, load):
    nothing = {"charging_starts_rad_s": None, "delivery": None, "wind": None}
    idle = dataclasses.replace(with_design(bundled("hut-charger"), load=load), **nothing)
    assert len(sentences(idle)) == 4
    assert not any("battery" in sentence for sentence in sentences(idle))


def test_speeds_are_those_asked_for_or_usual_ones(bundled):
    plank = bundled("plank-ring")
    assert asked_speeds(with_design(plank, load=Load("open", speeds_rpm=(75.0,))).design) == (75.0,)
    assert asked_speeds(with_design(plank, load=Load("open")).design) == (100.0, 200.0, 300.0)
    assert asked_speeds(with_design(plank, load=None).design) == (100.0, 200.0, 300.0)
    one = sentences(with_design(plank, load=Load("open", speeds_rpm=(75.0,))))[0]
    assert f"each phase gives {plain(plank.emf.rms[0] * 75 * RPM, 'V')} at 75 rpm (effective" in one


def test_speeds_are_told_rising_and_once_whatever_their_order_in_the_file(answered):
    mixed = answered("plank-ring", {"load.speeds_rpm": [500, 200, 200]})
    assert asked_speeds(mixed.design) == (200.0, 500.0)
    plain_order = answered("plank-ring", {"load.speeds_rpm": [200, 500]})
    assert sentences(mixed) == sentences(plain_order)
    assert "(effective value, as a meter on AC shows it; between two lines" in sentences(mixed)[0]
    assert sentences(mixed)[0].endswith(" at 500 rpm).")
    assert [point.speed_rad_s for point in mixed.delivery.points] == pytest.approx([200 * RPM, 500 * RPM])


def test_lines_are_told_of_where_there_are_three_in_a_star(bundled):
    plank = bundled("plank-ring")
    assert "between two lines" in sentences(plank)[0]
    for keys in ({"connection": "delta"}, {"connection": "separate"}, {"phases": 2}):
        assert "between two lines" not in sentences(with_winding(plank, **keys))[0]


def test_one_phase_and_one_round_are_told_in_the_singular(bundled):
    one = with_lay(with_winding(bundled("plank-ring"), phases=1), rounds_per_phase=1)
    volts, copper, *_ = sentences(one)
    assert volts.startswith("With nothing connected the winding gives ")
    assert copper.startswith("It takes 1 round, ")


@pytest.mark.parametrize(
    ("belts", "layers", "where"),
    [
        (1, 1, "per phase."),
        (2, 1, "per phase in each of its 2 belts."),
        (1, 3, "per phase in each of its 3 layers."),
        (2, 3, "per phase in each of its 2 belts of each of 3 layers."),
    ],
)
def test_where_to_stop_is_told_for_each_group(bundled, belts, layers, where):
    assert sentences(with_winding(bundled("plank-ring"), belts=belts, layers=layers))[-1].endswith(where)


def test_a_path_has_no_rim_to_stop_at(bundled):
    assert not any("rim" in sentence for sentence in sentences(with_lay(bundled("plank-ring"), rim_m_per_phase=None)))


def test_a_belt_that_is_too_wide_is_told_once_where_to_stop(bundled):
    plank = bundled("plank-ring")
    assert sum("Stop after" in sentence for sentence in sentences(plank)) == 1
    wide = dataclasses.replace(plank, rescue=Rescue(24, 0.1, 9, 0.2, 12, 0.15, (8, 16), 0.1))
    assert not any("Stop after" in sentence for sentence in sentences(wide))


def rows(result):
    return {label: (value, remark) for label, value, remark in table_rows(result, result_dict(result)["field"])}


def test_the_table_tells_every_number_with_its_unit_and_what_it_is(bundled):
    hut = bundled("hut-charger")
    table, content = rows(hut), result_dict(hut)
    sheets = "8 sheets of wire: legs that cross take two a layer"
    assert table["EMF per phase"][0] == f"{plain(content['emf']['rms_v_per_krpm'], 'V')} per 1000 rpm"
    assert table["resistance per phase"] == (plain(content["circuit"]["resistance_20c_ohm"], "ohm"), "at 20 C")
    assert table["winding thickness"] == (plain(content["winding"]["thickness_mm"], "mm"), sheets)
    assert rows(bundled("plank-ring"))["winding thickness"][1] == "4 sheets of wire"
    assert table["its fundamental"] == (plain(content["field"]["b1_mean_radius_t"], "T"), "finite elements")
    assert table["EMF per phase"][1].endswith("for a machine exactly as stated")
    assert f"computed to {content['field']['error_estimate_percent']:.1g} %" in table["EMF per phase"][1]
    assert table["field in the backing"][0] == plain(content["field"]["steel_peak_t"], "T")
    assert table["field in the backing"][1].startswith("largest, ")
    assert not [name for name in rows(bundled("plank-ring")) if name.startswith("field in the")]


def test_hand_estimates_stand_beside_with_their_difference(bundled):
    table = rows(bundled("hut-charger"))
    for estimate in result_dict(bundled("hut-charger"))["field"]["estimates"]:
        value, remark = table[f"  by {estimate['name']}"]
        assert value == plain(estimate["b1_t"], "T")
        assert remark.startswith(f"{estimate['difference_percent']:+.1f} %  Takes ")


def test_no_difference_to_a_field_that_is_not_there(bundled):
    plank = bundled("plank-ring")
    field = result_dict(plank)["field"] | {"b1_mean_radius_t": 0.0}
    remark = next(row for row in table_rows(plank, field) if row[0] == "  by layered Fourier")[2]
    assert remark.startswith("Takes")


def now(emf=29.46, ohms=1.44, kilograms=0.216, **output):
    return {
        "emf": {"rms_v_per_krpm": emf},
        "circuit": {"resistance_20c_ohm": ohms},
        "winding": {"copper_mass_kg": kilograms},
        "output": output,
    }


def test_changes_are_told_as_was_and_now():
    assert changes(now(charging_starts_rpm=194.0), now(emf=31.0, charging_starts_rpm=184.5)) == (
        "EMF was 29.5 V per 1000 rpm, now 31 V per 1000 rpm; charging from was 194 rpm, now 184 rpm"
    )
    assert changes(now(), now(ohms=1.6, kilograms=0.2)) == (
        "resistance was 1.44 ohm, now 1.6 ohm; copper was 216 g, now 200 g"
    )


def test_what_reads_the_same_has_not_changed():
    assert changes(now(), now()) == ""
    assert changes(now(emf=29.455), now(emf=29.495)) == ""
    assert changes(now(emf=29.45), now(emf=29.55)) == "EMF was 29.4 V per 1000 rpm, now 29.6 V per 1000 rpm"


@pytest.mark.parametrize(
    "earlier", [{}, {"emf": 3}, {"emf": []}, now(emf="29"), now(emf=math.nan), now(emf=math.inf), now(emf=None)]
)
def test_what_an_earlier_file_does_not_hold_is_not_compared(earlier):
    assert "EMF" not in changes(earlier, now())
    assert "EMF" not in changes(now(), earlier)


def test_the_caution_names_what_can_hurt_and_who_decides():
    for word in ("magnets", "overspeed", "voltage", "Local codes", "not approval"):
        assert word in CAUTION


def test_two_discs_come_with_their_pull_and_how_to_handle_it(bundled):
    hut = bundled("hut-charger")
    assert rows(hut)["pull between the discs"][0] == plain(hut.forces.disc_pull_n, "N")
    handling, _runaway, caution = cautions(hut)
    assert "jacking screws" in handling
    assert caution == CAUTION


def test_one_open_face_has_no_pull(bundled):
    assert cautions(bundled("plank-ring")) == [CAUTION]
    assert not any("pull" in label for label in rows(bundled("plank-ring")))


def test_an_estimate_that_fails_is_not_given_a_percentage():
    lost = _estimate_row(Estimate("magnetic circuit", 0.9, "Leaves out much."), 1e-5)
    assert lost[2] == "does not hold here.  Leaves out much."
    near = _estimate_row(Estimate("magnetic circuit", 0.9, "Leaves out much."), 0.75)
    assert near[2] == "+20.0 %  Leaves out much."

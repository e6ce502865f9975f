"""Eight plain answers make a file that reads and can be wound."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Block, Disc
from fieldrun.design.read import read_design
from fieldrun.design.starter import ask_questions
from fieldrun.design.starter_answers import QUESTIONS, complaint
from fieldrun.design.units import RPM
from fieldrun.generator.chain import Chain
from fieldrun.winding.lay import lay_faults


def read(text: str, folder: Path) -> object:
    path = folder / "new.toml"
    path.write_text(text, encoding="utf-8")
    return read_design(path, [lay_faults])


def test_eight_questions_whose_defaults_are_answers() -> None:
    assert len(QUESTIONS) == 8
    assert [complaint(question.key, question.default) for question in QUESTIONS] == [""] * 8
    assert ask_questions({}) == ask_questions({question.key: question.default for question in QUESTIONS})


def test_defaults_make_a_machine(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    path.write_text(ask_questions({}, title='Say "hé" \\ \n'), encoding="utf-8")
    design = read_design(path, [lay_faults])
    assert design.title == 'Say "hé" \\  '
    assert design.magnets.outline == Disc(0.02, 0.0645)
    assert design.load is not None
    assert design.load.voltage_v == pytest.approx(12.6)


def test_answers_arrive(tmp_path: Path) -> None:
    answers = {"magnet": "30 X 20mm x 10 mm", "count": "12", "grade": "n45sh", "circle": "150,5 mm", "faces": "1"}
    answers |= {"steel": "0", "copper": "0,8 mm", "battery": "0"}
    path = tmp_path / "new.toml"
    path.write_text(ask_questions(answers))
    design = read_design(path, [lay_faults])
    assert design.magnets.outline == Block(0.03, 0.02, 0.07525)
    assert (design.magnets.count, design.magnets.grade, design.magnets.thickness_m) == (12, "N45SH", 0.01)
    assert (design.rotor.faces, design.rotor.backing, design.rotor.gap_m) == (1, None, None)
    assert (design.wire.strand_diameter_m, design.load) == (0.0008, None)


@pytest.mark.parametrize(
    ("key", "answer", "text"),
    [
        (
            "magnet",
            "20",
            "must be two numbers for a disc or three for a block, such as 20 x 6 or 30 x 20 x 10; received 20",
        ),
        ("magnet", "20 x thin", "must be a number from 0.3 to 500 mm; received 20 x thin"),
        ("count", "15", "must be an even whole number, 4 or more: north and south alternate; received 15"),
        ("count", "sixteen", "must be an even whole number, 4 or more: north and south alternate; received sixteen"),
        ("faces", "3", "must be 1 or 2; received 3"),
        ("circle", "-5", "must be a number from 0 to 10000 mm; received -5"),
        ("steel", "nan", "must be a number from 0 to 100 mm; received nan"),
        ("copper", "0.0005", "must be a number from 0.02 to 5 mm; received 0.0005"),
        ("battery", "a lot", "must be a number from 0 to 1000 V; received a lot"),
    ],
)
def test_complaints(key: str, answer: str, text: str) -> None:
    assert complaint(key, answer) == text
    assert complaint(key, "  ") == ""


def test_all_complaints_at_once() -> None:
    with pytest.raises(DesignError) as caught:
        ask_questions({"count": "15", "grade": "N43", "faces": "0"})
    assert [fault.key for fault in caught.value.faults] == ["count", "grade", "faces"]
    assert 'did you mean "N42"?' in caught.value.faults[1].text


SENSIBLE = st.fixed_dictionaries(
    {
        "magnet": st.one_of(
            st.builds("{} x {}".format, st.integers(10, 60), st.integers(3, 20)),
            st.builds("{}x{}x{}".format, st.integers(10, 60), st.integers(8, 40), st.integers(3, 20)),
        ),
        "count": st.integers(3, 20).map(lambda pairs: str(2 * pairs)),
        "grade": st.sampled_from(["N35", "N42", "N52SH", "Y30", "C8"]),
        "faces": st.sampled_from(["1", "2"]),
        "steel": st.sampled_from(["0", "3", "8.5"]),
        "copper": st.sampled_from(["0.3", "0.5", "0.71", "1.1", "1.6"]),
        "battery": st.sampled_from(["0", "6", "12", "24", "48"]),
    }
)


@settings(derandomize=True, max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(answers=SENSIBLE)
def test_any_sensible_answers_make_a_machine(answers: dict[str, str], tmp_path: Path) -> None:
    assert read(ask_questions(answers), tmp_path)


@pytest.mark.parametrize(
    "answers",
    [
        {},
        {"copper": "0.5"},
        {"copper": "0.5", "battery": "24"},
        {"copper": "0.5", "steel": "0"},
        {"magnet": "40 x 20 x 10", "count": "12"},
    ],
)
def test_the_battery_charges_from_about_two_hundred_rpm(answers: dict[str, str], tmp_path: Path) -> None:
    """Found by the field and the winding themselves, not by the rough rule that chooses the layers."""
    path = tmp_path / "new.toml"
    path.write_text(ask_questions(answers))
    chain = Chain(read_design(path, [lay_faults]))
    assert chain.charging_starts_rad_s is not None
    assert 150 < chain.charging_starts_rad_s / RPM < 230


def test_enter_throughout_makes_a_machine_that_does_not_waste_most_of_its_power(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    path.write_text(ask_questions({}))
    delivery = Chain(read_design(path, [lay_faults])).delivery
    assert delivery is not None
    assert delivery.efficiency[:2].min() > 0.5  # at 200 and 300 rpm
    assert delivery.dc_power_w[1] > 50


def test_without_a_battery_or_with_one_of_many_volts_the_gap_is_filled(tmp_path: Path) -> None:
    full = "layers = 7"
    assert full in ask_questions({"copper": "0.5", "battery": "0"})
    assert full in ask_questions({"copper": "0.5", "battery": "400"})

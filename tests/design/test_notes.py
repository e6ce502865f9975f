"""What is read but changes nothing is said in a sentence."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.model import Design

Reader = Callable[[dict[str, str]], Design]

LITZ = 'kind = "litz"\nstrand_mm = 0.1\nstrands = 12\nbench_mm = 2000\nlay_mm = 20'

NOTES = {
    "remanence_t = 1.3\ntemperature_c = 40": (
        "magnets.remanence_t is taken as it stands; magnets.temperature_c does not change it."
    ),
}


@pytest.mark.parametrize("written", NOTES)
def test_magnets(written: str, design: Reader) -> None:
    assert design({'grade = "N42"': written}).notes == (NOTES[written],)


@pytest.mark.parametrize(
    ("swaps", "note"),
    [
        ({'"mild steel"': '"none"'}, 'rotor.backing_mm is ignored: backing = "none" has no thickness.'),
        ({'"mild steel"': '"ideal"'}, 'rotor.backing_mm is ignored: backing = "ideal" has no thickness.'),
        (
            {'backing = "mild steel"\nbacking_mm = 5': 'backing = "none"\nsteel_outer_radius_mm = 90'},
            "rotor.steel_outer_radius_mm is ignored: there is no steel disc of finite size.",
        ),
        (
            {"phases = 3": 'phases = 1\nconnection = "star"'},
            'winding.connection = "star" is ignored: one phase has nothing to join.',
        ),
        (
            {'kind = "solid"\ncopper_mm = 0.5': 'kind = "litz"\nstrand_mm = 0.1\nstrands = 12'},
            (
                "wire.lay_mm is not given: the strands are counted as straight. Bundles of unknown lay have by rule "
                "1.5 % more ohms for each bunching of strands and 2.5 % more for each cabling of bundles."
            ),
        ),
    ],
)
def test_the_other_tables(swaps: dict[str, str], note: str, design: Reader) -> None:
    assert design(swaps).notes == (note,)


def test_step_of_a_path_wound_once(design: Reader, spoilt: Callable[[dict[str, str]], Path]) -> None:
    spoilt({}).with_name("hut.csv").write_text("x")
    swaps = {"inner_radius_mm = 54\nouter_radius_mm = 78\n": "", '"fill"\nlayers = 4': "1\nstep_deg = 2"}
    read = design({'"zigzag"': '"path"\nfile = "hut.csv"'} | swaps)
    assert read.notes == ("winding.step_deg is ignored: the path is wound once.",)


def test_a_bundle_with_its_bench_needs_no_note(design: Reader) -> None:
    assert design({'kind = "solid"\ncopper_mm = 0.5': LITZ}).notes == ()


def test_a_former_is_used_as_a_whole(design: Reader) -> None:
    assert design({"copper_mm = 0.5": "copper_mm = 0.5\n[former]\ntail_mm = 200\nkerf_mm = 0.2"}).notes == ()


def test_a_table_that_is_used_needs_no_note(design: Reader) -> None:
    assert design({"copper_mm = 0.5": "copper_mm = 0.5\n[tolerance]\ngap_mm = 0.2"}).notes == ()


def test_the_wind_is_used_as_a_whole(design: Reader) -> None:
    wind = "copper_mm = 0.5\n[wind]\nrotor_diameter_m = 2\nmean_m_s = 4\nmeasured_height_m = 3\nhub_height_m = 9"
    assert design({"copper_mm = 0.5": wind}).notes == ()

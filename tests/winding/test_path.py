"""A path laid: copies, phases, keys, heights, and what is counted on it."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Disc, Magnets, Rotor, Winding, Wire
from fieldrun.winding.factors import factors
from fieldrun.winding.lay import lay, lay_faults
from fieldrun.winding.path_file import write_paths

P = 8
TAU = math.pi / P
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
MAGNETS = Magnets(Disc(0.030, 0.085), 16, 0.010, 1.3, 1.05, 7500.0)
ROTOR = Rotor(2, 0.012, None, None, 0.05, 0.12)
OWN = Winding("path", None, None, 1, None, 1, 0.0, file="own.csv")
BARE = "loop,r_mm,theta_deg,z_mm,edge\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """One turn per pole pair, closed: a coil half a pole pitch to either side of every second gap."""
    rows = []
    for k in range(P):
        a, b = math.degrees(2 * k * TAU), math.degrees((2 * k + 1) * TAU)
        rows += [f"{k + 1},60,{a},4,line", f"{k + 1},110,{a},4,arc", f"{k + 1},110,{b},4,line"]
        rows += [f"{k + 1},60,{b},4,arc", f"{k + 1},60,{a},4,"]
    (tmp_path / "own.csv").write_text(BARE + "\n".join(rows) + "\n", encoding="utf-8")
    return tmp_path


def test_a_file_without_phases_is_turned_for_the_others(folder: Path) -> None:
    for phases, electrical in ((1, 0.0), (2, math.pi / 2), (3, 2 * math.pi / 3)):
        pieces = lay(replace(OWN, phases=phases), P, WIRE, folder).pieces
        for k in range(phases):
            own = pieces.start[pieces.phase == k]
            np.testing.assert_allclose(
                own[:, 1] - pieces.start[pieces.phase == 0][:, 1], k * electrical / P, atol=1e-14
            )
        assert pieces.loop.max() + 1 == phases * P


def test_a_phase_given_in_the_file_stays_where_it_is(tmp_path: Path) -> None:
    named = Winding("rhomboid", 0.06, 0.11, 2, 4, 2, 0.005)
    laid = lay(named, P, WIRE)
    write_paths(tmp_path / "own.csv", laid.pieces)
    again = lay(replace(OWN, phases=2), P, WIRE, tmp_path)
    np.testing.assert_allclose(again.pieces.start, laid.pieces.start, atol=1e-14)


def test_copies_stand_a_step_apart_and_centred(folder: Path) -> None:
    laid = lay(replace(OWN, rounds=5, step_rad=0.01, start_rad=0.3), P, WIRE, folder)
    first = laid.pieces.start[:: 4 * P, 1]
    np.testing.assert_allclose(first, 0.3 + 0.01 * np.arange(-2, 3), atol=1e-14)
    assert (laid.rounds_per_phase, laid.rounds_per_group, laid.step_rad) == (5, 5, 0.01)
    assert laid.belt_rad == pytest.approx(5 * P * 0.01)
    found = factors(laid, replace(OWN, rounds=5, step_rad=0.01), WIRE)
    assert found.total == pytest.approx(math.sin(5 * P * 0.01 / 2) / (5 * math.sin(P * 0.01 / 2)), rel=1e-12)
    assert found.shape == pytest.approx(1, rel=1e-12)


def test_what_is_told_of_a_path(folder: Path) -> None:
    laid = lay(OWN, P, WIRE, folder)
    assert (laid.inner_radius_m, laid.outer_radius_m) == pytest.approx((0.060, 0.110))
    assert laid.rounds_per_phase == 1
    assert laid.sheet_heights_m.tolist() == [0.004]
    assert laid.thickness_m == pytest.approx(0.86e-3)
    assert [bundle.wires for bundle in laid.end_bundles] == [1, 1]
    assert laid.rim_m_per_phase is None


def test_a_pattern_that_repeats_every_single_pole_gives_nothing_and_says_so(tmp_path: Path) -> None:
    """Sixteen equal narrow turns on sixteen poles: each sees the opposite of its neighbour."""
    half = math.degrees(TAU) / 4
    rows = []
    for k in range(2 * P):
        a, b = math.degrees(k * TAU) - half, math.degrees(k * TAU) + half
        rows += [f"{k + 1},60,{a},4,line", f"{k + 1},110,{a},4,arc", f"{k + 1},110,{b},4,line"]
        rows += [f"{k + 1},60,{b},4,arc", f"{k + 1},60,{a},4,"]
    (tmp_path / "own.csv").write_text(BARE + "\n".join(rows) + "\n", encoding="utf-8")
    found = factors(lay(OWN, P, WIRE, tmp_path), OWN, WIRE)
    np.testing.assert_allclose(found.total_by_order, 0, atol=1e-12)
    assert found.warning is not None
    assert "one that repeats every single pole" in found.warning


def test_a_path_along_one_circle_has_no_factor_and_no_fill(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text(BARE + "1,60,0,4,arc\n1,60,360,4,\n", encoding="utf-8")
    found = factors(lay(OWN, P, WIRE, tmp_path), OWN, WIRE)
    assert (found.total, found.fill, found.end_copper_share) == (0, 0, 1)


@pytest.mark.parametrize(
    ("keys", "key", "text"),
    [
        ({"rounds": 3}, "winding.step_deg", "missing; rounds = 3 copies of the path must stand apart"),
        ({"file": ""}, "winding.file", 'missing; shape = "path" needs the name of a CSV file'),
        ({"parallel": 2}, "winding.parallel", "1 rounds per phase cannot be shared equally by 2 parallel groups"),
    ],
)
def test_faults_of_keys(folder: Path, keys: dict[str, object], key: str, text: str) -> None:
    found = lay_faults(MAGNETS, ROTOR, replace(OWN, **keys), WIRE, folder)
    assert [(fault.key, fault.text) for fault in found] == [(key, text)]
    with pytest.raises(DesignError, match=key):
        lay(replace(OWN, **keys), P, WIRE, folder)


def test_a_list_of_notches_without_their_numbers_is_told_what_it_lacks(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text("step,end,notch\n1,in,1\n2,out,2\n", encoding="utf-8")
    (found,) = lay_faults(MAGNETS, ROTOR, OWN, WIRE, tmp_path)
    assert str(found) == (
        "winding.inner_notches: missing; the file is a list of notches (step,end,notch) and needs inner_notches, "
        "outer_notches, inner_radius_mm and outer_radius_mm"
    )


def test_faults_of_key_and_file_come_together(tmp_path: Path) -> None:
    found = lay_faults(MAGNETS, ROTOR, replace(OWN, rounds=3), WIRE, tmp_path)
    assert [fault.key for fault in found] == ["winding.step_deg", ""]
    assert found[1].file == str(tmp_path / "own.csv")
    assert "there is no such file" in found[1].text


@pytest.mark.parametrize(
    ("shift", "gap", "text"),
    [
        (-3.7, 0.012, "the wire reaches z = -0.13 mm and the lower magnets' face is at 0"),
        (0, 0.0044, "the wire reaches z = 4.43 mm and the gap ends at 4.4 mm"),
        (0, 0.00444, None),
        (-3.5, 0.012, None),
        (90, None, None),
    ],
)
def test_a_path_must_stay_in_the_gap(folder: Path, shift: float, gap: float | None, text: str | None) -> None:
    file = folder / "own.csv"
    file.write_text(file.read_text(encoding="utf-8").replace(",4,", f",{4 + shift},"), encoding="utf-8")
    found = lay_faults(MAGNETS, replace(ROTOR, gap_m=gap), OWN, WIRE, folder)
    assert [fault.key for fault in found] == (["winding.file"] if text else [])
    assert all(fault.text.startswith(str(text)) for fault in found)


def test_nothing_is_read_outside_the_name_given(folder: Path) -> None:
    absolute = replace(OWN, file=str(folder / "own.csv"))
    assert lay(absolute, P, WIRE).pieces.count == lay(OWN, P, WIRE, folder).pieces.count

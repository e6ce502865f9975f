"""Which points a sweep has, and in which order."""

import itertools

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.studies.sweep.axes import read_axes
from fieldrun.studies.sweep.plan import LARGEST, grid, sample, table

AXES = read_axes(("rotor.gap_mm=8:10:3", "rotor.backing=none,ideal", "winding.layers=1,2"))


def every(plan):
    return [plan.values(index) for index in range(plan.count)]


def test_the_first_key_of_a_grid_is_outermost():
    plan = grid(AXES)
    assert every(plan) == list(itertools.product((8, 9, 10), ("none", "ideal"), (1, 2)))
    assert plan.shape == (3, 2, 2)
    assert plan.changes(0) == {"rotor.gap_mm": 8, "rotor.backing": "none", "winding.layers": 1}


def test_a_list_of_the_file_gets_one_value_a_point():
    assert grid(read_axes(("load.speeds_rpm=200,300",))).changes(1) == {"load.speeds_rpm": [300]}


def test_a_billion_points_are_counted_and_refused_at_once():
    with pytest.raises(DesignError) as caught:
        grid(read_axes(("rotor.gap_mm=8:10:100000", "magnets.thickness_mm=3:9:10000")))
    told = "--vary: 1,000,000,000 points are more than a sweep takes, 1,000,000; try fewer values, or --sample 1000"
    assert str(caught.value) == told


def test_as_many_as_allowed_are_allowed():
    assert grid(read_axes(("rotor.gap_mm=8:10:1000", "magnets.thickness_mm=3:9:1000"))).count == LARGEST


@pytest.mark.parametrize("method", ["lhs", "sobol"])
def test_samples_fill_the_ranges_evenly_and_come_again_with_their_seed(method):
    axes = read_axes(("rotor.gap_mm=5:10", "magnets.thickness_mm=2:4"), sampled=True)
    plan = sample(axes, 64, method, seed=3)
    points = np.array(every(plan))
    low, high = np.array([5, 2]), np.array([10, 4])
    assert np.all(points >= low)
    assert np.all(points <= high)
    strata = np.floor(64 * (points - low) / (high - low)).astype(int)
    for column in strata.T:  # one point in each of 64 equal slices: what both methods promise
        assert sorted(column) == list(range(64))
    assert every(sample(axes, 64, method, seed=3)) == every(plan)
    assert every(sample(axes, 64, method, seed=4)) != every(plan)
    assert plan.shape == (64,)


def test_a_sobol_sample_of_any_size_is_the_start_of_a_larger_one():
    axes = read_axes(("rotor.gap_mm=5:10", "rotor.backing=none,ideal"), sampled=True)
    assert every(sample(axes, 5, "sobol")) == every(sample(axes, 8, "sobol"))[:5]
    assert sample(axes, 1, "sobol").count == 1


@pytest.mark.parametrize("count", [0, -3, LARGEST + 1])
def test_samples_of_no_or_too_many_points_are_refused(count):
    with pytest.raises(DesignError, match=r"--sample: .*points?"):
        sample(AXES, count)


def test_plans_are_told_apart_by_their_facts():
    axes = read_axes(("rotor.gap_mm=5:10",), sampled=True)
    plans = [grid(AXES), grid(AXES[:2]), sample(axes, 4), sample(axes, 4, seed=2), sample(axes, 4, "sobol")]
    assert len({str(plan.facts) for plan in plans}) == len(plans)


def write(tmp_path, text):
    path = tmp_path / "designs.csv"
    path.write_text(text)
    return path


def test_a_table_has_one_point_a_row(tmp_path):
    plan = table(write(tmp_path, "# mine\nrotor.gap_mm,rotor.backing\n8,none\n\nstack,mild steel\n,ideal\n"))
    assert plan.keys == ("rotor.gap_mm", "rotor.backing")
    assert every(plan) == [(8, "none"), ("stack", "mild steel"), (None, "ideal")]
    assert plan.changes(2) == {"rotor.backing": "ideal"}


def test_a_spreadsheet_may_put_everything_in_quotes(tmp_path):
    path = tmp_path / "designs.csv"
    path.write_bytes(b'\xef\xbb\xbf"rotor.gap_mm","rotor.backing"\r\n"9","mild steel"\r\n')
    assert every(table(path)) == [(9, "mild steel")]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("rotor.gap\n8\n", ":1: rotor.gap: unknown key; did you mean gap_mm?"),
        ("rotor.gap_mm,rotor.backing\n8\n9,none\n", ":2: must have 2 cells (rotor.gap_mm,rotor.backing); received 1"),
        ("rotor.gap_mm\nwide\n", ':2: rotor.gap_mm: must be a number or "stack"; received "wide"'),
        ("rotor.gap_mm,rotor.gap_mm\n8,9\n", ":1: rotor.gap_mm: this column stands twice"),
        ("rotor.gap_mm;rotor.backing\n8;none\n",
         ":1: the columns are separated by semicolons; save with commas, and with decimal points"),
        ("rotor.gap_mm\n", ":1: holds nothing but its header"),
        ("# nothing\n", ": holds no line of data; the first must name keys of a design file"),
    ],
)  # fmt: skip
def test_what_is_said_of_bad_tables(tmp_path, text, told):
    path = write(tmp_path, text)
    with pytest.raises(DesignError) as caught:
        table(path)
    assert str(caught.value) == f"{path}{told}"


def test_a_table_that_is_not_there(tmp_path):
    with pytest.raises(DesignError, match="there is no such file"):
        table(tmp_path / "none.csv")

"""Inductance in the builder's words and in the result file."""

import dataclasses
import math

import numpy as np
import pytest

from fieldrun.generator.inductance import Inductance
from fieldrun.generator.inductance_remarks import TAKEN
from fieldrun.outputs.inductance_told import PLAIN, inductance_dict, inductance_rows
from fieldrun.outputs.result_file import result_dict
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import table_rows


@pytest.fixture
def hut(bundled):
    return bundled("hut-charger")


def with_matrix(result, matrix):
    return dataclasses.replace(result, inductance=Inductance(np.array(matrix)))


def test_three_phases_are_told_alone_and_in_company(hut):
    result = with_matrix(hut, [[5e-3, 2e-3, 2e-3], [2e-3, 5e-3, 2e-3], [2e-3, 2e-3, 5e-3]])
    omega = 2 * math.pi * 500 / 60 * 8
    share = plain(100 * omega * 3e-3 / hut.impedance.resistance_hot_ohm, "%")
    remark = f"3 mH with all phases at work; at 500 rpm its reactance, {PLAIN}, is {share} of the resistance"
    assert inductance_rows(result) == [("inductance per phase", "5 mH", remark)]
    assert inductance_rows(result)[0] in table_rows(result, result_dict(result)["field"])
    assert inductance_dict(result) == pytest.approx({"inductance_h": 5e-3, "mutual_inductance_h": 2e-3})


def test_a_single_phase_has_no_mutual_inductance(hut):
    result = with_matrix(hut, [[5e-3]])
    assert inductance_dict(result) == {"inductance_h": 5e-3}
    ((_, value, remark),) = inductance_rows(result)
    assert value == "5 mH"
    assert remark.startswith("at 500 rpm its reactance")


def test_none_is_not_told(hut):
    result = dataclasses.replace(hut, inductance=None)
    assert inductance_dict(result) == {}
    assert inductance_rows(result) == []
    assert not {"inductance_h", "mutual_inductance_h"} & set(result_dict(result)["circuit"])


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_the_file_holds_what_was_computed(bundled, example):
    result = bundled(example)
    circuit = result_dict(result)["circuit"]
    assert circuit["inductance_h"] == pytest.approx(result.inductance.matrix_h[0, 0])
    assert circuit["mutual_inductance_h"] == pytest.approx(result.inductance.matrix_h[0, 1])
    assert 1e-5 < circuit["inductance_h"] < 1e-2
    assert TAKEN in result.assumptions

"""A chain's whole result is a run's result, with the band where it is asked for."""

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import example_path
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import read_design
from fieldrun.outputs.answer import answer_dict
from fieldrun.outputs.result_file import result_dict


def test_it_is_what_a_run_writes(bundled):
    result = bundled("plank-ring")
    assert answer_dict(Chain(result.design)) == result_dict(result)


def test_impossible_tolerances_are_faults_of_the_point():
    design = read_design(example_path("plank-ring"), {"tolerance.magnet_mm": 40.0})
    with pytest.raises(DesignError, match=r"tolerance\.magnet_mm"):
        answer_dict(Chain(design), band=True)

"""The chain works out what it is asked for, once, and nothing else."""

import dataclasses
import json

import pytest

from fieldrun.design.examples import example_path
from fieldrun.field.solve import rotor_field
from fieldrun.generator import chain as links
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import read_design, result_of, run
from fieldrun.generator.result import RunResult
from fieldrun.outputs.result_file import result_text

STAGES = ("rotor_field", "mean_section_field", "lay", "emf_per_speed", "impedance", "inductance", "losses_of")


@pytest.fixture
def design():
    return read_design(example_path("hut-charger"), {"rotor.backing": "ideal"})


@pytest.fixture
def calls(monkeypatch):
    """Names of the stages that were called, in order."""
    seen = []

    def counted(name, function):
        return lambda *given, **named: (seen.append(name), function(*given, **named))[1]

    links._copper_of.cache_clear()
    for name in STAGES:
        monkeypatch.setattr(links, name, counted(name, getattr(links, name)))
    return seen


def once(calls):
    """Stages that were called, each once; lays come from memory and may be asked for again."""
    stages = [stage for stage in calls if stage != "lay"]
    assert len(stages) == len(set(stages))
    return set(stages)


def test_ohms_need_no_field(design, calls):
    assert Chain(design).impedance.resistance_20c_ohm > 0
    assert calls == ["lay", "impedance"]
    assert Chain(dataclasses.replace(design, load=None)).impedance.resistance_20c_ohm > 0
    assert calls == ["lay", "impedance"]  # another load, the same copper


def test_volts_need_field_and_winding_once_each(design, calls):
    chain = Chain(design)
    assert chain.emf is chain.emf
    assert chain.motor.torque_nm_per_a > 0
    assert once(calls) == {"emf_per_speed", "impedance", "rotor_field"}


def test_a_field_that_is_known_is_not_solved_again(design, calls):
    field = rotor_field(design.magnets, design.rotor)
    chain = Chain(design, field)
    assert chain.emf.rms[0] > 0
    assert chain.field is field
    assert "rotor_field" not in calls


def test_everything_takes_every_stage_once(design, calls):
    result_of(Chain(design))
    assert once(calls) == set(STAGES) - {"lay"}


def test_it_is_frozen(design):
    chain = Chain(design)
    with pytest.raises(dataclasses.FrozenInstanceError):
        chain.design = design


def test_it_knows_all_that_a_result_does_under_the_same_names(design):
    """What outputs read of a result they may read of a chain."""
    beyond = {"design", "design_hash", "quality", "joinings", "warnings", "assumptions"}
    assert {field.name for field in dataclasses.fields(RunResult)} - beyond <= set(dir(Chain))


def test_a_run_is_the_whole_chain(design):
    assert json.loads(result_text(run(design))) == json.loads(result_text(result_of(Chain(design))))

"""Picks are the numbers of the result file, and take no more of the chain than they need."""

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import example_path
from fieldrun.generator import chain as links
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import read_design
from fieldrun.outputs.answer import answer_dict
from fieldrun.studies.sweep.checks import check_picks
from fieldrun.studies.sweep.picks import DEFAULT, QUICK, found_in, keys_of, picked


@pytest.fixture(scope="module", params=["hut-charger", "plank-ring", "quiet-halbach"])
def chain(request):
    return Chain(read_design(example_path(request.param)))


def test_quick_picks_are_what_the_result_file_says(chain):
    """Two ways to every number: straight from the chain, and through the whole result."""
    whole = answer_dict(chain)
    for key, straight in QUICK.items():
        written, found = found_in(whole, key), straight(chain)
        assert found == written if written is None else found == pytest.approx(written, rel=1e-11), key


def test_others_come_from_the_whole_result(chain):
    def answer(asked, band):
        assert (asked, band) == (chain, False)
        return {"a": {"b": 1.0 / 3, "list": [{"c": 2}], "word": "none"}}

    keys = ("a.b", "a.list.0.c", "a.word", "a.nothing", "a.list.7.c")
    assert picked(chain, keys, answer) == (0.333333333333, 2, "none", None, None)


def test_a_band_is_asked_for_only_where_it_is_picked(chain):
    asked = []
    for keys in (("tolerance.seed",), ("mesh.model",), DEFAULT):
        picked(chain, keys, lambda _, band: asked.append(band) or {})
    assert asked == [True, False]


def test_what_is_not_finite_or_not_one_value_never_gets_into_a_cell(chain):
    with pytest.raises(ValueError, match=r"a came out as nan"):
        picked(chain, ("a",), lambda *_: {"a": float("nan")})
    with pytest.raises(ValueError, match=r"a is a list of 2; pick one of them, such as a.0"):
        picked(chain, ("a",), lambda *_: {"a": [1, 2]})


@pytest.mark.parametrize(
    ("keys", "stages"),
    [
        (("circuit.resistance_20c_ohm", "winding.rounds_per_phase"), {"lay", "impedance"}),
        (("emf.rms_v_per_krpm",), {"lay", "emf_per_speed"}),
        (DEFAULT, {"lay", "emf_per_speed", "impedance"}),
        (("circuit.inductance_h",), {"lay", "inductance"}),
    ],
)
def test_only_what_is_needed_is_worked_out(monkeypatch, keys, stages):
    design = read_design(example_path("plank-ring"))
    field = Chain(design).field
    links._copper_of.cache_clear()
    called = set()
    names = ("rotor_field", "mean_section_field", "lay", "emf_per_speed", "impedance", "inductance", "losses_of")
    for name in names:
        real = getattr(links, name)
        monkeypatch.setattr(links, name, lambda *given, real=real, name=name: (called.add(name), real(*given))[1])
    picked(Chain(design, field), keys, answer_dict)
    assert called == stages


def complaints(request):
    with pytest.raises(DesignError) as caught:
        check_picks(request)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("pick", "told"),
    [
        ("emf.rms_v_per_krpmm", "no result has emf.rms_v_per_krpmm; did you mean emf.rms_v_per_krpm?"),
        ("rms_v_per_krpm", "no result has rms_v_per_krpm; did you mean emf.rms_v_per_krpm?"),
        ("heat.limit", "no result has heat.limit; did you mean heat.limit_c?"),
        ("zzz", "no result has zzz; see the keys in a result.json"),
        ("emf.phase_angle_rad", "emf.phase_angle_rad is a list of 3; pick one of them, such as emf.phase_angle_rad.0"),
        ("field.estimates", "field.estimates is a list of 2; pick one of them, such as field.estimates.0.b1_t"),
        (
            "winding.factors",
            "winding.factors holds several values; pick one of them: "
            + ", ".join(f"winding.factors.{name}" for name in ("belt", "shape", "total")),
        ),
    ],
)
def test_what_is_said_of_bad_picks(request_for, pick, told):
    found = complaints(request_for("rotor.gap_mm=8", picks=(pick, "winding.fill")))
    assert found == [f"--pick: {told}"]


def test_picks_stand_once(request_for):
    request = request_for("rotor.gap_mm=8", picks=("winding.fill", "winding.fill"))
    assert complaints(request) == ["--pick: winding.fill stands twice"]


@pytest.mark.slow
def test_a_pick_may_come_in_with_a_word_of_the_plan(request_for):
    """No design of wood has steel; a sweep over steels has."""
    request = request_for("rotor.backing=none,mild steel", "rotor.backing_mm=6", picks=("field.steel.0.peak_t",))
    check_picks(request)
    assert complaints(request_for("rotor.gap_mm=8,9", picks=("field.steel.0.peak_t",)))


def test_keys_of_a_result_are_single_values(chain):
    whole = answer_dict(chain)
    keys = keys_of(whole)
    assert "circuit.resistance_20c_ohm" in keys
    assert all(not isinstance(found_in(whole, key), dict | list) for key in keys)

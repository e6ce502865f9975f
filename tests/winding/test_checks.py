"""Every reason why a winding cannot be laid, in the words the builder reads."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.errors import Fault
from fieldrun.design.model import Disc, Magnets, Rotor, Winding, Wire
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.winding.lay import lay, lay_faults

HERE = Path()
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
MAGNETS = Magnets(Disc(0.030, 0.085), 16, 0.010, 1.3, 1.05, 7500.0)
ROTOR = Rotor(2, 0.012, None, None, 0.05, 0.12)
BASE = Winding("zigzag", 0.060, 0.110, 3, None, 2, 0.006)


def faults(winding: Winding, magnets: Magnets = MAGNETS, wire: Wire = WIRE, rotor: Rotor = ROTOR) -> list[Fault]:
    return lay_faults(magnets, rotor, winding, wire, HERE)


def only(found: list[Fault]) -> tuple[str, str]:
    assert len(found) == 1
    return found[0].key, found[0].text


def test_a_good_winding_has_no_faults() -> None:
    assert faults(BASE) == []


@pytest.mark.parametrize("missing", [0, 2, 3])
def test_nothing_is_said_while_a_record_is_missing(missing: int) -> None:
    records = [MAGNETS, ROTOR, replace(BASE, rounds=1000), WIRE]
    records[missing] = None
    assert lay_faults(*records, HERE) == []


def test_without_a_rotor_only_the_gap_is_left_out() -> None:
    assert lay_faults(MAGNETS, None, replace(BASE, rounds=1000), WIRE, HERE)[0].key == "winding.rounds"


def test_a_chord_that_runs_inside_the_hub() -> None:
    key, text = only(faults(BASE, replace(MAGNETS, count=6)))
    assert key == "winding.inner_radius_mm"
    assert text == (
        "a straight leg from 60 to 110 mm that turns 60 degrees runs inside its own inner end; "
        'try leg = "spiral", a smaller span, more poles or an inner radius that brings 60 mm under 55 mm'
    )
    assert faults(replace(BASE, leg="spiral"), replace(MAGNETS, count=6)) == []


def test_a_chord_of_a_quarter_turn_has_no_inner_radius_that_helps() -> None:
    _, text = only(faults(BASE, replace(MAGNETS, count=4)))
    assert text.endswith('try leg = "spiral", a smaller span, more poles; no inner radius helps')


def test_the_cure_names_the_key_that_the_shape_has() -> None:
    _, text = only(faults(replace(BASE, shape="rhomboid", skew=1.0), replace(MAGNETS, count=4)))
    assert text.endswith('try leg = "spiral", a smaller skew, more poles; no inner radius helps')


def test_legs_that_all_but_run_along_the_ring_are_not_cured_by_a_larger_radius() -> None:
    slanted, six = replace(BASE, inner_radius_m=0.0549), replace(MAGNETS, count=6)
    key, text = only(faults(slanted, six))
    assert key == "wire"
    assert text == (
        "not one round fits: the wire, 0.86 mm over everything, takes 180 degrees of the ring and the belt has 40, "
        'because the legs slant so much at their inner ends; try leg = "spiral", a smaller span, more poles'
    )
    for cured in (replace(slanted, leg="spiral"), replace(slanted, span=0.8)):
        assert faults(cured, six) == []
    assert faults(slanted) == []
    assert only(faults(replace(slanted, inner_radius_m=0.0551), six))[0] == "winding.inner_radius_mm"


def test_not_even_one_round() -> None:
    key, text = only(faults(BASE, wire=replace(WIRE, overall_diameter_m=0.02)))
    assert key == "wire"
    assert text == (
        "not one round fits: the wire, 20 mm over everything, takes 27.42 degrees of the ring and the belt has 15; "
        "try thinner wire or fewer poles"  # slanted legs lie no looser farther out
    )


def test_an_inner_radius_is_advised_only_if_it_helps() -> None:
    thick = replace(WIRE, overall_diameter_m=0.008)
    legs = replace(BASE, shape="serpentine")
    _, text = only(faults(legs, wire=thick))
    assert text.endswith("and the belt has 7.5; try thinner wire, an inner radius of 62 mm or fewer poles")
    assert only(faults(replace(legs, inner_radius_m=0.061), wire=thick))[0] == "wire"
    assert lay(replace(legs, inner_radius_m=0.062), 8, thick).rounds_per_group == 1
    _, text = only(faults(legs, wire=replace(WIRE, overall_diameter_m=0.03)))
    assert text.endswith("try thinner wire or fewer poles")


def test_more_rounds_than_the_belt_holds_names_what_fits() -> None:
    fit = lay(BASE, 8, WIRE).rounds_per_phase
    laid = lay(BASE, 8, WIRE)
    missing = (laid.rounds_per_group + 1) * laid.step_rad * 60 - math.radians(120 / 8) * 60
    assert only(faults(replace(BASE, rounds=fit + 2))) == (
        "winding.rounds",
        (
            f"at most {fit} rounds per phase fit, {fit // 2} in each of 2 groups; received {fit + 2}: {missing:.2f} mm "
            'of the inner rim are missing in each group; try rounds = "fill", thinner wire or more layers'
        ),
    )
    assert 0 < missing < 60 * laid.step_rad
    assert faults(replace(BASE, rounds=fit)) == []


def test_a_narrower_belt_holds_fewer_rounds() -> None:
    fit = lay(replace(BASE, belt_rad=1.0), 8, WIRE).rounds_per_phase
    assert only(faults(replace(BASE, belt_rad=1.0, rounds=fit + 2)))[1].startswith(f"at most {fit} rounds per phase")


def test_explicit_rounds_may_use_the_whole_available_belt() -> None:
    filled = lay(replace(BASE, phases=1), 8, WIRE).rounds_per_phase
    assert faults(replace(BASE, phases=1, rounds=2 * filled)) == []


def test_rounds_are_the_same_in_every_group() -> None:
    assert only(faults(replace(BASE, rounds=5))) == (
        "winding.rounds",
        "must be a multiple of belts x layers = 2; received 5, try 4 or 6",
    )
    assert only(faults(replace(BASE, rounds=1)))[1].endswith("received 1, try 2")


def test_a_belt_wider_than_the_lay_leaves_free() -> None:
    assert only(faults(replace(BASE, belt_rad=2.2))) == (
        "winding.belt_deg",
        (
            "must be at most 120 (electrical degrees free for one group of one layer with phases = 3, belts = 1): "
            "beyond it wires lie on each other; received 126.051; leave it out to fill what there is"
        ),
    )


def test_a_second_belt_of_a_flat_lay() -> None:
    key, text = only(faults(replace(BASE, shape="serpentine", belts=2)))
    assert key == "winding.belts"
    assert text.startswith("must be 1 for this serpentine: the second belt's legs would lie where")


def test_a_rhomboid_whose_return_legs_meet_the_next_phase() -> None:
    key, text = only(faults(replace(BASE, shape="rhomboid", span=2 / 3)))
    assert key == "winding.span"
    assert text.startswith("with span = 0.6667 the return legs of one phase lie where the next phase's legs lie")


def test_rounds_that_parallel_groups_cannot_share() -> None:
    assert only(faults(replace(BASE, rounds=8, parallel=3))) == (
        "winding.parallel",
        "8 rounds per phase cannot be shared equally by 3 parallel groups; try rounds = a multiple of 3",
    )


def test_several_faults_come_at_once() -> None:
    keys = [fault.key for fault in faults(replace(BASE, rounds=1001, parallel=2))]
    assert keys == ["winding.rounds", "winding.parallel"]


def test_end_arcs_at_the_magnets_must_fit_the_gap() -> None:
    winding = replace(BASE, shape="serpentine", inner_radius_m=0.072, outer_radius_m=0.110)
    bundle = lay(winding, 8, WIRE).end_bundles[0]
    key, text = only(faults(winding, rotor=replace(ROTOR, gap_m=bundle.height_m + 0.0019)))
    assert key == "winding.inner_radius_mm"
    assert text == (
        f"the end arcs on 72 mm lie at the magnets (70 to 100 mm) as a bundle of {bundle.wires} wires, "
        f"{bundle.height_m * 1e3:.3g} mm high, and the gap has room for {bundle.height_m * 1e3 - 0.1:.3g} mm; "
        "move the radius beyond the magnets, widen the gap or wind fewer rounds"
    )
    assert faults(winding, rotor=replace(ROTOR, gap_m=bundle.height_m + 0.0021)) == []


def test_the_outer_bundle_is_looked_at_too_and_by_its_own_key() -> None:
    winding = replace(BASE, shape="serpentine", outer_radius_m=0.095)
    assert only(faults(winding, rotor=replace(ROTOR, gap_m=0.005)))[0] == "winding.outer_radius_mm"


def test_end_arcs_beyond_the_magnets_and_open_rotors_have_room() -> None:
    winding = replace(BASE, shape="serpentine")
    assert faults(winding, rotor=replace(ROTOR, gap_m=0.005)) == []
    inside = replace(winding, inner_radius_m=0.072)
    assert faults(inside, rotor=replace(ROTOR, faces=1, gap_m=None)) == []


@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    shape=st.sampled_from(NAMED_SHAPES),
    leg=st.sampled_from(["chord", "spiral"]),
    count=st.sampled_from([2, 4, 6, 8, 12, 40]),
    rounds=st.one_of(st.none(), st.integers(1, 200)),
    layers=st.integers(1, 5),
    phases=st.integers(1, 3),
    belts=st.integers(1, 2),
    belt=st.one_of(st.none(), st.floats(1e-3, 6.3)),
    span=st.floats(1e-3, 1),
    share=st.floats(1e-3, 0.999),
    parallel=st.integers(1, 3),
    diameter=st.floats(5e-5, 0.2),
)
def test_a_winding_is_either_refused_in_words_or_laid(
    shape: str, count: int, diameter: float, share: float, belt: float | None, **keys
) -> None:
    winding = replace(BASE, shape=shape, straight_share=share, belt_rad=belt, **keys)
    magnets, wire = replace(MAGNETS, count=count), replace(WIRE, overall_diameter_m=diameter)
    found = lay_faults(magnets, None, winding, wire, HERE)
    if found:
        assert all(fault.key.startswith(("winding.", "wire")) and fault.text for fault in found)
    else:
        laid = lay(winding, count // 2, wire)
        assert laid.rounds_per_group >= 1
        assert laid.rounds_per_phase % winding.parallel == 0

"""Which shape wins on which count: one sentence, made of the numbers and of nothing else."""

import dataclasses

import pytest

from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design
from fieldrun.outputs.compare_told import (
    columns_told,
    joined,
    label,
    marked,
    ordered,
    reasons,
    speed_of,
    terms,
    verdict,
)
from fieldrun.studies.candidates import LAYS
from fieldrun.studies.compare import AS_THEY_STAND, OWN_BEST
from fieldrun.studies.wound import NotWound, Wound


def given(comparison, figures, phases=3):
    """Keep the rows named, each with a power and a mass of its own."""
    rows = []
    for (name, belts), (power, mass) in figures.items():
        row = next(
            r
            for r in comparison.rows
            if (r.candidate.name, r.candidate.winding.phases, r.candidate.winding.belts) == (name, phases, belts)
        )
        merits = dataclasses.replace(row.merits, power_w_s2_per_rad2=power, copper_mass_kg=mass)
        rows.append(dataclasses.replace(row, merits=merits))
    return dataclasses.replace(comparison, rows=tuple(rows))


def test_two_winners(shapes):
    found = given(shapes, {("serpentine", 1): (0.3, 0.3), ("diamond", 2): (0.2, 0.16), ("diamond", 1): (0.25, 0.25)})
    assert verdict(found) == (
        "In equal space, with three phases, the serpentine gives the most (EMF²/R 32.9 W at 100 rpm), 20 % more than "
        "the diamond; from equal copper the diamond in two belts gives the most, 25 % more than the serpentine."
    )


def test_one_winner(shapes):
    found = given(shapes, {("serpentine", 1): (0.3, 0.2), ("hexagon", 1): (0.2, 0.2)})
    assert verdict(found).endswith(
        "50 % more than the hexagon, and the most from equal copper too, 50 % more than the hexagon."
    )


def test_a_tie_is_a_tie(shapes):
    found = given(shapes, {("serpentine", 1): (0.3, 0.2), ("hexagon", 1): (0.3, 0.2000001)})
    assert verdict(found) == (
        "In equal space, with three phases, the serpentine and the hexagon give the most (EMF²/R 32.9 W at 100 rpm), "
        "and the most from equal copper too."
    )
    near = given(shapes, {("serpentine", 1): (0.3, 0.2), ("hexagon", 1): (0.298, 0.2), ("diamond", 1): (0.2, 0.2)})
    assert "the serpentine gives the most (EMF²/R 32.9 W at 100 rpm), 0.7 % more than the hexagon" in verdict(near)


def test_several_that_tie_lead_the_next_one(shapes):
    figures = {("hexagon", 1): (0.2991, 0.2), ("hexagon", 2): (0.3, 0.2), ("diamond", 1): (0.2, 0.2)}
    assert verdict(given(shapes, figures)) == (
        "In equal space, with three phases, the hexagon in two belts and the hexagon give the most (EMF²/R 32.9 W at "
        "100 rpm), 50 % more than the diamond, and the most from equal copper too, 50 % more than the diamond."
    )


def test_many_times_more_is_told_in_times(shapes):
    found = given(shapes, {("serpentine", 1): (0.3, 0.2), ("hexagon", 1): (0.3 / 27.02, 0.2)})
    assert "100 rpm), 27 times as much as the hexagon, and the most" in verdict(found)


def test_each_at_its_best_says_nothing_of_equal_copper(shapes):
    """Every shape was moved to where it gives most in the space; elsewhere it may give more for its copper."""
    figures = {("serpentine", 1): (0.3, 0.3), ("diamond", 1): (0.2, 0.1)}
    best = dataclasses.replace(given(shapes, figures), terms=OWN_BEST)
    assert verdict(best) == (
        "Each at its best, with three phases, the serpentine gives the most (EMF²/R 32.9 W at 100 rpm), 50 % more "
        "than the diamond; EMF²/R alone was searched for."
    )


def with_path(comparison, phases, power, mass):
    """Turn the lightest row into a path file of the user's own."""
    row = comparison.wound[-1]
    winding = dataclasses.replace(row.candidate.winding, shape="path", file="/my/coil.csv", phases=phases, belts=1)
    merits = dataclasses.replace(row.merits, power_w_s2_per_rad2=power, copper_mass_kg=mass)
    candidate = dataclasses.replace(row.candidate, name="coil.csv", winding=winding, own=True)
    return dataclasses.replace(
        comparison, rows=(*comparison.rows, dataclasses.replace(row, candidate=candidate, merits=merits))
    )


def test_a_path_of_ones_own_is_always_named(shapes):
    figures = {("serpentine", 1): (0.3, 0.3), ("diamond", 1): (0.2, 0.2), ("hexagon", 1): (0.1, 0.2)}
    other = verdict(with_path(given(shapes, figures), 1, 0.01, 0.001))
    assert other.endswith("; coil.csv (yours, one phase) gives 1.1 W.")
    assert "the serpentine gives the most" in other
    assert verdict(with_path(given(shapes, figures), 3, 0.01, 0.1)).endswith("; coil.csv (yours) gives 1.1 W.")
    wins = verdict(with_path(given(shapes, figures), 3, 0.6, 0.1))
    assert "coil.csv gives the most (EMF²/R 65.8 W at 100 rpm), 100 % more than the serpentine" in wins
    assert "(yours) gives" not in wins
    alone = dataclasses.replace(with_path(shapes, 1, 0.01, 0.1), rows=with_path(shapes, 1, 0.01, 0.1).rows[-1:])
    assert verdict(alone) == "Nothing can be laid here with three phases; coil.csv (yours, one phase) gives 1.1 W."


def test_titles_with_commas_stay_apart(beside):
    rows = [
        dataclasses.replace(row, candidate=dataclasses.replace(row.candidate, name=f"{row.candidate.name}, mine"))
        for row in beside.rows
    ]
    told = verdict(dataclasses.replace(beside, rows=tuple(rows)))
    assert told.startswith('As they stand "Quiet Halbach, mine" gives the most (')
    assert 'as much as "Plank ring, mine", and the most' in told
    assert joined(["Hut", "Plank ring"]) == "Hut, Plank ring"
    assert joined(["Hut, mine", "Plank ring"]) == "Hut, mine; Plank ring"


def test_of_equals_both_are_named(shapes):
    """Two belts and one belt of a single phase use their copper alike, up to rounding."""
    found = given(shapes, {("hexagon", 2): (0.2, 0.1), ("hexagon", 1): (0.1, 0.05 * (1 - 1e-13))})
    assert "the hexagon in two belts gives the most (" in verdict(found)
    assert verdict(found).endswith("; from equal copper the hexagon in two belts and the hexagon give the most.")


def test_a_lone_one_leads_nobody(shapes):
    found = given(shapes, {("serpentine", 1): (0.3, 0.2)})
    assert verdict(found) == (
        "In equal space, with three phases, the serpentine gives the most (EMF²/R 32.9 W at 100 rpm), and the most "
        "from equal copper too."
    )


def test_others_that_give_nothing(shapes):
    found = given(shapes, {("serpentine", 1): (0.3, 0.2), ("hexagon", 1): (0.0, 0.2)})
    assert "while the hexagon gives nothing" in verdict(found)
    none = given(shapes, {("serpentine", 1): (0.0, 0.2), ("hexagon", 1): (0.0, 0.2)})
    assert verdict(none) == "No winding here meets any field: there is nothing to compare."


def test_nothing_at_all(shapes):
    rows = tuple(NotWound(row.candidate, "too thick") for row in shapes.rows)
    assert verdict(dataclasses.replace(shapes, rows=rows)) == "Nothing can be laid here with three phases."


def test_no_word_for_or_against_a_shape_but_numbers(shapes, beside):
    for comparison in (shapes, beside):
        for word in ("good", "bad", "better", "worse", "efficient", "recommend", "should", "prefer"):
            assert word not in verdict(comparison).lower()


def test_designs_as_they_stand(beside):
    assert verdict(beside).startswith("As they stand Quiet Halbach gives the most (EMF²/R ")
    assert "times as much as Plank ring" in verdict(beside)
    assert terms(beside) == "Every design as it stands, in its own field."


def test_terms_name_the_space(shapes):
    assert terms(shapes) == (
        "Equal space: from 44 to 71 mm, 4 sheets of the same wire, their middle 2.09 mm above the lower magnets, as "
        "many rounds as fit."
    )
    odd = dataclasses.replace(shapes, space=dataclasses.replace(shapes.space, own_sheets=5))
    assert "4 sheets of the same wire (not 5 as in the design: flat and crossed lays" in terms(odd)
    assert "at most half a magnet's length beyond the magnets" in terms(dataclasses.replace(shapes, terms=OWN_BEST))


def test_the_columns_are_told_in_plain_words(shapes):
    text = columns_told(shapes)
    for said in ("four times the most that a load can take at 100 rpm", "between nothing and twice the mean"):
        assert said in text
    assert "Equal copper, 60.5 g each" in text
    nothing = dataclasses.replace(shapes, rows=())
    assert "Equal copper" not in columns_told(nothing)


@pytest.mark.parametrize(("speeds", "told"), [((150.0, 300.0), 150.0), ((), 300.0)])
def test_the_first_speed_asked_for_or_300(shapes, speeds, told):
    (design,) = shapes.designs
    asked = dataclasses.replace(design, load=dataclasses.replace(design.load, speeds_rpm=speeds))
    assert speed_of(dataclasses.replace(shapes, designs=(asked,))) == told
    unloaded = dataclasses.replace(design, load=None)
    assert speed_of(dataclasses.replace(shapes, designs=(unloaded,))) == 300


def test_the_designs_own_phases_come_first(shapes):
    phases = [row.candidate.winding.phases for row in ordered(shapes)]
    assert phases == [phases for phases in (3, 2, 1) for _ in LAYS]
    (design,) = shapes.designs
    single = dataclasses.replace(design, winding=dataclasses.replace(design.winding, phases=1))
    turned = dataclasses.replace(shapes, designs=(single,))
    assert [row.candidate.winding.phases for row in ordered(turned)] == [phases for phases in (1, 3, 2) for _ in LAYS]
    assert "with one phase," in verdict(turned)


def test_names(shapes, beside):
    by = {(r.candidate.name, r.candidate.winding.belts): r for r in shapes.wound if r.candidate.winding.phases == 3}
    assert label(by["diamond", 2].candidate) == "diamond, two belts"
    assert marked(by["serpentine", 1], shapes) == "serpentine (yours)"
    assert marked(by["diamond", 1], shapes) == "diamond"
    assert all("yours" not in marked(row, beside) for row in beside.rows)


def test_one_reason_is_told_once(shapes):
    few = [r for r in shapes.rows if r.candidate.name == "diamond" or r.candidate.winding.phases == 1]
    rows = [NotWound(r.candidate, "too thick" if r.candidate.name == "diamond" else "too wide") for r in few]
    told = reasons(dataclasses.replace(shapes, rows=tuple(rows)))
    assert len(told) == 2
    assert "Not laid: diamond (1, 2, 3-phase); diamond, two belts (1, 2, 3-phase): too thick." in told


def test_the_fixture_is_what_it_says(shapes, beside):
    assert beside.terms == AS_THEY_STAND
    assert all(isinstance(row, Wound) for row in (*shapes.rows, *beside.rows))
    assert shapes.designs[0] == read_design(example_path("plank-ring"))

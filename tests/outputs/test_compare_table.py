"""The table on the screen: a row for each winding under its headings, whatever the terms."""

import dataclasses

from fieldrun.outputs.compare_table import show_compare
from fieldrun.outputs.compare_told import verdict
from fieldrun.outputs.screen import WIDE
from fieldrun.studies.candidates import LAYS
from fieldrun.studies.compare import OWN_BEST
from fieldrun.studies.wound import NotWound


def shown(comparison, capsys, detail=0):
    show_compare(comparison, detail)
    return capsys.readouterr().out


def rows_of(text, heading="winding "):
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith(heading))
    return lines[start], [line for line in lines[start + 1 :] if line]


def test_sentence_first_then_a_row_for_each(shapes, capsys):
    text = shown(shapes, capsys)
    assert text.splitlines()[0] == "Plank ring"
    assert verdict(shapes) in " ".join(text.split())
    heading, rows = rows_of(text)
    assert heading.split("  ")[0] == "winding"
    assert len(rows) == 3 * len(LAYS)
    assert rows[0].startswith("serpentine (yours)       3 ")


def test_figures_are_the_merits(shapes, capsys):
    """Volts and watts at 100 rpm, 10.47198 rad/s; grams."""
    _, rows = rows_of(shown(shapes, capsys))
    own = next(row for row in shapes.wound if row.candidate.own)
    cells = rows[0].removeprefix("serpentine (yours)").split()
    speed = 10.471975511965978
    assert cells[0] == "3"
    expected = [
        own.merits.emf_v_s_per_rad * speed,
        own.merits.resistance_ohm,
        own.merits.conductor_length_m,
        1000 * own.merits.copper_mass_kg,
        own.merits.power_w_s2_per_rad2 * speed**2,
        own.merits.power_per_kg * speed**2,
    ]
    assert [f"{float(cell):.3g}" for cell in cells[1:7]] == [f"{value:.3g}" for value in expected]
    assert cells[7:] == ["53", "%", "0.94-1.04"]


def test_quiet_is_the_sentence_alone(shapes, capsys):
    assert " ".join(shown(shapes, capsys, -1).split()) == f"Plank ring {verdict(shapes)}"


def test_curious_ones_see_rounds(shapes, capsys):
    assert " rounds " not in rows_of(shown(shapes, capsys))[0]
    heading, rows = rows_of(shown(shapes, capsys, 1))
    assert " rounds " in heading
    assert rows[0].split()[3] == "56"


def test_what_cannot_be_laid_stands_below_with_its_reason(shapes, capsys):
    rows = [NotWound(r.candidate, "too thick") if r.candidate.name == "zigzag" else r for r in shapes.rows]
    text = shown(dataclasses.replace(shapes, rows=tuple(rows)), capsys)
    assert "Not laid: zigzag (1, 2, 3-phase); zigzag, two belts (1, 2, 3-phase): too thick." in " ".join(text.split())
    none = tuple(NotWound(r.candidate, "too thick") for r in shapes.rows)
    assert "winding  " not in shown(dataclasses.replace(shapes, rows=none), capsys)


def at_best(shapes):
    rows = [
        dataclasses.replace(
            row,
            before=dataclasses.replace(row.merits, power_w_s2_per_rad2=row.merits.power_w_s2_per_rad2 / 1.25),
            at_edge=("outer_radius_m", "straight_share"),
        )
        for row in shapes.rows
    ]
    return dataclasses.replace(shapes, rows=tuple(rows), terms=OWN_BEST)


def test_at_their_best_places_and_gains_are_told(shapes, capsys):
    text = shown(at_best(shapes), capsys)
    _, rows = rows_of(text, "at its best ")
    assert len(rows) == 3 * len(LAYS)
    first = next(row for row in rows if row.startswith("hexagon"))
    assert "44 to 71" in first
    assert "span 1.00, straight share 0.33" in first
    assert "+25 %" in first
    assert "outer radius, straight share" in first
    assert "span" not in next(row for row in rows if row.startswith("serpentine"))


def test_no_gain_is_told_over_nothing(shapes, capsys):
    best = at_best(shapes)
    nothing = dataclasses.replace(best.rows[0].merits, power_w_s2_per_rad2=0.0)
    rows = [dataclasses.replace(best.rows[0], before=before) for before in (None, nothing)]
    _, lines = rows_of(shown(dataclasses.replace(best, rows=tuple(rows)), capsys), "at its best ")
    assert all("%" not in line for line in lines)


def test_designs_side_by_side(beside, capsys):
    text = shown(beside, capsys)
    assert text.splitlines()[0] == "Plank ring, Quiet Halbach"
    assert [row.split("  ")[0] for row in rows_of(text)[1]] == ["Quiet Halbach", "Plank ring"]


def test_nothing_is_wider_than_the_house_allows_or_steers_the_terminal(shapes, beside, capsys):
    design = dataclasses.replace(shapes.designs[0], title="Plank\x1b[31m")
    for comparison in (dataclasses.replace(shapes, designs=(design,)), at_best(shapes), beside):
        text = shown(comparison, capsys, 1)
        assert "\x1b" not in text
        assert max(map(len, text.splitlines())) <= WIDE

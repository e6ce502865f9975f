"""Windings side by side: one field for all, a reason for each that cannot be laid, paths like any other shape."""

import dataclasses

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import example_path
from fieldrun.field.solve import field_of
from fieldrun.generator.machine import read_design, run
from fieldrun.studies import best_winding, candidates, compare
from fieldrun.studies.candidates import LAYS
from fieldrun.studies.compare import (
    AS_THEY_STAND,
    EQUAL_SPACE,
    OWN_BEST,
    NotWound,
    Wound,
    compare_designs,
    compare_windings,
    steps,
)
from fieldrun.studies.wound import equal_copper_wire
from fieldrun.winding.lay import lay
from fieldrun.winding.path_file import write_paths


@pytest.fixture(scope="module")
def plank():
    return read_design(example_path("plank-ring"))


@pytest.fixture(scope="module")
def shapes(plank):
    return compare_windings(plank)


def row(comparison, name, phases=3, belts=1):
    (found,) = [
        r
        for r in comparison.rows
        if (r.candidate.name, r.candidate.winding.phases, r.candidate.winding.belts) == (name, phases, belts)
    ]
    return found


@pytest.fixture
def solved(monkeypatch):
    """Count the fields that are solved."""
    seen = []

    def counting(magnets, rotor):
        seen.append((magnets, rotor))
        return field_of(magnets, rotor)

    monkeypatch.setattr(compare, "field_of", counting)
    return seen


def test_one_field_serves_all(plank, solved):
    told = []
    found = compare_windings(plank, tell=told.append)
    assert len(solved) == len(told) == steps(best=False) == 1
    assert len(found.wound) == 3 * len(LAYS)
    assert found.not_wound == ()
    assert (found.terms, found.name, found.remarks) == (EQUAL_SPACE, "plank-ring", ())


def test_the_own_row_is_what_run_says(shapes, bundled):
    """The plank ring's serpentine fills its belts: the same volts, ohms and grams as the main command's."""
    result, own = bundled("plank-ring"), row(shapes, "serpentine")
    assert own.candidate.own
    assert own.merits.emf_v_s_per_rad == pytest.approx(result.emf.rms[0], rel=1e-12)
    assert own.merits.resistance_ohm == pytest.approx(result.impedance.resistance_hot_ohm, rel=1e-12)
    assert own.merits.copper_mass_kg == pytest.approx(result.impedance.copper_mass_kg, rel=1e-12)
    assert shapes.design_hash == result.design_hash


def test_any_other_row_is_what_run_says_of_that_design(shapes, design_file):
    changes = {"winding.shape": "diamond", "winding.layers": 2, "winding.belts": 2, "winding.phases": 2}
    result, found = run(read_design(design_file("plank-ring", changes))), row(shapes, "diamond", 2, 2)
    assert found.merits.emf_v_s_per_rad == pytest.approx(result.emf.rms[0], rel=1e-12)
    assert found.merits.conductor_length_m == pytest.approx(result.impedance.conductor_length_m, rel=1e-12)


def test_those_that_give_most_come_first(shapes):
    power = [r.merits.power_w_s2_per_rad2 for r in shapes.wound]
    assert power == sorted(power, reverse=True)


def test_equal_copper_is_the_lightest_ones(shapes, plank):
    """Of the windings that are drawn: with as many phases as the design's own."""
    lightest = min(r.merits.copper_mass_kg for r in shapes.wound if r.candidate.winding.phases == 3)
    assert shapes.least_copper_kg == lightest
    found = row(shapes, "serpentine")
    wire = equal_copper_wire(found, lightest)
    share = (wire.strand_diameter_m / plank.wire.strand_diameter_m) ** 2
    assert share == pytest.approx(lightest / found.merits.copper_mass_kg)
    assert wire.overall_diameter_m < plank.wire.overall_diameter_m


def test_a_shape_that_cannot_be_laid_is_a_row_with_its_reason(design_file):
    """Arcs at the magnets are a bundle thicker than the gap; diamonds have none."""
    found = compare_windings(read_design(design_file("hut-charger", {"winding.inner_radius_mm": 58})))
    refused = row(found, "serpentine")
    assert isinstance(refused, NotWound)
    assert refused.reason.startswith("the end arcs on 58 mm lie at the magnets")
    assert isinstance(row(found, "diamond"), Wound)
    assert len(found.wound) + len(found.not_wound) == 3 * len(LAYS)


def test_chords_round_few_poles_are_rows_too(design_file):
    changes = {"magnets.count": 4, "winding.inner_radius_mm": 40, "winding.shape": "serpentine", "winding.layers": 2}
    found = compare_windings(read_design(design_file("hut-charger", changes)))
    assert "runs inside its own inner end" in row(found, "zigzag").reason
    assert isinstance(row(found, "serpentine"), Wound)


def test_a_crossed_lay_needs_two_sheets(design_file):
    found = compare_windings(read_design(design_file("plank-ring", {"winding.layers": 1})))
    assert {r.candidate.winding.shape for r in found.not_wound} == {"zigzag", "diamond", "hexagon"}
    assert {r.reason for r in found.not_wound} == {"takes two sheets of wire, and there is room for one"}


@pytest.fixture
def few(monkeypatch):
    """One shape only beside the paths: quicker."""
    monkeypatch.setattr(candidates, "LAYS", (("serpentine", 1),))


@pytest.fixture
def path(tmp_path, plank, few):
    """The plank ring's own serpentine as a file, all three phases in it."""
    file = tmp_path / "mine.csv"
    write_paths(file, lay(plank.winding, 6, plank.wire).pieces)
    return file


def test_a_path_stands_beside_the_shapes(plank, path, shapes):
    found = compare_windings(plank, (path,))
    assert len(found.rows) == 4  # it has three phases, and is not asked about one and two
    own, shape = row(found, "mine.csv"), row(found, "serpentine")
    for figure in ("emf_v_s_per_rad", "resistance_ohm", "copper_mass_kg", "power_w_s2_per_rad2", "end_copper_share"):
        assert getattr(own.merits, figure) == pytest.approx(getattr(shape.merits, figure), rel=1e-9)
    assert found.design_hash != shapes.design_hash


def test_a_path_without_phases_is_turned_for_all(plank, path):
    rows = [line.split(",") for line in path.read_text().splitlines()]
    kept = [line[:1] + line[2:] for line in rows if line[1] in {"phase", "1"}]
    path.write_text("\n".join(",".join(line) for line in kept) + "\n")
    found = compare_windings(plank, (path,))
    assert [r.candidate.winding.phases for r in found.rows if r.candidate.name == "mine.csv"] == [1, 2, 3]


def one_loop(path):
    """Leave the first loop of the path only: its one phase."""
    head, *lines = path.read_text().splitlines()
    path.write_text("\n".join([head, *(line for line in lines if line.split(",")[:2] == ["1", "1"])]) + "\n")


def test_a_path_of_other_phases_is_the_users_own_and_no_measure_of_copper(plank, path):
    one_loop(path)
    found = compare_windings(plank, (path,))
    own = row(found, "mine.csv", 1)
    assert own.candidate.own
    assert own in found.shown_first
    assert [r.candidate.winding.phases for r in found.shown_first if r is not own] == [3]
    assert own.merits.copper_mass_kg < found.least_copper_kg / 10
    assert found.least_copper_kg == row(found, "serpentine").merits.copper_mass_kg


def test_where_paths_are_all_that_is_drawn_the_lightest_is_the_measure(plank, path):
    found = compare_windings(plank, (path,))
    own = row(found, "mine.csv")
    alone = dataclasses.replace(found, rows=(own,))
    assert alone.least_copper_kg == own.merits.copper_mass_kg


def test_a_path_in_the_magnets_is_a_row_with_its_reason(plank, path):
    lines = path.read_text().splitlines()
    low = [",".join([*line.split(",")[:4], "0.1", line.split(",")[5]]) for line in lines[1:]]
    path.write_text("\n".join([lines[0], *low]) + "\n")
    assert "the lower magnets' face is at 0" in row(compare_windings(plank, (path,)), "mine.csv").reason


def test_a_path_that_cancels_itself_is_told(plank, path):
    """Every loop wound twice, the second time backwards."""
    pieces = lay(plank.winding, 6, plank.wire).pieces
    both = dataclasses.replace(
        pieces,
        kind=[*pieces.kind, *pieces.kind[::-1]],
        start=[*pieces.start, *pieces.end[::-1]],
        end=[*pieces.end, *pieces.start[::-1]],
        phase=[*pieces.phase, *pieces.phase[::-1]],
        loop=[*pieces.loop, *(2 * pieces.loop.max() + 1 - pieces.loop[::-1])],
    )
    write_paths(path, both)
    (remark,) = compare_windings(plank, (path,)).remarks
    assert remark.startswith("mine.csv: this winding uses nothing of what its wire could give")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (None, "there is no such file"),
        ("loop,phase,r_mm,theta_deg,z_mm,edge\n1,1,50,0,2,lines\n", "mine.csv:2: edge: must be"),
        ("step,end,notch\n1,in,1\n", "--path: mine.csv: missing; the file is a list of notches"),
    ],
)
def test_a_bad_path_file_is_refused_before_any_field(plank, path, solved, text, told):
    path.unlink()
    if text:
        path.write_text(text)
    with pytest.raises(DesignError) as caught:
        compare_windings(plank, (path,))
    assert told in "\n".join(map(str, caught.value.faults))
    assert solved == []


def test_several_designs_stand_as_they_are(design_file, solved, plank):
    thin = read_design(design_file("plank-ring", {"wire.copper_mm": 0.4, "winding.parallel": 2}, "thin"))
    told = []
    found = compare_designs((plank, thin), told.append)
    assert (found.terms, found.space, found.name) == (AS_THEY_STAND, None, "plank-ring, thin")
    assert len(solved) == 1  # the same magnets and rotor
    assert told == ["Plank ring", "Plank ring"]
    assert {r.candidate.name for r in found.rows} == {"Plank ring (plank-ring)", "Plank ring (thin)"}
    result = run(thin)
    assert found.rows[1].merits.emf_v_s_per_rad == pytest.approx(result.emf.rms[0], rel=1e-12)
    assert found.rows[1].merits.resistance_ohm == pytest.approx(result.impedance.resistance_hot_ohm, rel=1e-12)


def test_one_design_twice_has_two_names(plank):
    found = compare_designs((plank, plank))
    assert [r.candidate.name for r in found.rows] == [
        "Plank ring (plank-ring, design 1)",
        "Plank ring (plank-ring, design 2)",
    ]


def test_designs_have_a_field_each(solved, plank):
    found = compare_designs((plank, read_design(example_path("quiet-halbach"))))
    assert len(solved) == 2
    assert [r.candidate.name for r in found.rows] == ["Plank ring", "Quiet Halbach"]


@pytest.mark.slow
def test_each_at_its_best_is_never_worse(plank, shapes, monkeypatch, solved):
    for name, number in (("TRIALS", 40), ("POLISH", 30), ("NUDGES", 3)):
        monkeypatch.setattr(best_winding, name, number)
    told = []
    found = compare_windings(plank, best=True, tell=told.append)
    assert found.terms == OWN_BEST
    assert len(told) == steps(best=True) == 10
    assert len(solved) == 1
    for better in found.wound:
        winding = better.candidate.winding
        before = row(shapes, better.candidate.name, winding.phases, winding.belts).merits
        assert better.before == before
        assert better.merits.power_w_s2_per_rad2 >= before.power_w_s2_per_rad2
    assert (
        row(found, "zigzag", 3, 2).merits.power_w_s2_per_rad2
        > 1.5 * row(found, "zigzag", 3, 2).before.power_w_s2_per_rad2
    )


@pytest.mark.slow
def test_the_best_place_may_be_one_where_the_shape_can_be_laid(design_file, monkeypatch, few):
    for name, number in (("TRIALS", 40), ("POLISH", 30), ("NUDGES", 3)):
        monkeypatch.setattr(best_winding, name, number)
    design = read_design(design_file("hut-charger", {"winding.inner_radius_mm": 58}))
    found = row(compare_windings(design, best=True), "serpentine")
    assert isinstance(found, Wound)
    assert found.lay.inner_radius_m < 0.0561
    assert found.before is None

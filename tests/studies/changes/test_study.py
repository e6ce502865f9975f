"""What changes promise is what a run of the changed design file gives; laws of single changes; why some cannot be.

A run is its chain, link by link (`tests/generator/test_chain.py`): the chain is asked for no more than is compared.
"""

import dataclasses
import tomllib
from functools import partial

import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.units import RPM
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import read_design
from fieldrun.studies.changes.figures import figures_now, figures_of
from fieldrun.studies.changes.generator import changed_generator, generator_of, scaled
from fieldrun.studies.changes.proposals import next_grade, proposals
from fieldrun.studies.changes.rounds_for import rounds_for, unloaded_rad_s
from fieldrun.studies.changes.study import WORTH_IT, best_of, changes, steps_needed
from fieldrun.studies.changes.study import tried as tried_out

TABLE = 2e-5
"""A change is computed at 24 speeds where a run takes 60: a year's energy differs by some 1e-6, measured."""


def opened(path):
    return partial(read_design, path)


@pytest.fixture(scope="module")
def hut(bundled):
    return bundled("hut-charger")


@pytest.fixture(scope="module")
def tried(hut):
    return changes(hut, opened(example_path("hut-charger")))


@pytest.fixture(scope="module")
def halbach(bundled):
    return bundled("quiet-halbach")


@pytest.fixture(scope="module")
def told_halbach(halbach):
    """The changes of the Halbach machine, and the steps that were told of on the way."""
    said = []
    return changes(halbach, opened(example_path("quiet-halbach")), tell=said.append), said


@pytest.fixture(scope="module")
def tried_halbach(told_halbach):
    return told_halbach[0]


def named(told, name):
    return next(row for row in told.rows if row.name == name)


def check_promise(path, keys, figures):
    """Run the design with these keys and find what was promised; the cut-in and the charging speed to rounding."""
    found = Chain(read_design(path, dict(keys)))
    assert found.charging_starts_rad_s / RPM == pytest.approx(figures.charging_rpm, rel=1e-9)
    assert found.impedance.copper_mass_kg == pytest.approx(figures.copper_kg, rel=1e-9)
    assert found.lay.rounds_per_phase == figures.rounds
    if found.wind is None:
        assert found.delivery.points[-1].dc_power_w == pytest.approx(figures.top_w, rel=1e-9)
        return
    assert found.wind.fed.cut_in_m_s == pytest.approx(figures.cut_in_m_s, rel=1e-9)
    assert found.wind.fed.energy.annual_kwh == pytest.approx(figures.annual_kwh, rel=TABLE)


@pytest.mark.parametrize(
    "name", ["connect-delta", "more-parallel", "gap-narrower", "more-rounds", "thicker-wire", "stronger-magnets"]
)
def test_the_changed_file_gives_what_was_promised(tried, name):
    row = named(tried, name)
    check_promise(example_path("hut-charger"), row.keys, row.figures)


@pytest.mark.parametrize("name", ["connect-separate", "more-strands-in-series", "thinner-wire", "steel-behind"])
def test_so_it_does_without_a_rotor(tried_halbach, name):
    row = named(tried_halbach, name)
    check_promise(example_path("quiet-halbach"), row.keys, row.figures)


def test_what_stands_is_as_the_run_found_it(tried, hut):
    assert tried.before == figures_now(hut)
    assert tried.before.annual_kwh == hut.wind.fed.energy.annual_kwh
    assert tried.before.cut_in_m_s == hut.wind.fed.cut_in_m_s
    again = figures_of(generator_of(hut))
    assert again.annual_kwh == pytest.approx(tried.before.annual_kwh, rel=TABLE)
    assert again.cut_in_m_s == pytest.approx(tried.before.cut_in_m_s, rel=1e-9)


def test_every_key_of_a_change_is_one_of_the_file(tried, tried_halbach):
    """A change that cannot be built is refused for its sizes, never for a key or a value that nobody knows."""
    for told in (tried, tried_halbach):
        for row in told.rows:
            assert row.keys
            assert (row.figures is None) == bool(row.reason)
            assert "unknown" not in row.reason
            assert "must be one of" not in row.reason


def test_scaling_is_exact(halbach):
    """So many times more strands in series, k: EMF k, ohms and henries k^2; a run of the changed file says the same."""
    found = Chain(read_design(example_path("quiet-halbach"), {"wire.strands_in_series": 5}))
    five = scaled(generator_of(halbach).circuit, 5.0, star=True)
    assert five.emf.amplitudes == pytest.approx(found.emf.amplitudes, rel=1e-9, abs=1e-15)
    assert five.emf.line_rms == pytest.approx(found.emf.line_rms, rel=1e-9)
    assert five.copper.resistance_hot_ohm == pytest.approx(found.impedance.resistance_hot_ohm, rel=1e-9)
    assert five.inductance.matrix_h == pytest.approx(found.inductance.matrix_h, rel=1e-9)
    changed = changed_generator(found.design, generator_of(halbach))
    assert changed.field is halbach.field
    assert changed.losses.idle_w_s2 == pytest.approx(found.losses.idle_w_s2, rel=1e-9)


@pytest.mark.parametrize(
    "keys",
    [
        {"winding.rounds": 40},
        {"magnets.grade": "N45"},
        {"winding.connection": "delta"},
        {"winding.parallel": 4},
    ],
)
def test_a_changed_generator_is_that_of_a_run(hut, keys):
    design = read_design(example_path("hut-charger"), keys)
    changed, found = changed_generator(design, generator_of(hut)), Chain(design)
    assert changed.circuit.emf.amplitudes == pytest.approx(found.emf.amplitudes, rel=1e-9, abs=1e-15)
    assert changed.circuit.emf.line_rms == pytest.approx(found.emf.line_rms, rel=1e-9)
    assert changed.circuit.copper.resistance_hot_ohm == pytest.approx(found.impedance.resistance_hot_ohm, rel=1e-9)
    assert changed.circuit.inductance.matrix_h == pytest.approx(found.inductance.matrix_h, rel=1e-9)
    assert changed.losses.eddy_w_s2 == pytest.approx(found.losses.eddy_w_s2, rel=1e-9)
    assert changed.losses.groups == found.losses.groups


def test_laws_of_the_wind(tried):
    """Stronger fields and more rounds start earlier; fewer rounds, delta and separate bridges later."""
    now = tried.before.cut_in_m_s
    for name in ("gap-narrower", "more-rounds", "thinner-wire", "stronger-magnets", "thicker-magnets"):
        assert named(tried, name).figures.cut_in_m_s < now
    for name in ("fewer-rounds", "thicker-wire", "connect-delta", "connect-separate"):
        assert named(tried, name).figures.cut_in_m_s > now
    # delta: the charging speed is the star's times the square root of three, for sines
    delta = named(tried, "connect-delta").figures.charging_rpm
    assert delta == pytest.approx(3**0.5 * tried.before.charging_rpm, rel=2e-3)


def test_a_smaller_gap_starts_earlier_step_by_step(hut):
    read = opened(example_path("hut-charger"))
    base = generator_of(hut)
    starts = [
        figures_of(changed_generator(read({"rotor.gap_mm": gap}), base)).cut_in_m_s for gap in (7.5, 8.5, 9.5, 11.0)
    ]
    assert starts == sorted(starts)
    assert starts[0] < hut.wind.fed.cut_in_m_s < starts[1]


def test_the_best_is_best_by_its_own_rule(tried):
    gains = {row.name: (row.figures.yields - tried.before.yields) / row.effort for row in tried.rows if row.figures}
    assert tried.best.name == max(gains, key=gains.get)
    assert tried.best.figures.yields > (1 + WORTH_IT) * tried.before.yields
    worse = [row for row in tried.rows if row.figures and row.figures.yields < tried.before.yields]
    assert worse  # changes that lose energy are in the table too
    assert best_of(worse, tried.before) is None


def test_what_overheats_the_winding_more_than_the_drawn_design_is_never_the_best(tried, hut, tried_halbach, halbach):
    """The ratio is that of the warning of current: amperes in the worst wind over what it stands in moving air."""
    worst = hut.wind.fed.curve.phase_rms_a.max() / hut.heat.moving.current_a
    assert tried.before.heat == pytest.approx(worst, rel=1e-12)
    top = halbach.delivery.phase_rms_a[-1] / halbach.heat.moving.current_a
    assert tried_halbach.before.heat == pytest.approx(top, rel=1e-9)  # without wind, at the highest asked speed
    before = tried.before
    gaining = dataclasses.replace(tried.best, figures=dataclasses.replace(before, annual_kwh=2 * before.annual_kwh))

    def best(now, heat):
        row = dataclasses.replace(gaining, figures=dataclasses.replace(gaining.figures, heat=heat))
        return best_of([row, tried.best], dataclasses.replace(before, heat=now)) is row

    assert best(before.heat, before.heat * 1.01)
    assert not best(before.heat, before.heat * 1.1)
    assert best(0.3, 0.99)  # hotter, and still below what it stands
    assert not best(0.3, 1.1)


@pytest.mark.parametrize("name", ["more-rounds", "connect-separate"])
def test_the_changed_file_runs_as_hot_as_was_promised(tried, name):
    row = named(tried, name)
    found = Chain(read_design(example_path("hut-charger"), dict(row.keys)))
    worst = found.wind.fed.curve.phase_rms_a.max() / found.heat.moving.current_a
    assert row.figures.heat == pytest.approx(worst, rel=1e-4)


def reasons(path, *names):
    """Why these changes of a design cannot be built."""
    result = Chain(read_design(path))
    every = {proposal.name: proposal for proposal in proposals(result)}
    return [tried_out(every[name], generator_of(result), opened(path)).reason for name in names]


def test_why_some_cannot_be(design_file):
    path = design_file("hut-charger", {"magnets.grade": "N52", "wire.copper_mm": 5, "rotor.gap_mm": 60})
    told = reasons(path, "stronger-magnets", "thicker-wire")
    assert told == ["N52 is the strongest of its kind", "thicker wire is in no table"]
    tight = design_file(
        "plank-ring", {"rotor.return_plate": "mild steel", "rotor.return_plate_mm": 6, "rotor.gap_mm": "stack"}
    )
    (reason,) = reasons(tight, "gap-narrower")
    assert reason == "as narrow already as winding and clearances allow"


@pytest.mark.slow
def test_steel_below_its_knee_needs_no_more_of_it(hut, tried, design_file):
    """What is said without a try is held to one: 2 mm more bring less than a ten-thousandth."""
    row = named(tried, "thicker-steel")
    peak = max(disc.peak_t for disc in hut.field.rings.steel)
    assert row.reason == f"it would do nothing: the steel carries {peak:.3g} T at most, below its knee"
    design = read_design(example_path("hut-charger"), dict(row.keys))
    figures = figures_of(changed_generator(design, generator_of(hut)))
    assert figures.annual_kwh == pytest.approx(tried.before.annual_kwh, rel=1e-4)
    thin = design_file("hut-charger", {"rotor.backing_mm": 2})
    assert reasons(thin, "thicker-steel") == [""]


def test_layers_are_joined_in_parallel_in_equal_groups(design_file, hut):
    def groups(result):
        keys = {p.name: dict(p.ways[0]) for p in proposals(result)}
        return {name: keys[name]["winding.parallel"] for name in keys if name.endswith("-parallel")}

    assert groups(hut) == {"more-parallel": 2, "layers-parallel": 4}
    six = {"winding.layers": 6, "winding.rounds": 18, "rotor.gap_mm": "stack"}
    path = design_file("hut-charger", {**six, "winding.parallel": 2})
    assert groups(Chain(read_design(path))) == {"more-parallel": 3, "layers-parallel": 6, "fewer-parallel": 1}
    path = design_file("hut-charger", {**six, "winding.parallel": 3})
    assert groups(Chain(read_design(path))) == {"more-parallel": 6, "fewer-parallel": 1}


@pytest.mark.slow
def test_a_winding_of_far_too_many_rounds_is_told_to_join_its_layers(design_file):
    """A quarter of the battery's voltage asks for a quarter of the volts: four layers side by side, and no new wire."""
    path = design_file("hut-charger", {"load.voltage_v": 2.1, "load.diode_drop_v": 0.1, "wind.furl_m_s": 4})
    told = changes(Chain(read_design(path)), opened(path))
    assert told.best.name == "layers-parallel"
    assert told.best.figures.heat < 1
    assert told.best.figures.annual_kwh > 2 * told.before.annual_kwh
    assert told.best.figures.copper_kg == told.before.copper_kg


def test_a_gain_that_would_burn_the_winding_is_not_advised(design_file):
    """The same in stronger winds: all layers in parallel bring most, at more amperes than the winding stands."""
    path = design_file("hut-charger", {"load.voltage_v": 2.1, "load.diode_drop_v": 0.1, "wind.furl_m_s": 6})
    result = Chain(read_design(path))
    every = {proposal.name: proposal for proposal in proposals(result)}
    names = ("more-parallel", "layers-parallel")
    two, four = (tried_out(every[name], generator_of(result), opened(path)) for name in names)
    assert four.figures.yields > 2 * two.figures.yields
    assert four.figures.heat > 1 > two.figures.heat
    assert best_of([two, four], figures_now(result)) is two


def test_no_load_no_advice(design_file):
    path = design_file("plank-ring", {"load": None})
    assert changes(Chain(read_design(path)), opened(path)) is None


def test_each_step_is_told(halbach, told_halbach):
    _, said = told_halbach
    assert len(said) == steps_needed(halbach)
    assert said[:-1] == [proposal.name for proposal in proposals(halbach)]


def test_next_grades():
    assert next_grade("N42") == "N45"
    assert next_grade("N42SH") == "N45SH"
    assert next_grade("N52") is None


# --- rounds for a wanted wind -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("wanted", [1.9, 2.5])
def test_the_promised_wind_is_reached_and_one_round_less_is_too_late(hut, wanted):
    path = example_path("hut-charger")
    found = rounds_for(hut, opened(path), wanted)
    check_promise(path, found.keys, found.figures)
    assert found.figures.cut_in_m_s <= wanted
    less = dict(found.keys) | {"winding.rounds": found.figures.rounds - 4}
    assert Chain(read_design(path, less)).wind.fed.cut_in_m_s > wanted


def test_an_earlier_start_costs_energy_and_says_so(tried):
    assert tried.wish.figures.cut_in_m_s <= tried.wish.cut_in_m_s < tried.before.cut_in_m_s
    assert tried.wish.figures.annual_kwh < tried.before.annual_kwh
    assert tried.wish.figures.rounds > tried.before.rounds


def test_the_speed_without_load_is_the_one_at_cut_in(hut):
    """At the wind of cut-in no current flows yet: the speed there is that of the start of charging."""
    assert unloaded_rad_s(hut, hut.wind.fed.cut_in_m_s) == pytest.approx(hut.charging_starts_rad_s, rel=1e-4)


def test_what_rounds_cannot_do(hut, halbach):
    read = opened(example_path("hut-charger"))
    assert rounds_for(hut, read, 1.0).reason == "the rotor itself starts to turn in 1.71 m/s only"
    assert rounds_for(hut, read, 9.0).reason == "the rotor faces no wind beyond 8 m/s"
    assert rounds_for(halbach, read, 3.0).reason.startswith("only a battery on a wind rotor")
    stiff = dataclasses.replace(hut, charging_starts_rad_s=None)
    assert rounds_for(stiff, read, 2.0).reason == "the winding gives no voltage"
    far = dataclasses.replace(hut, charging_starts_rad_s=100 * hut.charging_starts_rad_s)
    reason = rounds_for(far, read, 2.0).reason
    assert reason.startswith("it would take ")
    assert reason.endswith("rounds per phase, and no wire near this size finds room for them")


def test_examples_are_left_as_they_are():
    assert "rounds" in tomllib.loads(example_path("hut-charger").read_text())["winding"]


@pytest.mark.parametrize("keys", [{}, {"winding.resin_mm": 0.4}])
def test_a_gap_that_is_the_stack_itself_is_told_so_and_a_wider_one_is_narrowed(hut, keys):
    read = opened(example_path("hut-charger"))

    def narrower(gap):
        design = read({**keys, "rotor.gap_mm": gap})
        varied = dataclasses.replace(hut, design=design)
        return design.rotor.gap_m, next(p for p in proposals(varied) if p.name == "gap-narrower").hopeless

    stack_m, reason = narrower("stack")
    assert reason == "as narrow already as winding and clearances allow"
    assert narrower(1000 * stack_m + 0.01)[1] == ""

"""The search for a shape's best: what it counts is what merits count, and nothing near is better."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.shapes import SHAPE_NUMBERS
from fieldrun.field.field_map import uniform_map
from fieldrun.field.solve import field_of
from fieldrun.generator.emf import fundamental_only
from fieldrun.generator.machine import read_design
from fieldrun.studies import best_winding as search
from fieldrun.studies.best_winding import best_winding, whole_rounds, worth
from fieldrun.studies.candidates import candidates, space_of
from fieldrun.studies.merits import merits
from fieldrun.winding.lay import lay

FINE_MM = 0.12
"""Wire so thin that whole rounds hardly show."""


@pytest.fixture(scope="module")
def hut():
    return read_design(example_path("hut-charger"))


@pytest.fixture(scope="module")
def field_map(hut):
    return field_of(hut.magnets, hut.rotor)


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(search, "TRIALS", 60)
    monkeypatch.setattr(search, "POLISH", 40)


def asked(design, shape, phases=3, belts=1):
    space = space_of(design, lay(design.winding, design.magnets.pole_pairs, design.wire))
    return next(
        c.winding
        for c in candidates(design, space)
        if (c.winding.shape, c.winding.phases, c.winding.belts) == (shape, phases, belts)
    )


def test_worth_is_power_up_to_a_factor(design_file, field_map):
    """Over shapes, radii, angles, belts and phases, in thin wire: only tips and harmonics differ."""
    design = read_design(design_file("hut-charger", {"wire.copper_mm": FINE_MM, "winding.layers": 1}))
    first, ratios = fundamental_only(field_map), []
    cases = [("zigzag", 3, 2), ("zigzag", 1, 1), ("diamond", 3, 1), ("hexagon", 2, 2), ("serpentine", 3, 1)]
    for (shape, phases, belts), (inner, outer) in itertools.product(cases, [(50e-3, 80e-3), (54e-3, 84e-3)]):
        winding = replace(
            asked(design, shape, phases, belts), inner_radius_m=inner, outer_radius_m=outer, span=0.9, skew=0.2
        )
        laid = lay(winding, 8, design.wire)
        per_layer = laid.sheets / winding.layers  # a crossed layer has two sheets: as thick as two flat ones
        power = merits(field_map, laid, winding, design.wire).power_w_s2_per_rad2 / winding.layers
        ratios.append(power / worth(design, winding, first, whole=True))
        assert per_layer == (1 if shape == "serpentine" else 2)
    assert np.ptp(ratios) < 0.02 * np.mean(ratios)


def test_parts_of_a_round_smooth_the_stairs(hut, field_map):
    first, winding = fundamental_only(field_map), asked(hut, "zigzag")
    radii = np.linspace(0.050, 0.056, 60)
    places = [replace(winding, inner_radius_m=float(radius)) for radius in radii]
    smooth, stairs = (np.array([worth(hut, place, first, whole=whole) for place in places]) for whole in (False, True))
    step = np.abs(np.diff(np.log(stairs))).max()
    assert step > 0.02
    assert np.abs(np.diff(np.log(smooth), 2)).max() < 0.01 * step


def test_what_cannot_be_laid_is_worth_nothing(hut, field_map):
    first = fundamental_only(field_map)
    bundled = replace(asked(hut, "serpentine"), inner_radius_m=0.060)
    assert worth(hut, bundled, first) == 0  # its arcs lie at the magnets, thicker than the gap
    four = replace(hut, magnets=replace(hut.magnets, count=4))
    assert worth(four, asked(hut, "zigzag"), first) == 0  # chords that pass their foot
    thick = replace(hut, wire=replace(hut.wire, overall_diameter_m=0.03))
    assert worth(thick, asked(hut, "zigzag"), first) == 0  # not one round


@pytest.mark.slow
@pytest.mark.parametrize("shape", ["serpentine", "diamond"])
def test_nothing_on_a_grid_is_better(hut, field_map, shape):
    stated, first = asked(hut, shape), fundamental_only(field_map)
    found = best_winding(hut, stated, field_map)
    radii = itertools.product(np.linspace(0.046, 0.062, 12), np.linspace(0.070, 0.086, 12))
    spans = [1.0] if shape == "serpentine" else [0.7, 0.85, 1.0]
    grid = max(
        worth(hut, replace(stated, inner_radius_m=float(a), outer_radius_m=float(b), span=span), first)
        for (a, b), span in itertools.product(radii, spans)
    )
    assert worth(hut, found.winding, first) >= 0.999 * grid


def test_the_best_may_lie_at_the_edge_and_says_so(hut, field_map, quick):
    """A diamond wants to be long: straighter at the magnets, its tips far away."""
    found = best_winding(hut, asked(hut, "diamond"), field_map)
    assert "outer_radius_m" in found.at_edge
    assert found.winding.outer_radius_m == pytest.approx(0.076 + 0.5 * 0.020, abs=1e-4)
    assert worth(hut, found.winding, fundamental_only(field_map)) > 1.1 * worth(
        hut, asked(hut, "diamond"), fundamental_only(field_map)
    )


def test_a_rhomboid_stands_up(hut, field_map, quick):
    """Skew only lengthens it and brings its legs closer together: without any it has the serpentine's EMF."""
    found = best_winding(hut, asked(hut, "rhomboid"), field_map)
    assert found.winding.skew < 0.05


def test_it_keeps_what_it_may_not_change_and_is_repeatable(hut, field_map, quick):
    stated = asked(hut, "hexagon", 2, 2)
    found = best_winding(hut, stated, field_map)
    moved = ("inner_radius_m", "outer_radius_m", "span", "straight_share")
    assert replace(found.winding, **{key: getattr(stated, key) for key in moved}) == stated
    assert best_winding(hut, stated, field_map) == found


def test_every_number_of_a_shape_has_its_bounds():
    assert set(search.ANGLES) == set(SHAPE_NUMBERS)


def test_no_field_no_best(hut, quick):
    nothing = uniform_map(8, [0.0], (0.03, 0.1), 0.008)
    assert best_winding(hut, asked(hut, "zigzag"), nothing) is None


def test_whole_rounds_never_lose(hut, field_map):
    first, winding = fundamental_only(field_map), asked(hut, "diamond")
    moved = whole_rounds(hut, winding, field_map)
    assert worth(hut, moved, first, whole=True) >= worth(hut, winding, first, whole=True)
    assert math.isclose(moved.inner_radius_m, winding.inner_radius_m, rel_tol=search.NUDGE + 1e-9)
    assert replace(moved, inner_radius_m=winding.inner_radius_m) == winding

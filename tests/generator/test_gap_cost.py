"""What a millimetre of gap costs: against whole runs at other gaps, and against a field that one can write down."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.field.solve import field_of
from fieldrun.generator.emf import emf_per_speed
from fieldrun.generator.gap_cost import emf_change_per_gap_m
from fieldrun.winding.lay import lay


def fundamental(design, gap_m, height_m):
    winding = replace(design.winding, height_m=height_m)
    field_map = field_of(design.magnets, replace(design.rotor, gap_m=gap_m))
    laid = lay(winding, design.magnets.pole_pairs, design.wire)
    return float(np.abs(emf_per_speed(field_map, laid, winding, design.wire).amplitudes[0, 0]))


@pytest.mark.parametrize("name", ["hut-charger", "quiet-halbach"])
def test_against_whole_answers_at_a_wider_and_a_narrower_gap(bundled, name):
    result = bundled(name)
    gap, step = result.design.rotor.gap_m, 0.2e-3
    narrow, wide = (fundamental(result.design, g, g / 2) for g in (gap - step, gap + step))
    slope = (wide - narrow) / (2 * step) / abs(result.emf.amplitudes[0, 0])
    assert result.emf_change_per_gap_m == pytest.approx(slope, rel=5e-3)
    assert -110 < slope < -50


def test_a_winding_away_from_the_middle_keeps_its_height(bundled):
    """Opening the gap takes the far disc away only."""
    design = bundled("hut-charger").design
    low, step = 0.0038, 0.2e-3
    laid = lay(replace(design.winding, height_m=low), design.magnets.pole_pairs, design.wire)
    narrow, wide = (fundamental(design, 0.008 + s, low) for s in (-step, step))
    slope = (wide - narrow) / (2 * step) / fundamental(design, 0.008, low)
    assert emf_change_per_gap_m(design.magnets, design.rotor, laid, design.wire) == pytest.approx(slope, rel=5e-3)


def test_far_from_their_ends_magnets_lose_by_their_pitch(answered):
    """Two faces of long magnets on ideal plates: B at mid-gap goes as 1 / sinh(k (g/2 + h)), k = pi / tau.

    For a gap of full-width magnets between plates, B1 = (2/pi) 2 Br sinh(k h) / sinh(k (h + g/2)) at mid-gap (Fourier
    series of magnetisation with permeability 1): per metre of gap the share lost is (k/2) coth(k (h + g/2)).
    """
    changes = {
        "magnets.shape": "arc",
        "magnets.diameter_mm": None,
        "magnets.pitch_diameter_mm": None,
        "magnets.inner_radius_mm": 400,
        "magnets.outer_radius_mm": 600,
        "magnets.arc_share": 1.0,
        "magnets.count": 60,
        "magnets.thickness_mm": 10,
        "magnets.recoil_permeability": 1.0,
        "rotor.backing": "ideal",
        "rotor.backing_mm": None,
        "rotor.gap_mm": 20,
        "winding.shape": "serpentine",
        "winding.inner_radius_mm": 490,
        "winding.outer_radius_mm": 510,
        "winding.layers": 1,
        "winding.rounds": 1,
    }
    k = math.pi / (math.pi * 0.5 / 30)
    lost = k / 2 / math.tanh(k * 0.020)
    assert answered("hut-charger", changes).emf_change_per_gap_m == pytest.approx(-lost, rel=5e-3)


def test_over_one_bare_face_there_is_no_gap(bundled):
    assert bundled("plank-ring").emf_change_per_gap_m is None


def test_a_winding_without_volts_has_nothing_to_lose(bundled):
    design = bundled("hut-charger").design
    dead = replace(design.magnets, remanence_t=0.0)
    assert emf_change_per_gap_m(dead, replace(design.rotor, backing=None), bundled("hut-charger").lay, design.wire) is (
        None
    )

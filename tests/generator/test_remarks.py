"""What a result says about itself, and when."""

import dataclasses
import functools
import math

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.model import Plate, SteelCurve
from fieldrun.design.read import read_design
from fieldrun.field.field_map import FieldMap
from fieldrun.field.ring_field import KNEE_T, RingField, SteelReport, ring_field
from fieldrun.generator.remarks import (
    MEASURED_UP_TO_T,
    SATURATED_SHARE,
    assumptions_of,
    bundle_warnings,
    field_warnings,
    narrow_steel,
    peak_place,
    warnings_of,
)
from fieldrun.winding.factors import ORDERS, Factors
from fieldrun.winding.lay import lay

FINE = SteelReport("backing", "AISI 1008", 1.2, (0.066, 0.1, -0.008), 0.9, 0.0)


@functools.cache
def solved(backing_mm: float) -> RingField:
    """The hut charger's field; 0 for wood."""
    design = read_design(example_path("hut-charger"))
    plate = dataclasses.replace(design.rotor.backing, thickness_m=backing_mm * 1e-3) if backing_mm else None
    return ring_field(design.magnets, dataclasses.replace(design.rotor, backing=plate))


def factors(total: float = 0.9) -> Factors:
    ones = np.ones(len(ORDERS))
    return Factors(np.array(ORDERS), ones, ones, total * ones, 0.4, 0.2)


def codes(steel, shares=None):
    return [remark.code for remark in warnings_of(steel, shares or factors())]


def text(steel, shares=None):
    return {remark.code: remark.text for remark in warnings_of(steel, shares or factors())}


def test_a_sound_machine_needs_no_warning():
    assert codes(()) == []
    assert codes((FINE,)) == []


def test_thin_steel_is_told_with_its_peak_and_place_and_thick_steel_is_not():
    thin = solved(2).steel
    assert "steel-saturates" in codes(thin)
    said = text(thin)["steel-saturates"]
    assert f"the backing carries up to {thin[0].peak_t:.2f} T" in said
    assert peak_place(thin[0]) in said
    assert f"{100 * thin[0].above_knee:.0f} % of it is above its knee at about {KNEE_T} T" in said
    assert codes(solved(12).steel) == []
    assert codes(solved(0).steel) == []


def narrowed(inner_mm, outer_mm, name="hut-charger", **rotor):
    """The hut charger's discs lie from 56 to 76 mm."""
    machine = read_design(example_path(name))
    radii = {"steel_inner_radius_m": inner_mm / 1e3, "steel_outer_radius_m": outer_mm / 1e3}
    return narrow_steel(machine.magnets, dataclasses.replace(machine.rotor, **radii, **rotor))


def test_steel_that_leaves_magnets_uncovered_is_told_by_how_much():
    (remark,) = narrowed(56, 70)
    assert remark.code == "steel-too-narrow"
    assert remark.text == "the steel reaches from 56 to 70 mm and leaves 6 mm of each magnet without steel behind"
    for radii, bare in (((60, 80), "4 mm"), ((58.5, 74), "4.5 mm"), ((20, 40), "20 mm")):
        assert f"leaves {bare} of each magnet" in narrowed(*radii)[0].text


def test_steel_that_covers_nine_tenths_is_not_told_of_nor_plates_without_an_end():
    assert narrowed(56, 74) == narrowed(58, 76) == narrowed(30, 100) == ()
    assert narrowed(56, 70, backing=Plate(None)) == narrowed(56, 70, backing=None) == ()


def test_narrow_steel_that_saturates_may_become_wider_too():
    high, narrow = dataclasses.replace(FINE, above_knee=0.5), narrowed(56, 70)
    told = warnings_of((high,), factors(), None, narrow)
    assert [remark.code for remark in told] == ["steel-too-narrow", "steel-saturates"]
    assert told[1].text.endswith(": wider or thicker steel may give more volts")
    assert warnings_of((high,), factors())[0].text.endswith(": thicker steel may give more volts")


def test_narrow_steel_is_told_with_the_answer(answered, bundled):
    assert "steel-too-narrow" in {
        remark.code for remark in answered("hut-charger", {"rotor.steel_outer_radius_mm": 70}).warnings
    }
    assert "steel-too-narrow" not in {remark.code for remark in bundled("hut-charger").warnings}


def test_less_and_less_of_the_steel_saturates_as_it_gets_thicker():
    shares = [solved(thickness).steel[0].above_knee for thickness in (2, 3, 4, 8)]
    assert shares[0] > 0.3 > 2 * SATURATED_SHARE
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < SATURATED_SHARE


@pytest.mark.parametrize(
    ("phase", "where"), [(0.05, "behind a magnet"), (0.5, "at the edge of a magnet"), (1.0, "between two magnets")]
)
def test_the_peaks_place_is_told_in_words(phase, where):
    assert peak_place(dataclasses.replace(FINE, peak_phase=phase)) == f"{where}, 66 mm from the axis"


def test_flux_beyond_what_curves_were_measured_for_is_told():
    high = dataclasses.replace(FINE, peak_t=MEASURED_UP_TO_T + 0.05)
    assert codes((high,)) == ["steel-extrapolated"]
    assert "drawn on by rule, not measured" in text((high,))["steel-extrapolated"]


def test_each_disc_is_told_of_on_its_own():
    plate = dataclasses.replace(FINE, name="return plate", above_knee=0.2)
    assert codes((dataclasses.replace(FINE, above_knee=0.1), plate)) == ["steel-saturates", "steel-saturates"]


def test_a_winding_that_cancels_itself_is_told_with_the_cause():
    said = text((), factors(0.03))["winding-cancels"]
    assert "3 % of what its wire could give" in said


def test_no_remark_ends_in_a_full_stop():
    """The summary adds one, the screen none."""
    high = dataclasses.replace(FINE, peak_t=2.5, above_knee=0.5)
    assert not any(remark.text.endswith(".") for remark in warnings_of((high,), factors(0.03)))


def hut_field(scale=1.0, radii_mm=(40, 90)):
    """A field of 1 T over some radii, dying out like a bell about 66 mm; and the hut charger's winding in it."""
    design = read_design(example_path("hut-charger"))
    radii, heights = np.linspace(*np.array(radii_mm) / 1e3, 60), np.linspace(0, design.rotor.gap_m, 4)
    bell = np.exp(-(((radii - 0.066) / (0.012 * scale)) ** 2))[None, :, None] * np.ones((1, 1, 4))
    field_map = FieldMap(8, np.array([1]), radii, heights, 0 * bell, 0 * bell, bell)
    return field_map, lay(design.winding, 8, design.wire)


def test_a_winding_in_the_field_is_not_warned_of():
    field_map, laid = hut_field()
    assert field_warnings(field_map, laid, 0.4) == ()


def test_a_winding_that_gives_next_to_nothing_is_told_the_share():
    field_map, laid = hut_field()
    (remark,) = field_warnings(field_map, laid, 0.005)
    assert remark.code == "no-field"
    share = float(remark.text.split("only ")[1].split(" %")[0])
    (twice,) = field_warnings(field_map, laid, 0.01)
    assert float(twice.text.split("only ")[1].split(" %")[0]) == pytest.approx(2 * share, rel=0.06)
    assert 0 < share < 10
    assert not math.isnan(share)


def test_a_winding_that_leaves_the_map_is_told_its_reach():
    field_map, laid = hut_field(radii_mm=(60, 90))
    (remark,) = field_warnings(field_map, laid, 0.4)
    assert remark.code == "beyond-map"
    assert "60 to 90 mm from the axis" in remark.text


def design(backing, plate):
    plain = read_design(example_path("plank-ring"))
    return dataclasses.replace(
        plain, rotor=dataclasses.replace(plain.rotor, backing=backing, return_plate=plate, gap_m=0.01)
    )


def test_assumptions_name_each_steel_once():
    steel = SteelCurve("a", (0.0, 1.0), (0.0, 100.0), "a law from a book")
    other = SteelCurve("b", (0.0, 1.0), (0.0, 200.0), "somebody's table")
    bare = assumptions_of(design(None, None))
    assert assumptions_of(design(Plate(None), None)) == bare
    assert assumptions_of(design(Plate(steel, 0.005), Plate(steel, 0.003))) == (
        *bare,
        "Steel follows a law from a book.",
    )
    both = assumptions_of(design(Plate(steel, 0.005), Plate(other, 0.003)))
    assert both[-2:] == ("Steel follows a law from a book.", "Steel follows somebody's table.")


def test_assumptions_are_whole_sentences():
    assert all(line[0].isupper() and line.endswith(".") for line in assumptions_of(design(None, None)))


def test_a_bench_of_less_than_a_turn_is_warned_of(answered):
    """One turn of the quiet Halbach is 86 mm."""
    bench = {"wire.bench_mm": 380}
    (warning,) = [w for w in answered("quiet-halbach", bench).warnings if w.code == "bench-too-short"]
    assert warning.text == (
        "a piece of bundle twisted on 0.38 m gives 0.0768 m, less than one turn of the winding, so that joints would "
        "lie among the legs: move the holding points apart"
    )
    longer = answered("quiet-halbach", bench | {"former.tail_mm": 140}).warnings
    assert "bench-too-short" not in {w.code for w in longer}
    assert bundle_warnings(None) == ()


def test_a_heavy_bundle_of_end_arcs_beside_the_magnets_is_told(answered):
    """160 wires in 13 rows are thicker than the gap: built up away from the magnets they pass, else they do not."""
    heavy = answered("hut-charger", {"winding.shape": "serpentine", "winding.layers": 8})
    said = [warning.text for warning in heavy.warnings if warning.code == "end-bundle"]
    assert len(said) == 2
    bundle = heavy.lay.end_bundles[0]
    assert f"on 53 mm are {bundle.wires} wires, a bundle about {1e3 * bundle.height_m:.2g} mm thick" in said[0]
    assert "room for 6 mm: it must be built up inwards" in said[0]
    assert "outwards, away from the magnets" in said[1]


def test_thin_bundles_and_shapes_without_arcs_are_not(answered, bundled):
    assert "end-bundle" not in {warning.code for warning in bundled("hut-charger").warnings}
    light = answered("hut-charger", {"winding.shape": "serpentine", "winding.layers": 2})
    assert "end-bundle" not in {warning.code for warning in light.warnings}

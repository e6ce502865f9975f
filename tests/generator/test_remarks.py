"""What a result says about itself, and when."""

import dataclasses
import functools

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.model import Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.design.read import read_design
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.parts import element_parts, flux_in_parts
from fieldrun.field.solve import mean_section_field
from fieldrun.generator.remarks import (
    KNEE_T,
    SATURATED_SHARE,
    assumptions_of,
    saturated_share,
    steel_peak_t,
    warnings_of,
)
from fieldrun.generator.result import Accuracy
from fieldrun.winding.factors import ORDERS, Factors

KNOWN = Accuracy(0.001, -4.26, 5.261)
MAGNETS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)


@functools.cache
def section(backing_mm, refined=False):
    """The hut charger's section; 0 for wood."""
    design = read_design(example_path("hut-charger"))
    plate = dataclasses.replace(design.rotor.backing, thickness_m=backing_mm * 1e-3) if backing_mm else None
    density = MeshDensity().refined() if refined else None
    return mean_section_field(design.magnets, dataclasses.replace(design.rotor, backing=plate), density)


def factors(total=0.9):
    ones = np.ones(len(ORDERS))
    return Factors(np.array(ORDERS), ones, ones, total * ones, 0.4, 0.2)


def codes(*arguments):
    return [remark.code for remark in warnings_of(*arguments)]


def text(*arguments):
    return {remark.code: remark.text for remark in warnings_of(*arguments)}


def test_every_result_says_that_slices_are_not_the_whole_truth():
    assert codes(section(0), factors(), KNOWN) == ["slices"]


@pytest.mark.parametrize(("percent", "words"), [(-4.26, "about 4.3 % lower"), (1.04, "about 1.0 % higher")])
def test_known_ends_are_told_with_their_sign(percent, words):
    accuracy = dataclasses.replace(KNOWN, ends_percent=percent)
    assert (
        f"for this machine the true EMF is {words} (by a second model, the K1 kernel)"
        in text(section(0), factors(), accuracy)["slices"]
    )


def test_unknown_ends_are_told_as_for_the_run_of_machines():
    accuracy = dataclasses.replace(KNOWN, ends_percent=None)
    said = text(section(0), factors(), accuracy)["slices"]
    assert "most often within 6 %" in said
    assert "26 % for 1 machine in 20" in said
    assert "None" not in said


def test_thin_steel_is_told_and_thick_steel_is_not():
    assert codes(section(2), factors(), KNOWN) == ["slices", "steel-saturates"]
    said = text(section(2), factors(), KNOWN)["steel-saturates"]
    assert f"{100 * saturated_share(section(2)):.0f} % of the steel" in said
    assert f"{KNEE_T} T" in said
    assert codes(section(12), factors(), KNOWN) == ["slices"]


def test_less_and_less_of_the_steel_saturates_as_it_gets_thicker():
    shares = [saturated_share(section(thickness)) for thickness in (2, 4, 6, 12)]
    assert shares[0] > 0.5 > 2 * SATURATED_SHARE
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < SATURATED_SHARE


def test_the_share_is_a_matter_of_area_not_of_elements():
    """Another mesh has other elements where the field is uneven, and the same area above the knee."""
    assert saturated_share(section(4, refined=True)) == pytest.approx(saturated_share(section(4)), abs=0.01)


@pytest.mark.parametrize("thickness", [2, 4])
def test_the_share_is_what_a_picture_of_the_section_shows(thickness):
    """The same field at the middle of every quarter of an element, as drawings and field files have it."""
    field = section(thickness)
    corners, strength = element_parts(field), np.linalg.norm(flux_in_parts(field), axis=1)
    x, z = field.basis.doflocs.T[corners].transpose(2, 1, 0)
    area = np.abs(np.sum(x * np.roll(z, -1, axis=0) - z * np.roll(x, -1, axis=0), axis=0)) / 2
    steel = np.repeat([field.section.regions[i].steel is not None if i >= 0 else False for i in field.mesh.region], 4)
    shown = area[steel & (strength > 1.6)].sum() / area[steel].sum()
    assert saturated_share(field) == pytest.approx(shown, abs=0.02)
    assert steel_peak_t(field) == pytest.approx(strength[steel].max(), rel=0.05)


def test_peaks_are_those_of_the_steel():
    assert steel_peak_t(section(2)) > KNEE_T > steel_peak_t(section(12)) > 1.0
    assert steel_peak_t(section(2)) < 3.0
    assert steel_peak_t(section(0)) is None
    assert saturated_share(section(0)) == 0


def test_ideal_steel_cannot_saturate():
    rotor = Rotor(2, 0.008, Plate(None), None, 0.05, 0.08)
    ideal = mean_section_field(MAGNETS, rotor)
    assert steel_peak_t(ideal) is None
    assert saturated_share(ideal) == 0


def test_a_winding_that_cancels_itself_is_told_with_the_cause():
    said = text(section(0), factors(0.03), KNOWN)["winding-cancels"]
    assert "3 % of what its wire could give" in said
    assert codes(section(2), factors(0.03), KNOWN) == ["slices", "steel-saturates", "winding-cancels"]


def test_no_remark_ends_in_a_full_stop():
    """The summary adds one, the screen none."""
    unknown = dataclasses.replace(KNOWN, ends_percent=None)
    for accuracy in (KNOWN, unknown):
        assert not any(remark.text.endswith(".") for remark in warnings_of(section(2), factors(0.03), accuracy))


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

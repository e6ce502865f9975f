"""Grades and copper: inside their makers' ranges, and consistent with each other."""

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.materials import (
    COPPER_DENSITY_KG_M3,
    COPPER_RESISTIVITY_20C_OHM_M,
    COPPER_RESISTIVITY_PER_K,
    grade_names,
    magnet_grade,
    remanence_at,
)
from fieldrun.design.units import MU0

PRODUCTS = {"N35": (263, 287), "N38": (287, 310), "N40": (302, 326), "N42": (318, 342), "N45": (342, 366)}
PRODUCTS |= {"N48": (358, 390), "N50": (374, 406), "N52": (390, 422)}


@pytest.mark.parametrize("name", PRODUCTS)
def test_energy_product_follows_from_remanence_and_recoil(name: str) -> None:
    """Br^2 / (4 mu0 mu_r) lies in the maker's range of (BH)max (en.shanghaimagnet.com), which we do not store."""
    grade = magnet_grade(name)
    product = grade.remanence_t**2 / (4 * MU0 * grade.recoil_permeability) / 1000
    least, most = PRODUCTS[name]
    assert least <= product <= most


@pytest.mark.parametrize(
    ("name", "product"), [("Y25", 22.5), ("Y30", 26.0), ("Y30BH", 27.0), ("Y33", 31.5), ("C8", 27.8)]
)
def test_ferrite_energy_product(name: str, product: float) -> None:
    """Makers' least (BH)max (magneticalloy.com), reached within 15 % by the least remanence; a knee takes the rest."""
    grade = magnet_grade(name)
    assert grade.remanence_t**2 / (4 * MU0 * grade.recoil_permeability) / 1000 == pytest.approx(product, rel=0.15)


def test_suffix_changes_the_heat_not_the_remanence() -> None:
    suffixes = ("", "M", "H", "SH", "UH", "EH", "AH")
    grades = [magnet_grade("N42" + suffix) for suffix in suffixes]
    assert {grade.remanence_t for grade in grades} == {1.3}
    assert [grade.max_temperature_c for grade in grades] == [80, 100, 120, 150, 180, 200, 220]


def test_remanence_with_heat() -> None:
    """Times 0.952, 0.928, 0.904 at 60, 80, 100 C for -0.12 %/K; a ferrite loses 0.2 %/K."""
    grade = magnet_grade("N42")
    ratios = [remanence_at(grade, temperature) / grade.remanence_t for temperature in (20, 60, 80, 100)]
    assert ratios == pytest.approx([1, 0.952, 0.928, 0.904])
    assert remanence_at(magnet_grade("Y30"), 70) == pytest.approx(0.9 * 0.38)


def test_every_grade_is_plausible_and_sourced() -> None:
    for name in grade_names():
        grade = magnet_grade(name.lower())
        assert grade.name == name
        assert 0.3 < grade.remanence_t < 1.5
        assert 1.0 < grade.recoil_permeability < 1.3
        assert grade.status in {"looked_up", "from_memory"}
        assert grade.source


@pytest.mark.parametrize(
    ("name", "hint"),
    [("N43", "N42"), ("N 42", "N42"), ("N33SH", "N35SH"), ("42", "N42"), ("Y99", "Y35"), ("SmCo", None), ("", None)],
)
def test_unknown_grade_names_the_nearest(name: str, hint: str | None) -> None:
    with pytest.raises(DesignError) as caught:
        magnet_grade(name)
    text = caught.value.faults[0].text
    assert text.startswith(f'unknown grade "{name}"; ')
    assert (f'did you mean "{hint}"? ' in text) == (hint is not None)


def test_copper() -> None:
    """2.09676e-8 and 2.40167e-8 ohm m at 75 and 120 C, computed from 1/58 and 3.93e-3 (IEC 60028)."""
    for temperature, resistivity in ((75, 2.09676e-8), (120, 2.40167e-8)):
        heated = COPPER_RESISTIVITY_20C_OHM_M * (1 + COPPER_RESISTIVITY_PER_K * (temperature - 20))
        assert heated == pytest.approx(resistivity, rel=1e-5)
    assert COPPER_DENSITY_KG_M3 == 8890

"""Losses, heat and masses in the table and in the result file: the same numbers in both, with their units."""

import dataclasses
import math

import pytest

from fieldrun.generator.circulating import GroupLoss, StrandLoss
from fieldrun.generator.losses import Losses
from fieldrun.outputs.losses_told import forces_dict, heat_dict, loss_dict, loss_rows
from fieldrun.outputs.sentences import plain

KRPM = 1000 * math.pi / 30


def with_losses(result, *parts):
    return dataclasses.replace(result, losses=Losses(*parts))


def rows(result):
    return {label: (value, remark) for label, value, remark in loss_rows(result)}


def test_a_plain_machine(bundled):
    hut = bundled("hut-charger")
    table, heat = rows(hut), heat_dict(hut)
    watts = loss_dict(hut)["eddy_loss_w_per_krpm2"] * 0.25
    assert table["eddy loss in the wire"][0] == f"{plain(watts, 'W')} at 500 rpm"
    for name in ("still", "moving"):
        part = heat[f"{name}_air"]
        told = f"{plain(part['current_a'], 'A')} a phase, {plain(part['current_density_a_per_mm2'], 'A/mm2')}"
        assert table[f"current in {name} air"][0] == told
    assert "warms the copper to 60 C" in table["current in still air"][1]
    assert set(table) == {"eddy loss in the wire", "current in still air", "current in moving air", "mass that turns"}


def test_the_heat_table_says_on_what_it_rests(bundled):
    heat = heat_dict(bundled("hut-charger"))
    assert (heat["limit_c"], heat["air_c"], heat["speed_rpm"]) == pytest.approx((60, 25, 500))
    still = heat["still_air"]
    # what it may lose is what the slab lets through less what idles, and is its current's
    assert still["copper_loss_w"] + heat["idle_loss_w"] == pytest.approx(35 / still["rise_k_per_w"], rel=1e-9)
    assert still["heat_transfer_w_per_m2_k"] == 10
    assert still["current_density_a_per_mm2"] == pytest.approx(still["current_a"] / (math.pi / 4 * 0.63**2), rel=1e-9)


def test_a_winding_too_warm_without_current_stands_none(bundled):
    hut = bundled("hut-charger")
    still = dataclasses.replace(hut.heat.still, current_a=0.0, density_a_m2=0.0, copper_w=0.0)
    table = rows(dataclasses.replace(hut, heat=dataclasses.replace(hut.heat, idle_w=42.0, still=still)))
    said = "without current its losses, 42 W at 500 rpm, already warm the copper past 60 C"
    assert table["current in still air"] == ("none", said)
    assert table["current in moving air"][0].endswith("A/mm2")


def test_what_goes_round_inside_is_told_where_it_does(bundled):
    hut = bundled("hut-charger")
    losses = (3 / KRPM**2, StrandLoss(0.5 / KRPM**2, 2 / KRPM**2), GroupLoss(0.125, 0.5 / KRPM, 1 / KRPM**2), 0.4, 1.25)
    told = loss_dict(with_losses(hut, *losses))
    assert told == pytest.approx(
        {
            "eddy_loss_w_per_krpm2": 3,
            "strand_loss_w_per_krpm2": 0.5,
            "strand_loss_at_most_w_per_krpm2": 2,
            "group_difference_percent": 12.5,
            "group_circulating_a_per_krpm": 0.5,
            "group_loss_w_per_krpm2": 1,
            "delta_circulating_a_per_krpm": 0.4,
        }
    )
    table = rows(with_losses(hut, *losses))
    assert table["loss between strands"] == ("0.125 W at 500 rpm", "not twisted: at most 0.5 W if turned over")
    assert table["loss between groups"][0] == "0.25 W at 500 rpm"
    assert table["current round the delta"] == (
        "0.4 A at 1000 rpm",
        "third harmonics, nothing connected; wastes 1.25 W",
    )


def test_a_star_has_no_current_round_it(bundled):
    assert set(loss_dict(bundled("hut-charger"))) == {"eddy_loss_w_per_krpm2"}


@pytest.mark.parametrize("name", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_what_turns_has_a_mass_in_the_file_and_its_parts_in_the_table(bundled, name):
    result = bundled(name)
    told = forces_dict(result)
    assert told["rotating_mass_kg"] == pytest.approx(sum(part.mass_kg for part in result.moving.parts), rel=1e-12)
    assert told["rotating_inertia_kg_m2"] == pytest.approx(sum(p.inertia_kg_m2 for p in result.moving.parts), rel=1e-12)
    value, remark = rows(result)["mass that turns"]
    assert value == plain(told["rotating_mass_kg"], "kg")
    for part in result.moving.parts:
        assert f"{part.name} {plain(1000 * part.mass_kg, 'g')}" in remark
    assert ("steel" in remark) == (name == "hut-charger")

"""All idle losses of a run together, and what is said of them."""

import dataclasses

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.model import Plate
from fieldrun.design.read import read_design
from fieldrun.design.units import KRPM
from fieldrun.generator.circulating import GroupLoss, StrandLoss
from fieldrun.generator.loss_remarks import (
    SLIP_RINGS,
    heat_assumptions,
    loss_assumptions,
    loss_warnings,
    magnet_warnings,
    moving_assumptions,
)
from fieldrun.generator.losses import Losses

HUT = read_design(example_path("hut-charger"))
UNTWISTED = {"wire.kind": "litz", "wire.copper_mm": None, "wire.strand_mm": 0.25, "wire.strands": 4}


def of_krpm(watts: float) -> float:
    return watts / KRPM**2


def test_idle_losses_add_up() -> None:
    losses = Losses(of_krpm(3.0), StrandLoss(of_krpm(0.5), of_krpm(2.0)), GroupLoss(0.1, 0.0, of_krpm(0.25)), 0.4, 1.25)
    assert losses.idle_w_s2 == pytest.approx(of_krpm(5.0), rel=1e-12)
    assert Losses(of_krpm(3.0)).idle_w_s2 == of_krpm(3.0)


def test_a_star_of_solid_wire_has_eddy_currents_only(bundled) -> None:
    losses = bundled("hut-charger").losses
    assert losses == Losses(losses.eddy_w_s2)
    assert 2 < losses.eddy_w_s2 * KRPM**2 < 6


def test_a_delta_of_a_serpentine_is_warned_of(answered, bundled) -> None:
    """60-degree belts keep a third harmonic of 2/3 of its value: it runs round the delta."""
    delta, star = answered("plank-ring", {"winding.connection": "delta"}), bundled("plank-ring")
    third = star.emf.amplitudes[:, star.emf.orders == 3]
    ninth = star.emf.amplitudes[:, star.emf.orders == 9]
    ohms, henries = star.impedance.resistance_hot_ohm, star.inductance.self_h + 2 * star.inductance.mutual_h
    reactance = KRPM * star.emf.pole_pairs * henries
    round_ = np.hypot(abs(third.sum() / (ohms + 3j * reactance)), abs(ninth.sum() / (ohms + 9j * reactance)))
    amps = KRPM * round_ / np.sqrt(2) / 3
    assert delta.losses.delta_a_krpm == pytest.approx(amps, rel=1e-3)
    assert delta.losses.delta_w_krpm2 == pytest.approx(
        3 * star.impedance.resistance_hot_ohm * delta.losses.delta_a_krpm**2, rel=1e-12
    )
    (remark,) = [w for w in delta.warnings if w.code == "delta-circulates"]
    assert f"{delta.losses.delta_a_krpm:.2g} A flow at 1000 rpm" in remark.text
    assert "Resistance and inductance limit the current round a delta." in delta.assumptions
    assert "Only resistance limits the current round a delta." in loss_assumptions(delta.design, delta.losses)
    assert delta.heat.still.current_a < star.heat.still.current_a


def test_untwisted_strands_and_groups_of_layers_over_a_bare_face_are_told(answered) -> None:
    result = answered("plank-ring", {**UNTWISTED, "winding.parallel": 4})
    losses = result.losses
    assert losses.strands is not None
    assert losses.groups is not None
    assert losses.groups.difference > 0.1
    said = {w.code: w.text for w in result.warnings}
    assert f"differ by up to {100 * losses.groups.difference:.2g} % in voltage" in said["groups-unlike"]
    assert "lay its wires side by side" in said["groups-unlike"]
    assert result.losses.idle_w_s2 == pytest.approx(
        losses.eddy_w_s2 + losses.strands.in_order_w_s2 + losses.groups.loss_w_s2, rel=1e-12
    )


def test_twisting_stops_currents_between_strands(answered) -> None:
    result = answered("plank-ring", {**UNTWISTED, "wire.lay_mm": 20})
    assert result.losses.strands is None
    assert any("Strands of a twisted bundle all see the same" in text for text in result.assumptions)


EVERYTHING = Losses(
    of_krpm(6.0), StrandLoss(of_krpm(0.5), of_krpm(2.0)), GroupLoss(0.1, 0.7 / KRPM, of_krpm(2.0)), 0.4, 2.0
)


def test_what_wastes_less_than_a_hundredth_is_not_warned_of() -> None:
    codes = ["groups-unlike", "strands-side-by-side", "delta-circulates"]
    assert [w.code for w in loss_warnings(EVERYTHING, HUT.winding, 199.0)] == codes
    assert [w.code for w in loss_warnings(EVERYTHING, HUT.winding, 201.0)] == []
    assert [w.code for w in loss_warnings(EVERYTHING, HUT.winding, 119.0)] == [*codes, "eddy-loss"]


def test_warnings_carry_their_numbers() -> None:
    texts = {w.code: w.text for w in loss_warnings(EVERYTHING, HUT.winding, 1.0)}
    assert "0.7 A round each other at 1000 rpm and waste 2 W" in texts["groups-unlike"]
    assert "waste 0.5 W if each keeps its side, at most 2 W" in texts["strands-side-by-side"]
    assert "0.4 A flow at 1000 rpm with nothing connected" in texts["delta-circulates"]
    assert "eddy currents in the wire waste 6 W at 1000 rpm" in texts["eddy-loss"]
    assert not any(text.endswith(".") for text in texts.values())


def test_skin_effect_is_told_by_its_number() -> None:
    """16 magnets at 500 rpm: 66.7 Hz, where copper of 60 C has a skin depth of 8.7 mm: (0.34 / 8.7)^4 / 48."""
    said = loss_assumptions(HUT, Losses(1.0))[1]
    assert said.startswith("Skin effect is nil: at 500 rpm (66.7 Hz) it adds 0.0000048 % to the resistance, as if")
    thick = dataclasses.replace(HUT, wire=dataclasses.replace(HUT.wire, overall_diameter_m=9e-3))
    assert loss_assumptions(thick, Losses(1.0))[1].startswith("Skin effect is not counted: at 500 rpm (66.7 Hz)")


def test_a_path_in_parallel_is_taken_as_alike() -> None:
    parallel = dataclasses.replace(HUT, winding=dataclasses.replace(HUT.winding, parallel=2))
    text = "Groups in parallel are alike: how the path is shared between them cannot be told from its file."
    assert text in loss_assumptions(parallel, Losses(1.0))
    assert text not in loss_assumptions(parallel, Losses(1.0, groups=GroupLoss(0.0, 0.0, 0.0)))


@pytest.mark.parametrize(
    ("grade", "celsius", "cure"),
    [("N42", 90.0, "N42M"), ("N42", 130.0, "N42SH"), ("N42H", 125.0, "N42SH"), ("N42AH", 230.0, None)],
)
def test_magnets_too_hot_for_their_grade_are_warned_of(grade: str, celsius: float, cure: str | None) -> None:
    (remark,) = magnet_warnings(dataclasses.replace(HUT.magnets, grade=grade, temperature_c=celsius))
    assert remark.code == "magnets-too-hot"
    assert f"at {celsius:g} C they may lose strength for good, which is not computed" in remark.text
    assert remark.text.endswith(f"; {cure} is made for that" if cure else "not computed")


@pytest.mark.parametrize(("grade", "celsius"), [("N42", 80.0), ("", 200.0), ("N42SH", 140.0)])
def test_magnets_within_their_grade_or_of_none_are_not(grade: str, celsius: float) -> None:
    assert magnet_warnings(dataclasses.replace(HUT.magnets, grade=grade, temperature_c=celsius)) == ()


def test_hot_magnets_are_a_warning_of_a_run(answered) -> None:
    assert "magnets-too-hot" in [w.code for w in answered("plank-ring", {"magnets.temperature_c": 95}).warnings]


def test_what_turns_is_told() -> None:
    magnets = moving_assumptions(HUT.rotor)
    assert "hub, shaft and boards are not" in magnets[0]
    assert "Ideal plates have no mass." not in magnets[0]
    ideal = moving_assumptions(dataclasses.replace(HUT.rotor, backing=Plate(None)))
    assert ideal[0].endswith("Ideal plates have no mass.")
    coil = moving_assumptions(dataclasses.replace(HUT.rotor, spins="coil"))
    assert coil[1] == SLIP_RINGS
    assert "wind.brush_drop_v" in SLIP_RINGS
    assert "wind.drag_nm" in SLIP_RINGS


def test_rules_of_thumb_are_told_with_their_numbers() -> None:
    cooled, softens = heat_assumptions()
    assert "10 W/m2K in still air and 30 where discs stir it, in air of 25 C" in cooled
    assert (
        softens
        == "Casting resin is taken to soften at 60 C; printed formers soften from PLA at 55 C and PETG at 70 C on."
    )

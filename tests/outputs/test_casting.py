"""Resin by volume: against what the inertia of a spinning coil counts, and against bundles of end arcs by hand."""

import math
from collections.abc import Callable

import pytest

from fieldrun.generator.moving import winding_parts
from fieldrun.outputs.casting import casting_of
from fieldrun.outputs.casting_words import after_casting, before_casting, casting_rows
from fieldrun.winding.former import former_of


@pytest.fixture
def cast(answered: Callable, bundled: Callable) -> Callable:
    def made(example: str, changes: dict | None = None) -> tuple:
        result = answered(example, changes) if changes else bundled(example)
        former = former_of(result.design, result.lay)
        return result, former, casting_of(result, former)

    return made


@pytest.mark.parametrize("example", ["hut-charger", "quiet-halbach"])
def test_without_end_arcs_resin_is_what_turns_with_a_coil(example: str, cast: Callable) -> None:
    result, _, casting = cast(example)
    parts = {part.name: part.mass_kg for part in winding_parts(result.design, result.lay, result.impedance)}
    assert casting.resin_kg == pytest.approx(parts["resin"], rel=1e-12)
    assert casting.mix_kg == pytest.approx(1.15 * casting.resin_kg)
    assert casting.ends_m is None


def test_end_bundles_take_resin_of_their_own(cast: Callable) -> None:
    """The plank ring: a flat ring 2.18 mm high, and two bundles 5.98 mm square on 44 and 71 mm, half of them in it."""
    result, _, casting = cast("plank-ring")
    d, t, h = 0.544, 4 * 0.544, 11 * 0.544
    ring = math.pi * (71.272**2 - 43.728**2) * t
    bundles = 2 * math.pi * (44 + 71) * (h**2 - t * (h + d) / 2)
    copper = result.impedance.copper_mass_kg / 8890 * 1e9
    assert casting.resin_m3 * 1e9 == pytest.approx(ring + bundles - copper, rel=0.01)
    assert (casting.hub_disc_m, casting.across_m) == pytest.approx((0.088 - h / 1000, 0.142 + h / 1000))
    assert casting.ends_m == pytest.approx(h / 1000)


def test_spacers_and_air(cast: Callable) -> None:
    result, former, casting = cast("hut-charger", {"winding.resin_mm": 0.5})
    assert casting.spacer_m == pytest.approx(8 * 0.679e-3 + 0.5e-3)
    assert casting.air_m == pytest.approx((8e-3 - casting.spacer_m) / 2)
    assert dict(casting_rows(casting))["spacers between the mould's plates"] == "5.93 mm"
    assert not any("resin_mm is 0" in text for text in before_casting(result, casting, former))


def test_ends_against_the_magnets(cast: Callable) -> None:
    """Hut charger: discs from 56 to 76 mm, wire from 53 to 79 mm."""
    rows = dict(casting_rows(cast("hut-charger")[2]))
    assert rows["inner ends of the wire"] == rows["outer ends of the wire"] == "3 mm beyond the magnets"
    over = dict(casting_rows(cast("hut-charger", {"winding.outer_radius_mm": 75})[2]))
    assert over["outer ends of the wire"] == "1 mm over the magnets"


def test_what_is_checked_depends_on_the_machine(cast: Callable) -> None:
    result, former, casting = cast("plank-ring")
    before = " ".join(before_casting(result, casting, former))
    assert "winding.resin_mm is 0" in before
    assert "up to 6.0 mm high" in before
    assert "The board is out: tie" in before
    assert not any("gap" in text for text in after_casting(result, casting))
    spins, board, ring = cast("plank-ring", {"rotor.spins": "coil"})
    assert any("its middle may carry the winding" in text for text in before_casting(spins, ring, board))
    assert any("balanced" in text for text in after_casting(spins, ring))
    wrapped, board, ring = cast("hut-charger", {"winding.layers": 1, "winding.former_in_gap_mm": 2})
    assert not any("board is out" in text for text in before_casting(wrapped, ring, board))
    assert (ring.hub_disc_m, ring.across_m) == pytest.approx((2 * board.hub_radius_m, 2 * board.outer_radius_m))

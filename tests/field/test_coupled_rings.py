"""Rings with steel that may saturate: limits that are known, Newton's end, and how many harmonics must meet."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.design.units import MU0
from fieldrun.field import coupled_rings
from fieldrun.field.coupled_rings import solve_coupled, solve_frozen
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.ring_map import air_gap, map_of
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_steel import steel_residual
from fieldrun.field.ring_system import RingSystem, first_orders, on_free, ring_system
from fieldrun.field.rings import solve_linear
from tests.rings import linear_part

ORDERS = 2 * np.arange(8) + 1
GAP = 0.009
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.0, 7500.0)
RECOIL = replace(DISCS, recoil_permeability=1.05)
BLOCKS = replace(RECOIL, outline=Block(0.022, 0.016, 0.066))
ARCS = replace(RECOIL, outline=Arc(0.056, 0.076, 0.7))
HALBACH = replace(RECOIL, outline=Block(0.022, 0.010, 0.066), pattern="halbach", segments_per_pole=2)
MILD = steel_curve("mild steel")
AIR = SteelCurve("air", (0.0, 1.0), (0.0, 1 / MU0))
OPEN = Rotor(1, None, None, None, 0.050, 0.082)
FACING = replace(OPEN, faces=2, gap_m=GAP)
PLATED = replace(OPEN, gap_m=GAP)


def straight(permeability: float) -> SteelCurve:
    return SteelCurve("straight", (0.0, 1e6), (0.0, 1e6 / (permeability * MU0)))


def system_of(magnets: Magnets, rotor: Rotor, density: RingDensity | None = None) -> RingSystem:
    return ring_system(magnets, ring_mesh(magnets, rotor, density or RingDensity()), ORDERS)


def backed(thickness: float, curve: SteelCurve = MILD, rotor: Rotor = FACING) -> Rotor:
    return replace(rotor, backing=Plate(curve, thickness))


def flux(system: RingSystem, potential: Floats, magnets: Magnets, rotor: Rotor) -> float:
    """INT b_z1 r dr in the gap's middle, or 4.5 mm up: what an EMF takes."""
    x, weight = np.polynomial.legendre.leggauss(80)
    radius = 0.066 + 0.018 * x
    found = map_of(system, air_gap(system, potential), magnets, rotor)
    return float(0.018 * weight @ (amplitudes_at(found, radius, np.full(80, GAP / 2))[2, 0].real * radius))


@pytest.mark.parametrize("magnets", [DISCS, RECOIL, HALBACH], ids=["discs", "recoil", "halbach"])
@pytest.mark.parametrize("rotor", [OPEN, FACING], ids=["open", "facing"])
def test_steel_of_permeability_one_is_no_steel(magnets: Magnets, rotor: Rotor) -> None:
    system = system_of(magnets, backed(0.004, AIR, rotor), RingDensity().coarser(2))
    found, exact = solve_coupled(system), solve_linear(system)
    np.testing.assert_allclose(found.potential, exact, atol=1e-5 * np.abs(exact).max())
    assert found.newton_steps <= 2


@pytest.mark.parametrize("rotor", [FACING, replace(PLATED, return_plate=Plate(straight(1e6), 0.03))])
@pytest.mark.parametrize("magnets", [DISCS, HALBACH], ids=["discs", "halbach"])
def test_thick_permeable_steel_is_an_ideal_plate(magnets: Magnets, rotor: Rotor) -> None:
    """Three centimetres of steel, a million times as permeable as air, that overhang by two pole pitches."""
    wide = replace(rotor, steel_inner_radius_m=0.01, steel_outer_radius_m=0.126)
    ideal = replace(wide, backing=Plate(None), return_plate=wide.return_plate and Plate(None))
    steel = backed(0.03, straight(1e6), wide)
    with_steel, without = system_of(magnets, steel), system_of(magnets, ideal)
    found = flux(with_steel, solve_coupled(with_steel).potential, magnets, steel)
    assert found == pytest.approx(flux(without, solve_linear(without), magnets, ideal), rel=2e-4)


def test_steel_lies_between_none_and_ideal_and_thicker_is_better() -> None:
    """Two harmonics throughout, and discs as wide as they may matter: past a narrow one less flux leaks home."""
    wide = replace(FACING, steel_inner_radius_m=0.02, steel_outer_radius_m=0.12)
    none, ideal = (first_orders(system_of(RECOIL, rotor), 2) for rotor in (wide, replace(wide, backing=Plate(None))))
    least, most = (flux(one, solve_linear(one), RECOIL, FACING) for one in (none, ideal))
    found = []
    for thickness in (0.0001, 0.001, 0.003, 0.006, 0.02):
        system = first_orders(system_of(RECOIL, backed(thickness, MILD, wide)), 2)
        found.append(flux(system, solve_coupled(system).potential, RECOIL, FACING))
    assert found == sorted(found)
    assert least < found[0] < 1.1 * least
    assert 0.98 * most < found[-1] < most


CASES = [
    (magnets, steel, thickness)
    for magnets, steel in ((RECOIL, "mild steel"), (BLOCKS, "TEAM 13"), (ARCS, "DC01"), (HALBACH, "AISI 1008"))
    for thickness in (0.0003, 0.001, 0.002, 0.004, 0.012)
]


@pytest.mark.parametrize(("magnets", "steel", "thickness"), CASES)
def test_newton_settles_from_foils_to_slabs(magnets: Magnets, steel: str, thickness: float) -> None:
    """From zero, four harmonics at once, and what it stops at is in balance: every load met to 1e-5 of the sources."""
    rotor = replace(backed(thickness, steel_curve(steel), PLATED), return_plate=Plate(steel_curve(steel), thickness))
    system = first_orders(system_of(magnets, rotor, RingDensity().coarser(2)), 4)
    found = solve_coupled(system)
    left = linear_part(system, found.potential) - system.sources
    steel_residual(found.states, left)
    assert np.linalg.norm(on_free(system, left)) <= 1e-5 * np.linalg.norm(system.sources)
    peak = max(float(state.flux_density_t.max()) for state in found.states)
    assert 0.1 < peak < 4.0
    if thickness <= 0.001 and magnets is not HALBACH:
        assert peak > 2.5  # foils are deep in saturation


def test_thick_unsaturated_steel_under_long_blocks_settles() -> None:
    """0.4 T in 31 mm of steel: an easy machine, found among random ones."""
    blocks = Magnets(Block(0.15383, 0.058373, 0.19575), 10, 0.010283, 0.52827, 1.2, 7500.0)
    steel = Plate(steel_curve("DC01"), 0.031178)
    rotor = Rotor(1, None, steel, None, 0.118630, 0.28)
    found = solve_coupled(first_orders(system_of(blocks, rotor), 1))
    assert found.states[0].flux_density_t.max() < 0.6


def test_newton_ends_where_it_ends_whatever_it_starts_from() -> None:
    system = first_orders(system_of(RECOIL, backed(0.002), RingDensity().coarser(2)), 3)
    cold = solve_coupled(system)
    warm = solve_coupled(system, 3 * cold.potential)
    again = solve_coupled(system, cold.potential)
    np.testing.assert_allclose(warm.potential, cold.potential, atol=1e-4 * np.abs(cold.potential).max())
    np.testing.assert_array_equal(again.potential, cold.potential)
    assert again.newton_steps == 0


def test_a_start_is_left_as_it_was() -> None:
    system = first_orders(system_of(RECOIL, backed(0.002), RingDensity().coarser(2)), 2)
    start = np.zeros_like(system.sources)
    solve_coupled(system, start)
    assert not np.any(start)


def test_doubling_all_lengths_leaves_the_flux_density() -> None:
    rotor = backed(0.002)
    large = replace(RECOIL, outline=Disc(0.040, 0.132), thickness_m=0.012)
    wide = replace(
        rotor, gap_m=2 * GAP, backing=Plate(MILD, 0.004), steel_inner_radius_m=0.1, steel_outer_radius_m=0.164
    )
    small, big = (
        solve_coupled(first_orders(system_of(magnets, machine, RingDensity().coarser(2)), 3))
        for magnets, machine in ((RECOIL, rotor), (large, wide))
    )
    one, other = small.states[0].flux_density_t, big.states[0].flux_density_t
    assert one.max() > 1.8
    np.testing.assert_allclose(other, one, atol=1e-4)


def test_failure_names_steel_and_thickness_and_what_to_try(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coupled_rings, "NEWTON_STEPS", 2)
    rotor = replace(backed(0.0015, MILD, PLATED), return_plate=Plate(steel_curve("DC01"), 0.002))
    with pytest.raises(SolveError) as caught:
        solve_coupled(first_orders(system_of(RECOIL, rotor, RingDensity().coarser(2)), 2))
    assert str(caught.value) == (
        f"the steel's flux did not settle within 2 Newton steps (backing of {MILD.name}, 1.5 mm, "
        "return plate of DC01, 2 mm); try thicker steel, thinner magnets or a wider gap"
    )


def coupled_flux(system: RingSystem, frozen: Floats, count: int, rotor: Rotor) -> tuple[float, float]:
    """Flux with so many harmonics coupled, the others with frozen steel; peak in the steel [T]."""
    solution = solve_coupled(first_orders(system, count), frozen[:count])
    potential = np.concatenate([solution.potential, frozen[count:]])
    return flux(system, potential, RECOIL, rotor), float(solution.states[0].flux_density_t.max())


def test_four_harmonics_are_nearly_six_at_the_knee() -> None:
    """0.1 % between them where the steel carries 1.7 T; one alone is further off."""
    rotor = backed(0.003)
    system = system_of(RECOIL, rotor)
    alone = solve_coupled(first_orders(system, 1))
    frozen = solve_frozen(system, alone.states)
    (four, _), (six, peak) = (coupled_flux(system, frozen, count, rotor) for count in (4, 6))
    assert 1.6 < peak < 1.9
    assert abs(four / six - 1) < 1e-3
    assert abs(four / six - 1) < abs(flux(system, frozen, RECOIL, rotor) / six - 1)


@pytest.mark.parametrize("thickness", [0.004, 0.006])
def test_frozen_steel_will_do_below_the_knee(thickness: float) -> None:
    """The fundamental alone below 1.3 T: steel held at its mean permeability round the ring is right to 0.02 %."""
    rotor = backed(thickness)
    system = system_of(RECOIL, rotor)
    alone = solve_coupled(first_orders(system, 1))
    assert alone.states[0].flux_density_t.max() < 1.3
    frozen = solve_frozen(system, alone.states)
    six, _ = coupled_flux(system, frozen, 6, rotor)
    assert flux(system, frozen, RECOIL, rotor) == pytest.approx(six, rel=2e-4)


@pytest.mark.parametrize("magnets", [DISCS, RECOIL], ids=["mu 1", "mu 1.05"])
def test_frozen_straight_steel_is_the_answer(magnets: Magnets) -> None:
    """A curve that is a straight line has nothing to freeze: all harmonics at once give the same."""
    system = system_of(magnets, backed(0.003, straight(500)), RingDensity().coarser(2))
    alone = solve_coupled(first_orders(system, 1))
    exact = solve_coupled(system).potential
    np.testing.assert_allclose(solve_frozen(system, alone.states), exact, atol=1e-4 * np.abs(exact).max())


def test_a_search_of_one_trial_ends_in_the_same_balance(monkeypatch: pytest.MonkeyPatch) -> None:
    """The energy is convex and has one least point: shorter steps only lead there sooner."""
    system = first_orders(system_of(RECOIL, backed(0.003), RingDensity().coarser(2)), 1)
    usual = solve_coupled(system)
    monkeypatch.setattr(coupled_rings, "HALVINGS", 1)
    plain = solve_coupled(system)
    assert plain.newton_steps >= usual.newton_steps
    size = np.abs(usual.potential).max()
    np.testing.assert_allclose(plain.potential, usual.potential, atol=1e-4 * size)

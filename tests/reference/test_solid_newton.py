"""Steel in the solid judge: tangents against differences, and a magnetic circuit whose balance is one equation."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from fieldrun.design.errors import SolveError
from fieldrun.design.magnetisation import flux_density
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.design.units import MU0
from fieldrun.reference import solid_newton
from fieldrun.reference.solid import solve_solid
from fieldrun.reference.solid_grid import SolidGrid
from fieldrun.reference.solid_newton import solve_balance
from fieldrun.reference.solid_outline import coverage
from fieldrun.reference.solid_steel import steel_parts, steel_residual, steel_state, steel_tangent
from fieldrun.reference.solid_system import linear_system, stiffness

MILD = steel_curve("mild steel")
EVEN = SteelCurve("even", (0.0, 3.0), (0.0, 3.0 / (50 * MU0)))
THICK, GAP, H = 0.002, 0.003, 0.006
FULL = Magnets(Arc(0.050, 0.056, 1.0), 16, H, 1.2, 1.05, 7500.0)


def stack(curve: SteelCurve) -> SolidGrid:
    """Magnets, gap and steel, one over the other between two planes, each over the whole half pole."""
    return SolidGrid(
        pole_pairs=8,
        radii_m=np.array([0.050, 0.053, 0.056]),
        angles_rad=np.linspace(0, math.pi / 16, 3),
        heights_m=np.array([-H, -H / 2, 0, GAP, GAP + THICK / 2, GAP + THICK]),
        magnet_layers=(0, 2),
        steels=((curve, (3, 5), (0, 2)),),
        closed_below=True,
        closed_above=True,
    )


def circuit(curve: SteelCurve, magnets: Magnets = FULL):
    """The stack as a circuit: its sides let no flux pass, so that B is the same everywhere."""
    grid = stack(curve)
    cover = coverage(magnets.outline, magnets.count, grid.radii_m, grid.angles_rad)
    free = np.ones(grid.nodes, bool)
    free[:, :, [0, -1]] = False
    return replace(linear_system(grid, magnets, cover), free=free.ravel())


@pytest.fixture
def open_sides(monkeypatch):
    """The waves vanish between poles and the circuit's potential does not: let it go without steering."""
    monkeypatch.setattr(solid_newton, "wave_preconditioner", lambda *_: lambda right: right)


@pytest.mark.usefixtures("open_sides")
@pytest.mark.parametrize("remanence", [0.3, 1.2, 2.0, 6.0])
def test_balance_of_a_magnetic_circuit(remanence):
    """(B - Br) h / mu_rec + B g + mu0 H(B) t = 0: the round trip of H, from no field to deep saturation."""
    balance = solve_balance(circuit(MILD, replace(FULL, remanence_t=remanence)))
    ((part, state),) = balance.states

    def trip(h: float) -> float:
        flux = float(flux_density(MILD, h))
        return (flux - remanence) * H / 1.05 + flux * GAP + MU0 * h * THICK

    expected = float(flux_density(MILD, brentq(trip, 0, 1e8, xtol=1e-9)))
    assert np.average(state.flux_t, weights=part.volumes) == pytest.approx(expected, rel=2e-5)
    assert state.flux_t == pytest.approx(expected, rel=5e-4)  # the magnets' areas node by node are sampled
    assert 1 <= balance.steps <= 15


@pytest.mark.parametrize("size", [1e-6, 1e-4, 1e-2])
def test_tangent_is_the_residuals_derivative(size):
    grid = stack(EVEN)
    bent = replace(MILD, b_t=(0.0, 0.5, 1.4, 1.9, 2.2), h_a_per_m=(0.0, 100.0, 900.0, 9e3, 8e4))
    part = replace(steel_parts(grid)[0], curve=bent)
    rng = np.random.default_rng(5)
    u, du = size * rng.standard_normal((2, int(np.prod(grid.nodes))))

    def residual(t: float) -> np.ndarray:
        return steel_residual(part, steel_state(part, u + t * du), len(u))

    step = 1e-7
    slope = (residual(step) - residual(-step)) / (2 * step)
    tangent = steel_tangent(part, steel_state(part, u), grid)
    assert tangent @ du == pytest.approx(slope, abs=2e-5 * np.abs(slope).max())
    assert abs(tangent - tangent.T).max() < 1e-12 * abs(tangent).max()
    assert du @ (tangent @ du) > 0


def test_steel_of_even_permeability_is_the_linear_matrix():
    grid = stack(EVEN)
    (part,) = steel_parts(grid)
    potential = np.random.default_rng(6).standard_normal(int(np.prod(grid.nodes))) * 5e-6
    permeability = np.zeros((*grid.cells, 6))
    permeability[:, :, 3:5] = 50
    linear = stiffness(grid, permeability, slice(0, 5)) @ potential
    state = steel_state(part, potential)
    assert state.flux_t.max() < 3
    assert steel_residual(part, state, len(potential)) == pytest.approx(linear, abs=1e-5 * np.abs(linear).max())
    assert part.volumes.sum() == pytest.approx(math.pi / 32 * (0.056**2 - 0.050**2) * THICK)


def test_steel_without_field_has_its_first_slope():
    (part,) = steel_parts(stack(EVEN))
    state = steel_state(part, np.zeros(int(np.prod(stack(EVEN).nodes))))
    assert state.chord == pytest.approx(50)
    assert state.slope == pytest.approx(50)
    assert not state.flux_t.any()


@pytest.mark.usefixtures("open_sides")
def test_even_steel_needs_no_more_steps_than_its_loose_solves():
    """Each step solves a linear problem to 3e-2, 3e-3 and 1e-3: together below 1e-5."""
    assert solve_balance(circuit(EVEN)).steps <= 3


@pytest.mark.usefixtures("open_sides")
def test_what_finds_no_balance_names_the_steel(monkeypatch):
    monkeypatch.setattr(solid_newton, "MOST_STEPS", 1)
    with pytest.raises(SolveError, match=r"2 mm of even.*thicker steel, or fewer or thinner magnets"):
        solve_balance(circuit(replace(MILD, name="even")))


@pytest.mark.slow
def test_field_that_turns_over_does_not_hold_newton_up():
    """Six wide discs over mild steel: a line search that only shortens its steps leaps the turn and creeps for ever."""
    discs = Magnets(Disc(0.0645, 0.075), 6, 0.00326, 1.121, 1.05, 7500.0)
    plates = Plate(steel_curve("DC01"), 0.00564), Plate(steel_curve("DC01"), 0.003045)
    field = solve_solid(discs, Rotor(1, 0.00563, *plates, 0.02463, 0.12524), [0.0028], 0.5)
    assert field.newton_steps < 30
    assert field.steel_peak_t > 1.9


@pytest.mark.usefixtures("open_sides")
def test_a_search_cut_short_ends_in_the_same_balance(monkeypatch):
    """The energy is convex and has one least point, however long the steps to it are."""
    usual = solve_balance(circuit(MILD, replace(FULL, remanence_t=2.0)))
    monkeypatch.setattr(solid_newton, "MOST_HALVINGS", 2)
    short = solve_balance(circuit(MILD, replace(FULL, remanence_t=2.0)))
    assert short.steps > usual.steps
    assert short.states[0][1].flux_t == pytest.approx(usual.states[0][1].flux_t, rel=1e-4)

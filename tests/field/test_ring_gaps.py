"""Many gaps from a few: which are solved first, where the others begin, and what the start is worth."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Disc, Magnets, Plate, Rotor
from fieldrun.field import ring_family
from fieldrun.field.ring_family import FaceSolution, Lower, gap_potential, lower_of, solve_gaps
from fieldrun.field.ring_gaps import AT_ONCE, _spread, foretold, gap_by_gap
from fieldrun.field.ring_mesh import RingDensity, gap_lines, ring_mesh
from fieldrun.field.ring_system import ring_system

DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
ROTOR = Rotor(2, 0.009, Plate(None), None, 0.052, 0.080)
COARSE = RingDensity().coarser(2)
ORDERS = 2 * np.arange(9) + 1


def family() -> Lower:
    return lower_of(ring_system(DISCS, ring_mesh(DISCS, ROTOR, COARSE), ORDERS))


def lines_at(gaps: Floats) -> list[Floats]:
    return [gap_lines(DISCS, replace(ROTOR, gap_m=float(gap)), COARSE) for gap in gaps]


def test_few_gaps_are_all_solved_first_and_of_many_the_ends_and_some_between() -> None:
    assert _spread(1) == [0]
    assert _spread(AT_ONCE) == list(range(AT_ONCE))
    for count in (AT_ONCE + 1, 20, 64):
        chosen = _spread(count)
        assert (chosen[0], chosen[-1]) == (0, count - 1)
        assert 2 <= len(chosen) <= AT_ONCE


def test_polynomials_of_the_gap_s_logarithm_are_foretold_exactly() -> None:
    known, asked = np.array([0.003, 0.004, 0.0052, 0.007]), np.array([0.0035, 0.0066, 0.004])

    def loads(tops: Floats) -> Floats:
        x = np.log(tops)
        return np.array(np.stack([x**3 - 2 * x, 5 - x**2], axis=1)[None, None] * np.array([[[1.0]], [[-3.0]]]), float)

    found = foretold(known, loads(known), asked)
    assert found is not None
    np.testing.assert_allclose(found, loads(asked), rtol=1e-9)


def test_the_same_gap_twice_foretells_nothing() -> None:
    assert foretold(np.array([0.003, 0.003]), np.zeros((1, 1, 2, 1)), np.array([0.004])) is None
    twice = lines_at(np.full(AT_ONCE + 2, 0.009))
    lower = family()
    alone = gap_potential(solve_gaps(lower, twice[:1]), 0)
    for found in gap_by_gap(lower, twice, [len(ORDERS)] * len(twice)):
        assert isinstance(found, np.ndarray)
        np.testing.assert_allclose(found, alone, atol=1e-12 * np.abs(alone).max())


def test_gaps_that_start_from_others_end_where_they_do_alone_in_fewer_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    lower, lines = family(), lines_at(np.linspace(0.0075, 0.012, 30))
    evaluated: list[int] = []
    real = ring_family._from_air

    def counted(lower: Lower, held: Floats, load: Floats) -> Floats:
        evaluated.append(load.shape[2])
        return real(lower, held, load)

    monkeypatch.setattr(ring_family, "_from_air", counted)
    together = list(gap_by_gap(lower, lines, [len(ORDERS)] * len(lines)))
    spent = sum(evaluated)
    evaluated.clear()
    alone: list[FaceSolution] = [solve_gaps(lower, [gap]) for gap in lines]
    assert spent < 0.6 * sum(evaluated)
    for found, other in zip(together, alone, strict=True):
        assert isinstance(found, np.ndarray)
        exact = gap_potential(other, 0)
        np.testing.assert_allclose(found, exact, atol=1e-9 * np.abs(exact).max())

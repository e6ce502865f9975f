"""The order of winding: every loop once, layer by layer, and what the wire needs between loops."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from fieldrun.design.model import Design
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.generator.machine import read_design
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import lengths
from fieldrun.winding.walk import Loops, loops_of


@pytest.fixture
def wound(design_file: Callable) -> Callable[..., tuple[Design, Lay, Loops]]:
    def made(changes: dict, example: str = "hut-charger") -> tuple[Design, Lay, Loops]:
        design = read_design(design_file(example, changes))
        laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
        return design, laid, loops_of(laid, design.winding)

    return made


@pytest.mark.parametrize("shape", NAMED_SHAPES)
@pytest.mark.parametrize("phases", [1, 2, 3])
def test_every_loop_once_and_no_wire_lost(shape: str, phases: int, wound: Callable) -> None:
    _, laid, loops = wound({"winding.shape": shape, "winding.phases": phases, "winding.layers": 2})
    covered = np.concatenate([first + np.arange(count) for first, count in zip(loops.first, loops.pieces, strict=True)])
    assert sorted(covered.tolist()) == list(range(laid.pieces.count))
    assert math.fsum(loops.length_m) == pytest.approx(math.fsum(lengths(laid.pieces)), rel=1e-12)
    assert np.array_equal(loops.phase, laid.pieces.phase[loops.first])


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_layers_come_one_after_the_other_and_phases_within_them(shape: str, wound: Callable) -> None:
    _, _, loops = wound({"winding.shape": shape})
    assert np.all(np.diff(loops.layer) >= 0)
    for layer in range(4):
        assert np.all(np.diff(loops.phase[loops.layer == layer]) >= 0)


def test_turns_of_a_closed_shape_are_wound_pair_by_pair(wound: Callable) -> None:
    _, laid, loops = wound({"winding.shape": "diamond"})
    count = laid.rounds_per_group
    assert loops.round[: 2 * count].tolist() == [*range(count), *range(count)]
    assert loops.turn[: 2 * count].tolist() == [0] * count + [1] * count


def test_links_join_what_follows_in_one_wire(wound: Callable) -> None:
    """From round to round a wire leads one step along the inner ends; from layer to layer back, and one sheet up."""
    _, laid, loops = wound({})
    own = loops.phase == 0
    step, count = laid.step_rad * laid.inner_radius_m, laid.rounds_per_group
    assert loops.link_m[own][0] == 0
    assert loops.link_m[own][1:count] == pytest.approx(step, rel=1e-9)
    assert loops.link_m[own][count] == pytest.approx(math.hypot((count - 1) * step, 2 * 0.679e-3), rel=1e-9)


def test_parallel_groups_are_wires_of_their_own(wound: Callable) -> None:
    _, _, loops = wound({"winding.parallel": 4})
    assert set(loops.wire.tolist()) == {0, 1, 2, 3}
    assert np.count_nonzero(loops.link_m == 0) == 3 * 4
    lengths_ = [math.fsum(loops.length_m[(loops.phase == 0) & (loops.wire == w)]) for w in range(4)]
    assert lengths_ == pytest.approx([lengths_[0]] * 4, rel=1e-12)


def test_home_is_the_first_round_of_the_first_layer(wound: Callable) -> None:
    _, _, loops = wound({"winding.belts": 2})
    home = loops.home
    assert np.all(loops.round[home] == 0)
    assert np.all(loops.layer[home] == 0)
    for name in ("phase", "belt", "turn"):
        column = getattr(loops, name)
        assert np.array_equal(column[home], column)


PATH = "loop,phase,r_mm,theta_deg,z_mm,edge\n"


def rows(phase: int, loop: int, start: float) -> str:
    corners = [(53, 0), (79, 0), (79, 15), (53, 15)]
    edges = ["line", "arc", "line", "arc"]
    text = "".join(
        f"{loop},{phase},{r},{start + theta},4,{edge}\n" for (r, theta), edge in zip(corners, edges, strict=True)
    )
    return f"{text}{loop},{phase},53,{start},4,\n"


def test_copies_of_a_path_are_its_rounds_whether_it_names_its_phases_or_not(wound: Callable, tmp_path) -> None:
    named = PATH + "".join(rows(k, k, (k - 1) * 30) for k in (1, 2, 3))
    (tmp_path / "own.csv").write_text(named)
    plain = PATH.replace("phase,", "") + rows(1, 1, 0).replace("1,1,", "1,")
    (tmp_path / "plain.csv").write_text(plain)
    changes = {"winding.shape": "path", "winding.rounds": 2, "winding.step_deg": 1.0, "winding.layers": None}
    changes |= {"winding.inner_radius_mm": None, "winding.outer_radius_mm": None}
    for file in ("own.csv", "plain.csv"):
        _, _, loops = wound(changes | {"winding.file": file})
        assert loops.phase.tolist() == [0, 0, 1, 1, 2, 2]
        assert loops.round.tolist() == [0, 1, 0, 1, 0, 1]
        assert loops.home.tolist() == [0, 0, 2, 2, 4, 4]

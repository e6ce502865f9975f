"""Currents that go round inside: two strands as two windings, groups as windings of their own, a delta by its mesh."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import jv, jvp

from fieldrun.design.materials import copper_resistivity
from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import FieldMap, uniform_map
from fieldrun.generator.circulating import delta_current_a, group_loss, lie_side_by_side, strand_loss
from fieldrun.generator.emf import emf_harmonics, emf_of, emf_per_speed
from fieldrun.generator.impedance import impedance
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import ARC, LINE, Pieces, lengths

P = 4
PAIR = Wire("litz", 0.4e-3, 2, 0.8e-3, temperature_c=60.0)
SOLID = Wire("solid", 0.8e-3, 1, 0.86e-3)
WINDING = Winding("serpentine", 0.060, 0.110, 3, 4, 2, 0.005)


def hill() -> FieldMap:
    """A field with all three components, falling over radius and rising over height, two harmonics."""
    flat = uniform_map(P, [0.6, 0.1], (0.03, 0.14), 0.02)
    over_radius = np.exp(-(((flat.radii_m - 0.08) / 0.05) ** 2))[None, :, None]
    over_height = (1 + 20 * flat.heights_m)[None, None, :]
    b_z = flat.b_z_t * over_radius * over_height
    return replace(flat, b_z_t=b_z, b_r_t=0.2 * b_z, b_theta_t=-0.3j * b_z)


def turn(shift: float = 0.0, lift: float = 0.0) -> Pieces:
    """One closed turn of two arcs and two radial legs, every side moved outward by `shift`, all of it lifted."""
    r1, r2, z = 0.06 - shift, 0.10 + shift, 0.006 + lift
    low, high = -0.2, 0.4
    corners = [(r1, low - shift / r1), (r2, low - shift / r2), (r2, high + shift / r2), (r1, high + shift / r1)]
    start = np.array([(*corner, z) for corner in corners])
    return Pieces(
        np.array([LINE, ARC, LINE, ARC]), start, np.roll(start, -1, 0), np.zeros(4, np.int64), np.zeros(4, np.int64)
    )


HALF = (PAIR.overall_diameter_m - PAIR.strand_diameter_m) / 2
"""Where the middles of the two strands lie, to either side of the bundle's."""


def ohms_of(pieces: Pieces, wire: Wire) -> float:
    area = math.pi / 4 * wire.strand_diameter_m**2
    return copper_resistivity(wire.temperature_c) * float(np.sum(lengths(pieces))) / area


def pair_loss(field: FieldMap, one: Pieces, other: Pieces) -> float:
    """Two strands joined at both ends: the difference of their EMFs over both resistances."""
    difference = emf_harmonics(field, one, 1) - emf_harmonics(field, other, 1)
    return float(np.sum(np.abs(difference) ** 2)) / 2 / (2 * ohms_of(turn(), PAIR))


def without(field: FieldMap, *parts: str) -> FieldMap:
    return replace(field, **{part: np.zeros_like(field.b_z_t) for part in parts})


def test_strands_beside_each_other_are_two_windings_of_different_width() -> None:
    """The EMF of each strand's own path by v x B along it, against the flux through the strip between them."""
    field = without(hill(), "b_r_t", "b_theta_t")
    found = strand_loss(field, turn(), PAIR, 1).in_order_w_s2
    assert found == pytest.approx(pair_loss(field, turn(HALF), turn(-HALF)), rel=1e-3)


def source_free() -> FieldMap:
    """A field that Maxwell allows: phi = J_p(k r) exp(k z) cos(p theta), B = -grad phi, k = 40 per metre."""
    radii, heights, k = np.linspace(0.03, 0.14, 111), np.linspace(0, 0.02, 9), 40.0
    rise = np.exp(k * heights)
    bessel, slope = jv(P, k * radii)[None, :, None], jvp(P, k * radii)[None, :, None]
    around = -1j * P / radii[None, :, None] * bessel
    return FieldMap(P, np.array([1]), radii, heights, -k * slope * rise, around * rise, -k * bessel * rise)


def test_strands_above_each_other_are_two_windings_at_different_heights() -> None:
    """B_z through both windings against B_r and B_theta through what stands between them."""
    field = source_free()
    found = strand_loss(without(field, "b_z_t"), turn(), PAIR, 1).in_order_w_s2
    assert found == pytest.approx(pair_loss(field, turn(lift=HALF), turn(lift=-HALF)), rel=1e-4)


def test_the_worst_orientation_is_no_better_than_either_and_no_worse_than_both() -> None:
    field = hill()
    beside = strand_loss(without(field, "b_r_t", "b_theta_t"), turn(), PAIR, 1).in_order_w_s2
    above = strand_loss(without(field, "b_z_t"), turn(), PAIR, 1).in_order_w_s2
    assert max(beside, above) <= strand_loss(field, turn(), PAIR, 1).in_order_w_s2 <= beside + above


@pytest.mark.parametrize("name", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_turning_over_at_bends_is_never_better(bundled, name: str) -> None:
    result = bundled(name)
    loss = strand_loss(result.field_map, result.paths, PAIR, 3)
    assert 0 < loss.in_order_w_s2 < loss.at_most_w_s2


def test_many_strands_over_the_same_width() -> None:
    """N departures spread evenly: sum of u^2 = N w^2/12 (N + 1)/(N - 1), each in its own strand's ohms."""
    field = hill()
    pair = strand_loss(field, turn(), PAIR, 1)
    places = np.linspace(-HALF, HALF, 9)
    many = strand_loss(field, turn(), replace(PAIR, strands=9), 1)
    share = float(np.sum(places**2) / (2 * HALF**2))
    assert many.in_order_w_s2 == pytest.approx(share * pair.in_order_w_s2, rel=1e-12)
    assert many.at_most_w_s2 == pytest.approx(share * pair.at_most_w_s2, rel=1e-12)
    series = strand_loss(field, turn(), replace(PAIR, strands=18, strands_in_series=2), 1)
    assert series.in_order_w_s2 == pytest.approx(2 * many.in_order_w_s2, rel=1e-12)


def test_phases_add_and_fields_square() -> None:
    pieces = lay(WINDING, P, SOLID).pieces
    field = hill()
    three = strand_loss(field, pieces, PAIR, 3)
    first = np.flatnonzero(pieces.phase == 0)
    alone = Pieces(*(getattr(pieces, part)[first] for part in ("kind", "start", "end", "phase", "loop")))
    one = strand_loss(field, alone, PAIR, 1)
    assert three.in_order_w_s2 == pytest.approx(3 * one.in_order_w_s2, rel=1e-9)
    assert three.at_most_w_s2 == pytest.approx(3 * one.at_most_w_s2, rel=1e-9)
    strong = replace(field, b_r_t=2 * field.b_r_t, b_theta_t=2 * field.b_theta_t, b_z_t=2 * field.b_z_t)
    assert strand_loss(strong, pieces, PAIR, 3).at_most_w_s2 == pytest.approx(4 * three.at_most_w_s2, rel=1e-12)


@pytest.mark.parametrize(
    ("wire", "answer"),
    [
        (SOLID, False),
        (PAIR, True),
        (replace(PAIR, lay_m=0.02), False),
        (replace(PAIR, strands=6, strands_in_series=3), True),
        (replace(PAIR, strands=6, strands_in_series=6), False),
    ],
)
def test_which_bundles_have_strands_side_by_side(wire: Wire, answer: bool) -> None:
    assert lie_side_by_side(wire) is answer


EVEN = uniform_map(P, [0.6, 0.1], (0.05, 0.12), 0.02)


def groups_of(groups: int, winding: Winding = WINDING, field: FieldMap = EVEN, wire: Wire = SOLID):
    joined = replace(winding, parallel=groups)
    pieces = lay(winding, P, wire).pieces
    return group_loss(field, pieces, joined, wire, impedance(pieces, wire, joined).resistance_hot_ohm)


def test_groups_of_whole_layers_are_alike_where_the_field_is() -> None:
    loss = groups_of(2)
    assert loss is not None
    assert (loss.difference, loss.current_a_s, loss.loss_w_s2) == pytest.approx((0, 0, 0), abs=1e-12)


def test_the_second_belt_is_as_good_as_the_first() -> None:
    """One pole pitch on and run backwards: odd harmonics do not notice."""
    split = replace(WINDING, shape="zigzag", belts=2, layers=1)
    loss = groups_of(2, split)
    assert loss is not None
    assert loss.difference == pytest.approx(0, abs=1e-12)


def test_two_groups_of_one_belt_differ_in_phase() -> None:
    """Two rounds a step apart: EMFs E exp(-+ j p x/2), so that each departs from the mean by i tan(p x/2)."""
    belt = replace(WINDING, layers=1, rounds=2)
    laid = lay(belt, P, SOLID)
    loss = groups_of(2, belt)
    assert loss is not None
    assert loss.difference == pytest.approx(math.tan(P * laid.step_rad / 2), rel=1e-9)
    single = lay(replace(belt, rounds=1), P, SOLID).pieces
    own = np.abs(emf_harmonics(EVEN, single, 3)[0])
    ohms = impedance(single, SOLID, belt).resistance_hot_ohm
    departure = own * np.sin(EVEN.orders * P * laid.step_rad / 2)
    amps = float(np.linalg.norm(departure)) / math.sqrt(2) / ohms
    assert loss.current_a_s == pytest.approx(amps, rel=1e-9)
    assert loss.loss_w_s2 == pytest.approx(3 * 2 * amps**2 * ohms, rel=1e-9)


def test_layers_over_a_bare_face_differ_in_size() -> None:
    loss = groups_of(2, field=hill())
    assert loss is not None
    low, high = lay(WINDING, P, SOLID).sheet_heights_m
    sizes = np.array([1 + 20 * low, 1 + 20 * high])
    assert loss.difference == pytest.approx((sizes[1] - sizes[0]) / sizes.sum(), rel=1e-9)


def test_strands_in_series_raise_volts_and_ohms() -> None:
    belt, wire = replace(WINDING, layers=1, rounds=2), replace(PAIR, overall_diameter_m=SOLID.overall_diameter_m)
    one, two = groups_of(2, belt, wire=wire), groups_of(2, belt, wire=replace(wire, strands_in_series=2))
    assert one is not None
    assert two is not None
    assert two.difference == pytest.approx(one.difference, rel=1e-12)
    assert two.current_a_s == pytest.approx(one.current_a_s / 2, rel=1e-12)
    assert two.loss_w_s2 == pytest.approx(one.loss_w_s2, rel=1e-12)


def test_a_path_in_one_piece_cannot_be_shared() -> None:
    pieces = replace(lay(WINDING, P, SOLID).pieces)
    one_loop = replace(pieces, loop=np.zeros(pieces.count, np.int64))
    assert group_loss(EVEN, one_loop, replace(WINDING, parallel=2), SOLID, 1.0) is None


def balanced(third: complex) -> np.ndarray:
    lag = np.exp(1j * np.outer(np.arange(3), [1, 3, 5, 9]) * 2 * np.pi / 3)
    return np.array([4.0, third, 0.3, 0.05j]) * lag


def test_a_delta_carries_its_third_and_ninth_harmonics_only() -> None:
    emf = emf_of(P, np.array([1, 3, 5, 9]), balanced(0.6), star=False)
    amps = 3 * math.hypot(0.6, 0.05) / math.sqrt(2) / (3 * 1.5)
    assert delta_current_a(emf, 1.5, 1.0) == pytest.approx(amps, rel=1e-12)
    assert delta_current_a(emf, 1.5, 20.0) == pytest.approx(20 * amps, rel=1e-12)


def test_inductance_holds_the_current_back() -> None:
    emf = emf_of(P, np.array([1, 3, 5, 9]), balanced(0.6), star=False)
    speed, henries = 50.0, 2e-3
    third = 0.6 * speed / abs(1.5 + 3j * P * speed * henries)
    ninth = 0.05 * speed / abs(1.5 + 9j * P * speed * henries)
    assert delta_current_a(emf, 1.5, speed, henries) == pytest.approx(
        math.hypot(third, ninth) / math.sqrt(2), rel=1e-12
    )
    assert delta_current_a(emf, 1.5, speed, henries) < delta_current_a(emf, 1.5, speed)


def test_belts_of_120_degrees_let_next_to_no_third_harmonic_into_a_delta() -> None:
    """Closed form: N rounds x apart keep sin(3 N x/2) / (N sin(3 x/2)) of it, which is 0 at N x = 120 degrees."""
    field, thin = uniform_map(P, [0.6, 0.2], (0.05, 0.12), 0.02), replace(SOLID, overall_diameter_m=0.15e-3)

    def current(rounds: int | None) -> tuple[float, Lay]:
        winding = replace(WINDING, shape="zigzag", layers=1, rounds=rounds, connection="delta")
        laid = lay(winding, P, thin)
        return delta_current_a(emf_per_speed(field, laid, winding, thin), 1.0, 1.0), laid

    alone = current(1)[0]
    for rounds in (4, 20, None):
        found, laid = current(rounds)
        x, count = 3 * P * laid.step_rad, laid.rounds_per_phase
        assert found == pytest.approx(alone * abs(math.sin(count * x / 2) / math.sin(x / 2)), rel=1e-9)
    assert laid.belt_rad == pytest.approx(2 * math.pi / 3, rel=0.02)
    assert found < 0.03 * count * alone

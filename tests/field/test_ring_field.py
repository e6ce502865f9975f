"""From machine to field: which harmonics, when they are coupled, what is told of the steel; sane for odd machines."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.errors import SolveError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, Plate, Rotor, SteelCurve
from fieldrun.field import coupled_rings
from fieldrun.field.coupled_rings import solve_coupled
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.outline import radial_breaks_m
from fieldrun.field.ring_field import KNEE_T, SATURATES_T, orders_of, peak_t, ring_field
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_steel import steel_state, steel_tables
from fieldrun.field.ring_system import first_orders, ring_system
from tests.rings import ring_map

GAP = 0.009
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.022, 0.016, 0.066))
MILD = steel_curve("mild steel")
OPEN = Rotor(1, None, None, None, 0.050, 0.082)
FACING = replace(OPEN, faces=2, gap_m=GAP)
COARSE = RingDensity().coarser(2)


def backed(thickness: float, rotor: Rotor = FACING) -> Rotor:
    return replace(rotor, backing=Plate(MILD, thickness))


def spread(field_map: FieldMap) -> np.ndarray:
    return np.stack([field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t])


@pytest.mark.parametrize(
    ("thickness", "gap", "count"),
    [(0.006, 0.009, 18), (0.02, None, 8), (0.02, 0.1, 8), (0.006, 0.002, 24), (0.0003, None, 24), (0.006, 0.0002, 24)],
)
def test_harmonics_carried(thickness: float, gap: float | None, count: int) -> None:
    """Odd, eight to 24, those with exp(-n pi z / tau) / n above 1e-3 an eighth of the least length up."""
    magnets = replace(DISCS, thickness_m=thickness)
    orders = orders_of(magnets, replace(FACING if gap else OPEN, gap_m=gap))
    assert orders.tolist() == list(range(1, 2 * count, 2))
    pitch = math.pi * 0.066 / 8
    height = min(thickness, pitch, gap or math.inf) / 8
    felt = [math.exp(-n * math.pi * height / pitch) / n for n in (2 * count - 1, 2 * count + 1)]
    assert count == 8 or felt[0] > 1e-3
    assert count == 24 or felt[1] <= 1e-3


@pytest.mark.parametrize("magnets", [DISCS, replace(DISCS, recoil_permeability=1.0)], ids=["mu 1.05", "mu 1"])
@pytest.mark.parametrize("rotor", [OPEN, FACING, replace(FACING, backing=Plate(None))])
def test_without_steel_of_its_own(rotor: Rotor, magnets: Magnets) -> None:
    found = ring_field(magnets, rotor)
    assert (found.model, found.steel, found.newton_steps) == ("rings", (), 0)
    assert found.unknowns > 1000
    assert found.field_map.orders.tolist() == orders_of(magnets, rotor).tolist()
    np.testing.assert_array_equal(spread(ring_map(magnets, rotor)), spread(found.field_map))


@pytest.mark.parametrize(("thickness", "model"), [(0.012, "rings"), (0.006, "rings"), (0.002, "coupled rings")])
def test_harmonics_are_coupled_where_the_steel_saturates(thickness: float, model: str) -> None:
    rotor = backed(thickness)
    system = ring_system(DISCS, ring_mesh(DISCS, rotor, COARSE), np.array([1]))
    alone = max(peak_t(state) for state in solve_coupled(system).states)
    found = ring_field(DISCS, rotor, COARSE)
    assert found.model == model
    assert (alone >= SATURATES_T) == (model == "coupled rings")
    assert found.newton_steps > 0


def test_steel_that_does_not_settle_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coupled_rings, "NEWTON_STEPS", 1)
    with pytest.raises(SolveError, match=r"did not settle within 1 Newton steps \(backing of .*, 2 mm\)"):
        ring_field(DISCS, backed(0.002), COARSE)


def test_all_harmonics_coupled_are_nearly_six() -> None:
    """Nothing is left to be solved with the steel held: 0.3 % of the fundamental, where the steel carries 2.2 T."""
    some, every = (ring_field(DISCS, backed(0.002), COARSE, coupled) for coupled in (6, 99))
    one, other = (amplitudes_at(found.field_map, [0.066], [0.0045])[2, 0, 0].real for found in (some, every))
    assert every.steel[0].peak_t > 2
    assert one != other
    assert one == pytest.approx(other, rel=3e-3)


def test_newton_steps_of_linear_rings_are_those_of_the_fundamental() -> None:
    rotor = backed(0.012)
    system = ring_system(DISCS, ring_mesh(DISCS, rotor, COARSE), orders_of(DISCS, rotor))
    assert ring_field(DISCS, rotor, COARSE).newton_steps == solve_coupled(first_orders(system, 1)).newton_steps


def test_what_is_told_of_the_steel() -> None:
    rotor = replace(OPEN, gap_m=GAP, backing=Plate(MILD, 0.002), return_plate=Plate(steel_curve("DC01"), 0.0015))
    backing, plate = ring_field(DISCS, rotor, COARSE).steel
    assert (backing.name, plate.name) == ("backing", "return plate")
    assert (backing.steel, plate.steel) == (MILD.name, "DC01")
    for report, low, high in ((backing, -0.008, -0.006), (plate, GAP, GAP + 0.0015)):
        radius, theta, height = report.peak_at
        assert 1.0 < report.peak_t < 3.0
        assert 0.050 < radius < 0.082
        assert low < height < high
        assert 0 < report.peak_phase < 1
        assert theta == pytest.approx(report.peak_phase * math.pi / 16)
    assert 0 < backing.above_knee < 1
    assert plate.above_knee == 0
    assert plate.peak_phase > 0.9  # flux crosses from pole to pole halfway between them


def test_share_above_the_knee_by_hand() -> None:
    """Volume r dr dz dtheta of the Gauss points above 1.6 T, from the coupled potential itself."""
    rotor = backed(0.002)
    found = ring_field(DISCS, rotor, COARSE)
    system = ring_system(DISCS, ring_mesh(DISCS, rotor, COARSE), orders_of(DISCS, rotor))
    few = first_orders(system, 6)
    (steel,) = steel_tables(few.mesh, few.waves)
    flux = steel_state(steel, solve_coupled(few).potential).flux_density_t
    r_dr = (steel.radial.points_m * steel.radial.weights_m).ravel()
    volume = r_dr[:, None, None] * steel.axial.weights_m.ravel()[:, None] * np.ones(flux.shape[2])
    share = volume[flux > KNEE_T].sum() / volume.sum()
    assert found.steel[0].above_knee == pytest.approx(share, abs=2e-3)
    assert found.steel[0].peak_t == pytest.approx(flux.max(), rel=1e-3)


def test_thinner_steel_is_told_to_carry_more() -> None:
    reports = [ring_field(DISCS, backed(thickness), COARSE).steel[0] for thickness in (0.02, 0.006, 0.002, 0.001)]
    peaks, shares = [one.peak_t for one in reports], [one.above_knee for one in reports]
    assert peaks == sorted(peaks)
    assert shares == sorted(shares)
    assert peaks[0] < 1.2
    assert peaks[-1] > 2.0
    assert shares[0] == 0
    assert shares[-1] > 0.5


@pytest.mark.parametrize("rotor", [FACING, backed(0.006), backed(0.002)], ids=["none", "linear", "coupled"])
def test_the_same_bytes_twice(rotor: Rotor) -> None:
    one, other = ring_field(BLOCKS, rotor, COARSE), ring_field(BLOCKS, rotor, COARSE)
    assert spread(one.field_map).tobytes() == spread(other.field_map).tobytes()
    assert one.field_map.radii_m.tobytes() == other.field_map.radii_m.tobytes()
    assert one.steel == other.steel
    assert (one.newton_steps, one.unknowns) == (other.newton_steps, other.unknowns)


def test_two_harmonics_coupled_are_less_than_six() -> None:
    rotor = backed(0.002)
    two, six, eight = (ring_field(DISCS, rotor, COARSE, coupled).field_map.b_z_t[0].real for coupled in (2, 6, 8))
    middle = (np.argmax(np.abs(six[:, -1])), six.shape[1] // 2)
    assert abs(six[middle] - eight[middle]) < 1e-3 * abs(eight[middle])
    assert abs(six[middle] - eight[middle]) < abs(two[middle] - eight[middle])


def test_results_are_read_only() -> None:
    found = ring_field(DISCS, FACING, COARSE).field_map
    for array in (found.orders, found.radii_m, found.heights_m, found.b_r_t, found.b_theta_t, found.b_z_t):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


@pytest.mark.parametrize("offset", [1e-16, 1e-12, 1e-9, 1e-6])
def test_steel_that_ends_with_the_magnets_but_for_a_hair(offset: float) -> None:
    """Radii in round millimetres miss each other by a rounding; the field is that of radii that meet.

    Held to 1e-3 of the fundamental's peak in the gap's middle and 1 mm up, 0.3 mm and more off the magnets' ends.
    """
    near = replace(backed(0.004), steel_inner_radius_m=0.056 - offset, steel_outer_radius_m=0.076 + offset)
    meeting = replace(near, steel_inner_radius_m=0.056, steel_outer_radius_m=0.076)
    magnets = replace(DISCS, outline=Arc(0.056, 0.076, 0.7))
    radii = 0.066 + 0.001 * np.linspace(-15, 15, 61)
    radii = radii[np.abs(np.abs(radii - 0.066) - 0.010) > 3e-4]
    one, other = (sampled(ring_map(magnets, rotor, COARSE), radii) for rotor in (near, meeting))
    assert np.abs(one - other).max() < 1e-3 * np.abs(other).max()


def sampled(field_map: FieldMap, radii: np.ndarray) -> np.ndarray:
    return np.stack([amplitudes_at(field_map, radii, np.full(len(radii), z))[:, 0] for z in (0.001, GAP / 2)])


def log(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(math.log(low), math.log(high)).map(math.exp)


@st.composite
def machines(draw: st.DrawFn) -> tuple[Magnets, Rotor]:
    """Any proportions that can be built: poles 2 to 200, magnets from foil to bar, gaps from a hair to five pitches."""
    poles = 2 * draw(st.sampled_from([1, 2, 3, 5, 8, 20, 100]))
    radius, segments = draw(log(0.01, 1.0)), draw(st.sampled_from([1, 1, 2, 4]))
    pitch, half = 2 * math.pi * radius / poles, math.pi / (poles * segments)
    depth, share = min(draw(log(0.03, 1.8)) * radius, 8 * pitch), draw(st.floats(0.1, 1.0))
    shapes: list[Outline] = [Arc(radius - depth / 2, radius + depth / 2, share)]
    room = 2 * (radius - depth / 2) * (math.tan(half) if poles * segments > 2 else 1)
    shapes.append(Block(depth, 0.99 * share * room, radius))
    if segments == 1:
        shapes.append(Disc(share * 1.9 * radius * min(math.sin(half), 0.9), radius))
    magnets = Magnets(
        draw(st.sampled_from(shapes)),
        poles,
        draw(log(0.02, 2)) * pitch,
        draw(st.floats(0.05, 1.6)),
        draw(st.sampled_from([1.0, 1.05, 1.3, 3.0])),
        7500.0,
        pattern="alternating" if segments == 1 else "halbach",
        segments_per_pole=segments,
    )
    return magnets, draw(rotors(magnets, pitch))


@st.composite
def rotors(draw: st.DrawFn, magnets: Magnets, pitch: float) -> Rotor:
    """Discs that overhang the magnets by up to three pitches, or leave up to a fifth of them bare."""

    def plate() -> Plate:
        named = SteelCurve(draw(st.sampled_from(["mild steel", "DC01", "TEAM 13"])), (), ())
        return draw(st.sampled_from([Plate(None), Plate(named, draw(log(0.01, 1)) * pitch)]))

    backing, gap = draw(st.sampled_from([None, plate()])), draw(log(0.01, 5)) * pitch
    first, *_, last = radial_breaks_m(magnets)
    over = draw(st.floats(-0.2 * (last - first), 3 * pitch))
    bare = Rotor(1, None, backing, None, max(first - over, first / 10), last + over)
    return draw(
        st.sampled_from(
            [bare, replace(bare, gap_m=gap, return_plate=plate()), replace(bare, faces=2, gap_m=gap)],
        )
    )


def with_curve(plate: Plate | None) -> Plate | None:
    """The curve that a plate's steel names; a failing machine is short enough to read without it."""
    return plate and replace(plate, steel=plate.steel and steel_curve(plate.steel.name))


@pytest.mark.slow
@settings(derandomize=True, max_examples=25, deadline=None)
@given(machine=machines())
def test_odd_machines_give_numbers_or_a_plain_word(machine: tuple[Magnets, Rotor]) -> None:
    """Finite fields (a map refuses others) of no more than the magnets can do, on meshes that stay small."""
    magnets, rotor = machine
    rotor = replace(rotor, backing=with_curve(rotor.backing), return_plate=with_curve(rotor.return_plate))
    try:
        found = ring_field(magnets, rotor, COARSE)
    except SolveError:
        return
    assert found.unknowns < 6000 * len(found.field_map.orders)
    middle = found.field_map.b_z_t[0, :, len(found.field_map.heights_m) // 2]
    assert 0 < np.abs(middle).max() < 2 * magnets.remanence_t

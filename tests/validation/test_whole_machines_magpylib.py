"""Whole machines against magpylib: the EMF waveform along the laid wire, and the field in the gap, harmonics nowhere.

The truth of each machine is the field of all its magnets (and of their mirror images in ideal plates) in magpylib's
closed forms (Ortner & Coliado Bandeira, SoftwareX 11 (2020) 100466), at Gauss points along one phase's conductors and
at rotor angles over half an electrical period; recoil permeability 1. The EMF is -((z x r) x B) . dl summed in
Cartesian components. Two models answer: the package's own field, and the exact kernel that judges it.
"""

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.model import Arc, Magnets, Rotor, Winding, Wire
from fieldrun.field.field_map import FieldMap, field_at
from fieldrun.field.solve import field_of, slices_of
from fieldrun.generator.emf import Emf, emf_per_speed
from fieldrun.reference.ring_kernel import ring_kernel_map
from fieldrun.reference.shares import bend_radii
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import LINE, Pieces
from fieldrun.winding.sampling import selected
from tests.validation.machines import (
    BACKED,
    BARE,
    MM,
    arc,
    backed_to_plate,
    bare_to_plate,
    block,
    disc,
    magnets_of,
    two_backed,
    two_bare,
    wire,
    wound,
)

ORDERS = range(1, 32, 2)
FUNDAMENTAL_MISS = RMS_MISS = 0.005
HARMONIC_MISS = FIELD_MISS = 0.01
"""What a model may miss: harmonics by this part of the fundamental, the field by this part of its peak."""


@dataclass(frozen=True)
class Machine:
    """Magnets with recoil permeability 1, ideal plates; `angles` over half a period and `reflections` for the truth."""

    magnets: Magnets
    rotor: Rotor
    winding: Winding
    wire: Wire
    angles: int = 16
    reflections: int = 10


def own_path(file: str) -> Winding:
    return Winding("path", None, None, 3, None, 1, 0.0, file=file)


PATHS = {
    "rising.csv": """loop,r_mm,theta_deg,z_mm,edge
1,53,-2,2,line
1,79,3,9,arc
1,79,20,4,spiral
1,55,24.5,10,line
1,53,-2,2,
""",
    "hop.csv": """loop,r_mm,theta_deg,z_mm,edge
1,52,0,5,line
1,79,0,5,line
1,79,0,1,arc
1,79,22.5,1,line
1,79,22.5,5,line
1,52,22.5,5,line
1,52,22.5,1,arc
1,52,0,1,line
1,52,0,5,
""",
}

MACHINES = {
    "16 discs, bare; zigzag": Machine(
        magnets_of(disc(20, 66), 16, 6), BARE, wound("zigzag", 54, 78, 3, rounds=2), wire(0.9)
    ),
    "12 discs on steel; serpentine, 2 layers": Machine(
        magnets_of(disc(25, 58), 12, 8), BACKED, wound("serpentine", 40, 74, 3, rounds=4, layers=2), wire(1.0)
    ),
    "8 discs on steel to a plate; spiral diamond": Machine(
        magnets_of(disc(30, 50), 8, 10), backed_to_plate(8), wound("diamond", 33, 67, 4, leg="spiral"), wire(1.2)
    ),
    "10 discs to a plate; rhomboid": Machine(
        magnets_of(disc(18, 40), 10, 5), bare_to_plate(7), wound("rhomboid", 28, 52, 3.5, phases=2), wire(0.8)
    ),
    "24 discs, almost touching, two bare faces; hexagon": Machine(
        magnets_of(disc(15, 58.5), 24, 5), two_bare(6), wound("hexagon", 50, 67, 3), wire(0.7)
    ),
    "16 discs, two faces on steel; spiral zigzag, 2 layers": Machine(
        magnets_of(disc(20, 66), 16, 6),
        two_backed(9),
        wound("zigzag", 55, 77, 4.5, leg="spiral", rounds=2, layers=2),
        wire(1.2),
        reflections=5,
    ),
    "4 blocks, bare; spiral zigzag": Machine(
        magnets_of(block(30, 40, 45), 4, 10), BARE, wound("zigzag", 25, 65, 4, leg="spiral"), wire(1.0)
    ),
    "20 blocks, almost touching, on steel; serpentine close to them": Machine(
        magnets_of(block(20, 15.5, 60), 20, 5), BACKED, wound("serpentine", 48, 72, 1.5, rounds=2), wire(0.8)
    ),
    "6 blocks on steel to a plate; hexagon": Machine(
        magnets_of(block(25, 30, 40), 6, 8), backed_to_plate(7), wound("hexagon", 24, 56, 3.5), wire(1.0)
    ),
    "16 blocks to a plate; narrow zigzag, 2 belts": Machine(
        magnets_of(block(24, 14, 66), 16, 6),
        bare_to_plate(9),
        wound("zigzag", 50, 82, 4, span=0.6, rounds=2, belts=2),
        wire(1.0),
    ),
    "14 blocks, two bare faces 3 mm apart; diamond": Machine(
        magnets_of(block(18, 16, 50), 14, 4), two_bare(3), wound("diamond", 40, 60, 1.5), wire(0.5)
    ),
    "12 blocks, two faces on steel; spiral rhomboid": Machine(
        magnets_of(block(30, 20, 60), 12, 8),
        two_backed(12),
        wound("rhomboid", 40, 80, 6, leg="spiral", skew=1.0),
        wire(1.0),
        reflections=5,
    ),
    "8 arcs, bare; serpentine inside their ring": Machine(
        magnets_of(arc(30, 60, 0.8), 8, 8), BARE, wound("serpentine", 36, 54, 3), wire(1.0)
    ),
    "12 arcs on steel; zigzag": Machine(
        magnets_of(arc(45, 70, 0.65), 12, 6), BACKED, wound("zigzag", 42, 73, 2.5), wire(0.8), angles=12
    ),
    "16 arcs, touching, on steel to a plate; serpentine": Machine(
        magnets_of(arc(50, 75, 1.0), 16, 5),
        backed_to_plate(6),
        wound("serpentine", 48, 77, 3),
        wire(0.8),
        angles=12,
        reflections=6,
    ),
    "6 arcs to a plate; spiral diamond": Machine(
        magnets_of(arc(30, 55, 0.75), 6, 10),
        bare_to_plate(10),
        wound("diamond", 27, 58, 5, leg="spiral", phases=1),
        wire(1.0),
        angles=12,
    ),
    "18 arcs, two bare faces; rhomboid": Machine(
        magnets_of(arc(60, 80, 0.7), 18, 5), two_bare(8), wound("rhomboid", 57, 83, 4, skew=0.3), wire(1.0), angles=12
    ),
    "10 arcs, two faces on steel; narrow spiral zigzag": Machine(
        magnets_of(arc(35, 60, 0.7), 10, 6),
        two_backed(8),
        wound("zigzag", 33, 62, 4, span=0.5, leg="spiral"),
        wire(1.0),
        angles=12,
        reflections=5,
    ),
    "16 discs, two bare faces; rising path": Machine(
        magnets_of(disc(20, 66), 16, 6), two_bare(12), own_path("rising.csv"), wire(1.0)
    ),
    "16 blocks on steel; path that hops at the rims": Machine(
        magnets_of(block(24, 14, 66), 16, 6), BACKED, own_path("hop.csv"), wire(1.0)
    ),
}

DEAR = [name for name, machine in MACHINES.items() if isinstance(machine.magnets.outline, Arc)]
"""Sectors of a ring cost magpylib a hundred times as much as discs and blocks."""

ENDLESS = [name for name, machine in MACHINES.items() if machine.rotor.backing and (machine.rotor.gap_m is not None)]
"""Between two plates images never end."""

Field = Callable[[np.ndarray], np.ndarray]
"""Cartesian points (k, 3) [m] to B (k, 3) [T]."""


@dataclass(frozen=True, eq=False)
class Wave:
    """EMF per speed at (a,) rotor angles over half a period [V s/rad], and the part of it that B_r brings."""

    angles_rad: np.ndarray
    waveform: np.ndarray
    rising: np.ndarray
    peak_t: float


@dataclass(frozen=True, eq=False)
class Truth:
    """What magpylib says: the EMF, B_r, B_theta, B_z (3, k) [T] at points (k, 3) r, theta, z, and the peak of B_z."""

    emf: Wave
    points: np.ndarray
    field: np.ndarray
    peak_t: float


@pytest.fixture(scope="session")
def paths(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("paths")
    for name, text in PATHS.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def laid(paths: Path) -> Callable[[str], Lay]:
    def of(name: str) -> Lay:
        machine = MACHINES[name]
        return lay(machine.winding, machine.magnets.pole_pairs, machine.wire, paths)

    return functools.cache(of)


@pytest.fixture(scope="session")
def magpylib_field(whole_magnets: Callable[..., np.ndarray]) -> Callable[[Machine], Field]:
    def of(machine: Machine) -> Field:
        return functools.partial(whole_magnets, machine.magnets, machine.rotor, reflections=machine.reflections)

    return of


@pytest.fixture(scope="session")
def truth(laid: Callable[[str], Lay], magpylib_field: Callable[[Machine], Field]) -> Callable[[str], Truth]:
    def of(name: str) -> Truth:
        machine, winding = MACHINES[name], laid(name)
        field = magpylib_field(machine)
        emf = emf_waveform(field, *one_pole_pair(winding), machine)
        points = gap_points(machine, winding)
        at_points = cylindrical(field(placed(points)), points[:, 1])
        return Truth(emf, points, at_points, max(emf.peak_t, float(np.abs(at_points[2]).max())))

    return functools.cache(of)


def first_phase(winding: Lay) -> Pieces:
    return selected(winding.pieces, winding.pieces.phase == 0)


def one_pole_pair(winding: Lay) -> tuple[Pieces, int]:
    """Pieces of phase 1 over one pole pair, and how often they repeat; a path is taken whole."""
    own = first_phase(winding)
    if winding.rim_m_per_phase is None:
        return own, 1
    first = np.arange(own.count).reshape(winding.rounds_per_phase, winding.pole_pairs, -1)[:, 0]
    return selected(own, first.reshape(-1)), winding.pole_pairs


def emf_waveform(field: Field, pieces: Pieces, times: int, machine: Machine, points: int | None = None) -> Wave:
    """Turning the magnets by alpha is turning the wire back by alpha, in the magnets' frame.

    Four Gauss points of dear arcs, a panel, are 2e-5 off the EMF of 16 points, 2e-4 for the rhomboid.
    """
    usual = 4 if isinstance(machine.magnets.outline, Arc) else 6
    place, step = gauss_along(pieces, machine.rotor, points or usual)
    angles = math.pi / machine.magnets.pole_pairs * np.arange(machine.angles) / machine.angles
    turned = np.stack([placed(place - [0, alpha, 0]) for alpha in angles])
    steps = np.stack([rotated(step, -alpha) for alpha in angles])
    found = field(turned.reshape(-1, 3)).reshape(turned.shape)
    cut = -times * np.cross(np.cross([0, 0, 1], turned), found) * steps
    return Wave(angles, cut.sum(axis=(1, 2)), cut[:, :, 2].sum(axis=1), float(np.abs(found[:, :, 2]).max()))


def gauss_along(pieces: Pieces, rotor: Rotor, points: int) -> tuple[np.ndarray, np.ndarray]:
    """Gauss points (k, 3) r, theta, z, and their Cartesian steps (k, 3), but on arcs in one plane, which cut nothing.

    Panels are no longer than 2.5 times the distance to the nearest face.
    """
    node, weight = np.polynomial.legendre.leggauss(points)
    places, steps = [], []
    for kind, start, end in zip(pieces.kind, pieces.start, pieces.end, strict=True):
        if start[0] == end[0] and start[2] == end[2]:
            continue
        heights = np.array([start[2], end[2]])
        clear = min(heights.min(), math.inf if rotor.gap_m is None else rotor.gap_m - heights.max())
        length = np.linalg.norm(placed(end[None]) - placed(start[None]))
        panels = math.ceil(length / (2.5 * clear))
        fraction = ((np.arange(panels)[:, None] + (1 + node) / 2) / panels).reshape(-1)
        place, slope = along(kind, start, end, fraction)
        places.append(place)
        steps.append(slope * np.tile(weight / 2 / panels, panels)[:, None])
    return np.concatenate(places), np.concatenate(steps)


def along(kind: int, start: np.ndarray, end: np.ndarray, fraction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points r, theta, z of a piece, and Cartesian derivatives over the fraction."""
    if kind == LINE:
        first, last = placed(np.stack([start, end]))
        x, y, z = (first + fraction[:, None] * (last - first)).T
        return np.stack([np.hypot(x, y), np.arctan2(y, x), z], axis=1), np.tile(last - first, (len(fraction), 1))
    place = start + fraction[:, None] * (end - start)
    dr, turn, rise = end - start
    cosine, sine = np.cos(place[:, 1]), np.sin(place[:, 1])
    across = place[:, 0] * turn
    return place, np.stack([dr * cosine - across * sine, dr * sine + across * cosine, 0 * cosine + rise], axis=1)


def placed(place: np.ndarray) -> np.ndarray:
    r, theta, z = place.T
    return np.stack([r * np.cos(theta), r * np.sin(theta), z], axis=1)


def rotated(vectors: np.ndarray, angle: float) -> np.ndarray:
    c, s = math.cos(angle), math.sin(angle)
    return vectors @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]).T


def cylindrical(field: np.ndarray, theta: np.ndarray) -> np.ndarray:
    (x, y, z), c, s = field.T, np.cos(theta), np.sin(theta)
    return np.stack([c * x + s * y, c * y - s * x, z])


def heights_m(machine: Machine, winding: Lay) -> tuple[float, float]:
    """From where to where the field is looked at: the wire's heights, and half the way from there to the faces."""
    heights = np.concatenate([winding.pieces.start[:, 2], winding.pieces.end[:, 2]])
    low, high, gap = heights.min(), heights.max(), machine.rotor.gap_m
    return float(low / 2), float(2 * high if gap is None else (high + gap) / 2)


def gap_points(machine: Machine, winding: Lay, count: int = 12) -> np.ndarray:
    """Random places over the magnets and half a thickness beyond."""
    rng = np.random.default_rng(machine.magnets.count)
    low, high = heights_m(machine, winding)
    first, *_, last = bend_radii(machine.magnets.outline)
    margin = machine.magnets.thickness_m / 2
    radius = rng.uniform(first - margin, last + margin, count)
    return np.stack([radius, rng.uniform(0, 2 * math.pi, count), rng.uniform(low, high, count)], axis=1)


def by_kernel(machine: Machine, winding: Lay) -> FieldMap:
    """The exact kernel at Chebyshev heights, and at radii closer together than the nearest face."""
    low, high = heights_m(machine, winding)
    heights = (low + high) / 2 - (high - low) / 2 * np.cos(np.linspace(0, math.pi, 9))
    first, *_, last = bend_radii(machine.magnets.outline)
    inner = min(first - machine.magnets.thickness_m, winding.inner_radius_m - MM)
    outer = max(last + machine.magnets.thickness_m, winding.outer_radius_m + MM)
    radii = np.linspace(inner, outer, int((outer - inner) / (0.7 * low)) + 20)
    return ring_kernel_map(machine.magnets, machine.rotor, radii, heights, ORDERS)


def by_rings(machine: Machine, winding: Lay) -> FieldMap:
    return field_of(machine.magnets, machine.rotor)


MODELS = {"rings": by_rings, "kernel": by_kernel}


@pytest.fixture(scope="session")
def answer(laid: Callable[[str], Lay]) -> Callable[[str, str], tuple[FieldMap, Emf]]:
    def of(model: str, name: str) -> tuple[FieldMap, Emf]:
        machine = MACHINES[name]
        field = MODELS[model](machine, laid(name))
        return field, emf_per_speed(field, laid(name), machine.winding, machine.wire)

    return functools.cache(of)


def harmonic(true: Truth, order: int, pole_pairs: int) -> complex:
    """Amplitude G_n of e(alpha) = Re sum G_n exp(-j n p alpha), from half a period of odd harmonics."""
    return complex(2 * np.mean(true.emf.waveform * np.exp(1j * order * pole_pairs * true.emf.angles_rad)))


def misses(true: Truth, found: Emf, field: FieldMap) -> dict[str, float]:
    """What a model misses: complex harmonics (amplitude and phase at once), RMS, and the field by component."""
    first = abs(harmonic(true, 1, found.pole_pairs))
    orders = list(found.orders)
    off = {
        n: abs(found.amplitudes[0, orders.index(n)] - harmonic(true, n, found.pole_pairs)) / first for n in (1, 3, 5)
    }
    rms = math.sqrt(np.mean(true.emf.waveform**2))
    at_points = np.abs(field_at(field, *true.points.T) - true.field).max(axis=1) / true.peak_t
    return {
        "fundamental": off[1],
        "rms": abs(found.rms[0] / rms - 1),
        "third": off[3],
        "fifth": off[5],
        **dict(zip(("b_r", "b_theta", "b_z"), at_points, strict=True)),
    }


SLOW = {(name, model) for name in DEAR for model in MODELS} | {(name, "kernel") for name in ENDLESS}

EACH = [
    pytest.param(name, model, marks=[pytest.mark.slow] if (name, model) in SLOW else [])
    for name in MACHINES
    for model in MODELS
]


@pytest.mark.parametrize(("name", "model"), EACH)
def test_machine(
    name: str, model: str, truth: Callable[[str], Truth], answer: Callable[[str, str], tuple[FieldMap, Emf]]
) -> None:
    field, emf = answer(model, name)
    found = misses(truth(name), emf, field)
    allowed = {"fundamental": FUNDAMENTAL_MISS, "rms": RMS_MISS, "third": HARMONIC_MISS, "fifth": HARMONIC_MISS}
    too_far = {key: miss for key, miss in found.items() if not miss < allowed.get(key, FIELD_MISS)}
    assert not too_far, f"{model} misses {too_far}"


@pytest.mark.parametrize("name", [name for name in MACHINES if name not in DEAR])
def test_the_truth_does_not_hang_on_its_points(
    name: str, truth: Callable[[str], Truth], laid: Callable[[str], Lay], magpylib_field: Callable[[Machine], Field]
) -> None:
    """Twice as many points along the wire move the EMF by a fiftieth of what a model may miss."""
    machine, true = MACHINES[name], truth(name)
    rarer = replace(machine, angles=machine.angles // 8)
    finer = emf_waveform(magpylib_field(machine), *one_pole_pair(laid(name)), rarer, points=12)
    assert np.abs(finer.waveform - true.emf.waveform[::8]).max() < 1e-4 * np.abs(true.emf.waveform).max()


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name in DEAR else name for name in ENDLESS]
)
def test_the_truth_has_images_enough(
    name: str, truth: Callable[[str], Truth], whole_magnets: Callable[..., np.ndarray]
) -> None:
    """More reflections between two plates change the field by a hundredth of what a model may miss."""
    machine, true = MACHINES[name], truth(name)
    some = slice(0, 4)
    more = whole_magnets(machine.magnets, machine.rotor, placed(true.points[some]), machine.reflections + 6)
    moved = cylindrical(more, true.points[some, 1]) - true.field[:, some]
    assert np.abs(moved).max() < 1e-4 * true.peak_t


@pytest.mark.parametrize(
    "name",
    [
        "8 discs on steel to a plate; spiral diamond",
        "14 blocks, two bare faces 3 mm apart; diamond",
        "8 arcs, bare; serpentine inside their ring",
    ],
)
def test_the_truth_is_the_sum_of_all_magnets_at_every_point(
    name: str, whole_magnets: Callable[..., np.ndarray]
) -> None:
    """Points all round, on both sides of magnets' axes: what is taken from a point's like is the field there."""
    magnets, rotor = MACHINES[name].magnets, MACHINES[name].rotor
    rng = np.random.default_rng(4)
    first, *_, last = bend_radii(magnets.outline)
    radius, angle, height = rng.uniform(first, last, 12), rng.uniform(-4, 7, 12), rng.uniform(0.001, 0.002, 12)
    points = placed(np.stack([radius, angle, height], axis=1))
    folded, every = (whole_magnets(magnets, rotor, points, 2, fold=fold) for fold in (True, False))
    np.testing.assert_allclose(folded, every, atol=1e-10 * np.abs(every).max())


@pytest.mark.parametrize("name", ["10 discs to a plate; rhomboid", "14 blocks, two bare faces 3 mm apart; diamond"])
def test_a_phase_repeats_every_pole_pair(
    name: str, truth: Callable[[str], Truth], laid: Callable[[str], Lay], whole_magnets: Callable[..., np.ndarray]
) -> None:
    """All of the wire, against one pole pair of it taken p times."""
    machine, true = replace(MACHINES[name], angles=2), truth(name)
    every = functools.partial(
        whole_magnets, machine.magnets, machine.rotor, reflections=machine.reflections, fold=False
    )
    whole = emf_waveform(every, first_phase(laid(name)), 1, machine)
    np.testing.assert_allclose(whole.waveform, true.emf.waveform[::8], atol=1e-9 * np.abs(true.emf.waveform).max())


@pytest.mark.parametrize(
    ("name", "part"),
    [("16 discs, two bare faces; rising path", 0.01), ("16 blocks on steel; path that hops at the rims", 0.1)],
)
def test_paths_that_rise_cut_the_radial_field(name: str, part: float, truth: Callable[[str], Truth]) -> None:
    emf = truth(name).emf
    assert np.abs(emf.rising).max() > part * np.abs(emf.waveform).max()


def test_the_bounds_catch_flat_slices(truth: Callable[[str], Truth], laid: Callable[[str], Lay]) -> None:
    """Sections joined over the radius, no flux from one radius to the next: several per cent, in EMF and field."""
    name = "16 discs, bare; zigzag"
    machine = MACHINES[name]
    field = slices_of(machine.magnets, machine.rotor)
    found = misses(truth(name), emf_per_speed(field, laid(name), machine.winding, machine.wire), field)
    assert found["fundamental"] > 4 * FUNDAMENTAL_MISS
    assert found["rms"] > 4 * RMS_MISS
    assert min(found["b_r"], found["b_z"]) > 2 * FIELD_MISS

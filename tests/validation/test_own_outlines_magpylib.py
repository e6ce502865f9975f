"""Magnets of one's own outline against magpylib: whole rings of stacked magnets, steps nowhere smoothed.

The section that is drawn gives the magnets' width over their height; whether the ends are cut back like the flanks is
told for blocks and arcs, and goes without saying for discs. The rings take it slab by slab. The truth here is the
field of every stacked arc, block or disc, and of its mirror images in ideal plates, in magpylib's closed forms (Ortner
& Coliado Bandeira, SoftwareX 11 (2020) 100466); recoil permeability 1. The EMF is -((z x r) x B) . dl along one phase's
wire at rotor angles over half an electrical period. Chamfers are three or four steps, in the truth and in the mesh.

An outline without a profile (a pole shoe, a Halbach array) is laid over plain rings by what a flat section says at one
radius. How good that is is measured with the same profiles: where the ends are cut too, a section cannot know it, and
no bound is claimed but the answer's own estimate.

Measured, % of the true fundamental, at worst (what plain magnets would miss, at most):
                                          fundamental  RMS  3rd         5th harmonic
    slabs, flanks cut                     0.010 (13.5) 0.02 0.02 (15.5) 0.02 (7.6)
    slabs, ends cut too                   0.009 (11.9) 0.02 0.01 (6.7)  0.02 (3.8)
    by sections, flanks cut               0.6 (13.5)   0.8  1.4 (15.5)  1.0 (7.6)
    by sections, 8 blocks, wide as long   1.4 (10.4)   1.4  0.6 (6.1)   0.9 (0.8)
    by sections, ends cut too             8.2 (11.9)   8.6  4.3 (6.7)   7.6 (3.8)
By sections over 158 random machines: 0.5 with flanks cut, 20 with ends.
"""

import functools
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, OutlineEnds, Plate, Rotor, Winding, Wire
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.outline import covered_half_angles, mean_radius_m, radial_breaks_m
from fieldrun.field.own_outline import with_own_outline
from fieldrun.field.ring_field import ring_field
from fieldrun.field.section import rectangle, section_at
from fieldrun.field.solve import RotorField, rotor_field
from fieldrun.generator.accuracy import ENDS_SHARE, FLOOR_PERCENT, OUTLINE_PERCENT, OUTLINE_SHARE, accuracy_of
from fieldrun.generator.emf import emf_per_speed
from fieldrun.winding.lay import Lay, lay
from tests.sections import structured_mesh
from tests.validation.machines import BACKED, BARE, IDEAL, MM, magnets_of
from tests.whole_magnets import by_half_poles, ring_of_bodies

WIRE = Wire("solid", 0.8 * MM, 1, 0.8 * MM)
ALLOWED = {"fundamental": 5e-4, "rms": 5e-4, "third": 5e-4, "fifth": 5e-4}
"""Part of the fundamental, of the answer."""

ALLOWED_SECTIONS = {"fundamental": 0.01, "rms": 0.01, "third": 0.015, "fifth": 0.015}
"""The same by sections, where only the flanks are cut."""

ALLOWED_WIDE = {**ALLOWED_SECTIONS, "fundamental": 0.015, "rms": 0.015}
"""The same for few blocks as wide as long: they all but touch inside and leave half the circle free outside, so that
one radius cannot speak for the others."""

Layer = tuple[float, float, Outline]
"""Lowest and highest height [m] of one magnet of a stack, and its outline."""


@dataclass(frozen=True)
class Machine:
    """A ring of stacks. The design knows `magnets`; `layers` is what the section mesh is drawn from, and the truth.

    `angles` over half a period and `reflections` between two plates, where images never end, are for the truth. Four
    reflections between two faces leave 6e-6 of the field, eight between a face and a plate 1e-5.
    """

    magnets: Magnets
    layers: tuple[Layer, ...]
    rotor: Rotor
    windings: tuple[Winding, ...]
    angles: int = 16
    reflections: int = 8

    @property
    def ends(self) -> bool:
        """Whether the ends are cut back too."""
        return len({radial_breaks_m(replace(self.magnets, outline=one))[0] for _, _, one in self.layers}) > 1


def narrowed(outline: Outline, count: int, cut_m: float, *, ends: bool) -> Outline:
    """Cut so much off both flanks, at the mean radius, and off both ends; a disc has no flanks without ends."""
    if isinstance(outline, Disc):
        return replace(outline, diameter_m=outline.diameter_m - 2 * cut_m)
    if isinstance(outline, Block):
        radial = outline.radial_m - (2 * cut_m if ends else 0)
        return replace(outline, tangential_m=outline.tangential_m - 2 * cut_m, radial_m=radial)
    inner, outer = outline.inner_radius_m, outline.outer_radius_m
    share = outline.share - 2 * cut_m * count / (math.pi * (inner + outer))
    off = cut_m if ends else 0.0
    return Arc(inner + off, outer - off, share)


def stepped(magnets: Magnets, cut_mm: float, depth_mm: float, *, ends: bool, back: bool = False) -> tuple[Layer, ...]:
    """One step at the gap's side, or at the back, so deep and so far in."""
    slim = narrowed(magnets.outline, magnets.count, cut_mm * MM, ends=ends)
    h, depth = magnets.thickness_m, depth_mm * MM
    if back:
        return (-h, depth - h, slim), (depth - h, 0.0, magnets.outline)
    return (-h, -depth, magnets.outline), (-depth, 0.0, slim)


def chamfered(magnets: Magnets, size_mm: float, steps: int, *, ends: bool) -> tuple[Layer, ...]:
    """Edges broken at 45 degrees at the gap's side, in steps that keep the area."""
    c, h = size_mm * MM / steps, magnets.thickness_m
    slices = [
        ((i - steps) * c, (i + 1 - steps) * c, narrowed(magnets.outline, magnets.count, (i + 0.5) * c, ends=ends))
        for i in range(steps)
    ]
    return ((-h, -steps * c, magnets.outline), *slices)


def facing(gap_mm: float, backing: Plate | None) -> Rotor:
    return Rotor(2, gap_mm * MM, backing, None, 0.0, 0.1)


def to_plate(gap_mm: float, backing: Plate | None) -> Rotor:
    return Rotor(1, gap_mm * MM, backing, IDEAL, 0.0, 0.1)


def both(inner_mm: float, outer_mm: float, height_mm: float) -> tuple[Winding, ...]:
    """A serpentine and a zigzag between the same radii."""
    plain = Winding("serpentine", inner_mm * MM, outer_mm * MM, 3, 1, 1, height_mm * MM)
    return plain, replace(plain, shape="zigzag")


ARCS_16 = magnets_of(Arc(0.056, 0.076, 0.8), 16, 6)
ARCS_12 = magnets_of(Arc(0.045, 0.070, 0.75), 12, 8)
ARCS_10 = magnets_of(Arc(0.035, 0.060, 0.85), 10, 6)
BLOCKS_16 = magnets_of(Block(0.024, 0.016, 0.066), 16, 6)
BLOCKS_8 = magnets_of(Block(0.025, 0.025, 0.045), 8, 8)
BLOCKS_20 = magnets_of(Block(0.020, 0.0155, 0.060), 20, 5)
DISCS_16 = magnets_of(Disc(0.020, 0.066), 16, 6)
DISCS_12 = magnets_of(Disc(0.025, 0.058), 12, 8)

FLANKS = {
    "16 arcs, a step, bare": Machine(ARCS_16, stepped(ARCS_16, 2, 3, ends=False), BARE, both(54, 78, 3), 12),
    "12 arcs, slim at the back, two bare faces": Machine(
        ARCS_12, stepped(ARCS_12, 3, 4, ends=False, back=True), facing(9, None), both(43, 72, 4.5), 12
    ),
    "10 arcs, chamfered, on steel": Machine(
        ARCS_10, chamfered(ARCS_10, 2, 3, ends=False), BACKED, both(34, 61, 2.5), 12
    ),
    "16 blocks, a step, bare": Machine(BLOCKS_16, stepped(BLOCKS_16, 2, 3, ends=False), BARE, both(54, 78, 3)),
    "16 blocks, chamfered, close by": Machine(
        BLOCKS_16, chamfered(BLOCKS_16, 2, 4, ends=False), BARE, both(54, 78, 1.5)
    ),
    "8 blocks, slim at the back, on steel to a plate": Machine(
        BLOCKS_8, stepped(BLOCKS_8, 3, 5, ends=False, back=True), to_plate(7, IDEAL), both(30, 60, 3.5)
    ),
    "20 blocks, chamfered, two faces on steel": Machine(
        BLOCKS_20, chamfered(BLOCKS_20, 1, 4, ends=False), facing(7, IDEAL), both(48, 72, 3.5), reflections=4
    ),
    "20 blocks, a step, to a plate": Machine(
        BLOCKS_20, stepped(BLOCKS_20, 1.5, 1.5, ends=False), to_plate(6, None), both(50, 70, 3)
    ),
}
"""The outline is the same at every radius."""

ALL_ROUND = {
    "16 discs, chamfered 1 mm, bare": Machine(DISCS_16, chamfered(DISCS_16, 1, 4, ends=True), BARE, both(54, 78, 3)),
    "16 discs, chamfered 2 mm, close by": Machine(
        DISCS_16, chamfered(DISCS_16, 2, 4, ends=True), BARE, both(54, 78, 1.5)
    ),
    "16 discs, chamfered 1 mm, two faces on steel": Machine(
        DISCS_16, chamfered(DISCS_16, 1, 4, ends=True), facing(9, IDEAL), both(54, 78, 4.5), reflections=4
    ),
    "12 discs, a step, on steel": Machine(DISCS_12, stepped(DISCS_12, 2, 3, ends=True), BACKED, both(43, 73, 3)),
    "16 blocks, chamfered, two bare faces": Machine(
        BLOCKS_16, chamfered(BLOCKS_16, 1, 4, ends=True), facing(9, None), both(54, 78, 4.5)
    ),
    "20 blocks, a step all round, to a plate": Machine(
        BLOCKS_20, stepped(BLOCKS_20, 1.5, 1.5, ends=True), to_plate(6, None), both(50, 70, 3)
    ),
    "10 arcs, chamfered all round, on steel": Machine(
        ARCS_10, chamfered(ARCS_10, 2, 3, ends=True), BACKED, both(34, 61, 2.5), 12
    ),
}
"""The ends are cut back like the flanks."""

Field = Callable[[Machine, np.ndarray], np.ndarray]
"""Cartesian points (k, 3) [m] to B (k, 3) [T]."""


@pytest.fixture(scope="session")
def stacked() -> Field:
    magpylib = pytest.importorskip("magpylib")

    def field(machine: Machine, points: np.ndarray) -> np.ndarray:
        rings = [
            ring_of_bodies(magpylib, machine.magnets, (low, high), outline)
            for low, high, outline in with_images(machine)
        ]
        every = [body for ring in rings for body in ring]

        def total(places: np.ndarray) -> np.ndarray:
            return np.asarray(magpylib.getB(every, places, sumup=True)).reshape(-1, 3)

        return by_half_poles(total, machine.magnets.count, points)

    return field


def with_images(machine: Machine) -> list[Layer]:
    """A magnet along z keeps its sign in a plate's mirror, and in the second face."""
    h, gap, rotor = machine.magnets.thickness_m, machine.rotor.gap_m or 0.0, machine.rotor
    layers = list(machine.layers)
    if rotor.faces == 2:
        layers += mirrored(layers, gap / 2)
    plates = [-h] if rotor.backing else []
    plates += [gap] if rotor.return_plate else [gap + h] if rotor.backing and rotor.faces == 2 else []
    for _ in range(machine.reflections if len(plates) > 1 else len(plates)):
        layers = different([*layers, *(image for plate in plates for image in mirrored(layers, plate))])
    return layers


def mirrored(layers: Iterable[Layer], plane_m: float) -> list[Layer]:
    return [(2 * plane_m - high, 2 * plane_m - low, outline) for low, high, outline in layers]


def different(layers: Iterable[Layer]) -> list[Layer]:
    return list({(round(low, 9), outline): (low, high, outline) for low, high, outline in layers}.values())


def laid_of(machine: Machine, winding: Winding) -> Lay:
    return lay(winding, machine.magnets.pole_pairs, WIRE)


def true_waveform(field: Field, machine: Machine, laid: Lay, points: int | None = None) -> np.ndarray:
    """EMF per speed at rotor angles over half a period [V s/rad]: the wire is turned back instead of the magnets.

    Four Gauss points of dear arcs, a panel, are up to 7e-5 off the EMF of 16 points.
    """
    usual = 4 if isinstance(machine.magnets.outline, Arc) else 6
    place, step = gauss_along(machine, laid, points or usual)
    angles = rotor_angles(machine)
    places, steps = (np.stack([rotated(one, -angle) for angle in angles]) for one in (place, step))
    found = field(machine, places.reshape(-1, 3)).reshape(places.shape)
    cut = np.cross(np.cross([0, 0, 1], places), found) * steps
    return np.asarray(-machine.magnets.pole_pairs * cut.sum(axis=(1, 2)))


def rotor_angles(machine: Machine) -> np.ndarray:
    return math.pi / machine.magnets.pole_pairs * np.arange(machine.angles) / machine.angles


def gauss_along(machine: Machine, laid: Lay, points: int) -> tuple[np.ndarray, np.ndarray]:
    """Cartesian Gauss points and steps (k, 3) of phase 1 over one pole pair; arcs in one plane cut nothing."""
    pieces, gap = laid.pieces, machine.rotor.gap_m or math.inf
    own = np.flatnonzero(pieces.phase == 0).reshape(laid.rounds_per_phase, laid.pole_pairs, -1)[:, 0].reshape(-1)
    node, weight = np.polynomial.legendre.leggauss(points)
    places, steps = [], []
    for start, end in zip(pieces.start[own], pieces.end[own], strict=True):
        if start[0] == end[0] and start[2] == end[2]:
            continue
        clear = min(start[2], end[2], gap - start[2], gap - end[2])
        first, whole = placed(start), placed(end) - placed(start)
        panels = math.ceil(float(np.linalg.norm(whole)) / (2.5 * clear))
        fraction = ((np.arange(panels)[:, None] + (1 + node) / 2) / panels).reshape(-1)
        places.append(first + np.outer(fraction, whole))
        steps.append(np.outer(np.tile(weight / 2 / panels, panels), whole))
    return np.concatenate(places), np.concatenate(steps)


def placed(place: np.ndarray) -> np.ndarray:
    r, theta, z = place
    return np.array([r * math.cos(theta), r * math.sin(theta), z])


def rotated(vectors: np.ndarray, angle: float) -> np.ndarray:
    c, s = math.cos(angle), math.sin(angle)
    return np.asarray(vectors @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]).T)


def harmonic(machine: Machine, waveform: np.ndarray, order: int) -> complex:
    """Amplitude G_n of e(alpha) = Re sum G_n exp(-j n p alpha), from half a period of odd harmonics."""
    wave = np.exp(1j * order * machine.magnets.pole_pairs * rotor_angles(machine))
    return complex(2 * np.mean(waveform * wave))


def drawn(machine: Machine, path: Path) -> Magnets:
    """The magnets with a mesh of their stack's section at the mean radius."""
    radius = mean_radius_m(machine.magnets)
    plain = section_at(machine.magnets, machine.rotor, radius)
    (magnet,) = (region for region in plain.regions if region.name == "magnet_up")
    stack = [
        replace(magnet, polygon_m=rectangle(0, half_width(machine.magnets, outline, radius), low, high))
        for low, high, outline in machine.layers
    ]
    own = replace(plain, regions=(*stack, *(region for region in plain.regions if region is not magnet)))
    write_section_mesh(path, own, structured_mesh(own, MeshDensity().refined()))
    told: OutlineEnds = "cut" if machine.ends and not isinstance(machine.magnets.outline, Disc) else "plain"
    return replace(machine.magnets, section_mesh=str(path), outline_ends=told)


def half_width(magnets: Magnets, outline: Outline, radius: float) -> float:
    return radius * float(covered_half_angles(replace(magnets, outline=outline), radius)[1])


def by_slabs(machine: Machine, magnets: Magnets) -> RotorField:
    field = rotor_field(magnets, machine.rotor)
    assert len(field.stack) > 1
    return field


def by_sections(machine: Machine, magnets: Magnets) -> RotorField:
    """How an outline without a profile is taken."""
    rings = ring_field(magnets, machine.rotor)
    return RotorField(with_own_outline(rings.field_map, magnets, machine.rotor), rings)


@dataclass(frozen=True)
class Found:
    """What an answer misses, as parts of the true fundamental, and what its own estimate allows the fundamental."""

    misses: dict[str, float]
    estimate: float

    def too_far(self, allowed: dict[str, float]) -> dict[str, float]:
        return {key: miss for key, miss in self.misses.items() if not miss < allowed[key]}


Answer = Callable[[Machine, Magnets], RotorField]
Finder = Callable[[Machine, Answer], list[Found]]


@pytest.fixture(scope="session")
def truths(stacked: Field) -> Callable[[Machine, Winding], np.ndarray]:
    return functools.cache(lambda machine, winding: true_waveform(stacked, machine, laid_of(machine, winding)))


@pytest.fixture(scope="session")
def found(truths: Callable[[Machine, Winding], np.ndarray], tmp_path_factory: pytest.TempPathFactory) -> Finder:
    def of(machine: Machine, answer: Answer) -> list[Found]:
        magnets = drawn(machine, tmp_path_factory.mktemp("own") / "own.msh")
        field = answer(machine, magnets)
        out = []
        for winding in machine.windings:
            laid, waveform = laid_of(machine, winding), truths(machine, winding)
            emf = emf_per_speed(field.field_map, laid, winding, WIRE)
            true = {n: harmonic(machine, waveform, n) for n in (1, 3, 5)}
            size, orders = abs(true[1]), list(emf.orders)
            off = [abs(emf.amplitudes[0, orders.index(n)] - true[n]) / size for n in (1, 3, 5)]
            rms = abs(emf.rms[0] / math.sqrt(np.mean(waveform**2)) - 1)
            accuracy = accuracy_of(magnets, machine.rotor, field, laid, winding.phases)
            misses = dict(zip(("fundamental", "third", "fifth"), off, strict=True)) | {"rms": float(rms)}
            out.append(Found(misses, accuracy.error_estimate_percent / 100))
        return out

    return of


def each(machines: dict[str, Machine]) -> list[object]:
    """Arcs cost magpylib a hundred times as much as blocks and discs; between two plates there are many images."""
    dear = [
        name
        for name, machine in machines.items()
        if isinstance(machine.magnets.outline, Arc) or (machine.rotor.backing and machine.rotor.gap_m)
    ]
    return [pytest.param(machines[name], id=name, marks=[pytest.mark.slow] * (name in dear)) for name in machines]


def wide(outline: Outline) -> bool:
    return isinstance(outline, Block) and outline.tangential_m >= outline.radial_m


@pytest.mark.parametrize("machine", [*each(FLANKS), *each(ALL_ROUND)])
def test_the_answer_is_the_field_of_the_stack(machine: Machine, found: Finder) -> None:
    for one in found(machine, by_slabs):
        assert not one.too_far(ALLOWED)
        assert one.misses["fundamental"] < one.estimate < 0.01


@pytest.mark.parametrize("machine", each(FLANKS))
def test_sections_know_flanks(machine: Machine, found: Finder) -> None:
    for one in found(machine, by_sections):
        assert not one.too_far(ALLOWED_WIDE if wide(machine.magnets.outline) else ALLOWED_SECTIONS)
        assert one.misses["fundamental"] < one.estimate


@pytest.mark.parametrize("machine", each(ALL_ROUND))
def test_ends_that_sections_do_not_know_are_covered_by_the_estimate(machine: Machine, found: Finder) -> None:
    for one in found(machine, by_sections):
        assert one.misses["fundamental"] < one.estimate


@pytest.mark.parametrize(("cut_mm", "missing"), [(0.0, 0.0), (2.0, 2 * 2 * 3 / (6 * 24))])
def test_the_estimate_of_sections_counts_what_the_ends_lack(cut_mm: float, missing: float, tmp_path: Path) -> None:
    """2 mm off both flanks, 3 mm deep, of a block 6 mm thick and 24 mm long; nothing of ends that are told plain."""
    machine = replace(FLANKS["16 blocks, a step, bare"], layers=stepped(BLOCKS_16, cut_mm, 3, ends=False))
    magnets, winding = drawn(machine, tmp_path / "own.msh"), machine.windings[0]
    field, laid = by_sections(machine, magnets), laid_of(machine, winding)
    first, plain = (
        abs(emf_per_speed(one, laid, winding, WIRE).amplitudes[0, 0])
        for one in (field.field_map, field.rings.field_map)
    )
    known = FLOOR_PERCENT + OUTLINE_PERCENT + 100 * OUTLINE_SHARE * abs(first / plain - 1)
    cases: tuple[tuple[OutlineEnds, float], ...] = (("cut", ENDS_SHARE[Block]), ("plain", 0.0))
    for ends, share in cases:
        told = accuracy_of(
            replace(magnets, outline_ends=ends), machine.rotor, field, laid, winding.phases
        ).model_percent
        assert told - known == pytest.approx(100 * share * missing, rel=0.02, abs=1e-3)


def test_the_bounds_catch_plain_magnets(stacked: Field) -> None:
    """The same blocks without their step: fundamental and third harmonic far beyond what is allowed."""
    machine = FLANKS["16 blocks, a step, bare"]
    laid = laid_of(machine, machine.windings[0])
    emf = emf_per_speed(rotor_field(machine.magnets, machine.rotor).field_map, laid, machine.windings[0], WIRE)
    waveform = true_waveform(stacked, machine, laid)
    first, third = (harmonic(machine, waveform, n) for n in (1, 3))
    orders = list(emf.orders)
    assert abs(emf.amplitudes[0, orders.index(1)] / first - 1) > 10 * ALLOWED["fundamental"]
    assert abs(emf.amplitudes[0, orders.index(3)] - third) > 5 * ALLOWED["third"] * abs(first)


def test_a_stack_of_plain_layers_is_the_plain_magnet(stacked: Field, whole_magnets: Callable[..., np.ndarray]) -> None:
    machine = replace(FLANKS["8 blocks, slim at the back, on steel to a plate"], layers=())
    outline, h = machine.magnets.outline, machine.magnets.thickness_m
    stack = replace(machine, layers=((-h, -0.3 * h, outline), (-0.3 * h, 0.0, outline)))
    points = np.array([[0.04, 0.01, 0.002], [0.05, -0.03, 0.006]])
    plain = whole_magnets(machine.magnets, machine.rotor, points, machine.reflections)
    np.testing.assert_allclose(stacked(stack, points), plain, atol=1e-6)


def test_the_truth_does_not_hang_on_its_points_and_images(stacked: Field) -> None:
    """Twice the points along the wire and six more reflections move the EMF by less than a fifth of what is allowed."""
    machine = replace(FLANKS["20 blocks, chamfered, two faces on steel"], angles=2)
    laid = laid_of(machine, machine.windings[1])
    usual = true_waveform(stacked, machine, laid)
    finer = true_waveform(stacked, replace(machine, reflections=machine.reflections + 6), laid, points=12)
    assert np.abs(finer - usual).max() < 1e-4 * np.abs(usual).max()

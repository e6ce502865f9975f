"""Many sections together: each is what it is alone, and gaps over a condensed side are those of meshes of their own."""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Complexes
from fieldrun.design.errors import SolveError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field import section_sweep
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.mesh import MeshDensity, structured_grid
from fieldrun.field.section import Region, Section, rectangle, section_at
from fieldrun.field.section_sweep import condensed_side, face_amplitudes, section_fields, swept_gap_amplitudes
from fieldrun.reference.closed_forms import block_face, on_iron_to_plate, one_face_in_air, two_faces_in_air
from fieldrun.reference.layers import Layer, Stack, amplitudes, solve_layers
from tests.sections import structured_mesh

R = 0.066
TAU = math.pi * R / 8
ORDERS = 2 * np.arange(16) + 1
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.0, 7500.0)
HALBACH = replace(ARCS, pattern="halbach", segments_per_pole=2, recoil_permeability=1.05)
SHEET = Plate(steel_curve("mild steel"), 0.003)
GAPS = [0.002, 0.009, 0.02, 0.05]
ROTORS = {
    "on ideal steel": Rotor(2, 0.009, Plate(None), None, 0, 1),
    "in air": Rotor(2, 0.009, None, None, 0, 1),
    "to a plate": Rotor(1, 0.009, None, Plate(None), 0, 1),
    "open": Rotor(1, None, Plate(None), None, 0, 1),
}


def sections(rotor: Rotor, width: str = "half pole", magnets: Magnets = ARCS) -> list[Section]:
    gaps = GAPS if rotor.gap_m is not None else [None]
    return [section_at(magnets, replace(rotor, gap_m=gap), R, width) for gap in gaps]  # type: ignore[arg-type]


def heights_in(many: list[Section]) -> list[list[float]]:
    return [[0.0, 0.5 * (one.upper_line_m or 0.009), one.upper_line_m or 0.009] for one in many]


def on_linear_iron(section: Section) -> Section:
    iron = Region("iron", rectangle(0, section.width_m, -0.014, -0.006), 2000.0)
    return replace(section, bottom_m=-0.02, bottom="open", regions=(*section.regions, iron))


@pytest.mark.parametrize("width", ["half pole", "full pole"])
@pytest.mark.parametrize("magnets", [ARCS, HALBACH], ids=["alternating", "halbach"])
@pytest.mark.parametrize("name", ROTORS)
def test_a_condensed_side_is_its_mesh(name: str, magnets: Magnets, width: str) -> None:
    """On fine meshes, where the mesh of the gap is as good as its harmonics."""
    many, fine = sections(ROTORS[name], width, magnets), MeshDensity().refined()
    many = many * (2 if len(many) == 1 else 1)
    swept = list(swept_gap_amplitudes(many, heights_in(many), ORDERS[:8], fine))
    for section, heights, found in zip(many, heights_in(many), swept, strict=True):
        alone = gap_amplitudes(solve_section(section, structured_grid(section, fine)), heights, ORDERS[:8])
        assert len(alone) == len(found) == 2
        for one, other in zip(found, alone, strict=True):
            assert np.abs(one - other).max() < 3e-4 * np.abs(alone[1][0]).max()


@pytest.mark.parametrize("gap", GAPS)
def test_every_harmonic_against_closed_forms(gap: float) -> None:
    """At the usual density, all orders that maps carry."""
    face = block_face(ORDERS, TAU, 1.3, 0.7, (0.006, 1.0))
    forms = [
        (Rotor(2, gap, None, None, 0, 1), two_faces_in_air(face, gap, gap / 2)),
        (Rotor(1, gap, Plate(None), Plate(None), 0, 1), on_iron_to_plate(face, gap, gap / 2)),
        (Rotor(1, None, None, None, 0, 1), one_face_in_air(face, gap / 2)),
    ]
    for rotor, exact in forms:
        section = section_at(ARCS, rotor, R)
        (_, found), *_ = swept_gap_amplitudes([section] * 2, [[gap / 2]] * 2, ORDERS)
        assert found[0, 0].real == pytest.approx(exact[0], rel=2e-5)
        assert np.linalg.norm(found[:, 0] - exact) < 4e-4 * np.linalg.norm(exact)


def test_iron_of_constant_permeability_against_layers() -> None:
    gap = 0.009
    section = on_linear_iron(section_at(ARCS, ROTORS["on ideal steel"], R))
    face = tuple(complex(v) for v in 4 * 1.3 / (ORDERS * np.pi) * np.sin(ORDERS * 0.35 * np.pi))
    iron, magnet = Layer(0.008, 2000.0), Layer(0.006, 1.0, (), face)
    stack = Stack(TAU, tuple(ORDERS.tolist()), (iron, magnet, Layer(gap), magnet, iron), -0.014, "air", "air")
    exact = amplitudes(solve_layers(stack), [gap / 2])[1][:, 0]
    (_, found), *_ = swept_gap_amplitudes([section] * 2, [[gap / 2]] * 2, ORDERS)
    assert found[0, 0].real == pytest.approx(exact[0].real, rel=2e-5)
    assert np.linalg.norm(found[:, 0] - exact) < 3e-4 * np.linalg.norm(exact)


def test_heights_may_differ_in_number() -> None:
    """What is worked out together is what each gap is by itself."""
    many = sections(ROTORS["in air"])
    together = list(swept_gap_amplitudes(many, heights_in(many), ORDERS))
    apart = list(swept_gap_amplitudes(many, [one[: 1 + i % 3] for i, one in enumerate(heights_in(many))], ORDERS))
    for one, other in zip(together, apart, strict=True):
        for component, fewer in zip(one, other, strict=True):
            assert np.abs(component[:, : fewer.shape[1]] - fewer).max() < 1e-13


@pytest.fixture
def condensations(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Section]]:
    asked: list[Section] = []
    original = condensed_side

    def counted(section: Section, density: MeshDensity | None = None) -> section_sweep.Side:
        asked.append(section)
        return original(section, density)

    monkeypatch.setattr(section_sweep, "condensed_side", counted)
    return iter([asked])


def swept(many: list[Section]) -> list[tuple[Complexes, Complexes]]:
    return list(swept_gap_amplitudes(many, heights_in(many), ORDERS))


def test_a_family_is_condensed_once(condensations: Iterator[list[Section]]) -> None:
    asked = next(condensations)
    thick = [section_at(replace(ARCS, thickness_m=0.008), ROTORS["in air"], R)]
    many = [*sections(ROTORS["in air"]), *thick, *sections(ROTORS["to a plate"])]
    found = swept(many)
    assert len(asked) == 2  # one gap alone is solved with its gap
    for section, heights, one in zip(many, heights_in(many), found, strict=True):
        alone = gap_amplitudes(solve_section(section, structured_grid(section)), heights, ORDERS)
        # a gap of two pole pitches is meshed by the same six elements as one of 2 mm
        assert abs(one[1][0, 1] - alone[1][0, 1]) < 1e-4 * abs(alone[1][0, 1])


def test_steel_and_plates_of_real_steel_are_solved_one_by_one(condensations: Iterator[list[Section]]) -> None:
    asked = next(condensations)
    for rotor in (Rotor(2, 0.009, SHEET, None, 0, 1), Rotor(1, 0.009, None, SHEET, 0, 1)):
        many = sections(rotor)
        for section, heights, found in zip(many, heights_in(many), swept(many), strict=True):
            alone = gap_amplitudes(solve_section(section, structured_mesh(section)), heights, ORDERS)
            assert np.abs(np.stack(found) - np.stack(alone)).max() < 1e-6
    assert not asked
    with pytest.raises(ValueError, match="saturate cannot be condensed"):
        condensed_side(sections(Rotor(2, 0.009, SHEET, None, 0, 1))[0])


def test_a_face_too_coarse_for_the_orders_is_not_condensed(condensations: Iterator[list[Section]]) -> None:
    asked = next(condensations)
    coarse = MeshDensity(2, 4, 4, 3, 2)
    list(swept_gap_amplitudes(sections(ROTORS["in air"]), heights_in(sections(ROTORS["in air"])), ORDERS, coarse))
    assert not asked


def test_steel_starts_from_the_section_before() -> None:
    gaps = np.linspace(0.006, 0.012, 5)
    rotor = Rotor(2, 0.009, SHEET, None, 0, 1)
    many = [section_at(ARCS, replace(rotor, gap_m=float(gap)), R) for gap in gaps]
    warm, heights = list(section_fields(many)), [[0.003]] * len(many)
    swept_warm = list(swept_gap_amplitudes(many, heights, ORDERS))
    for field, found in zip(warm, swept_warm, strict=True):
        assert np.array_equal(found, gap_amplitudes(field, [0.003], ORDERS))
    cold = [solve_section(one, structured_grid(one)) for one in many]
    assert [field.section for field in warm] == many
    assert sum(field.newton_steps for field in warm[1:]) < 0.7 * sum(field.newton_steps for field in cold[1:])
    for one, other in zip(warm, cold, strict=True):
        assert np.abs(one.potential - other.potential).max() < 1e-7 * np.abs(other.potential).max()


def test_more_sections_than_one_limit_of_threads_covers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(section_sweep, "TOGETHER", 2)
    many = sections(ROTORS["in air"]) + sections(ROTORS["open"])
    fields = list(section_fields(many))
    assert [field.section for field in fields] == many


def test_the_face_softens_with_the_gap() -> None:
    """A wider gap takes less from the magnets' open field, down to free air."""
    side = condensed_side(sections(ROTORS["in air"])[0])
    section = sections(ROTORS["in air"])[0]
    first = np.abs(face_amplitudes(side, section, [0.001, 0.004, 0.02, 10 * TAU])[:, 0])
    free = np.abs(face_amplitudes(side, section, None)[0, 0])
    assert np.all(np.diff(first) < 0)
    assert first[-1] == pytest.approx(free, rel=1e-12)


def test_thin_elements_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def indefinite(*_: object) -> tuple[np.ndarray, np.ndarray]:
        return -np.ones((51, 300), order="F"), np.ones(300)

    monkeypatch.setattr(section_sweep, "linear_system", indefinite)
    with pytest.raises(SolveError, match="too thin somewhere"):
        condensed_side(sections(ROTORS["in air"])[0])

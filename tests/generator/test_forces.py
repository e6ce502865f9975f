"""The pull across the gap: laws of Maxwell's stress, and pressures of endless arrays known in closed form."""

import dataclasses
import functools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Disc, Magnets, Plate, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.field_map import FieldMap, uniform_map
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.section import section_at
from fieldrun.field.solve import field_of
from fieldrun.generator.forces import Forces, forces_of, pull_by_order
from fieldrun.reference.closed_forms import block_face, pull_pressure, two_faces_on_iron
from fieldrun.reference.ring_kernel import ring_kernel_map
from tests.sections import structured_mesh

PITCH, THICKNESS, GAP, REMANENCE, COUNT = 0.030, 0.010, 0.012, 1.30, 16
RADIUS = PITCH * COUNT / (2 * math.pi)
MAGNETS = Magnets(Arc(0.05, 0.10, 2 / 3), COUNT, THICKNESS, REMANENCE, 1.0, 7500.0)
ORDERS = 2 * np.arange(16) + 1
IDEAL = Plate(None)
RING = (0.06, 0.09)
AREA = math.pi * (RING[1] ** 2 - RING[0] ** 2)


def rotor_of(faces: int, backing: Plate | None, plate: Plate | None, gap: float | None = GAP) -> Rotor:
    return Rotor(faces, gap, backing, plate, 0.04, 0.11)


# rotor and its pressure [Pa]: from the Fourier series, computed for the project's brief in another program, where the
# field agreed with long bars in magpylib 6.3.0 to 7e-6 T
ARRAYS = {
    "two faces on iron": (rotor_of(2, IDEAL, None), 96103.0),
    "two faces in air": (rotor_of(2, None, None), 49048.0),
    "one face on iron and a plate": (rotor_of(1, IDEAL, IDEAL), 25976.0),
}


@functools.cache
def section_on_a_ring(name: str) -> FieldMap:
    """A section's harmonics, the same at every radius of a ring: an endless array bent without stretching it."""
    section = section_at(MAGNETS, ARRAYS[name][0], RADIUS)
    heights = GAP * (1 - np.cos(np.linspace(0, np.pi, 41))) / 2
    heights[-1] = GAP
    along, up = gap_amplitudes(solve_section(section, structured_mesh(section)), heights, ORDERS)
    radii = np.linspace(*RING, 4)
    b_theta, b_z = (np.repeat(part[:, None, :], len(radii), axis=1) for part in (along, up))
    return FieldMap(COUNT // 2, ORDERS, radii, heights, 0 * b_z, b_theta, b_z)


@pytest.mark.parametrize("name", ARRAYS)
def test_finite_elements_pull_with_the_pressure_of_the_series(name: str) -> None:
    rotor, pressure = ARRAYS[name]
    pull = forces_of(section_on_a_ring(name), rotor).disc_pull_n
    assert pull is not None
    assert pull / AREA == pytest.approx(pressure, rel=4e-5)


@pytest.mark.parametrize("share", [0.05, 0.25, 0.5, 0.8, 1.0])
@pytest.mark.parametrize("name", ARRAYS)
def test_any_plane_of_the_gap_tells_the_same(name: str, share: float) -> None:
    pull = float(np.sum(pull_by_order(section_on_a_ring(name), share * GAP)))
    assert pull / AREA == pytest.approx(ARRAYS[name][1], rel=4e-5)


def test_closed_form_field_gives_closed_form_pressure() -> None:
    """Arithmetic of this module alone: no finite elements, both sides from the series."""
    face = block_face(ORDERS, PITCH, REMANENCE, 2 / 3, (THICKNESS, 1.0))
    harmonics = two_faces_on_iron(face, GAP, GAP / 2)
    found = forces_of(uniform_map(COUNT // 2, harmonics, RING, GAP), rotor_of(2, IDEAL, None)).disc_pull_n
    assert found == pytest.approx(pull_pressure(harmonics) * AREA, rel=1e-12)
    assert pull_pressure(harmonics[:1]) == pytest.approx(96071.0, abs=0.5)  # the fundamental alone, same source


def test_one_face_with_nothing_above_pulls_nothing() -> None:
    field = uniform_map(8, [0.5], RING, 0.02)
    assert forces_of(field, rotor_of(1, IDEAL, None, gap=None)) == Forces(None)


def test_no_field_no_pull() -> None:
    assert forces_of(uniform_map(8, [0.0, 0.0], RING, GAP), rotor_of(2, IDEAL, None)) == Forces(0.0)


def test_half_a_tesla_of_even_field_is_ten_tonnes_a_square_metre() -> None:
    """A wave of amplitude B has half the mean square of an even field: B^2 / (4 mu0) against B^2 / (2 mu0)."""
    pull = pull_by_order(uniform_map(8, [0.5], RING, 0.02), 0.01)
    assert pull[0] / AREA == pytest.approx(0.5**2 / (4 * MU0), rel=1e-12)
    assert 2 * pull[0] / AREA == pytest.approx(99471.84, abs=0.01)  # 0.5 T: 99 472 Pa, Furlani 2001 (from memory)


def test_field_along_the_plane_pushes() -> None:
    field = uniform_map(8, [0.5, 0.1], RING, 0.02)
    zero = np.zeros_like(field.b_z_t)
    for name in ("b_r_t", "b_theta_t"):
        sideways = dataclasses.replace(field, **{name: 1j * field.b_z_t, "b_z_t": zero})
        assert pull_by_order(sideways, 0.01) == pytest.approx(-pull_by_order(field, 0.01))


@settings(derandomize=True, max_examples=20, deadline=None)
@given(st.floats(0.1, 3.0), st.floats(-3.0, 3.0), st.floats(0.5, 2.0))
def test_pull_grows_with_the_square_of_field_and_size_whatever_the_phase(
    strength: float, phase: float, size: float
) -> None:
    amplitudes = np.array([0.5, 0.1, -0.05])
    plain = pull_by_order(uniform_map(8, amplitudes, RING, 0.02), 0.01)
    turned = strength * np.exp(1j * phase) * amplitudes
    other = uniform_map(8, turned, (size * RING[0], size * RING[1]), 0.02)
    assert pull_by_order(other, 0.01) == pytest.approx(strength**2 * size**2 * plain, rel=1e-9)


def test_the_integral_is_that_of_the_map_across_jumps_too() -> None:
    """Against a trapezium rule on a fine grid, a hill with a jump in it."""
    radii = np.concatenate([np.linspace(0.05, 0.08, 31), np.linspace(0.08, 0.12, 41)])
    hill = np.exp(-(((radii - 0.09) / 0.02) ** 2)) * np.where(np.arange(len(radii)) < 31, 1.0, 1.6)
    b_z = np.repeat(hill[None, :, None], 3, axis=2).astype(complex)
    field = FieldMap(8, np.array([1]), radii, np.linspace(0, 0.01, 3), 0.2 * b_z, 0.3j * b_z, b_z)
    wanted = 0.0
    for low, high, factor in ((0.05, 0.08, 1.0), (0.08, 0.12, 1.6)):
        r = np.linspace(low, high, 20001)
        wanted += np.trapezoid((factor * np.exp(-(((r - 0.09) / 0.02) ** 2))) ** 2 * r, r)
    wanted *= np.pi / (2 * MU0) * (1 - 0.04 - 0.09)
    assert pull_by_order(field, 0.005)[0] == pytest.approx(wanted, rel=1e-6)


def test_outside_the_gap_there_is_no_answer() -> None:
    with pytest.raises(ValueError, match="outside the mapped"):
        pull_by_order(uniform_map(8, [0.5], RING, 0.02), 0.03)


def test_a_machine_pulls_less_across_a_wider_gap_and_with_weaker_magnets() -> None:
    def pull(gap: float, remanence: float = REMANENCE) -> float:
        rotor = rotor_of(2, IDEAL, None, gap)
        found = forces_of(field_of(dataclasses.replace(MAGNETS, remanence_t=remanence), rotor), rotor).disc_pull_n
        assert found is not None
        return found

    assert pull(0.012) > pull(0.014) > 0
    assert pull(0.012, REMANENCE / 2) == pytest.approx(pull(0.012) / 4, rel=1e-6)


CHARGER = Magnets(Disc(0.020, 0.066), COUNT, 0.006, 1.29, 1.05, 7500.0)
STEEL = steel_curve("mild steel")

MACHINES = {
    "two faces on saturating steel": rotor_of(2, Plate(STEEL, 0.002), None, 0.008),
    "two faces on thick steel": rotor_of(2, Plate(STEEL, 0.006), None, 0.008),
    "two faces in air": rotor_of(2, None, None, 0.008),
    "a steel plate": rotor_of(1, Plate(STEEL, 0.006), Plate(STEEL, 0.003), 0.006),
    "an ideal plate over magnets in air": rotor_of(1, None, IDEAL, 0.006),
}


@pytest.mark.parametrize("name", MACHINES)
def test_any_plane_tells_the_same_of_whole_machines(name: str) -> None:
    """Rings with all their spread: found 1e-4 in the middle half of the gap, 7e-4 a twentieth above the magnets."""
    rotor = MACHINES[name]
    field = field_of(CHARGER, rotor)
    forces = forces_of(field, rotor)
    assert forces.cut_off < 1e-6
    assert rotor.gap_m is not None
    for share, off in ((0.05, 1.5e-3), (0.25, 2e-4), (0.6, 2e-4), (0.9, 1.5e-3)):
        assert float(np.sum(pull_by_order(field, share * rotor.gap_m))) == pytest.approx(forces.disc_pull_n, rel=off)


@pytest.mark.parametrize("rotor", [rotor_of(2, IDEAL, None, 0.008), rotor_of(1, IDEAL, IDEAL, 0.006)])
def test_rings_pull_like_the_exact_kernel(rotor: Rotor) -> None:
    """Ideal plates and mu_r = 1, magnets' charge sheets summed without a mesh: found 4e-5."""
    magnets = dataclasses.replace(CHARGER, recoil_permeability=1.0)
    assert rotor.gap_m is not None
    radii = np.concatenate([np.linspace(0.02, 0.048, 15), np.linspace(0.05, 0.082, 65), np.linspace(0.085, 0.16, 26)])
    heights = rotor.gap_m * np.array([0.25, 0.5, 0.75])
    exact = forces_of(ring_kernel_map(magnets, rotor, radii, heights, ORDERS[:5]), rotor)
    assert forces_of(field_of(magnets, rotor), rotor).disc_pull_n == pytest.approx(exact.disc_pull_n, rel=3e-4)

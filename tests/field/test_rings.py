"""Linear rings: dense algebra gives the same, the mesh's error falls fast, and flat limits are known otherwise."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field import ring_family
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.ring_map import air_gap, map_of
from fieldrun.field.ring_mesh import LEFT_FAR_AWAY, RingDensity, ring_mesh
from fieldrun.field.ring_system import RingSystem, on_free, ring_system
from fieldrun.field.rings import solve_linear
from fieldrun.field.solve import section_field
from fieldrun.reference.ring_kernel import ring_kernel_map
from tests.rings import linear_part, ring_map

COARSE = RingDensity(edge=0.2, within=0.5, air=2.0, gap=1.0, growth=1.5, gap_growth=1.0, plate=1)
ORDERS = np.array([1, 3, 5])
GAP = 0.009
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.0, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.022, 0.016, 0.066))
ARCS = replace(DISCS, outline=Arc(0.056, 0.076, 0.7))
HALBACH = replace(DISCS, outline=Block(0.022, 0.010, 0.066), pattern="halbach", segments_per_pole=2)
SHAPES = {"discs": DISCS, "blocks": BLOCKS, "arcs": ARCS, "halbach": HALBACH}
IDEAL = Plate(None)
OPEN = Rotor(1, None, None, None, 0.05, 0.085)
FACING = replace(OPEN, faces=2, gap_m=GAP)
ROTORS = {
    "open": OPEN,
    "backed": replace(OPEN, backing=IDEAL),
    "facing": FACING,
    "facing, backed": replace(FACING, backing=IDEAL),
    "plate": replace(OPEN, gap_m=GAP, return_plate=IDEAL),
    "backed, plate": replace(OPEN, gap_m=GAP, backing=IDEAL, return_plate=IDEAL),
}


def system_of(magnets: Magnets, rotor: Rotor, density: RingDensity = COARSE) -> RingSystem:
    return ring_system(magnets, ring_mesh(magnets, rotor, density), ORDERS)


def spread(field_map: FieldMap) -> Floats:
    return np.stack([field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t])


def flux(field_map: FieldMap, height: float = 0.004) -> float:
    """INT b_z1 r dr over the magnets and their fringe: what an EMF takes."""
    x, weight = np.polynomial.legendre.leggauss(80)
    radius = 0.066 + 0.018 * x
    b_z = amplitudes_at(field_map, radius, np.full(80, height))[2, 0].real
    return float(0.018 * weight @ (b_z * radius))


@pytest.mark.parametrize("recoil", [1.0, 1.05, 2.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_dense_algebra_gives_the_same(shape: str, recoil: float) -> None:
    system = system_of(replace(SHAPES[shape], recoil_permeability=recoil), FACING)
    free = np.flatnonzero(on_free(system, np.ones_like(system.sources)))
    columns = []
    for place in free:
        one = np.zeros(system.sources.size)
        one[place] = 1.0
        columns.append(linear_part(system, one.reshape(system.sources.shape)).ravel()[free])
    exact = np.linalg.solve(np.stack(columns, axis=1), system.sources.ravel()[free])
    found = solve_linear(system).ravel()
    np.testing.assert_allclose(found[free], exact, atol=1e-7 * np.abs(exact).max())
    assert np.count_nonzero(found) == len(free)


def test_harmonics_that_do_not_settle_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ring_family, "ITERATIONS", 1)
    with pytest.raises(SolveError, match="the harmonics' couplings did not settle within 1 steps"):
        solve_linear(system_of(replace(DISCS, recoil_permeability=3.0), FACING))


@pytest.mark.parametrize("rotor", ["open", "facing", "backed, plate"])
@pytest.mark.parametrize("shape", ["discs", "blocks", "arcs"])
def test_halving_the_elements_takes_off_a_factor_of_ten(shape: str, rotor: str) -> None:
    """B_z of the fundamental 4 mm up, 1.5 mm and more off the magnets' ends, against the exact kernel.

    Second-order elements give flux through mesh lines at fourth order, of which corners and slow grading cost a part.
    """
    magnets, machine = SHAPES[shape], ROTORS[rotor]
    radius = 0.066 + np.linspace(-0.016, 0.016, 65)
    radius = radius[np.abs(np.abs(radius - 0.066) - 0.010) > 0.0015]
    exact = ring_kernel_map(magnets, machine, radius, [0.003, 0.004], [1]).b_z_t[0, :, 1]
    misses = []
    for factor in (4, 2, 1, 0.5):
        system = system_of(magnets, machine, RingDensity().coarser(factor))
        found = map_of(system, air_gap(system, solve_linear(system)), magnets, machine)
        miss = amplitudes_at(found, radius, np.full(len(radius), 0.004))[2, 0] - exact
        misses.append(math.sqrt(np.mean(np.abs(miss) ** 2)) / np.abs(exact).max())
    assert misses[1] < misses[0] / 8
    assert misses[2] < misses[0] / 64
    assert misses[3] < misses[2] / 8 + LEFT_FAR_AWAY  # which no mesh takes off
    assert misses[2] < 3e-4


@pytest.mark.parametrize("recoil", [1.0, 1.05])
@pytest.mark.parametrize("rotor", ["open", "facing, backed"])
def test_field_is_proportional_to_remanence(rotor: str, recoil: float) -> None:
    magnets = replace(BLOCKS, recoil_permeability=recoil)
    weak, strong = (
        spread(ring_map(replace(magnets, remanence_t=remanence), ROTORS[rotor])) for remanence in (0.4, 1.2)
    )
    np.testing.assert_allclose(strong, 3 * weak, atol=1e-8 * np.abs(strong).max())


@pytest.mark.parametrize("rotor", ROTORS)
@pytest.mark.parametrize("shape", SHAPES)
def test_field_depends_on_proportions_only(shape: str, rotor: str) -> None:
    magnets, machine = SHAPES[shape], ROTORS[rotor]
    lengths = {key: value * (1 if key == "share" else 3) for key, value in vars(magnets.outline).items()}
    large = replace(magnets, outline=replace(magnets.outline, **lengths), thickness_m=3 * magnets.thickness_m)
    wide = replace(machine, gap_m=machine.gap_m and 3 * machine.gap_m)
    small, big = ring_map(magnets, machine), ring_map(large, wide)
    np.testing.assert_allclose(big.radii_m, 3 * small.radii_m, rtol=1e-12)
    np.testing.assert_allclose(spread(big), spread(small), atol=1e-8 * np.abs(small.b_z_t).max())


@pytest.mark.parametrize("recoil", [1.05, 1.10])
@pytest.mark.parametrize("rotor", ["open", "backed", "facing, backed", "backed, plate"])
def test_many_long_magnets_are_a_flat_array(rotor: str, recoil: float) -> None:
    """400 poles ten pitches long against a section: a vector potential in the plane, air between the magnets."""
    pitch = 0.03
    middle = 400 * pitch / (2 * math.pi)
    long = Magnets(Arc(middle - 0.15, middle + 0.15, 2 / 3), 400, 0.010, 1.3, recoil, 7500.0)
    gap = ROTORS[rotor].gap_m and 0.012
    machine = replace(ROTORS[rotor], gap_m=gap)
    found = amplitudes_at(ring_map(long, machine), [middle], [0.006])[:, :3, 0]
    sideways, axial = gap_amplitudes(section_field(long, machine, middle), [0.006], ORDERS)
    np.testing.assert_allclose(found[2], axial[:, 0], atol=2e-4 * abs(axial[0, 0]))
    np.testing.assert_allclose(found[1], sideways[:, 0], atol=2e-4 * abs(axial[0, 0]))


FLAT_B1_T = {
    # computed for this project with scikit-fem, quarter cell, second-order elements: B1 [T] with recoil permeability
    # 1.05 and 1.10 for pitch 30, magnet 20 x 10, gap 12 mm, Br 1.30 T, air between the magnets
    "open": (0.240785, 0.233827),
    "backed": (0.327738, 0.320572),
    "facing, backed": (0.683204, 0.671951),
    "backed, plate": (0.425935, 0.417253),
}


@pytest.mark.parametrize("rotor", FLAT_B1_T)
def test_flat_arrays_with_air_between_the_magnets(rotor: str) -> None:
    middle = 400 * 0.03 / (2 * math.pi)
    machine = replace(ROTORS[rotor], gap_m=ROTORS[rotor].gap_m and 0.012)
    for recoil, expected in zip((1.05, 1.10), FLAT_B1_T[rotor], strict=True):
        # six pitches long: what the ends do has died out in the middle
        long = Magnets(Arc(middle - 0.09, middle + 0.09, 2 / 3), 400, 0.010, 1.3, recoil, 7500.0)
        found = amplitudes_at(ring_map(long, machine), [middle], [0.006])[2, 0, 0].real
        assert found == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("rotor", ROTORS)
@pytest.mark.parametrize("shape", ["discs", "blocks", "arcs"])
def test_recoil_permeability_takes_two_or_three_per_cent(shape: str, rotor: str) -> None:
    """1.6 % (two faces on iron) to 3.1 % (a bare face) of the flux at mu_rec 1.05, not quite twice that at 1.10."""
    one, more, most = (
        flux(ring_map(replace(SHAPES[shape], recoil_permeability=mu), ROTORS[rotor])) for mu in (1.0, 1.05, 1.1)
    )
    assert 0.016 < 1 - more / one < 0.031
    assert 1.8 * (1 - more / one) < 1 - most / one < 2 * (1 - more / one)

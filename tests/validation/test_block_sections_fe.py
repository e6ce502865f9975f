"""Finite elements against outside values of block arrays: the rows that this program is held to.

Values computed for the project's brief in other programs: Fourier series (agreeing with long bars in magpylib 6.3.0 to
2e-7 .. 7e-6 T), and for recoil permeabilities with air between blocks second-order elements on another graded mesh.
Sample: pole pitch 30 mm, magnets 20 x 10 mm, gap 12 mm, remanence 1.30 T. Bounds: 1e-4 of the fundamental, 3e-4 of the
waveform's peak, 1e-3 for recoil permeability with air between blocks, all at the default mesh.
"""

import math

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.section import section_at
from tests.sections import structured_mesh

PITCH, THICKNESS, GAP, REMANENCE = 0.030, 0.010, 0.012, 1.30
COUNT = 16
RADIUS = PITCH * COUNT / (2 * math.pi)
X = np.array([0.0, 0.004, 0.0075, 0.0125, 0.015])
ORDERS = 2 * np.arange(16) + 1
IDEAL = Plate(None)

# faces, gap, backing, return plate
ROTORS = {
    "free": (1, None, None, None),
    "backed": (1, None, IDEAL, None),
    "double_backed": (2, GAP, IDEAL, None),
    "double_free": (2, GAP, None, None),
    "plate": (1, GAP, IDEAL, IDEAL),
    "plate_unbacked": (1, GAP, None, IDEAL),
}

# rotor, height, B_z [T] at X, B1 [T]; mu_r 1, share 2/3
WAVEFORMS = [
    ("free", 0.006, [0.2432328541, 0.2285955375, 0.1807747018, 0.05708197534, 0.0], 0.2481859503),
    ("backed", 0.006, [0.3302942549, 0.3081748742, 0.2423827804, 0.07959092881, 0.0], 0.3352793162),
    ("double_backed", 0.006, [0.6849439695, 0.6385995689, 0.5019874724, 0.165485514, 0.0], 0.6949140927),
    ("double_backed", 0.009, [0.7086503361, 0.6714277813, 0.5465186505, 0.1482504428, 0.0], 0.7294897037),
    ("double_free", 0.006, [0.4864657083, 0.457191075, 0.3615494036, 0.1141639507, 0.0], 0.4963719007),
    ("plate", 0.006, [0.4300461383, 0.3993187452, 0.3129343727, 0.1054002032, 0.0], 0.4350425767),
    ("plate", 0.012, [0.3608349123, 0.3303373878, 0.2559061026, 0.09297451211, 0.0], 0.3613394202),
    ("plate_unbacked", 0.006, [0.3138576281, 0.2931303837, 0.2307302309, 0.07535264255, 0.0], 0.3188220403),
]

# rotor, height, recoil permeability, share, B1 [T]; a share of 1 leaves no air between blocks and the series is exact
FULL_FACES = [
    ("free", 0.006, 1.0, 0.2865804505),
    ("free", 0.006, 1.05, 0.2772179693),
    ("backed", 0.006, 1.0, 0.3871472069),
    ("backed", 0.006, 1.05, 0.3765735423),
    ("double_backed", 0.006, 1.0, 0.8024176769),
    ("double_backed", 0.006, 1.05, 0.7860545642),
    ("double_backed", 0.009, 1.05, 0.8251648905),
    ("double_free", 0.006, 1.05, 0.5578316322),
    ("plate", 0.006, 1.05, 0.4895833157),
    ("plate", 0.012, 1.05, 0.4066400875),
    ("plate_unbacked", 0.006, 1.05, 0.3567348944),
]
AIR_BETWEEN = [
    ("free", 1.05, 0.240785),
    ("free", 1.10, 0.233827),
    ("backed", 1.05, 0.327738),
    ("backed", 1.10, 0.320572),
    ("double_backed", 1.05, 0.683204),
    ("double_backed", 1.10, 0.671951),
    ("plate", 1.05, 0.425935),
    ("plate", 1.10, 0.417253),
]


def solved(name: str, recoil: float = 1.0, share: float = 2 / 3) -> SectionField:
    magnets = Magnets(Arc(RADIUS - 0.01, RADIUS + 0.01, share), COUNT, THICKNESS, REMANENCE, recoil, 7500.0)
    section = section_at(magnets, Rotor(*ROTORS[name], 0.0, 1.0), RADIUS)
    return solve_section(section, structured_mesh(section))


@pytest.mark.parametrize(("name", "height", "wave", "first"), WAVEFORMS)
def test_waveform_and_fundamental(name: str, height: float, wave: list[float], first: float) -> None:
    along, axial = gap_amplitudes(solved(name), [height], ORDERS)
    found = np.cos(np.outer(X, ORDERS) * np.pi / PITCH) @ axial[:, 0].real
    assert np.max(np.abs(found - wave)) < 3e-4 * max(wave)
    assert axial[0, 0].real == pytest.approx(first, rel=1e-4)
    assert np.max(np.abs(axial.imag)) < 1e-12
    assert np.max(np.abs(along.real)) < 1e-12  # B_x is a sine series where B_z is a cosine one


@pytest.mark.parametrize(("name", "height", "recoil", "first"), FULL_FACES)
def test_full_faces_of_any_recoil_permeability(name: str, height: float, recoil: float, first: float) -> None:
    axial = gap_amplitudes(solved(name, recoil, 1.0), [height], ORDERS)[1]
    assert axial[0, 0].real == pytest.approx(first, rel=1e-4)


@pytest.mark.parametrize(("name", "recoil", "first"), AIR_BETWEEN)
def test_recoil_permeability_with_air_between_blocks(name: str, recoil: float, first: float) -> None:
    axial = gap_amplitudes(solved(name, recoil), [0.006], ORDERS)[1]
    assert axial[0, 0].real == pytest.approx(first, rel=1e-3)


def test_flux_per_pole_and_pressure() -> None:
    along, axial = gap_amplitudes(solved("double_backed"), [GAP / 2], ORDERS)
    k = ORDERS * np.pi / PITCH
    flux = np.sum(2 * axial[:, 0].real / k * np.sin(ORDERS * np.pi / 2))
    assert flux == pytest.approx(0.01321795726, rel=1e-5)
    pressure = np.sum(np.abs(axial[:, 0]) ** 2 - np.abs(along[:, 0]) ** 2) / (4 * 4e-7 * np.pi)
    assert pressure == pytest.approx(96102.81518, rel=1e-4)


@pytest.mark.parametrize("steel", ["AISI 1008", "DC01", "TEAM 13"])
@pytest.mark.parametrize("thickness_mm", [12, 10, 8, 6, 5, 4.5, 4, 3, 2, 1.5, 1])
def test_newton_needs_ten_steps_at_most(steel: str, thickness_mm: float) -> None:
    magnets = Magnets(Arc(RADIUS - 0.01, RADIUS + 0.01, 2 / 3), COUNT, THICKNESS, REMANENCE, 1.05, 7500.0)
    plate = Plate(steel_curve(steel), thickness_mm / 1000)
    ideal = gap_amplitudes(solved("double_backed", 1.05), [0.006], ORDERS)[1][0, 0].real
    for rotor in (Rotor(2, GAP, plate, None, 0.0, 1.0), Rotor(1, None, plate, None, 0.0, 1.0)):
        section = section_at(magnets, rotor, RADIUS)
        field = solve_section(section, structured_mesh(section))
        assert 3 <= field.newton_steps <= 10
        if rotor.faces == 2:  # real steel never gives more than ideal steel, and thick steel nearly as much
            first = gap_amplitudes(field, [0.006], ORDERS)[1][0, 0].real
            assert first < ideal
            assert thickness_mm < 8 or first > 0.99 * ideal

"""Rows of north and south blocks, unrolled: computed for the project's brief by Fourier series in another program.

Those waveforms agreed there with long magnetised bars in magpylib 6.3.0 to 2e-7 .. 7e-6 T (that comparison is run anew
in test_long_bars_magpylib.py), and the fundamentals with second-order finite elements to 1e-5.
Sample: pole pitch 30 mm, magnets 20 x 10 mm, gap 12 mm, remanence 1.30 T.
"""

import numpy as np
import pytest

from fieldrun.reference.closed_forms import (
    block_face,
    flux_per_pole,
    in_air_to_plate,
    on_iron_to_plate,
    one_face_in_air,
    one_face_on_iron,
    pull_pressure,
    two_faces_in_air,
    two_faces_on_iron,
)
from fieldrun.reference.layers import Layer, Stack, amplitudes, pressure, remanence_harmonics, solve_layers, waveform

PITCH, WIDTH, H, G, BR = 0.030, 0.020, 0.010, 0.012, 1.30
X = np.array([0.0, 0.004, 0.0075, 0.0125, 0.015])
ORDERS = tuple(range(1, 200, 2))
FREE = 0.040  # air above a face without a gap, as a layer

# name: height, closed form, boundaries (below, above), layers above the lower magnets
CASES = {
    "free": (0.006, one_face_in_air, ("air", "air"), "air"),
    "backed": (0.006, one_face_on_iron, ("iron", "air"), "air"),
    "double_backed": (0.006, lambda face, z: two_faces_on_iron(face, G, z), ("iron", "iron"), "magnets"),
    "double_backed_off": (0.009, lambda face, z: two_faces_on_iron(face, G, z), ("iron", "iron"), "magnets"),
    "double_free": (0.006, lambda face, z: two_faces_in_air(face, G, z), ("air", "air"), "magnets"),
    "plate": (0.006, lambda face, z: on_iron_to_plate(face, G, z), ("iron", "iron"), "plate"),
    "plate_surface": (0.012, lambda face, z: on_iron_to_plate(face, G, z), ("iron", "iron"), "plate"),
    "plate_unbacked": (0.006, lambda face, z: in_air_to_plate(face, G, z), ("air", "iron"), "plate"),
}

# B_z [T] at X, mu_r 1, share 2/3
WAVEFORMS = {
    "free": [0.2432328541, 0.2285955375, 0.1807747018, 0.05708197534, 0.0],
    "backed": [0.3302942549, 0.3081748742, 0.2423827804, 0.07959092881, 0.0],
    "double_backed": [0.6849439695, 0.6385995689, 0.5019874724, 0.165485514, 0.0],
    "double_backed_off": [0.7086503361, 0.6714277813, 0.5465186505, 0.1482504428, 0.0],
    "plate": [0.4300461383, 0.3993187452, 0.3129343727, 0.1054002032, 0.0],
    "plate_surface": [0.3608349123, 0.3303373878, 0.2559061026, 0.09297451211, 0.0],
    "plate_unbacked": [0.3138576281, 0.2931303837, 0.2307302309, 0.07535264255, 0.0],
    "double_free": [0.4864657083, 0.457191075, 0.3615494036, 0.1141639507, 0.0],
}

# fundamental [T]: (mu_r, share 2/3 or 1)
FUNDAMENTALS = {
    "free": {
        (1.0, 2 / 3): 0.2481859503,
        (1.0, 1.0): 0.2865804505,
        (1.05, 2 / 3): 0.2400778038,
        (1.05, 1.0): 0.2772179693,
    },
    "backed": {
        (1.0, 2 / 3): 0.3352793162,
        (1.0, 1.0): 0.3871472069,
        (1.05, 2 / 3): 0.3261222541,
        (1.05, 1.0): 0.3765735423,
    },
    "double_backed": {
        (1.0, 2 / 3): 0.6949140927,
        (1.0, 1.0): 0.8024176769,
        (1.05, 2 / 3): 0.6807432213,
        (1.05, 1.0): 0.7860545642,
    },
    "double_backed_off": {
        (1.0, 2 / 3): 0.7294897037,
        (1.0, 1.0): 0.8423421537,
        (1.05, 2 / 3): 0.7146137575,
        (1.05, 1.0): 0.8251648905,
    },
    "plate": {
        (1.0, 2 / 3): 0.4350425767,
        (1.0, 1.0): 0.5023438975,
        (1.05, 2 / 3): 0.4239915887,
        (1.05, 1.0): 0.4895833157,
    },
    "plate_surface": {
        (1.0, 2 / 3): 0.3613394202,
        (1.0, 1.0): 0.417238823,
        (1.05, 2 / 3): 0.3521606459,
        (1.05, 1.0): 0.4066400875,
    },
    "plate_unbacked": {
        (1.0, 2 / 3): 0.3188220403,
        (1.0, 1.0): 0.3681439816,
        (1.05, 2 / 3): 0.308941481,
        (1.05, 1.0): 0.3567348944,
    },
    "double_free": {
        (1.0, 2 / 3): 0.4963719007,
        (1.0, 1.0): 0.573160901,
        (1.05, 2 / 3): 0.4830963645,
        (1.05, 1.0): 0.5578316322,
    },
}
ROWS = [(name, mu_r, share, b1) for name, row in FUNDAMENTALS.items() for (mu_r, share), b1 in row.items()]

# the same with true air between the blocks: scikit-fem 12.0.2, second order, graded mesh, share 2/3, by mu_r
WITH_AIR_BETWEEN = {
    "free": {1.05: 0.240785, 1.10: 0.233827},
    "backed": {1.05: 0.327738, 1.10: 0.320572},
    "double_backed": {1.05: 0.683204, 1.10: 0.671951},
    "plate": {1.05: 0.425935, 1.10: 0.417253},
}


def closed_form(name, mu_r=1.0, share=WIDTH / PITCH, orders=ORDERS):
    height, formula, *_ = CASES[name]
    face = block_face(orders, PITCH, BR, share, (H, mu_r))
    return face.wave_number, formula(face, height)


def layered(name, mu_r=1.0, share=WIDTH / PITCH, orders=ORDERS):
    _, _, (below, above), top = CASES[name]
    magnets = Layer(H, mu_r, *remanence_harmonics(BR, share, 1, orders))
    upper = {"air": (Layer(FREE),), "plate": (Layer(G),), "magnets": (Layer(G), magnets)}[top]
    return solve_layers(Stack(PITCH, orders, (magnets, *upper), -H, below, above))


@pytest.mark.parametrize("name", CASES)
def test_waveform_of_the_closed_form(name):
    k, harmonics = closed_form(name)
    assert waveform(harmonics.astype(complex), k, X) == pytest.approx(WAVEFORMS[name], rel=1e-8, abs=1e-9)


@pytest.mark.parametrize("name", CASES)
def test_waveform_of_the_layers(name):
    field = layered(name)
    _, b_z = amplitudes(field, CASES[name][0])
    assert waveform(b_z[:, 0], field.wave_number, X) == pytest.approx(WAVEFORMS[name], rel=1e-8, abs=1e-9)


@pytest.mark.parametrize(("name", "mu_r", "share", "b1"), ROWS)
def test_fundamental_of_the_closed_form(name, mu_r, share, b1):
    assert closed_form(name, mu_r, share, (1,))[1][0] == pytest.approx(b1, rel=1e-9)


@pytest.mark.parametrize(("name", "mu_r", "share", "b1"), ROWS)
def test_fundamental_of_the_layers(name, mu_r, share, b1):
    b_z = amplitudes(layered(name, mu_r, share, (1,)), CASES[name][0])[1]
    assert b_z[0, 0] == pytest.approx(b1, rel=1e-9)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("mu_r", [1.0, 1.05, 1.3])
def test_closed_forms_and_layers_agree_in_every_harmonic(name, mu_r):
    _, expected = closed_form(name, mu_r)
    got = amplitudes(layered(name, mu_r), CASES[name][0])[1][:, 0]
    assert got.real == pytest.approx(expected, rel=1e-11, abs=1e-15)
    assert abs(got.imag).max() < 1e-15


@pytest.mark.parametrize("name", WITH_AIR_BETWEEN)
def test_uniform_layer_reads_low_by_a_known_amount_when_air_stands_between_the_blocks(name):
    short = {mu: 1 - closed_form(name, mu, orders=(1,))[1][0] / b1 for mu, b1 in WITH_AIR_BETWEEN[name].items()}
    assert 0.0028 < short[1.05] < 0.0052
    assert short[1.10] == pytest.approx(2 * short[1.05], rel=0.2)


def test_flux_per_pole_between_two_faces_on_iron():
    k, harmonics = closed_form("double_backed")
    assert flux_per_pole(ORDERS, k, harmonics) == pytest.approx(0.01321795726, rel=1e-9)


# Maxwell stress [Pa] on the plane where B_x vanishes
PRESSURES = {"double_backed": 96102.81518, "double_free": 49048.22628, "plate_surface": 25975.37272}


@pytest.mark.parametrize("name", PRESSURES)
def test_pull_of_the_closed_form(name):
    assert pull_pressure(closed_form(name)[1]) == pytest.approx(PRESSURES[name], rel=1e-9)


@pytest.mark.parametrize("name", PRESSURES)
@pytest.mark.parametrize("height", [0.0001, 0.003, 0.006, 0.0119])
def test_pull_of_the_layers_is_the_same_on_every_plane_of_the_gap(name, height):
    orders = tuple(range(1, 2000, 2))  # near a face many harmonics count
    assert pressure(layered(name, orders=orders), height) == pytest.approx(PRESSURES[name], rel=1e-8)

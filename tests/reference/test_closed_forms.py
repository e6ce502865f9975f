import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.reference import closed_forms as forms

PITCH, H, G, BR = 0.030, 0.010, 0.012, 1.3
FACE = forms.block_face((1, 3, 5), PITCH, BR, 0.7, (H, 1.05))
BARE = forms.block_face((1, 3, 5), PITCH, BR, 0.7, (H, 1.0))


def test_without_recoil_the_forms_are_the_short_ones_of_the_books():
    """mu_r = 1: sums of exponentials, the field of the faces' charges and their images."""
    k, br, z = BARE.wave_number, BARE.remanence_t, 0.004
    fade = np.exp(-k * z)
    assert forms.one_face_in_air(BARE, z) == pytest.approx(br * (1 - np.exp(-k * H)) / 2 * fade, rel=1e-12)
    assert forms.one_face_on_iron(BARE, z) == pytest.approx(br * (1 - np.exp(-2 * k * H)) / 2 * fade, rel=1e-12)
    between = br * np.sinh(k * H) * np.cosh(k * (z - G / 2)) / np.sinh(k * (H + G / 2))
    assert forms.two_faces_on_iron(BARE, G, z) == pytest.approx(between, rel=1e-12)
    bare = br * (1 - np.exp(-k * H)) * np.exp(-k * G / 2) * np.cosh(k * (z - G / 2))
    assert forms.two_faces_in_air(BARE, G, z) == pytest.approx(bare, rel=1e-12)


def test_a_far_mate_is_no_mate():
    far, z = 0.5, 0.003
    assert forms.two_faces_in_air(FACE, far, z) == pytest.approx(forms.one_face_in_air(FACE, z), rel=1e-12)
    assert forms.two_faces_on_iron(FACE, far, z) == pytest.approx(forms.one_face_on_iron(FACE, z), rel=1e-12)
    assert forms.in_air_to_plate(FACE, far, z) == pytest.approx(forms.one_face_in_air(FACE, z), rel=1e-12)
    assert forms.on_iron_to_plate(FACE, far, z) == pytest.approx(forms.one_face_on_iron(FACE, z), rel=1e-12)


def test_long_waves_on_iron_give_the_magnetic_circuit():
    """Pole pitch far above the gap: no leakage, Br 2h / (2h + mu_r g) of the harmonic."""
    wide = forms.block_face((1,), 1000.0, BR, 1.0, (H, 1.05))
    expected = wide.remanence_t * 2 * H / (2 * H + 1.05 * G)
    assert forms.two_faces_on_iron(wide, G, G / 2) == pytest.approx(expected, rel=1e-6)


def test_high_orders_do_not_overflow():
    face = forms.block_face((1, 100001), PITCH, BR, 0.7, (H, 1.05))
    for b in (forms.two_faces_on_iron(face, G, 0.006), forms.two_faces_in_air(face, G, 0.006)):
        assert np.all(np.isfinite(b))
        assert b[1] == 0


@settings(derandomize=True, max_examples=40, deadline=None)
@given(length=st.floats(0.002, 0.1), width=st.floats(0.002, 0.1), h=st.floats(0.001, 0.05), z=st.floats(0, 0.2))
def test_far_and_near_limits_of_a_block(length, width, h, z):
    here = forms.cuboid_on_axis(length, width, h, BR, z)
    assert here == pytest.approx(forms.cuboid_on_axis(width, length, h, BR, z), rel=1e-12)
    assert 0 < here < BR / 2
    far = 1000 * (length + width + h)
    dipole = BR * length * width * h / (2 * np.pi * (far + h / 2) ** 3)
    assert forms.cuboid_on_axis(length, width, h, BR, far) == pytest.approx(dipole, rel=1e-4)


def test_disc_far_away_is_a_dipole_and_a_long_one_has_half_its_remanence_at_the_face():
    dipole = BR * 0.01**2 * H / (2 * (5.0 + H / 2) ** 3)
    assert forms.cylinder_on_axis(0.01, H, BR, 5.0) == pytest.approx(dipole, rel=1e-4)
    assert forms.cylinder_on_axis(0.01, 1e4, BR, 0.0) == pytest.approx(BR / 2, rel=1e-9)


def test_long_block_is_the_endless_bar():
    assert forms.cuboid_on_axis(0.02, 1e3, H, BR, 0.005) == pytest.approx(
        forms.bar_on_axis(0.02, H, BR, 0.005), rel=1e-8
    )


def test_flux_per_pole_is_the_area_under_the_wave():
    harmonics = forms.two_faces_on_iron(FACE, G, 0.005)
    x = (np.arange(20000) + 0.5) / 20000 * PITCH - PITCH / 2
    wave = harmonics @ np.cos(np.outer(FACE.wave_number, x))
    expected = np.mean(wave) * PITCH
    assert forms.flux_per_pole((1, 3, 5), FACE.wave_number, harmonics) == pytest.approx(expected, rel=1e-8)


def test_pull_pressure_is_the_mean_square_over_two_mu0():
    x = np.arange(600) / 600 * 2 * PITCH
    wave = FACE.remanence_t @ np.cos(np.outer(FACE.wave_number, x))
    assert forms.pull_pressure(FACE.remanence_t) == pytest.approx(np.mean(wave**2) / (8e-7 * np.pi), rel=1e-12)


def test_pull_at_one_tesla():
    """1 T square wave: 397 887 Pa, B^2 / (2 mu0); its harmonics 4 / (n pi) approach it from below."""
    n = np.arange(1, 200001, 2)
    assert forms.pull_pressure(4 / (np.pi * n)) == pytest.approx(397887.3577, rel=1e-5)


def test_curve_with_corners_needs_to_be_told_where_they_are_only_for_speed():
    def corner(h):
        return min(h, 500.0) * 1e-3

    plain = forms.tube_flux(50, 0.01, 0.02, corner, ())
    split = forms.tube_flux(50, 0.01, 0.02, corner, (0.0, 100.0, 500.0))
    r = 50 / (2 * np.pi * 500)
    exact = 0.5 * (r - 0.01) + 1e-3 * 50 / (2 * np.pi) * np.log(0.02 / r)
    assert split == pytest.approx(exact, rel=1e-12)
    assert plain == pytest.approx(exact, rel=1e-7)

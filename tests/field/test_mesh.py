"""The structured template: it fills the section exactly, on lines where they are needed."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.harmonics import facets_at_height
from fieldrun.field.mesh import MeshDensity, SectionMesh
from fieldrun.field.section import Region, section_at
from tests.sections import structured_mesh

R = 0.066
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
HALBACH = replace(ARCS, pattern="halbach", segments_per_pole=3)
SHEET = Plate(steel_curve("mild steel"), 0.004)
ROTORS = [
    Rotor(1, None, None, None, 0.04, 0.09),
    Rotor(2, 0.009, SHEET, None, 0.04, 0.09),
    Rotor(1, 0.009, SHEET, SHEET, 0.04, 0.09),
]


def areas(mesh: SectionMesh) -> np.ndarray:
    x, z = mesh.mesh.p[:, mesh.mesh.t]
    return np.ptp(x, axis=0) * np.ptp(z, axis=0)


@pytest.mark.parametrize("width", ["half pole", "full pole"])
@pytest.mark.parametrize("magnets", [ARCS, HALBACH], ids=["alternating", "halbach"])
@pytest.mark.parametrize("rotor", ROTORS, ids=["open", "facing", "plated"])
def test_regions_are_filled_exactly(rotor: Rotor, magnets: Magnets, width: str) -> None:
    section = section_at(magnets, rotor, R, width)  # type: ignore[arg-type]  # from a parameter list
    mesh = structured_mesh(section)
    for index, region in enumerate(section.regions):
        x, z = np.array(region.polygon_m).T
        assert areas(mesh)[mesh.region == index].sum() == pytest.approx(np.ptp(x) * np.ptp(z), rel=1e-12)
    assert areas(mesh).sum() == pytest.approx(section.width_m * (section.top_m - section.bottom_m), rel=1e-12)
    assert areas(mesh).min() > 0
    for level in [0.0, section.bottom_m, section.top_m, section.upper_line_m or 0.0]:
        ends = mesh.mesh.p[0, mesh.mesh.facets[:, facets_at_height(mesh.mesh, level)]]
        assert np.ptp(ends, axis=0).sum() == pytest.approx(section.width_m, rel=1e-12)


def test_neighbouring_designs_share_a_topology() -> None:
    one, other = (
        structured_mesh(section_at(replace(ARCS, thickness_m=h), replace(ROTORS[1], gap_m=g), r))
        for h, g, r in ((0.006, 0.009, R), (0.0011, 0.02, 0.07))
    )
    assert np.array_equal(one.mesh.t, other.mesh.t)
    assert np.array_equal(one.region, other.region)


def test_refined_has_four_times_the_elements() -> None:
    section = section_at(ARCS, ROTORS[2], R)
    counts = [len(structured_mesh(section, d).region) for d in (MeshDensity(), MeshDensity().refined())]
    assert counts[1] == 4 * counts[0]


def test_elements_shrink_towards_magnet_corners() -> None:
    mesh = structured_mesh(section_at(ARCS, ROTORS[0], R))
    x = np.unique(mesh.mesh.p[0])
    corner = np.argmin(np.abs(x - 0.7 * np.pi * R / 16))
    steps = np.diff(x)
    assert steps[corner - 1] < 0.3 * steps[0]
    assert steps[corner] < 0.3 * steps[-1]


def test_other_outlines_are_refused() -> None:
    section = section_at(ARCS, ROTORS[0], R)
    slanted = replace(section, regions=(Region("magnet_up", ((0, -0.006), (0.009, -0.006), (0.007, 0), (0, 0))),))
    with pytest.raises(ValueError, match="takes upright rectangles only; use the gmsh mesher"):
        structured_mesh(slanted)


def test_region_is_locked() -> None:
    mesh = structured_mesh(section_at(ARCS, ROTORS[0], R))
    with pytest.raises(ValueError, match="read-only"):
        mesh.region[0] = 5

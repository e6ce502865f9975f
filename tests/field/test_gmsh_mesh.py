"""Meshes by gmsh: they fill the section, follow its lines, agree with the structured template, and leave no trace."""

import math
import signal
import subprocess
import sys
from dataclasses import replace
from importlib.abc import MetaPathFinder
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import MissingError, SolveError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.gmsh_mesh import APT_LINE, gmsh_state, outline_mesh
from fieldrun.field.harmonics import facets_at_height
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.section import Region, Section, rectangle, section_at
from tests.sections import structured_mesh

ORDERS = 2 * np.arange(8) + 1
R, H = 0.066, 0.006
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, H, 1.3, 1.05, 7500.0)
HALBACH = replace(ARCS, pattern="halbach", segments_per_pole=2)
TOUCHING = replace(ARCS, outline=Arc(0.056, 0.076, 1.0))
"""All their corners lie on the sides of half a pole."""

SHEET = Plate(steel_curve("mild steel"), 0.004)
ROTORS = {
    "open": Rotor(1, None, None, None, 0.04, 0.09),
    "backed": Rotor(1, None, Plate(None), None, 0.04, 0.09),
    "facing": Rotor(2, 0.009, None, None, 0.04, 0.09),
    "facing, ideal": Rotor(2, 0.009, Plate(None), None, 0.04, 0.09),
    "facing, steel": Rotor(2, 0.009, SHEET, None, 0.04, 0.09),
    "plated": Rotor(1, 0.009, SHEET, SHEET, 0.04, 0.09),
}
WIDTH, PITCH = 0.7 * math.pi * R / 16, math.pi * R / 8
OUTLINES = {
    "chamfered": ((0, -H), (WIDTH, -H), (WIDTH, -0.0015), (WIDTH - 0.0015, 0), (0, 0)),
    "rounded": (
        (0, -H),
        (WIDTH, -H),
        *((WIDTH - 0.002 * (1 - math.cos(t)), 0.002 * (math.sin(t) - 1)) for t in np.linspace(0, math.pi / 2, 7)),
        (0, 0),
    ),
    "stepped": ((0, -H), (WIDTH, -H), (WIDTH, -0.003), (WIDTH - 0.002, -0.003), (WIDTH - 0.002, 0), (0, 0)),
    "dovetailed": ((0, -H), (WIDTH + 0.001, -H), (WIDTH - 0.001, 0), (0, 0)),
}


def with_outline(rotor: Rotor, name: str) -> Section:
    plain = section_at(ARCS, rotor, R)
    (magnet,) = (region for region in plain.regions if region.name == "magnet_up")
    others = tuple(region for region in plain.regions if region is not magnet)
    return replace(plain, regions=(replace(magnet, polygon_m=OUTLINES[name]), *others))


def areas(mesh: SectionMesh) -> np.ndarray:
    (x0, x1, x2), (z0, z1, z2) = mesh.mesh.p[:, mesh.mesh.t]
    return np.abs((x1 - x0) * (z2 - z0) - (x2 - x0) * (z1 - z0)) / 2


def polygon_area(polygon: tuple[tuple[float, float], ...]) -> float:
    x, z = np.array(polygon).T
    return float(abs(np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z))) / 2


def covered(mesh: SectionMesh, height: float) -> float:
    facets = mesh.mesh.facets[:, facets_at_height(mesh.mesh, height)]
    return float(np.abs(np.diff(mesh.mesh.p[0, facets], axis=0)).sum())


@pytest.mark.usefixtures("gmsh_or_skip")
@pytest.mark.parametrize("magnets", [ARCS, HALBACH], ids=["arcs", "halbach"])
@pytest.mark.parametrize("name", ROTORS)
def test_same_field_as_on_the_structured_template(magnets: Magnets, name: str) -> None:
    section = section_at(magnets, ROTORS[name], R)
    along, axial = gap_amplitudes(solve_section(section, structured_mesh(section)), [0.001, 0.0045], ORDERS)
    own_along, own_axial = gap_amplitudes(solve_section(section, outline_mesh(section)), [0.001, 0.0045], ORDERS)
    size = abs(axial[0, 0])
    assert np.abs(own_axial[0] - axial[0]).max() < 5e-5 * size
    assert np.abs(own_axial - axial).max() < 3e-4 * size
    assert np.abs(own_along - along).max() < 3e-4 * size


@pytest.mark.usefixtures("gmsh_or_skip")
def test_magnets_that_touch_have_no_corner_to_grow_from() -> None:
    """Half a pole full of magnet: no point of it inside the box to be fine at, and still 0.1 % of all harmonics."""
    section = section_at(TOUCHING, ROTORS["facing"], R)
    pair = structured_mesh(section), outline_mesh(section)
    wanted, found = (gap_amplitudes(solve_section(section, mesh), [0.001, 0.0045], ORDERS)[1] for mesh in pair)
    assert np.abs(found - wanted).max() < 1e-3 * abs(wanted[0, 0])


@pytest.mark.usefixtures("gmsh_or_skip")
@pytest.mark.parametrize("name", ["open", "facing, ideal", "facing, steel"])
def test_a_whole_pole_has_twin_sides_and_the_same_field(name: str) -> None:
    half, whole = (section_at(HALBACH, ROTORS[name], R, width) for width in ("half pole", "full pole"))
    mesh = outline_mesh(whole)
    x, z = mesh.mesh.p
    left, right = np.sort(z[x == 0]), np.sort(z[x == whole.width_m])
    assert len(left) >= 7
    assert np.abs(left - right).max() < 1e-12
    first, second = (
        gap_amplitudes(solve_section(section, one), [0.003], ORDERS)[1]
        for section, one in ((half, outline_mesh(half)), (whole, mesh))
    )
    assert np.abs(first - second).max() < 1e-4 * abs(first[0, 0])


@pytest.mark.usefixtures("gmsh_or_skip")
def test_twin_sides_even_where_only_one_side_has_a_corner() -> None:
    """A lone shoe at the left side must cut the right one as well."""
    whole = section_at(ARCS, ROTORS["open"], R, "full pole")
    shoe = Region("shoe", rectangle(0.0, 0.004, -0.008, -H), steel=SHEET.steel)
    mesh = outline_mesh(replace(whole, regions=(*whole.regions, shoe)))
    x, z = mesh.mesh.p
    assert np.abs(np.sort(z[x == 0]) - np.sort(z[x == whole.width_m])).max() < 1e-12


@pytest.mark.usefixtures("gmsh_or_skip")
@pytest.mark.parametrize("outline", OUTLINES)
@pytest.mark.parametrize("name", ["open", "facing, steel", "plated"])
def test_regions_and_levels_are_followed(name: str, outline: str) -> None:
    section = with_outline(ROTORS[name], outline)
    mesh = outline_mesh(section)
    for index, region in enumerate(section.regions):
        assert areas(mesh)[mesh.region == index].sum() == pytest.approx(polygon_area(region.polygon_m), rel=1e-9)
    assert areas(mesh).sum() == pytest.approx(section.width_m * (section.top_m - section.bottom_m), rel=1e-9)
    levels = [0.0] if section.upper_line_m is None else [0.0, section.upper_line_m]
    for level in [*levels, section.bottom_m, section.top_m]:
        assert covered(mesh, level) == pytest.approx(section.width_m, rel=1e-9)


@pytest.mark.usefixtures("gmsh_or_skip")
def test_no_level_is_cut_through_a_magnet() -> None:
    plain = section_at(ARCS, ROTORS["open"], R)
    tall = Region("magnet_up", ((0, -H), (WIDTH, -H), (WIDTH, 0.001), (0, 0.001)), 1.05, (0.0, 1.3))
    mesh = outline_mesh(replace(plain, regions=(tall,)))
    assert covered(mesh, 0.0) == pytest.approx(plain.width_m - WIDTH, rel=1e-9)


@pytest.mark.usefixtures("gmsh_or_skip")
def test_finer_at_corners_and_across_thin_layers() -> None:
    thin = Magnets(ARCS.outline, 16, 0.0004, 1.3, 1.05, 7500.0)
    section = section_at(thin, ROTORS["facing"], R)
    mesh = outline_mesh(section)
    in_magnet = mesh.mesh.p[1, mesh.mesh.t[:, mesh.region == 0]]
    middle = in_magnet.mean(axis=0)
    assert np.any(middle < -0.00025)  # nowhere does one triangle reach all through
    assert not np.any(np.ptp(mesh.mesh.p[1, np.unique(mesh.mesh.t[:, mesh.region == 0])]) == 0)
    usual = outline_mesh(section_at(ARCS, ROTORS["facing"], R))
    corner = np.hypot(*(usual.mesh.p.T - (WIDTH, 0.0)).T)
    nearest = np.sort(corner)[1]
    assert nearest < 0.35 * PITCH / 12


@pytest.mark.usefixtures("gmsh_or_skip")
def test_size_given_is_obeyed() -> None:
    section = section_at(ARCS, ROTORS["facing"], R)
    coarse, fine = (len(outline_mesh(section, size).region) for size in (PITCH / 16, PITCH / 32))
    assert 2.5 < fine / coarse < 4.5


@pytest.mark.usefixtures("gmsh_or_skip")
@pytest.mark.parametrize(
    ("polygon", "text"),
    [
        (((0, -H), (WIDTH, 0), (WIDTH, -H), (0, 0)), "a region of the section crosses itself"),
        (rectangle(0, 2 * PITCH, -H, 0), "reaches outside its box"),
        (((0, 0), (0, 0), (0, 0)), "gmsh could not mesh the section"),
    ],
    ids=["bow tie", "too wide", "a point"],
)
def test_impossible_outlines_are_refused_and_gmsh_is_closed(
    polygon: tuple[tuple[float, float], ...], text: str
) -> None:
    plain = section_at(ARCS, ROTORS["open"], R)
    with pytest.raises(SolveError, match=text):
        outline_mesh(replace(plain, regions=(Region("magnet_up", polygon, 1.0, (0.0, 1.3)),)))
    import gmsh

    assert not gmsh.isInitialized()
    assert len(outline_mesh(plain).region) > 50


@pytest.mark.usefixtures("gmsh_or_skip")
def test_overlapping_regions_are_refused() -> None:
    plain = section_at(ARCS, ROTORS["open"], R)
    twice = (*plain.regions, Region("shoe", rectangle(0, WIDTH / 2, -H / 2, 0), steel=SHEET.steel))
    with pytest.raises(SolveError, match="two regions of the section overlap"):
        outline_mesh(replace(plain, regions=twice))


@pytest.mark.usefixtures("gmsh_or_skip")
def test_silent_and_ctrl_c_still_works(capfd: pytest.CaptureFixture[str]) -> None:
    before = signal.getsignal(signal.SIGINT)
    outline_mesh(section_at(ARCS, ROTORS["open"], R))
    assert signal.getsignal(signal.SIGINT) is before
    assert capfd.readouterr() == ("", "")


@pytest.mark.usefixtures("gmsh_or_skip")
def test_a_session_of_the_users_own_is_not_closed() -> None:
    import gmsh

    gmsh.initialize([], readConfigFiles=False, interruptible=False)
    try:
        with pytest.raises(SolveError, match="gmsh is already open in this process"):
            outline_mesh(section_at(ARCS, ROTORS["open"], R))
        assert gmsh.isInitialized()
    finally:
        gmsh.finalize()


class NoLibrary(MetaPathFinder):
    """Stands for a Debian without libGLU."""

    def find_spec(self, fullname: str, *_: object) -> None:
        if fullname == "gmsh":
            raise OSError("libGLU.so.1: cannot open shared object file")


def test_missing_system_library_is_told_with_the_line_that_installs_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "gmsh", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoLibrary(), *sys.meta_path])
    with pytest.raises(MissingError, match=r"libGLU\.so\.1.*" + APT_LINE):
        outline_mesh(section_at(ARCS, ROTORS["open"], R))
    assert gmsh_state()[0] is False
    assert APT_LINE in gmsh_state()[1]


def test_missing_package_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "gmsh", None)
    with pytest.raises(MissingError, match="pip install gmsh"):
        outline_mesh(section_at(ARCS, ROTORS["open"], R))


@pytest.mark.usefixtures("gmsh_or_skip")
def test_state_names_the_version() -> None:
    loads, version = gmsh_state()
    assert loads
    assert int(version.split(".")[0]) >= 4


@pytest.mark.slow
@pytest.mark.parametrize(("required", "outcome"), [("0", "1 skipped"), ("1", "1 error")])
def test_without_gmsh_its_tests_skip_unless_it_is_required(tmp_path: Path, required: str, outcome: str) -> None:
    (tmp_path / "gmsh.py").write_text("raise OSError('libGLU.so.1: cannot open shared object file')\n")
    one = f"{__file__}::test_state_names_the_version"
    environment = {"PYTHONPATH": str(tmp_path), "FIELDRUN_REQUIRE_GMSH": required, "PATH": "/usr/bin:/bin"}
    command = [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", one]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert outcome in run.stdout
    assert "libGLU.so.1" in run.stdout

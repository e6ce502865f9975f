"""Meshes of the user's own: filled with the design's materials, and every misfit told in one sentence."""

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.design.units import MM
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.mesh_file import read_section_mesh, section_mesh_faults, write_section_mesh
from fieldrun.field.msh_format import GroupedMesh, read_msh, write_msh
from fieldrun.field.section import Region, Section, rectangle, section_at
from tests.sections import structured_mesh

R = 0.066
MAGNETS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
HALBACH = replace(MAGNETS, pattern="halbach", segments_per_pole=3)
SHEET, THIN = Plate(steel_curve("mild steel"), 0.004), Plate(steel_curve("DC01"), 0.002)
ROTORS = {
    "open": Rotor(1, None, None, None, 0.04, 0.09),
    "backed": Rotor(1, None, Plate(None), None, 0.04, 0.09),
    "facing": Rotor(2, 0.009, None, None, 0.04, 0.09),
    "facing, ideal": Rotor(2, 0.009, Plate(None), None, 0.04, 0.09),
    "facing, steel": Rotor(2, 0.009, SHEET, None, 0.04, 0.09),
    "plated": Rotor(1, 0.009, SHEET, THIN, 0.04, 0.09),
    "ideal plate": Rotor(1, 0.009, None, Plate(None), 0.04, 0.09),
}


def plain_mesh(path: Path, rotor: Rotor, magnets: Magnets = MAGNETS, width: str = "half pole") -> GroupedMesh:
    """The machine's own section as a mesh file."""
    section = section_at(magnets, rotor, R, width)  # type: ignore[arg-type]  # from a parameter list
    write_section_mesh(path, section, structured_mesh(section))
    return read_msh(path)


def fault(path: Path, mesh: GroupedMesh, rotor: Rotor, magnets: Magnets = MAGNETS) -> str:
    """The faults of a spoilt mesh, one a line, without the file's name and the key."""
    write_msh(path, mesh)
    with pytest.raises(DesignError) as caught:
        read_section_mesh(path, magnets, rotor)
    assert {(f.file, f.key, f.line) for f in caught.value.faults} == {(str(path), "magnets.section_mesh", None)}
    return "\n".join(f.text for f in caught.value.faults)


def moved(mesh: GroupedMesh, move: Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]) -> GroupedMesh:
    return replace(mesh, points=np.stack(move(*mesh.points)))


def test_a_region_of_nothing_is_written_as_air(tmp_path: Path) -> None:
    section = section_at(MAGNETS, ROTORS["facing"], R)
    spacer = replace(section, regions=(*section.regions, Region("spacer", rectangle(0.001, 0.004, 0.002, 0.003))))
    write_section_mesh(tmp_path / "a.msh", spacer, structured_mesh(spacer))
    own, mesh = read_section_mesh(tmp_path / "a.msh", MAGNETS, ROTORS["facing"])
    assert [region.name for region in own.regions] == ["magnet_up"]
    orders = 2 * np.arange(6) + 1
    found, wanted = (
        gap_amplitudes(solve_section(*pair), [0.004], orders)[1]
        for pair in ((own, mesh), (section, structured_mesh(section)))
    )
    assert np.abs(found - wanted).max() < 1e-3 * np.abs(wanted).max()


@pytest.mark.parametrize("width", ["half pole", "full pole"])
@pytest.mark.parametrize("magnets", [MAGNETS, HALBACH], ids=["alternating", "halbach"])
@pytest.mark.parametrize("name", ROTORS)
def test_what_is_written_is_read_and_solved_alike(tmp_path: Path, name: str, magnets: Magnets, width: str) -> None:
    section = section_at(magnets, ROTORS[name], R, width)  # type: ignore[arg-type]  # from a parameter list
    mesh = structured_mesh(section)
    write_section_mesh(tmp_path / "a.msh", section, mesh)
    own, own_mesh = read_section_mesh(tmp_path / "a.msh", magnets, ROTORS[name])
    for key in ("pole_pitch_m", "bottom_m", "top_m"):
        assert getattr(own, key) == pytest.approx(getattr(section, key), rel=1e-12)
    assert (own.upper_line_m or 0) == pytest.approx(section.upper_line_m or 0, rel=1e-12)
    assert (own.width, own.bottom, own.top, own.mirrored) == (width, section.bottom, section.top, section.mirrored)
    orders = 2 * np.arange(6) + 1
    found, wanted = (
        np.stack(gap_amplitudes(solve_section(*pair), [0.001, 0.004], orders))
        for pair in ((own, own_mesh), (section, mesh))
    )
    assert np.abs(found - wanted).max() < 1e-9 * np.abs(wanted).max()


def test_groups_become_the_designs_materials(tmp_path: Path) -> None:
    path = tmp_path / "a.msh"
    plain_mesh(path, ROTORS["plated"], HALBACH, "full pole")
    section, _ = read_section_mesh(path, HALBACH, ROTORS["plated"])
    found = {region.name: region for region in section.regions}
    assert sorted(found) == ["backing", "magnet_240", "magnet_300", "magnet_down", "magnet_up", "return plate"]
    assert found["backing"].steel is SHEET.steel
    assert found["return plate"].steel is THIN.steel
    for name, degrees in (("magnet_up", 0), ("magnet_down", 180), ("magnet_240", 240), ("magnet_300", 300)):
        wanted = 1.3 * math.sin(math.radians(degrees)), 1.3 * math.cos(math.radians(degrees))
        assert found[name].remanence_t == pytest.approx(wanted, abs=1e-12)
        assert found[name].permeability == 1.05


@pytest.mark.parametrize("width", ["half pole", "full pole"])
@pytest.mark.parametrize("name", ROTORS)
def test_outlines_of_bodies_are_found_again(tmp_path: Path, name: str, width: str) -> None:
    section = section_at(HALBACH, ROTORS[name], R, width)  # type: ignore[arg-type]  # from a parameter list
    write_section_mesh(tmp_path / "a.msh", section, structured_mesh(section))
    own, _ = read_section_mesh(tmp_path / "a.msh", HALBACH, ROTORS[name])

    def corners(one: Section) -> list[list[tuple[float, float]]]:
        return sorted(sorted((round(x, 9), round(z, 9)) for x, z in region.polygon_m) for region in one.regions)

    assert corners(own) == corners(section)


def test_directions_between_whole_degrees_are_kept(tmp_path: Path) -> None:
    sevenths = replace(MAGNETS, pattern="halbach", segments_per_pole=7)
    section = section_at(sevenths, ROTORS["open"], R)
    write_section_mesh(tmp_path / "a.msh", section, structured_mesh(section))
    own, _ = read_section_mesh(tmp_path / "a.msh", sevenths, ROTORS["open"])
    drawn = sorted(region.remanence_t for region in section.regions)
    assert np.array(sorted(region.remanence_t for region in own.regions)) == pytest.approx(np.array(drawn), abs=1e-7)


@pytest.mark.parametrize("name", ["magnet_-60", "magnet_300.0"])
def test_directions_may_be_written_in_other_ways(tmp_path: Path, name: str) -> None:
    mesh = plain_mesh(tmp_path / "a.msh", ROTORS["open"], HALBACH)
    write_msh(tmp_path / "b.msh", replace(mesh, groups=tuple(name if g == "magnet_300" else g for g in mesh.groups)))
    section, _ = read_section_mesh(tmp_path / "b.msh", HALBACH, ROTORS["open"])
    (turned,) = (region for region in section.regions if region.name == name)
    assert turned.remanence_t == pytest.approx((-1.3 * math.sqrt(0.75), 0.65))


def test_a_pole_shoe_on_real_steel_takes_the_backings_curve(tmp_path: Path) -> None:
    section = section_at(MAGNETS, ROTORS["facing, steel"], R)
    magnet, backing = section.regions
    width = max(x for x, _ in magnet.polygon_m)
    split = (
        replace(magnet, polygon_m=rectangle(0, width, -0.006, -0.001)),
        Region("shoe", rectangle(0, width, -0.001, 0), steel=SHEET.steel),
        backing,
    )
    drawn = replace(section, regions=split)
    write_section_mesh(tmp_path / "a.msh", drawn, structured_mesh(drawn))
    own, mesh = read_section_mesh(tmp_path / "a.msh", MAGNETS, ROTORS["facing, steel"])
    assert [r.steel for r in own.regions if r.name == "backing"] == [SHEET.steel, SHEET.steel]  # disc and shoe
    first, second = (
        gap_amplitudes(solve_section(*pair), [0.003], np.array([1, 3]))[1]
        for pair in ((own, mesh), (drawn, structured_mesh(drawn)))
    )
    assert first == pytest.approx(second, rel=1e-9)


# what is wrong, rotor, how the plain mesh is spoilt, what is said
MISFITS: list[tuple[str, str, Callable[[GroupedMesh], GroupedMesh], str]] = [
    (
        "metres",
        "open",
        lambda m: moved(m, lambda x, z: (x * MM, z * MM)),
        (
            "is 0.01296 mm wide; half a pole pitch at the magnets' mean radius is 12.96 mm, a whole one 25.92 mm; "
            "is it drawn in metres? lengths are in mm"
        ),
    ),
    (
        "too wide",
        "open",
        lambda m: moved(m, lambda x, z: (1.1 * x, z)),
        "is 14.25 mm wide; half a pole pitch at the magnets' mean radius is 12.96 mm, a whole one 25.92 mm",
    ),
    (
        "shifted",
        "open",
        lambda m: moved(m, lambda x, z: (x - 3, z)),
        "starts at x = -3 mm; x = 0 must be the centre of a magnet that points up",
    ),
    (
        "thicker magnets",
        "open",
        lambda m: moved(m, lambda x, z: (x, np.where(z < 0, 1.5 * z, z))),
        "has magnets down to y = -9 mm; magnets.thickness_mm puts their foot at -6",
    ),
    (
        "lowered",
        "open",
        lambda m: moved(m, lambda x, z: (x, z - 1)),
        (
            "has magnets down to y = -7 mm; magnets.thickness_mm puts their foot at -6\n"
            "has its highest magnet or steel below the gap at y = -1 mm; the gap must begin at y = 0"
        ),
    ),
    (
        "upside down",
        "open",
        lambda m: moved(m, lambda x, z: (x, -z)),
        "has no magnet between y = -6 mm and the gap, which begins at y = 0; is it drawn upside down?",
    ),
    (
        "magnet in the gap",
        "facing",
        lambda m: replace(m, group=np.where(middles(m)[1] > 3, m.groups.index("magnet_up"), m.group)),
        "has a magnet or steel in the gap; from y = 0 to 4.5 mm there must be air only",
    ),
    (
        "magnet in the air above",
        "open",
        lambda m: replace(m, group=np.where(middles(m)[1] > 5, m.groups.index("magnet_up"), m.group)),
        (
            "has a magnet or steel in the gap; from y = 0 to the top there must be air only\n"
            "has no air above y = 6.48 mm; draw some before the open side (a quarter of a pole pitch is plenty)"
        ),
    ),
    (
        "ideal backing lower",
        "backed",
        lambda m: moved(m, lambda x, z: (x, np.where(z < -5.9, z - 1, z))),
        (
            "has magnets down to y = -7 mm; magnets.thickness_mm puts their foot at -6\n"
            "ends below at y = -7 mm; the ideal backing's face is at -6"
        ),
    ),
    (
        "whole gap drawn",
        "facing",
        lambda m: moved(m, lambda x, z: (x, np.where(z > 0, 2 * z, z))),
        "ends above at y = 9 mm; the gap's middle (draw the lower face only) is at 4.5",
    ),
    (
        "plate too near",
        "ideal plate",
        lambda m: moved(m, lambda x, z: (x, np.where(z > 0, 0.5 * z, z))),
        "ends above at y = 4.5 mm; the ideal return plate's face is at 9",
    ),
    (
        "no air below",
        "open",
        lambda m: without(m, middles(m)[1] < -6, open_below=-6),
        "has no air below y = -6 mm; draw some before the open side (a quarter of a pole pitch is plenty)",
    ),
    (
        "no air above",
        "open",
        lambda m: without(m, middles(m)[1] > 0, open_above=0),
        "has no air above y = 0 mm; draw some before the open side (a quarter of a pole pitch is plenty)",
    ),
    (
        "thinner steel",
        "facing, steel",
        lambda m: replace(m, group=np.where(middles(m)[1] < -8, m.groups.index("air"), m.group)),
        "has its steel's back at y = -8 mm; magnets, gap and rotor.backing_mm put it at -10",
    ),
    (
        "plate's face",
        "plated",
        lambda m: replace(m, group=np.where((middles(m)[1] > 9) & (middles(m)[1] < 10), air(m), m.group)),
        "has its return plate's face at y = 10 mm; rotor.gap_mm puts it at 9",
    ),
    (
        "no return plate",
        "plated",
        lambda m: replace(m, group=np.where(middles(m)[1] > 0, air(m), m.group)),
        "has no steel where rotor.return_plate should be",
    ),
    (
        "pole centre elsewhere",
        "open",
        lambda m: replace(m, lines=m.lines | {"pole_centre": m.lines["pole_edge"]}),
        "has a side of pole_centre off x = 0 mm",
    ),
    (
        "half a pole edge",
        "open",
        lambda m: replace(m, lines=m.lines | {"pole_edge": m.lines["pole_edge"][:, :-3]}),
        "has a group pole_edge that does not run from the bottom to the top of x = 12.96 mm",
    ),
    (
        "open above only",
        "open",
        lambda m: replace(m, lines=m.lines | {"open_side": level(m, lambda z: z > 0)}),
        "has a lower side that is not all in open_side, but there the design has air without end",
    ),
    (
        "open to the gap's middle",
        "facing",
        lambda m: replace(m, lines=m.lines | {"open_side": np.concatenate([m.lines["open_side"], top(m)], axis=1)}),
        "has an upper side in open_side, but there the design has ideal steel or the gap's middle",
    ),
    (
        "upright open side",
        "open",
        lambda m: replace(
            m, lines=m.lines | {"open_side": np.concatenate([m.lines["open_side"], m.lines["pole_edge"]], axis=1)}
        ),
        "has a side of open_side that is not level with its bottom or its top",
    ),
    (
        "magnet the wrong way up",
        "open",
        lambda m: replace(m, groups=tuple("magnet_down" if g == "magnet_up" else g for g in m.groups)),
        "the magnet at x = 0 points down; x = 0 must be the centre of one that points up",
    ),
]


def middles(mesh: GroupedMesh) -> np.ndarray:
    return mesh.points[:, mesh.cells].mean(axis=1)


def air(mesh: GroupedMesh) -> int:
    return mesh.groups.index("air")


def level(mesh: GroupedMesh, chosen: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    ends = mesh.lines["open_side"]
    return ends[:, chosen(mesh.points[1, ends]).all(axis=0)]


def row(mesh: GroupedMesh, height: float) -> np.ndarray:
    """Sides along a level, in order."""
    points = np.flatnonzero(np.abs(mesh.points[1] - height) < 1e-9)
    points = points[np.argsort(mesh.points[0, points])]
    return np.stack([points[:-1], points[1:]])


def top(mesh: GroupedMesh) -> np.ndarray:
    return row(mesh, mesh.points[1].max())


def without(
    mesh: GroupedMesh, dropped: np.ndarray, open_below: float | None = None, open_above: float | None = None
) -> GroupedMesh:
    """Cut elements off one end of the box; its new end is the open side."""
    low = mesh.points[1].min() if open_below is None else open_below
    high = mesh.points[1].max() if open_above is None else open_above
    upright = {
        name: ends[:, np.all((mesh.points[1, ends] > low - 1e-9) & (mesh.points[1, ends] < high + 1e-9), axis=0)]
        for name, ends in mesh.lines.items()
        if name != "open_side"
    }
    lines = upright | {"open_side": np.concatenate([row(mesh, low), row(mesh, high)], axis=1)}
    used, cells = np.unique(mesh.cells[:, ~dropped], return_inverse=True)
    place = np.full(mesh.points.shape[1], -1)
    place[used] = np.arange(len(used))
    return GroupedMesh(
        mesh.points[:, used],
        cells.reshape(len(mesh.cells), -1),
        mesh.group[~dropped],
        mesh.groups,
        {name: place[ends] for name, ends in lines.items()},
    )


@pytest.mark.parametrize(("name", "spoil", "text"), [case[1:] for case in MISFITS], ids=[case[0] for case in MISFITS])
def test_misfits_are_told(tmp_path: Path, name: str, spoil: Callable[[GroupedMesh], GroupedMesh], text: str) -> None:
    assert fault(tmp_path / "a.msh", spoil(plain_mesh(tmp_path / "plain.msh", ROTORS[name])), ROTORS[name]) == text


def test_steel_without_a_curve_is_told(tmp_path: Path) -> None:
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["backed"])
    shoe = replace(mesh, groups=(*mesh.groups, "steel"), group=np.where(middles(mesh)[1] < -5, 2, mesh.group))
    assert "has steel below the gap, but rotor.backing names no steel with a curve" in fault(
        tmp_path / "a.msh", shoe, ROTORS["backed"]
    )


def test_missing_and_unknown_groups_are_told_at_once(tmp_path: Path) -> None:
    rotor = ROTORS["facing, steel"]
    mesh = plain_mesh(tmp_path / "plain.msh", rotor)
    renamed = {"magnet_up": "magnet_north", "steel": "iron", "air": "air"}
    lines = {"pole_centre": mesh.lines["pole_centre"], "symmetry": mesh.lines["pole_edge"]}
    spoilt = replace(mesh, groups=tuple(renamed[g] for g in mesh.groups), lines=lines)
    assert fault(tmp_path / "a.msh", spoilt, rotor).split("\n") == [
        "lacks the 2D groups steel; magnet_up, magnet_down or magnet_<degrees>; found air, iron, magnet_north",
        "lacks the 1D groups pole_edge; open_side; found pole_centre, symmetry",
        (
            "has 2D groups that mean nothing: iron, magnet_north; known are air, steel, magnet_up, magnet_down, "
            "magnet_<degrees>"
        ),
        "has 1D groups that mean nothing: symmetry; known are pole_centre, pole_edge, open_side",
    ]


def test_an_angle_that_no_number_holds_is_no_name_of_a_magnet(tmp_path: Path) -> None:
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["open"])
    spoilt = replace(mesh, groups=tuple(f"magnet_{'9' * 310}" if g == "magnet_up" else g for g in mesh.groups))
    assert "has 2D groups that mean nothing: magnet_999" in fault(tmp_path / "a.msh", spoilt, ROTORS["open"])


def test_no_groups_are_told(tmp_path: Path) -> None:
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["backed"])
    bare = replace(mesh, groups=("air",), group=0 * mesh.group, lines={"open_side": mesh.lines["open_side"]})
    assert fault(tmp_path / "a.msh", bare, ROTORS["backed"]).split("\n") == [
        "lacks the 2D group magnet_up, magnet_down or magnet_<degrees>; found air",
        "lacks the 1D groups pole_centre; pole_edge; found open_side",
    ]


TORN = "is torn or doubled, first near x = "


def test_a_tear_between_surfaces_is_told(tmp_path: Path) -> None:
    """Two surfaces drawn side by side, each with points of its own."""
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["backed"])
    magnet = mesh.group == mesh.groups.index("magnet_up")
    count = mesh.points.shape[1]
    cells = np.where(magnet, mesh.cells + count, mesh.cells)
    points = np.concatenate([mesh.points, mesh.points], axis=1)
    ends = mesh.lines["pole_centre"]
    twice = {"pole_centre": np.where(mesh.points[1, ends].mean(axis=0) < 0, ends + count, ends)}
    torn = compacted(GroupedMesh(points, cells, mesh.group, mesh.groups, mesh.lines | twice))
    assert TORN in fault(tmp_path / "a.msh", torn, ROTORS["backed"])


def test_a_hole_is_told(tmp_path: Path) -> None:
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["facing"])
    x, z = middles(mesh)
    kept = ~((x > 4) & (x < 6) & (z > 1) & (z < 3))
    holed = compacted(replace(mesh, cells=mesh.cells[:, kept], group=mesh.group[kept]))
    assert TORN in fault(tmp_path / "a.msh", holed, ROTORS["facing"])


def test_doubled_elements_are_told(tmp_path: Path) -> None:
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["facing"])
    twice = replace(mesh, cells=np.repeat(mesh.cells, 2, axis=1), group=np.repeat(mesh.group, 2))
    assert TORN in fault(tmp_path / "a.msh", twice, ROTORS["facing"])


def test_folded_elements_are_told(tmp_path: Path) -> None:
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["facing"])
    inside = np.argmin(np.hypot(mesh.points[0] - 6, mesh.points[1] - 2))
    points = mesh.points.copy()
    points[0, inside] += 3
    text = fault(tmp_path / "a.msh", replace(mesh, points=points), ROTORS["facing"])
    assert re.search(r"has flat or folded elements, first near x = \S+, y = \S+ mm; mesh that surface anew", text)


@pytest.mark.parametrize("turned", [False, True])
def test_triangles_laid_over_their_neighbours_are_told(tmp_path: Path, turned: bool) -> None:
    """A point drawn beyond its neighbours folds no triangle in itself, but lays it over the next."""
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["facing"])
    halves = np.concatenate([mesh.cells[[0, 1, 2]], mesh.cells[[0, 2, 3]]], axis=1)
    halves = halves[::-1] if turned else halves
    mesh = replace(mesh, cells=halves, group=np.tile(mesh.group, 2))
    inside = np.argmin(np.hypot(mesh.points[0] - 6, mesh.points[1] - 2))
    points = mesh.points.copy()
    points[0, inside] += 3.1
    text = fault(tmp_path / "a.msh", replace(mesh, points=points), ROTORS["facing"])
    assert re.fullmatch(r"has elements that lie over each other, first near x = \S+, y = \S+ mm; mesh that .*", text)


def test_a_whole_pole_with_unlike_sides_is_told(tmp_path: Path) -> None:
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["facing"], width="full pole")
    nudged = moved(mesh, lambda x, z: (x, np.where((x > 25.9) & (z > 1) & (z < 4), z + 0.1, z)))
    assert fault(tmp_path / "a.msh", nudged, ROTORS["facing"]) == (
        "has different points on its two sides; a whole pole pitch needs the same (in gmsh: Periodic Curve)"
    )


def compacted(mesh: GroupedMesh) -> GroupedMesh:
    """Leave out points that no element uses: the format has no place for them."""
    used, cells = np.unique(mesh.cells, return_inverse=True)
    place = np.full(mesh.points.shape[1], -1)
    place[used] = np.arange(len(used))
    lines = {name: place[ends] for name, ends in mesh.lines.items()}
    return replace(mesh, points=mesh.points[:, used], cells=cells.reshape(mesh.cells.shape), lines=lines)


def test_files_that_are_no_mesh(tmp_path: Path) -> None:
    with pytest.raises(DesignError, match=r"nowhere\.msh: magnets\.section_mesh: cannot be opened: No such file"):
        read_section_mesh(tmp_path / "nowhere.msh", MAGNETS, ROTORS["open"])
    (tmp_path / "text.msh").write_text("hello")
    with pytest.raises(DesignError, match=r"text\.msh: magnets\.section_mesh: cannot be read as a gmsh mesh"):
        read_section_mesh(tmp_path / "text.msh", MAGNETS, ROTORS["open"])


def test_faults_for_the_design_reader(tmp_path: Path) -> None:
    """As `read_design` calls its checks: faulty records are None, two more records and the folder follow."""
    plain_mesh(tmp_path / "a.msh", ROTORS["open"])
    own = replace(MAGNETS, section_mesh=str(tmp_path / "a.msh"))
    first, second = section_mesh_faults(own, ROTORS["backed"], None, None, tmp_path)
    assert str(first).startswith(f"{tmp_path / 'a.msh'}: magnets.section_mesh: ends below at y = -12.48 mm")
    assert second.text.startswith("has a lower side in open_side")
    assert section_mesh_faults(own, ROTORS["open"], None, None, tmp_path) == ()
    assert section_mesh_faults(MAGNETS, ROTORS["open"], None, None, tmp_path) == ()
    assert section_mesh_faults(own, None, None, None, tmp_path) == ()
    gone = replace(MAGNETS, section_mesh=str(tmp_path / "gone.msh"))
    assert section_mesh_faults(gone, ROTORS["open"], None, None, tmp_path) == ()


def test_rounded_drawings_fit(tmp_path: Path) -> None:
    """Lengths to a hundredth of a millimetre are what people type."""
    mesh = plain_mesh(tmp_path / "plain.msh", ROTORS["facing, steel"])
    rounded = moved(mesh, lambda x, z: (x * 12.96 / x.max(), z))
    write_msh(tmp_path / "a.msh", rounded)
    section, own = read_section_mesh(tmp_path / "a.msh", MAGNETS, ROTORS["facing, steel"])
    assert section.pole_pitch_m == pytest.approx(2 * 0.01296, rel=1e-12)
    assert solve_section(section, SectionMesh(own.mesh, own.region)).newton_steps > 1

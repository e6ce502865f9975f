"""Section meshes of the user's own: what the groups of a mesh file mean for a machine, and whether they fit it.

Lengths in the file are mm; x = 0 is the centre of a magnet that points up, y = 0 the face towards the gap. The box
reaches to half or one pole pitch at the magnets' mean radius, up to the middle of the gap between two faces, to an
ideal plate, or into open air.
"""

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Magnets, Rotor, SteelCurve
from fieldrun.design.text_file import ALLOW
from fieldrun.design.units import MM
from fieldrun.field.mesh import SectionMesh, element_areas
from fieldrun.field.mesh_fit import Mask, fit_faults, width_of
from fieldrun.field.mesh_outline import bodies
from fieldrun.field.msh_format import GroupedMesh, MshError, read_msh, write_msh
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.section import Region, Section, section_at

KEY = "magnets.section_mesh"

MAGNET = re.compile(r"magnet_(up|down|-?\d{1,3}(\.\d+)?)$")
"""`magnet_<deg>`: the way a magnet points, turned from up (+y) towards the motion (+x), less than three turns."""

NEEDED_LINES = ("pole_centre", "pole_edge")


def read_section_mesh(path: Path, magnets: Magnets, rotor: Rotor) -> tuple[Section, SectionMesh]:
    """Read a mesh file and fill it with the machine's materials.

    Magnets take the design's remanence, turned by the group's name, and recoil permeability; steel below the gap takes
    the backing's curve, steel above it the return plate's. Sides that are no `open_side` are crossed squarely.

    Parameters
    ----------
    path : the mesh file, lengths in mm
    magnets, rotor : the machine it must fit, at the magnets' mean radius

    Returns
    -------
    A section with one region for each body, and its mesh [m]; `solve_section` takes both.

    Raises
    ------
    DesignError
        With every fault of the file.
    """
    try:
        raw = read_msh(path)
    except OSError as error:
        cure = f"; {ALLOW}" if isinstance(error, PermissionError) else ""
        raise DesignError([_fault(path, f"cannot be opened: {error.strerror or error}{cure}")]) from error
    except MshError as error:
        raise DesignError([_fault(path, str(error))]) from error
    plain = section_at(magnets, rotor, mean_radius_m(magnets))
    texts = [*_name_faults(raw, plain)] or fit_faults(raw, plain, magnets.thickness_m)
    if texts:
        raise DesignError([_fault(path, text) for text in texts])
    section, mesh = _filled(raw, plain, magnets)
    if not _points_up_at_zero(section, mesh):
        raise DesignError(
            [_fault(path, "the magnet at x = 0 points down; x = 0 must be the centre of one that points up")]
        )
    return section, mesh


def section_mesh_faults(magnets: Magnets | None, rotor: Rotor | None, *_: object) -> tuple[Fault, ...]:
    """What is wrong with a design's section mesh, as a check for `design.read`: told before anything is solved.

    Nothing is said without a mesh, without sound magnets and rotor, or of a file that is not there: the reader knows.
    """
    if magnets is None or rotor is None or not magnets.section_mesh or not Path(magnets.section_mesh).is_file():
        return ()
    try:
        read_section_mesh(Path(magnets.section_mesh), magnets, rotor)
    except DesignError as error:
        return error.faults
    return ()


def _fault(path: Path, text: str) -> Fault:
    return Fault(KEY, text, str(path))


def _name_faults(raw: GroupedMesh, plain: Section) -> Iterator[str]:
    steel = any(region.steel for region in plain.regions)
    lines = [*NEEDED_LINES, *(["open_side"] if "open" in (plain.bottom, plain.top) else [])]
    missing = [name for name in ["air", *(["steel"] if steel else [])] if name not in raw.groups]
    if not any(MAGNET.match(name) for name in raw.groups):
        missing.append("magnet_up, magnet_down or magnet_<degrees>")
    if missing:
        yield f"lacks the 2D group{'s' * (len(missing) > 1)} {'; '.join(missing)}; found {_listed(raw.groups)}"
    if missing := [name for name in lines if name not in raw.lines]:
        yield f"lacks the 1D group{'s' * (len(missing) > 1)} {'; '.join(missing)}; found {_listed(raw.lines)}"
    unknown = [name for name in raw.groups if name not in ("air", "steel") and not MAGNET.match(name)]
    if unknown:
        known = "air, steel, magnet_up, magnet_down, magnet_<degrees>"
        yield f"has 2D groups that mean nothing: {_listed(unknown)}; known are {known}"
    if unknown := [name for name in raw.lines if name not in (*NEEDED_LINES, "open_side")]:
        yield f"has 1D groups that mean nothing: {_listed(unknown)}; known are pole_centre, pole_edge, open_side"


def _listed(names: Iterable[str]) -> str:
    return ", ".join(sorted(names)) or "none"


def _filled(raw: GroupedMesh, plain: Section, magnets: Magnets) -> tuple[Section, SectionMesh]:
    points = raw.points * MM
    kind = skfem.MeshTri if len(raw.cells) == 3 else skfem.MeshQuad
    mesh = kind(np.ascontiguousarray(points), np.ascontiguousarray(raw.cells))
    curves = {region.name: region.steel for region in plain.regions if region.steel}
    above = points[1, raw.cells].mean(axis=0) > 0
    regions: list[Region] = []
    index = np.full(raw.cells.shape[1], -1)
    for number, name in enumerate(raw.groups):
        for region, elements in _materials(name, raw.group == number, above, magnets, curves):
            for part, polygon in bodies(mesh, elements):
                index[part] = len(regions)
                regions.append(replace(region, polygon_m=polygon))
    width = width_of(raw, plain)
    drawn, top = float(np.ptp(points[0])), float(points[1].max())
    section = replace(
        plain,
        pole_pitch_m=drawn if width == "full pole" else 2 * drawn,
        width=width or plain.width,
        bottom_m=float(points[1].min()),
        top_m=top,
        regions=tuple(regions),
        upper_line_m=top if plain.top == "normal" else plain.upper_line_m,
    )
    return section, SectionMesh(mesh, index)


def _materials(
    name: str, elements: Mask, above: Mask, magnets: Magnets, curves: dict[str, SteelCurve]
) -> Iterator[tuple[Region, Mask]]:
    """What one group is made of, still without outline: nothing for air, one magnet, one or two steels."""
    if name.startswith("magnet"):
        yield Region(name, (), magnets.recoil_permeability, _remanence(name, magnets.remanence_t)), elements
    if name == "steel":
        for label, part in (("backing", elements & ~above), ("return plate", elements & above)):
            if np.any(part):
                yield Region(label, (), steel=curves[label]), part


def _remanence(name: str, remanence_t: float) -> tuple[float, float]:
    word = name.removeprefix("magnet_")
    turn = math.radians(float({"up": "0", "down": "180"}.get(word, word)))
    return round(remanence_t * math.sin(turn), 15), round(remanence_t * math.cos(turn), 15)


def _points_up_at_zero(section: Section, mesh: SectionMesh) -> bool:
    """Whether the magnets' first harmonic, summed over the box, is that of a magnet that points up at x = 0."""
    axial = np.array([region.remanence_t[1] for region in section.regions] + [0.0])[mesh.region]
    middle = mesh.mesh.p[0, mesh.mesh.t].mean(axis=0)
    return bool(np.sum(axial * element_areas(mesh) * np.cos(np.pi * middle / section.pole_pitch_m)) > 0)


def write_section_mesh(path: Path, section: Section, mesh: SectionMesh) -> None:
    """Write a section's mesh with its groups, lengths in mm: MSH 4.1, binary.

    Remanence is kept as a direction only, rounded to a millionth of a degree; permeability and steel's curve are the
    design's business. Regions of one name become one group.

    Parameters
    ----------
    path : the file
    section, mesh : any section and its mesh
    """
    names = [*(_group_name(region) for region in section.regions), "air"]
    groups = tuple(dict.fromkeys(names[i] for i in np.unique(mesh.region % len(names))))
    group = np.array([groups.index(name) if name in groups else -1 for name in names])[mesh.region]
    x, z = mesh.mesh.p
    lines = {"pole_centre": _facets_at(mesh.mesh, x, 0.0), "pole_edge": _facets_at(mesh.mesh, x, section.width_m)}
    ends = ((section.bottom_m, section.bottom), (section.top_m, section.top))
    if open_ends := [_facets_at(mesh.mesh, z, height) for height, kind in ends if kind == "open"]:
        lines["open_side"] = np.concatenate(open_ends, axis=1)
    write_msh(path, GroupedMesh(mesh.mesh.p / MM, mesh.mesh.t, group, groups, lines))


def _group_name(region: Region) -> str:
    if region.steel is not None:
        return "steel"
    if not any(region.remanence_t):
        return "air"
    turn = round(math.degrees(math.atan2(*region.remanence_t)), 6) % 360
    return {0.0: "magnet_up", 180.0: "magnet_down"}.get(turn, f"magnet_{turn:.9g}")


def _facets_at(mesh: skfem.Mesh, coordinate: Floats, value: float) -> Ints:
    """Ends of the sides of elements that lie on a line of the box."""
    near = np.abs(coordinate - value) < 1e-9 * np.ptp(coordinate)
    return np.asarray(mesh.facets[:, near[mesh.facets].all(axis=0)])

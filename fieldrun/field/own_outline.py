"""Outlines of the user's own that have no profile: what a section says against the plain one, laid over a field map.

For pole shoes, Halbach arrays and the like, which `own_slabs` cannot put into the rings, and for maps of flat sections.
The map knows the machine with plain magnets. One section at the mean radius is solved twice, with the user's mesh and
plain, with the same steel: the fundamental takes their ratio, the higher harmonics take their difference. A quotient of
higher harmonics would not do: the third vanishes at a magnet share of 2/3.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.field_map import FieldMap, amplitudes_at, smooth_stretches
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.mesh import MeshDensity, SectionMesh, structured_grid
from fieldrun.field.mesh_file import read_section_mesh
from fieldrun.field.outline import mean_radius_m, radial_breaks_m
from fieldrun.field.section import section_at

STRONG = 0.2
"""Share of the plain fundamental's largest value above which the ratio is taken; it is held constant beyond."""


def own_section_field(magnets: Magnets, rotor: Rotor, density: MeshDensity | None = None) -> SectionField:
    """Solve the section of the user's mesh file.

    Parameters
    ----------
    magnets, rotor : the machine; `magnets.section_mesh` names the mesh
    density : the file's elements are halved as often as this doubles the usual density; None leaves them as they are

    Raises
    ------
    DesignError
        If the mesh does not fit the machine.
    SolveError
        If the steel does not converge.
    """
    section, mesh = read_section_mesh(Path(magnets.section_mesh), magnets, rotor)
    times = 0 if density is None else max(0, round(math.log2(density.across / MeshDensity().across)))
    return solve_section(section, halved(mesh, times))


def halved(mesh: SectionMesh, times: int = 1) -> SectionMesh:
    """Cut every element in four, as often as asked; each part keeps its region."""
    named = mesh.mesh.with_subdomains({str(i): np.flatnonzero(mesh.region == i) for i in np.unique(mesh.region)})
    finer = named.refined(times)
    region = np.full(finer.t.shape[1], -1)
    for name, elements in (finer.subdomains or {}).items():
        region[elements] = int(name)
    return SectionMesh(finer, region)


def with_own_outline(
    field_map: FieldMap, magnets: Magnets, rotor: Rotor, density: MeshDensity | None = None
) -> FieldMap:
    """Lay the user's outline over a map of plain magnets.

    With o and p the own and the plain section at the mean radius, and b the map: the fundamental becomes b_1 o_1 / p_1
    (each component and height by its own quotient; where p_1 is below `STRONG` of its largest over the heights the
    nearest quotient is held); higher orders become b_n + (o_n - p_n) |b_1(r, z)| / |p_1(z)|, with B_z's fundamentals
    for the scale, over the magnets' radii only. The outline is taken to be the same at every radius.

    Parameters
    ----------
    field_map : the machine with plain magnets
    magnets, rotor : the machine; `magnets.section_mesh` names the mesh
    density : of the plain section's mesh; see `own_section_field` for the own one
    """
    plain_section = section_at(magnets, rotor, mean_radius_m(magnets))
    plain = solve_section(plain_section, structured_grid(plain_section, density))
    own = own_section_field(magnets, rotor, density)
    heights = field_map.heights_m
    (o_x, o_z), (p_x, p_z) = (gap_amplitudes(field, heights, field_map.orders) for field in (own, plain))
    cut = _cut_at(_cut_at(field_map, radial_breaks_m(magnets)[0]), radial_breaks_m(magnets)[-1])
    scale = np.abs(cut.b_z_t[0]) / np.abs(p_z[0]) * _on_magnets(cut, magnets)[:, None]
    return replace(
        cut,
        b_r_t=_corrected(cut.b_r_t, _ratio(o_z[0], p_z[0]), np.zeros_like(o_z), scale),
        b_theta_t=_corrected(cut.b_theta_t, _ratio(o_x[0], p_x[0]), o_x - p_x, scale),
        b_z_t=_corrected(cut.b_z_t, _ratio(o_z[0], p_z[0]), o_z - p_z, scale),
    )


def _ratio(own: Complexes, plain: Complexes) -> Complexes:
    """Own over plain at each height; where plain is weak, the quotient of the nearest height where it is not."""
    strong = np.flatnonzero(np.abs(plain) >= STRONG * np.abs(plain).max())
    places = np.arange(len(plain))
    nearest = strong[np.abs(places[:, None] - strong).argmin(axis=1)]
    return np.asarray(own[nearest] / plain[nearest])


def _corrected(plain: Complexes, ratio: Complexes, difference: Complexes, scale: Floats) -> Complexes:
    """(n, r, z) amplitudes: first order times a ratio (z,), others plus a difference (n, z) scaled by (r, z)."""
    higher = plain[1:] + difference[1:, None, :] * scale
    return np.concatenate([(plain[0] * ratio)[None], higher])


def _on_magnets(field_map: FieldMap, magnets: Magnets) -> Floats:
    """1 on the stretches between jumps that lie over the magnets, 0 on the others, (r,)."""
    inner, outer = radial_breaks_m(magnets)[0], radial_breaks_m(magnets)[-1]
    radii = field_map.radii_m
    over = np.zeros(len(radii))
    for first, end in smooth_stretches(radii):
        over[first:end] = inner <= (radii[first] + radii[end - 1]) / 2 <= outer
    return over


def _cut_at(field_map: FieldMap, radius_m: float) -> FieldMap:
    """Give a radius twice, so that the map may jump there; one at the map's ends or already doubled is left alone."""
    radii = field_map.radii_m
    slack = 1e-9 * radii[-1]
    near = np.flatnonzero(np.abs(radii - radius_m) <= slack)
    if not radii[0] + slack < radius_m < radii[-1] - slack or len(near) > 1:
        return field_map
    value = radii[near[0]] if len(near) else radius_m
    places = [int(np.searchsorted(radii, value))] * (2 - len(near))
    heights = field_map.heights_m
    b_r, b_theta, b_z = amplitudes_at(field_map, np.full(len(heights), value), heights)[:, :, None, :]
    return replace(
        field_map,
        radii_m=np.insert(radii, places, value),
        b_r_t=np.insert(field_map.b_r_t, places, b_r, axis=1),
        b_theta_t=np.insert(field_map.b_theta_t, places, b_theta, axis=1),
        b_z_t=np.insert(field_map.b_z_t, places, b_z, axis=1),
    )

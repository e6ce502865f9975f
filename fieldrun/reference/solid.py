"""The independent judge of the whole field: second-order tetrahedra in three dimensions, with steel that saturates.

It shares nothing with the models it judges but the machine's description and the record of the result. Assumed: magnets
along z and alternating, uniform remanence and recoil permeability, steel without hysteresis, no currents.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from threadpoolctl import ThreadpoolController

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.field_map import FieldMap
from fieldrun.reference.solid_grid import SolidGrid, solid_grid, with_midpoints
from fieldrun.reference.solid_newton import solve_balance
from fieldrun.reference.solid_outline import coverage
from fieldrun.reference.solid_planes import ORDERS, PlaneHarmonics, plane_harmonics
from fieldrun.reference.solid_system import linear_system


@dataclass(frozen=True, eq=False)
class SolidField:
    """What the solid model found.

    Parameters
    ----------
    field_map : odd harmonics at the heights asked for
    steel_peak_t : largest flux density at the steel's integration points [T]; None without steel that saturates
    newton_steps : 0 without steel that saturates
    unknowns : nodes of the mesh
    """

    field_map: FieldMap
    steel_peak_t: float | None
    newton_steps: int
    unknowns: int


def solve_solid(
    magnets: Magnets, rotor: Rotor, heights_m: Sequence[float] | Floats, fineness: float = 1.0
) -> SolidField:
    """Field of magnets and steel in three dimensions.

    Half a pole is solved (and, with two faces, the lower half of the gap); nothing is assumed about how the field
    varies over r, theta or z. `Plate.steel` None is an ideal plate without limits.

    Parameters
    ----------
    magnets, rotor : the machine
    heights_m : (z,) where the field is wanted, above the lower magnets and inside the gap [m]
    fineness : cells along every edge relative to the default; 2 halves every cell, for eight times the nodes

    Raises
    ------
    ValueError
        If the magnets are a Halbach array or have an outline of their own, or if a height is not in the gap.
    SolveError
        If Newton finds no balance in deeply saturated steel.
    """
    _refuse(magnets, rotor, heights_m, fineness)
    heights = np.unique(np.asarray(heights_m, float))
    own = np.minimum(heights, rotor.gap_m - heights) if rotor.faces == 2 and rotor.gap_m is not None else heights
    grid = solid_grid(magnets, rotor, own.tolist(), fineness)
    system = linear_system(grid, magnets, coverage(magnets.outline, magnets.count, grid.radii_m, grid.angles_rad))
    with ThreadpoolController().limit(limits=1, user_api="blas"):  # its many small solves only wait for each other
        balance = solve_balance(system)
    planes = [int(np.argmin(np.abs(grid.heights_m - z))) for z in own]
    solved = {plane: plane_harmonics(system, balance.potential, plane) for plane in set(planes)}
    mirrored = own < heights
    return SolidField(
        field_map=_field_map(grid, heights, [solved[plane] for plane in planes], np.where(mirrored, -1.0, 1.0), rotor),
        steel_peak_t=max((float(state.flux_t.max()) for _, state in balance.states), default=None),
        newton_steps=balance.steps,
        unknowns=len(balance.potential),
    )


def _refuse(magnets: Magnets, rotor: Rotor, heights_m: Sequence[float] | Floats, fineness: float) -> None:
    if magnets.pattern != "alternating":
        raise ValueError("the solid model knows magnets along z in turn only, not Halbach arrays")
    if magnets.section_mesh:
        raise ValueError(
            f"the solid model knows discs, blocks and arcs, not the section {Path(magnets.section_mesh).name}"
        )
    top = np.inf if rotor.gap_m is None else rotor.gap_m
    outside = [z for z in heights_m if not 0 < z < top]
    if outside or not len(heights_m):
        found = ", ".join(f"{z:g}" for z in outside) or "none"
        raise ValueError(
            f"heights must lie between 0 and {top:g} m, above the magnets and in the gap; received {found}"
        )
    if not 0 < fineness < np.inf:
        raise ValueError(f"fineness must be more than 0; received {fineness:g}")


def _field_map(
    grid: SolidGrid, heights: Floats, planes: Iterable[PlaneHarmonics], side: Floats, rotor: Rotor
) -> FieldMap:
    """In the upper half of a gap between two faces B_r and B_theta are those of the lower half with the other sign."""
    fields = list(planes)
    b_r, b_theta, b_z = (
        np.stack([getattr(field, name) for field in fields], axis=2) for name in ("b_r", "b_theta", "b_z")
    )
    sine: Complexes = -1j * side * b_theta  # Re(-j A exp(j n p theta)) = A sin(n p theta)
    return FieldMap(
        pole_pairs=grid.pole_pairs,
        orders=np.array(ORDERS),
        radii_m=with_midpoints(grid.radii_m),
        heights_m=heights,
        b_r_t=side * b_r + 0j,
        b_theta_t=sine,
        b_z_t=b_z + 0j,
        open_above=rotor.gap_m is None,
    )

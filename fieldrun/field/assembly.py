"""How element matrices become one: numbering of the unknowns, and sums into LAPACK's banded storage.

All of it but the numbers depends on a mesh's topology alone: it is made once and kept, so that another design on the
same topology costs one sparse sum. Sums have the unit of what is summed: matrices [m/H], loads [A], A [Wb/m].
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy.linalg.lapack
import scipy.sparse
from scipy.sparse.csgraph import reverse_cuthill_mckee

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.errors import SolveError
from fieldrun.field.banded import TOO_THIN
from fieldrun.field.section_elements import Operators


@dataclass(frozen=True, eq=False)
class BandSum:
    """Where the entries of some matrices go: one sparse sum of signs.

    Parameters
    ----------
    signs : (stored, entries) from all entries to those of the band that they reach
    stored : (stored,) places of these in the band's memory
    """

    signs: scipy.sparse.csr_array
    stored: Ints


@dataclass(frozen=True, eq=False)
class Scatter:
    """Where matrices (s, e) of some elements go, and from loads (i, e) to unknowns, (unknowns, i e)."""

    band: BandSum
    loads: scipy.sparse.csr_array


@dataclass(frozen=True, eq=False)
class Numbering:
    """Degrees of freedom that are really unknown, ordered for a narrow band.

    Parameters
    ----------
    number : (n,) row of each degree of freedom, -1 where the value is held at zero
    sign : (n,) +1, or -1 where the value is minus that of the row (the far side of an antiperiodic box)
    bandwidth : largest distance between coupled rows
    count : number of unknowns
    """

    number: Ints
    sign: Floats
    bandwidth: int
    count: int

    def places(self, first: Ints, second: Ints) -> Ints:
        """Where entries of rows and columns (k,) lie in the memory of an upper band stored column by column, (k,)."""
        low, high = np.minimum(first, second), np.maximum(first, second)
        return np.asarray(high * (self.bandwidth + 1) + self.bandwidth + low - high)


@dataclass(frozen=True, eq=False)
class Block:
    """A dense symmetric coupling, such as an open side: (m,) degrees of freedom and their (m, m) matrix [m/H]."""

    dofs: Ints
    matrix: Floats


def numbering(
    ops: Operators,
    held: Ints,
    pairs: tuple[Ints, Ints],
    open_sides: list[Ints],
    order: Literal["narrow", "upwards"] = "narrow",
) -> Numbering:
    """Drop held values, join antiperiodic pairs (second = -first), and order the rest.

    Parameters
    ----------
    ops : the mesh's operators
    held : (h,) degrees of freedom held at zero
    pairs : (first, second) degrees of freedom with second = -first, each (p,)
    open_sides : (m,) degrees of freedom of each open side, all coupled with each other
    order : "narrow" takes the narrowest band of reverse Cuthill-McKee's and two plain orders, along x and along z;
        "upwards" goes along z, so that what lies highest comes last
    """
    master = np.arange(ops.count)
    sign = np.ones(ops.count)
    master[pairs[1]], sign[pairs[1]] = pairs[0], -1.0
    free = np.ones(ops.count, bool)
    free[held], free[pairs[1]] = False, False
    compact = np.where(free, np.cumsum(free) - 1, -1)[master]
    links = [_links(group) for group in (compact[ops.dofs], *(compact[side][:, None] for side in open_sides))]
    rows, columns = np.concatenate([r for r, _ in links]), np.concatenate([c for _, c in links])
    x, z = ops.places_m[:, free].round(12)
    orders = [np.lexsort((x, z))]
    if order == "narrow":
        size = int(free.sum())
        graph = scipy.sparse.csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(size, size))
        orders += [np.lexsort((z, x)), reverse_cuthill_mckee(graph, symmetric_mode=True).astype(np.int64)]
    positions = [np.argsort(one) for one in orders]
    widths = [int(np.max(np.abs(one[rows] - one[columns]))) for one in positions]
    position, width = positions[int(np.argmin(widths))], min(widths)
    number = np.where(compact >= 0, position[compact], -1)
    return Numbering(frozen_array(number, np.int64), frozen_array(sign), width, len(position))


def _links(groups: Ints) -> tuple[Ints, Ints]:
    """Unknowns that share one of the groups (i, e)."""
    i, j = np.broadcast_arrays(groups[:, None, :], groups[None, :, :])
    both = (i >= 0) & (j >= 0)
    return i[both], j[both]


def scatter(rows: Numbering, ops: Operators) -> Scatter:
    """The sums of these elements' matrices and loads."""
    number, sign = rows.number[ops.dofs], rows.sign[ops.dofs]
    i, j = ops.element.upper
    first, second, signs = number[i].ravel(), number[j].ravel(), (sign[i] * sign[j])
    twice = (number[i] == number[j]) & (i != j)[:, None]  # the two ends of an antiperiodic pair in one element
    signs = np.where(twice, 2 * signs, signs).ravel()
    kept = np.flatnonzero(number.ravel() >= 0)
    loads = scipy.sparse.csr_array((sign.ravel()[kept], (number.ravel()[kept], kept)), shape=(rows.count, number.size))
    return Scatter(_band_sum(rows, first, second, signs), loads)


def dense_sum(rows: Numbering, dofs: Ints) -> BandSum:
    """The sum of a dense symmetric matrix (m, m) between degrees of freedom (m,)."""
    number, sign = rows.number[dofs], rows.sign[dofs]
    first, second = (one.ravel() for one in np.broadcast_arrays(number[:, None], number[None, :]))
    once = np.where(first <= second, np.multiply.outer(sign, sign).ravel(), 0.0)
    return _band_sum(rows, first, second, once)


def _band_sum(rows: Numbering, first: Ints, second: Ints, signs: Floats) -> BandSum:
    kept = np.flatnonzero((first >= 0) & (second >= 0) & (signs != 0))
    stored, where = np.unique(rows.places(first[kept], second[kept]), return_inverse=True)
    return BandSum(scipy.sparse.csr_array((signs[kept], (where, kept)), shape=(len(stored), first.size)), stored)


def band_matrix(rows: Numbering, parts: list[tuple[BandSum, Floats]]) -> Floats:
    """Sum matrices into upper banded storage, (bandwidth + 1, unknowns), column by column as LAPACK's pbsv takes it.

    Parameters
    ----------
    rows : the unknowns
    parts : sums and what they sum: element matrices (s, e), dense ones (m, m), all in one unit, which is the band's
    """
    return banded(rows, [(sums.stored, sums.signs @ matrices.ravel()) for sums, matrices in parts])


def banded(rows: Numbering, parts: list[tuple[Ints, Floats]]) -> Floats:
    """`band_matrix` of sums already taken.

    Parameters
    ----------
    rows : the unknowns
    parts : places in the band's memory and what is added there, each (stored,), all in one unit, which is the band's
    """
    memory = np.zeros(rows.count * (rows.bandwidth + 1))
    for stored, values in parts:
        memory[stored] += values
    return memory.reshape(rows.count, rows.bandwidth + 1).T


def added(band: Floats, parts: list[tuple[BandSum, Floats]]) -> Floats:
    """A copy of a matrix from `band_matrix`, (bandwidth + 1, unknowns), with more parts in it, in its unit."""
    memory = band.T.copy().ravel()  # band.T is how it is stored
    for sums, matrices in parts:
        memory[sums.stored] += sums.signs @ matrices.ravel()
    return memory.reshape(band.shape[::-1]).T


def solve_columns(band: Floats, load: Floats) -> Floats:
    """Solve a system on as many threads as LAPACK may use.

    Parameters
    ----------
    band : (bandwidth + 1, unknowns) from `band_matrix`, which is overwritten
    load : (unknowns,) or (unknowns, loads)

    Returns
    -------
    Shaped like the load, in its unit over the band's

    Raises
    ------
    SolveError
        If the matrix is not positive definite: elements so thin that rounding eats them.
    """
    _, found, info = scipy.linalg.lapack.dpbsv(band, load, overwrite_ab=True)
    if info:
        raise SolveError(TOO_THIN)
    return np.asarray(found)


def gather(rows: Numbering, values: Floats) -> Floats:
    """Sum nodal loads (n,) onto the unknowns, (unknowns,), in their unit."""
    kept = rows.number >= 0
    return np.asarray(np.bincount(rows.number[kept], weights=(rows.sign * values)[kept], minlength=rows.count), float)


def spread(rows: Numbering, unknowns: Floats) -> Floats:
    """Nodal values (n,) of the unknowns (unknowns,), in their unit; zero where held."""
    return np.where(rows.number >= 0, rows.sign * unknowns[rows.number], 0.0)


def unknowns_of(rows: Numbering, potential: Floats) -> Floats:
    """The unknowns (unknowns,) that a nodal potential (n,) consists of, in its unit: the inverse of `spread`."""
    values = np.zeros(rows.count)
    kept = rows.number >= 0
    values[rows.number[kept]] = (rows.sign * potential)[kept]
    return values

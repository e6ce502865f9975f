"""The default answer beside every other way to it: field at the winding, EMF of one round, and how far they differ."""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.errors import MissingError, SolveError
from fieldrun.design.model import Design, Rotor
from fieldrun.design.read import design_hash
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.outline import radial_breaks_m
from fieldrun.generator.emf import emf_harmonics
from fieldrun.generator.machine import mean_radius_m, middle_height_m
from fieldrun.studies.ways import RINGS, SOLID, WAYS, DoesNotApplyError, Job, Maps, Way, heights_round_m
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import points_along

ALLOWED_PERCENT = 2.0
"""By how much the default answer's EMF may differ from whole magnets and discs in three dimensions."""

DEFAULT, JUDGE = RINGS.key, SOLID.key
"""The way that every run goes, and the one that leaves nothing out."""

BESIDE = 0.15
"""How far beyond copper and magnets the field is shown, as a share of their extent along the radius."""

RADII = 161
"""Radii at which the field is shown, besides those at the magnets' edges."""


@dataclass(frozen=True, eq=False)
class Answer:
    """What one way says of a machine.

    Parameters
    ----------
    key, name, leaves_out : as of the way
    b1_t : fundamental of B_z at the winding's mean radius, mid-copper height [T]
    emf_per_round_v_s_per_rad : rms of the fundamental EMF of phase 1 per speed, all its rounds in series, over their
        number
    time_s : seconds it took
    radii_m, b1_over_radius_t : (r,) fundamental of B_z at mid-copper height, where the way knows it [m], [T]
    """

    key: str
    name: str
    leaves_out: str
    b1_t: float
    emf_per_round_v_s_per_rad: float
    time_s: float
    radii_m: Floats
    b1_over_radius_t: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radii_m", "b1_over_radius_t"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


@dataclass(frozen=True)
class Absence:
    """A way that gave no answer, and why: half a sentence."""

    key: str
    name: str
    reason: str


@dataclass(frozen=True, eq=False)
class Comparison:
    """All ways side by side, from the crudest to the best.

    Parameters
    ----------
    design, design_hash : the machine
    rows : one for each way
    mean_radius_m, height_m : of the copper's middle, where B1 is taken
    winding_radii_m, magnet_radii_m : the ring that the legs cover, and the magnets'
    rounds_per_phase : by which the EMF was divided
    allowed_percent : difference between the default and the judge that is let pass
    """

    design: Design
    design_hash: str
    rows: tuple[Answer | Absence, ...]
    mean_radius_m: float
    height_m: float
    winding_radii_m: tuple[float, float]
    magnet_radii_m: tuple[float, float]
    rounds_per_phase: int
    allowed_percent: float = ALLOWED_PERCENT

    @property
    def answers(self) -> tuple[Answer, ...]:
        """The ways that gave an answer."""
        return tuple(row for row in self.rows if isinstance(row, Answer))

    @property
    def absences(self) -> tuple[Absence, ...]:
        """The ways that gave none."""
        return tuple(row for row in self.rows if isinstance(row, Absence))

    @property
    def default(self) -> Answer:
        """What `run` answers with."""
        return next(answer for answer in self.answers if answer.key == DEFAULT)

    @property
    def judge(self) -> Answer | None:
        """Whole magnets and discs in three dimensions, if they could be solved."""
        return next((answer for answer in self.answers if answer.key == JUDGE), None)

    @property
    def best(self) -> Answer:
        """What the others are measured by: the judge, or else the default."""
        return self.judge or self.default

    @property
    def holds(self) -> bool:
        """Whether the default is as near to the judge as it must be; nothing is held against it without a judge."""
        if self.judge is None:
            return True
        off = abs(self.default.emf_per_round_v_s_per_rad - self.judge.emf_per_round_v_s_per_rad)
        return off <= self.allowed_percent / 100 * self.judge.emf_per_round_v_s_per_rad


def difference_percent(value: float, best: float) -> float | None:
    """How far a value is above the best [%]; None where the best is zero and no share of it can be told."""
    return None if best == 0 else 100 * (value / best - 1)


def verify(design: Design, tell: Callable[[str], None] = lambda _: None, ways: tuple[Way, ...] = WAYS) -> Comparison:
    """Hold one winding into the field of every way, and set their answers side by side.

    Parameters
    ----------
    design : as read by `fieldrun.read_design`
    tell : called with the name of each way before it starts
    ways : the default among them

    Raises
    ------
    DesignError
        If the winding cannot be laid.
    SolveError
        If the default way itself finds no solution. Of any other way that is a row with the reason.
    """
    laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
    job = job_of(design, laid)
    maps: dict[str, FieldMap] = {}
    rows = []
    for way in ways:
        tell(way.name)
        row, field_map = _answer(way, job, laid, maps)
        maps |= {way.key: field_map} if field_map else {}
        rows.append(row)
    breaks = radial_breaks_m(design.magnets)
    return Comparison(
        design=design,
        design_hash=design_hash(design),
        rows=tuple(rows),
        mean_radius_m=job.mean_radius_m,
        height_m=job.height_m,
        winding_radii_m=(laid.inner_radius_m, laid.outer_radius_m),
        magnet_radii_m=(breaks[0], breaks[-1]),
        rounds_per_phase=laid.rounds_per_phase,
    )


def job_of(design: Design, laid: Lay) -> Job:
    """Where the winding's field is wanted: round all copper, and over the magnets and a little beside them."""
    pieces = laid.pieces
    points = points_along(pieces, np.broadcast_to(np.linspace(0, 1, 17), (pieces.count, 17)))
    breaks = np.array(radial_breaks_m(design.magnets))
    inner, outer = min(breaks[0], points[..., 0].min()), max(breaks[-1], points[..., 0].max())
    beside = BESIDE * (outer - inner)
    return Job(
        magnets=design.magnets,
        rotor=design.rotor,
        mean_radius_m=mean_radius_m(laid),
        height_m=middle_height_m(laid),
        radii_m=np.linspace(max(inner - beside, inner / 2), outer + beside, RADII),
        heights_m=heights_round_m(points[..., 2].min(), points[..., 2].max(), _top(design.rotor)),
    )


def _top(rotor: Rotor) -> float:
    return math.inf if rotor.gap_m is None else rotor.gap_m


def _answer(way: Way, job: Job, laid: Lay, maps: Maps) -> tuple[Answer | Absence, FieldMap | None]:
    """Go one way; what cannot be gone is a row with its reason, unless it is the default."""
    start = time.perf_counter()
    try:
        field_map = way.solve(job, maps)
    except DoesNotApplyError as reason:
        return Absence(way.key, way.name, f"does not apply: {reason}"), None
    except (SolveError, MissingError) as reason:
        if way.key == DEFAULT:
            raise
        return Absence(way.key, way.name, f"gave nothing: {reason}"), None
    emf = _emf_per_round(field_map, laid)
    took = time.perf_counter() - start
    radii = _with_edges(job) if way.flat else _known(field_map, job.radii_m)
    answer = Answer(
        key=way.key,
        name=way.name,
        leaves_out=way.leaves_out(job),
        b1_t=float(_b1(field_map, np.array([job.mean_radius_m]), job.height_m)[0]),
        emf_per_round_v_s_per_rad=emf,
        time_s=took,
        radii_m=radii,
        b1_over_radius_t=_b1(field_map, radii, job.height_m),
    )
    return answer, field_map


def _emf_per_round(field_map: FieldMap, laid: Lay) -> float:
    """RMS of phase 1's fundamental over its rounds [V s/rad]."""
    phases = int(laid.pieces.phase.max()) + 1
    amplitudes = emf_harmonics(field_map, laid.pieces, phases)[0, field_map.orders == 1]
    return float(np.abs(amplitudes[0])) / math.sqrt(2) / laid.rounds_per_phase


def _with_edges(job: Job) -> Floats:
    """Radii on either side of the magnets' edges too: a flat way's field jumps there."""
    breaks = np.array(radial_breaks_m(job.magnets))
    return np.unique(np.concatenate([job.radii_m, breaks * (1 - 1e-9), breaks * (1 + 1e-9)]))


def _known(field_map: FieldMap, radii: Floats) -> Floats:
    """The radii that a map covers: beyond, it says zero where it should say nothing."""
    return np.asarray(radii[(radii >= field_map.radii_m[0]) & (radii <= field_map.radii_m[-1])])


def _b1(field_map: FieldMap, radii: Floats, height: float) -> Floats:
    first = field_map.orders == 1
    return np.asarray(amplitudes_at(field_map, radii, np.full_like(radii, height))[2, first][0].real)

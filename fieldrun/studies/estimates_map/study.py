"""Every quick estimate against finite elements, over a grid of machines round a design and at the design itself."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Design, Winding
from fieldrun.design.read import design_hash
from fieldrun.studies.estimates_map.coil import one_round
from fieldrun.studies.estimates_map.formulas import ESTIMATES, EmfFormula, Estimate, FieldFormula, of_field
from fieldrun.studies.estimates_map.grid import (
    Axes,
    Pattern,
    Point,
    Steel,
    check_axes,
    default_axes,
    machine_at,
    pattern_of,
    point_of,
)
from fieldrun.studies.estimates_map.judge import Judge, Label, Outcome, Unfit
from fieldrun.studies.estimates_map.truth import Tell, Truth, coarser_percent, truth_of

ALLOWED_PERCENT = 5.0
"""Error that an engineer lets pass in a quick estimate."""

OWN = "The user's own."

FLAT_FIELD = Label(
    "section", "flat finite elements", "field", "Magnets endless along the radius: one section at their mean radius."
)
FLAT_EMF = Label(
    "ribbon",
    "flat FE \N{MULTIPLICATION SIGN} length",
    "emf",
    "One section at the mean radius, its field all over the magnets' length.",
)
"""The flat truth as an estimate of the whole."""


@dataclass(frozen=True, eq=False)
class EstimatesMap:
    """All estimates over the grid.

    Parameters
    ----------
    design, design_hash : from which the pattern was taken
    pattern, axes, steel : what the machines have in common and what they differ in
    winding : the round whose EMF is asked for
    own_point : where the design stands
    truth : finite elements over the grid's machines, in the order of `axes.points`, and last of all the design's
    rows : one for each estimate
    allowed_percent : the error that is let pass
    numerical_percent : how far rings on a coarser mesh are off at the grid's corners and at the design, at most
    """

    design: Design
    design_hash: str
    pattern: Pattern
    axes: Axes
    steel: Steel
    winding: Winding
    own_point: Point
    truth: Truth
    rows: tuple[Outcome | Unfit, ...]
    allowed_percent: float
    numerical_percent: float

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """The estimates that gave numbers."""
        return tuple(row for row in self.rows if isinstance(row, Outcome))


def estimates_map(
    design: Design,
    *,
    axes: Axes | None = None,
    steel: Steel = "ideal",
    own: Mapping[str, FieldFormula] | None = None,
    own_emf: Mapping[str, EmfFormula] | None = None,
    allowed_percent: float = ALLOWED_PERCENT,
    tell: Tell = lambda _done, _count: None,
) -> EstimatesMap:
    """Hold quick estimates against rings and flat sections over gap / pitch, thickness / pitch and magnet share.

    Parameters
    ----------
    design : gives shape, poles, faces, plates, materials and the winding's shape
    axes : grid lines; by default about 0.1 to 1, 0.1 to 0.6, and three shares with the design's among them
    steel : "ideal", or "own": the design's plates at their own thickness, saturating as they do
    own : estimates of one's own by name: (magnets, rotor, height_m, radius_m) -> B1 at the magnets' mean radius [T]
    own_emf : likewise with the winding, one round, last -> effective value of the fundamental EMF [V s/rad]. Functions
        of one's own join from Python only: a design file or command line runs no code
    allowed_percent : error that counts as good enough
    tell : told how many machines of how many are solved

    Raises
    ------
    DesignError
        If grid lines cannot be built, a name is taken, or the winding cannot be laid.
    SolveError
        If a machine's steel does not converge. An estimate that raises or is not finite is a row with its reason.
    """
    pattern = pattern_of(design.magnets, design.rotor, design.winding.height_m, steel)
    here = point_of(pattern, design.winding.height_m)
    axes = axes or default_axes(pattern, here)
    check_axes(axes, pattern)
    every = (*ESTIMATES, *_own_estimates(own or {}, own_emf or {}))
    winding = one_round(design.winding, design.magnets)
    machines = [machine_at(pattern, point) for point in (*axes.points, here)]
    truth = truth_of(machines, winding, tell)
    if not np.all(truth.b1_t) or not np.all(truth.emf_v_s_per_rad):
        raise DesignError([Fault("winding", "it meets no field on part of the grid: no error can be told")])
    judge = Judge(axes, (*axes.points, here), tuple(machines), winding, truth, allowed_percent)
    rows: list[Outcome | Unfit] = [judge.row(one) for one in every]
    rows += [judge.outcome(FLAT_FIELD, truth.flat_b1_t), judge.outcome(FLAT_EMF, truth.flat_emf_v_s_per_rad)]
    rows.sort(key=lambda row: row.label.quantity == "emf")
    return EstimatesMap(
        design=design,
        design_hash=design_hash(design),
        pattern=pattern,
        axes=axes,
        steel=steel,
        winding=winding,
        own_point=here,
        truth=truth,
        rows=tuple(rows),
        allowed_percent=allowed_percent,
        numerical_percent=coarser_percent(machines, truth, (*axes.corners, len(machines) - 1), winding),
    )


def _own_estimates(own: Mapping[str, FieldFormula], own_emf: Mapping[str, EmfFormula]) -> list[Estimate]:
    taken = {name for one in (*ESTIMATES, FLAT_FIELD, FLAT_EMF) for name in (one.key, one.name)}
    names = [*own, *own_emf]
    bad = [name for name in dict.fromkeys(names) if not name.strip() or name in taken or names.count(name) > 1]
    if bad:
        text = "an estimate of your own needs a name that no other bears; received {!r}, try another"
        raise DesignError([Fault("own", text.format(name)) for name in bad])
    fields = [Estimate(name, name, "field", of_field(formula), OWN) for name, formula in own.items()]
    return fields + [Estimate(name, name, "emf", formula, OWN) for name, formula in own_emf.items()]

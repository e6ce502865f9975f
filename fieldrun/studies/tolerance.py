"""What many machines built from one drawing give: a band on the EMF, and which tolerance makes it wide.

The model. Magnets come in one batch and a machine has one gap: deviations of remanence, of the magnets' sides in their
plane (all alike), of their thickness and of the gap are drawn once per machine and do not average out. Each magnet is
put down by hand: its radial and tangential displacement are drawn anew and average over the bodies of all faces. All
are normal and independent of each other; their standard deviations are those of the design.

What a deviation does to the EMF is a parabola through three fields, at none and at two standard deviations either way,
as a ratio to the EMF as drawn; ratios of different deviations are multiplied. What that leaves out is products of small
deviations of the shape's own, and is held to single solutions in the tests. Steel that saturates is in the fields.

A displaced magnet moves its own share 1/N of the field: harmonic n of the field is multiplied by the mean over magnets
of exp(j n p t / R), t the tangential displacements on pitch radius R, and by 1 + a mean(s) + b mean(s^2), s the radial
ones, 1 + a s + b s^2 the EMF's ratio if all magnets moved by s. Both faces count alike. Exact for linear steel and a
winding that repeats every pole pair, as every named shape does; even harmonics, which uneven magnets bring in, are of
the size of the spread squared and are left out.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Design, Magnets, Rotor, Tolerance
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.solve import field_of
from fieldrun.generator.emf import Emf, emf_per_speed
from fieldrun.generator.result import RunResult
from fieldrun.studies.deviations import (
    Built,
    Deviate,
    as_drawn,
    with_circle,
    with_gap,
    with_remanence,
    with_sides,
    with_thickness,
)
from fieldrun.winding.pieces import Pieces

SAMPLES, SEED = 2000, 1

REACH = 2.0
"""Standard deviations either way at which the field is solved: 95 of 100 machines lie within."""

BATCH: dict[str, tuple[str, Deviate]] = {
    "remanence": ("remanence", with_remanence),
    "gap": ("gap_m", with_gap),
    "sides": ("magnet_m", with_sides),
    "thickness": ("magnet_m", with_thickness),
}
"""Deviations that a whole machine shares, the tolerance each is drawn from, and what it does."""

KEYS = {"remanence": ("remanence",), "gap": ("gap",), "magnet": ("sides", "thickness"), "placement": ("placement",)}
"""The tolerances that the user states, and the deviations that follow from each."""

FieldOf = Callable[[Magnets, Rotor], FieldMap]
Tell = Callable[[str], None]
"""Told before each field what it is for."""

Parabola = tuple[float, float]
"""a, b of the EMF's ratio 1 + a x + b x^2, x in standard deviations."""


@dataclass(frozen=True, eq=False)
class ToleranceBand:
    """What machines built to the design's tolerances give.

    Parameters
    ----------
    tolerance : standard deviations
    seed : of the random numbers; the same seed gives the same band
    fields : number of fields solved
    drawn_rms : EMF of the first phase as drawn [V s/rad]
    rms : (samples,) of the first phase [V s/rad]
    spread : standard deviation of the EMF over the EMF as drawn, if one tolerance alone were at work
    shift : mean of the EMF over the EMF as drawn, less 1, likewise: what does not average out
    open_face : whether the machine has no gap, so that the tolerance on it is one of the winding's height
    """

    tolerance: Tolerance
    seed: int
    fields: int
    drawn_rms: float
    rms: Floats
    spread: Mapping[str, float]
    shift: Mapping[str, float]
    open_face: bool

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "rms", frozen_array(self.rms))

    def quantile(self, share: float) -> float:
        """EMF that `share` of the machines stay below [V s/rad]."""
        return float(np.quantile(self.rms, share))

    @property
    def widest(self) -> str | None:
        """The tolerance that moves the EMF most; None if none does."""
        key = max(self.spread, key=lambda name: self.spread[name])
        return key if self.spread[key] > 0 else None


def tolerance_band(
    result: RunResult,
    samples: int = SAMPLES,
    seed: int = SEED,
    field: FieldOf = field_of,
    tell: Tell = lambda _: None,
) -> ToleranceBand:
    """Draw machines from a design's tolerances.

    Parameters
    ----------
    result : the design as drawn, answered
    samples, seed : how many machines, and where the random numbers start
    field : the field model
    tell : told what each of the `fields_needed` is for, before it is solved

    Raises
    ------
    SolveError
        If the steel of a deviating machine does not converge.
    """
    curves = parabolas(result, field, tell)
    parts = _ratios(result, curves, samples, seed)
    drawn = float(result.emf.rms[0])
    alone = {key: np.prod([parts[name] for name in names], axis=0) for key, names in KEYS.items()}
    every = np.prod(list(alone.values()), axis=0)
    spread = {key: float(np.std(ratio)) for key, ratio in alone.items()}
    return ToleranceBand(
        tolerance=result.design.tolerance,
        seed=seed,
        fields=fields_needed(result.design),
        drawn_rms=drawn,
        rms=drawn * every,
        spread=spread,
        shift={key: float(np.mean(ratio)) - 1 for key, ratio in alone.items()},
        open_face=result.design.rotor.gap_m is None,
    )


def fields_needed(design: Design) -> int:
    """How many fields a band takes; a tolerance of zero takes none."""
    return len(_cases(design))


def rms_as_built(result: RunResult, built: Built, field: FieldOf = field_of) -> float:
    """EMF of the first phase of one machine as it was built, its winding as drawn [V s/rad]."""
    design = result.design
    emf = emf_per_speed(
        field(built.magnets, built.rotor), _lifted(result.paths, built.lift_m), design.winding, design.wire
    )
    return float(emf.rms[0])


def _lifted(pieces: Pieces, length_m: float) -> Pieces:
    up = np.array([0.0, 0.0, length_m])
    return replace(pieces, start=pieces.start + up, end=pieces.end + up)


def parabolas(result: RunResult, field: FieldOf = field_of, tell: Tell = lambda _: None) -> dict[str, Parabola]:
    """Every deviation's parabola, those of `BATCH` and "circle"; none for a tolerance of zero or without any EMF."""
    found: dict[str, list[float]] = {}
    for name, built in _cases(result.design):
        tell(f"machines with other {name}" if name else "the machine as drawn")
        found.setdefault(name, []).append(rms_as_built(result, built, field))
    (middle,) = found.pop("")
    return {name: _parabola(low / middle, high / middle) for name, (low, high) in found.items() if middle > 0}


def _cases(design: Design) -> list[tuple[str, Built]]:
    steps = {name: (getattr(design.tolerance, key), deviate) for name, (key, deviate) in BATCH.items()}
    steps["circle"] = (design.tolerance.placement_m, with_circle)
    moved = {name: (step, deviate) for name, (step, deviate) in steps.items() if step > 0}
    both = [(name, deviate(design, side * step)) for name, (step, deviate) in moved.items() for side in (-REACH, REACH)]
    return [("", as_drawn(design)), *both]


def _parabola(low: float, high: float) -> Parabola:
    return (high - low) / (2 * REACH), (high + low - 2) / (2 * REACH**2)


def _ratios(result: RunResult, curves: Mapping[str, Parabola], samples: int, seed: int) -> dict[str, Floats]:
    """EMF over EMF as drawn by each deviation alone, (samples,) each."""
    dice = np.random.default_rng(seed)
    parts = {}
    for name in BATCH:
        a, b = curves.get(name, (0.0, 0.0))
        x = dice.standard_normal(samples)
        parts[name] = 1 + a * x + b * x**2
    a, b = curves.get("circle", (0.0, 0.0))
    magnets, rotor = result.design.magnets, result.design.rotor
    bodies = rotor.faces * magnets.count * magnets.segments_per_pole
    angle = result.design.tolerance.placement_m / mean_radius_m(magnets)
    # one machine after another: all at once would take a gigabyte for large rings
    parts["placement"] = np.array(
        [displaced_ratio(result.emf, dice.standard_normal((2, bodies)), angle, a, b) for _ in range(samples)]
    )
    return parts


def displaced_ratio(emf: Emf, place: Floats, angle: float, a: float, b: float) -> float:
    """EMF over EMF as drawn of one machine whose magnets were put down by hand.

    Parameters
    ----------
    emf : as drawn
    place : (2, bodies) radial and tangential displacements of all faces' magnets, in standard deviations
    angle : one standard deviation along the pitch circle [mechanical rad]
    a, b : ratio 1 + a s + b s^2 if all magnets lay s standard deviations farther out
    """
    radial, along = place
    turns = np.exp(1j * emf.pole_pairs * angle * np.outer(emf.orders, along)).mean(axis=1)
    power = np.abs(emf.amplitudes[0]) ** 2
    left = np.sum(power * np.abs(turns) ** 2) / max(np.sum(power), np.finfo(float).tiny)
    return float((1 + a * radial.mean() + b * np.mean(radial**2)) * np.sqrt(left))

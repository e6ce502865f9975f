"""A scan of the field in the gap, laid over the map: where it stands, how far off it is, what another gap would do."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.readings import FieldScan, ScanPoint
from fieldrun.design.units import MM
from fieldrun.field.field_map import FieldMap, field_at
from fieldrun.generator.result import RunResult
from fieldrun.studies.measured.axes import Axis

LEAST, MOST = 0.01, 0.05
"""Error of a point, as a share of the largest field: at least and at most what its misfit says."""

COMMON = 0.02
"""Error of a probe's own calibration, shared by all points."""

COARSE = 180
"""Turns of the scan that are tried over one electrical period before the best is refined."""

THOUSAND, GAUSS = (300.0, 3000.0), (3000.0, 30000.0)
"""Ratios to the map that betray millitesla, and gauss."""

SHOWN = 10
"""Faults of one kind that are listed."""


@dataclass(frozen=True, eq=False)
class ScanFit:
    """A scan turned to where it fits best.

    Parameters
    ----------
    points : as read
    turned_rad : angle added to every theta
    measured, as_drawn : (q,) axial field [T]
    at_nodes : (k, q) at every gap of the axis [T]
    sigma : error of a point [T]
    """

    points: tuple[ScanPoint, ...]
    turned_rad: float
    measured: Floats
    as_drawn: Floats
    at_nodes: Floats
    sigma: float

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("measured", "as_drawn", "at_nodes"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def strength(self) -> float:
        """Measured over predicted, by least squares."""
        return _strength(self.measured, self.as_drawn)

    @property
    def left_share(self) -> float:
        """What the map turned and made so much stronger still misses: effective, over the largest predicted field."""
        left = self.measured - self.strength * self.as_drawn
        return float(np.sqrt(np.mean(left**2)) / np.max(np.abs(self.as_drawn)))


def check_scan(scan: FieldScan, result: RunResult) -> None:
    """Refuse points where no field is known, and units that cannot be meant.

    Raises
    ------
    DesignError
        With each point by its line; of many the first ones.
    """
    faults = [fault for point in scan.points for fault in _place_faults(point, scan, result)]
    if len(faults) > SHOWN:
        more = f"and {len(faults) - SHOWN} more faults like these"
        faults = [*faults[:SHOWN], Fault("", more, scan.file, faults[SHOWN].line)]
    if not faults:
        faults = _unit_faults(scan, result.field_map)
    if faults:
        raise DesignError(faults)


def _place_faults(point: ScanPoint, scan: FieldScan, result: RunResult) -> list[Fault]:
    low, high = result.field_map.radii_m[[0, -1]] / MM
    gap = result.design.rotor.gap_m
    faults = []
    if not low <= point.r_m / MM <= high:
        hint = "; is it in metres?" if low <= point.r_m / MM * 1000 <= high else ""
        text = f"must lie where the field is known, {low:.4g} to {high:.4g} mm; received {point.r_m / MM:.6g}{hint}"
        faults.append(Fault("r_mm", text, scan.file, point.line))
    top = np.inf if gap is None else gap
    if not 0 <= point.z_m <= top * (1 + 1e-9):
        where = "must be above the lower magnets" if gap is None else f"must lie in the gap, 0 to {gap / MM:.4g} mm"
        text = f"{where}; received {point.z_m / MM:.6g}"
        faults.append(Fault("z_mm", text, scan.file, point.line))
    return faults


def _unit_faults(scan: FieldScan, field_map: FieldMap) -> list[Fault]:
    measured = np.array([point.b_z_t for point in scan.points])
    largest = float(np.max(np.abs(_field(field_map, scan.points, np.linspace(0, np.pi / field_map.pole_pairs, 24)))))
    ratio = float(np.max(np.abs(measured))) / largest
    meant = "millitesla" if THOUSAND[0] < ratio <= THOUSAND[1] else "gauss" if GAUSS[0] < ratio <= GAUSS[1] else ""
    if not meant:
        return []
    line = scan.points[int(np.argmax(np.abs(measured)))].line
    text = (
        f"{np.max(np.abs(measured)):g} T, predicted {largest:.3g} T at most: is it in {meant}? b_z_t must be in tesla"
    )
    return [Fault("b_z_t", text, scan.file, line)]


def fit_scan(scan: FieldScan, field_map: FieldMap, axis: Axis) -> ScanFit:
    """Turn a scan until it fits: nobody's zero of angles is the middle of a north magnet to a tenth of a degree.

    Parameters
    ----------
    scan : checked
    field_map : the machine as drawn
    axis : the gap's, with its maps
    """
    measured = np.array([point.b_z_t for point in scan.points])
    turned = _best_turn(scan.points, measured, field_map)
    drawn = _field(field_map, scan.points, np.array([turned]))[0]
    nodes = np.array([_field(one, scan.points, np.array([turned]))[0] for one in axis.maps])
    nodes = nodes + (drawn - axis.at(nodes, axis.drawn))
    largest = float(np.max(np.abs(drawn)))
    left = measured - _strength(measured, drawn) * drawn
    share = np.clip(np.sqrt(np.mean(left**2)) / largest, LEAST, MOST)
    return ScanFit(scan.points, turned, measured, drawn, nodes, float(share) * largest)


def _field(field_map: FieldMap, points: tuple[ScanPoint, ...], turns: Floats) -> Floats:
    """Axial field at the points for every turn, (t, q) [T]."""
    r, theta, z = (np.array([getattr(point, name) for point in points]) for name in ("r_m", "theta_rad", "z_m"))
    high = np.inf if field_map.open_above else field_map.heights_m[-1]
    return np.asarray(field_at(field_map, r, theta + turns[:, None], np.minimum(z, high))[2])


def _strength(measured: Floats, drawn: Floats) -> float:
    return float(measured @ drawn / (drawn @ drawn))


def _best_turn(points: tuple[ScanPoint, ...], measured: Floats, field_map: FieldMap) -> float:
    period = 2 * np.pi / field_map.pole_pairs

    def misses(turn: float) -> float:
        drawn = _field(field_map, points, np.array([turn]))[0]
        return float(np.sum((measured - max(_strength(measured, drawn), 0.0) * drawn) ** 2))

    turns = period * np.arange(COARSE) / COARSE
    fields = _field(field_map, points, turns)
    strength = np.maximum(fields @ measured / np.sum(fields**2, axis=1), 0.0)
    best = turns[int(np.argmin(np.sum((measured - strength[:, None] * fields) ** 2, axis=1)))]
    step = period / COARSE
    found = minimize_scalar(misses, bounds=(best - step, best + step), method="bounded", options={"xatol": 1e-7})
    turn = float(found.x)
    return turn - period if turn > period / 2 else turn

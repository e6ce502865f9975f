"""Measures beside the cut through the gap: one label a layer, spread where layers are too thin for their words."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Rotor
from fieldrun.design.units import MM
from fieldrun.outputs.colours import QUIET
from fieldrun.outputs.sentences import plain
from fieldrun.winding.lay import Lay

LINE_IN = 0.25
"""Least distance of two labels on paper [in]."""

LEADER_IN = 0.3
"""How far a label stands from the bar it belongs to [in]."""


@dataclass(frozen=True)
class Measure:
    """Words beside the layer between two heights [mm]; `bar` draws how far it reaches."""

    low_mm: float
    high_mm: float
    text: str
    bold: bool = False
    bar: bool = True

    @property
    def middle_mm(self) -> float:
        """Height of the layer's middle."""
        return (self.low_mm + self.high_mm) / 2


def measures_of(laid: Lay, rotor: Rotor, clearance_m: float) -> list[Measure]:
    """Layers of the gap from the lower magnets up; bold where less is free than is wanted."""
    middle = float(laid.sheet_heights_m.min() + laid.sheet_heights_m.max()) / 2 / MM
    low, high = middle - laid.thickness_m / 2 / MM, middle + laid.thickness_m / 2 / MM
    rows = [_free(0.0, low, "free below", clearance_m), Measure(low, high, f"winding {plain(high - low, 'mm')}")]
    if rotor.gap_m is not None:
        rows.append(_free(high, rotor.gap_m / MM, "free above", clearance_m))
    return rows


def _free(low: float, high: float, name: str, clearance_m: float) -> Measure:
    return Measure(low, high, f"{name} {plain(high - low, 'mm')}", bold=high - low < clearance_m / MM - 1e-9)


def draw_measures(axes: Axes, measures: list[Measure], inch_per_mm: float) -> None:
    """Draw bars right of a drawing that is to scale, and their labels with leader lines."""
    ordered = sorted(measures, key=lambda measure: measure.middle_mm)
    wanted = np.array([measure.middle_mm for measure in ordered])
    places = spread(wanted, LINE_IN / inch_per_mm)
    bar_mm = axes.get_xlim()[1] + 0.15 / inch_per_mm
    words_mm = bar_mm + LEADER_IN / inch_per_mm
    for measure, place in zip(ordered, places, strict=True):
        start = bar_mm if measure.bar else axes.get_xlim()[1]
        if measure.bar:
            _draw_bar(axes, bar_mm, measure)
        leader = ([start, words_mm], [measure.middle_mm, place])
        axes.plot(*leader, color=QUIET, linewidth=0.7, clip_on=False)
        weight = "bold" if measure.bold else "normal"
        look: dict[str, Any] = {
            "textcoords": "offset points",
            "va": "center",
            "weight": weight,
            "annotation_clip": False,
        }
        axes.annotate(measure.text, (words_mm, place), (4, 0), **look)


def _draw_bar(axes: Axes, x: float, measure: Measure) -> None:
    arrows = {"arrowstyle": "|-|,widthA=0.25,widthB=0.25", "color": QUIET, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", (x, measure.high_mm), (x, measure.low_mm), arrowprops=arrows, annotation_clip=False)


def spread(wanted: Floats, least: float) -> Floats:
    """Move places apart to a least distance, as little as can be (in squares), without changing their order.

    Less i times the distance, they need only rise: the nearest such row is the one of pooled means.

    Parameters
    ----------
    wanted : (n,) rising [mm]
    least : distance of neighbours [mm]
    """
    pools: list[list[float]] = []
    for value in wanted - least * np.arange(len(wanted)):
        pools.append([float(value)])
        while len(pools) > 1 and np.mean(pools[-2]) >= np.mean(pools[-1]):
            pools[-2:] = [pools[-2] + pools[-1]]
    means = np.concatenate([np.full(len(pool), np.mean(pool)) for pool in pools]) if pools else np.zeros(0)
    return np.asarray(means + least * np.arange(len(wanted)), float)


def least_height_in(measures: list[Measure]) -> float:
    """Height that labels take on paper [in]."""
    return LINE_IN * (len(measures) + 1)

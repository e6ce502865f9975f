"""Magnets that exist, come in pairs, and do not stand in each other's place."""

import math
from collections.abc import Iterator
from typing import assert_never

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.file_tables import MagnetsTable
from fieldrun.design.materials import magnet_grade
from fieldrun.design.tables import Tables

TOUCHING_MM = 1e-6
"""Bodies closer than this touch, which is allowed."""


def magnet_faults(tables: Tables) -> Iterator[Fault]:
    """Faults between keys of [magnets]."""
    magnets = tables.magnets
    yield from _material(tables, magnets)
    if magnets.count is not None and magnets.count % 2:
        near = f"{magnets.count - 1} or {magnets.count + 1}" if magnets.count > 1 else "2"
        yield Fault("magnets.count", f"must be even, north and south alternate; received {magnets.count}; try {near}")
    yield from _pattern(tables, magnets)
    yield from _outline_ends(tables, magnets)
    yield from _radii(magnets)
    yield from _overlap(magnets)


def bodies(magnets: MagnetsTable) -> int | None:
    """Magnet bodies on one face; None where they cannot be counted."""
    if magnets.count is None or (magnets.pattern == "halbach" and magnets.shape == "disc"):
        return None
    return magnets.count * (magnets.segments_per_pole or 1 if magnets.pattern == "halbach" else 1)


def magnet_edges_mm(magnets: MagnetsTable) -> tuple[float, float] | None:
    """Least and largest radius that a magnet reaches [mm]; None as long as a size is missing."""
    shape = magnets.shape
    if shape is None:
        return None
    if shape == "arc":
        return _pair(magnets.inner_radius_mm, magnets.outer_radius_mm)
    if shape == "disc":
        return _about(magnets.pitch_radius_mm, magnets.diameter_mm, 0.0)
    if shape == "block":
        return _about(magnets.pitch_radius_mm, magnets.radial_mm, magnets.tangential_mm)
    assert_never(shape)


def _about(middle: float | None, depth: float | None, width: float | None) -> tuple[float, float] | None:
    """Edges of what is so deep and so wide around a middle, out to its corners."""
    if middle is None or depth is None or width is None:
        return None
    return middle - depth / 2, math.hypot(middle + depth / 2, width / 2)


def _pair(inner: float | None, outer: float | None) -> tuple[float, float] | None:
    return None if inner is None or outer is None else (inner, outer)


def _material(tables: Tables, magnets: MagnetsTable) -> Iterator[Fault]:
    if magnets.grade is not None and magnets.remanence_t is not None:
        yield Fault("magnets.remanence_t", f'given with grade = "{magnets.grade}" too; keep one of the two')
    if magnets.grade is not None:
        try:
            magnet_grade(magnets.grade)
        except DesignError as error:
            yield from (Fault("magnets.grade", fault.text) for fault in error.faults)
    elif magnets.remanence_t is None and not any(map(tables.is_faulty, ("magnets.grade", "magnets.remanence_t"))):
        yield Fault("magnets.grade", 'missing; write the grade, such as grade = "N42", or remanence_t')


def _pattern(tables: Tables, magnets: MagnetsTable) -> Iterator[Fault]:
    halbach, segments = magnets.pattern == "halbach", magnets.segments_per_pole
    if halbach and magnets.shape == "disc":
        yield Fault(
            "magnets.pattern", "a Halbach face needs bodies side by side: take blocks or arcs, discs leave gaps"
        )
    if halbach and segments is None and not tables.is_faulty("magnets.segments_per_pole"):
        yield Fault("magnets.segments_per_pole", "missing for a Halbach face; 2 is the least, four bodies a wave")
    if not halbach and segments is not None and not tables.is_faulty("magnets.pattern"):
        yield Fault("magnets.segments_per_pole", 'belongs to pattern = "halbach"; remove it or set the pattern')


def _outline_ends(tables: Tables, magnets: MagnetsTable) -> Iterator[Fault]:
    if magnets.outline_ends is None:
        return
    if magnets.shape == "disc":
        yield Fault("magnets.outline_ends", "a disc has no ends: what section_mesh draws goes all round; remove it")
    elif magnets.section_mesh is None and not tables.is_faulty("magnets.section_mesh"):
        yield Fault("magnets.outline_ends", "belongs to section_mesh; name the mesh of your outline or remove it")


def _radii(magnets: MagnetsTable) -> Iterator[Fault]:
    edges = magnet_edges_mm(magnets)
    if edges is None:
        return
    inner, outer = edges
    if magnets.shape == "arc" and inner >= outer:
        yield Fault("magnets.inner_radius_mm", f"must be less than outer_radius_mm = {outer:g}; received {inner:g}")
    if magnets.shape != "arc" and inner <= 0:
        least = magnets.pitch_radius_mm - inner if magnets.pitch_radius_mm else 0
        text = f"the magnets would reach across the shaft; must be above {least:g} mm"
        yield Fault("magnets.pitch_radius_mm", f"{text}; received {magnets.pitch_radius_mm:g}")


def _overlap(magnets: MagnetsTable) -> Iterator[Fault]:
    """Neighbours touch at half the pitch angle: discs between their centres, blocks at their inner corners.

    What an arc leaves free is its share.
    """
    shape, number, middle, edges = magnets.shape, bodies(magnets), magnets.pitch_radius_mm, magnet_edges_mm(magnets)
    if shape is None or shape == "arc" or number is None or number < 2 or middle is None or edges is None:
        return
    half_pitch = math.pi / number
    if edges[0] <= 0:
        return
    if shape == "disc":
        width = magnets.diameter_mm or 0.0
        least = width / (2 * math.sin(half_pitch))
        yield from _too_wide("diameter_mm", width, 2 * middle * math.sin(half_pitch), least, number)
    elif shape == "block":
        width = magnets.tangential_mm or 0.0
        if number > 2:
            least = middle - edges[0] + width / (2 * math.tan(half_pitch))
            yield from _too_wide("tangential_mm", width, 2 * edges[0] * math.tan(half_pitch), least, number)
    else:
        assert_never(shape)


def _too_wide(key: str, width: float, room: float, least_radius: float, number: int) -> Iterator[Fault]:
    if width > room + TOUCHING_MM:
        radius = math.ceil(least_radius * 10 - 1e-6) / 10
        yield Fault(
            f"magnets.{key}",
            f"{number} bodies overlap on this circle by {width - room:.2f} mm: {width:g} mm each where "
            f"{room:.2f} mm is free; try pitch_radius_mm = {radius:g} or more, or fewer bodies",
        )

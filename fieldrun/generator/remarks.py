"""What a result must say about itself: warnings in plain words, and what was taken for granted."""

from collections.abc import Iterator

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Design, Magnets, Rotor
from fieldrun.design.outlines import ends_m, reach_m
from fieldrun.design.units import KRPM, MM
from fieldrun.field.field_map import FieldMap, amplitudes_at, uniform_map
from fieldrun.field.ring_field import KNEE_T, SteelReport
from fieldrun.generator.emf import emf_harmonics, fundamental_only
from fieldrun.generator.rescue import Rescue
from fieldrun.generator.result import Remark
from fieldrun.winding.ends import EndBundle
from fieldrun.winding.factors import Factors
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import points_along
from fieldrun.winding.twisting import Twisting

SATURATED_SHARE = 0.05
"""Share of a steel disc that may be above its knee before the user is told: the edges of magnets always are."""

MEASURED_UP_TO_T = 2.3
"""Flux density above which magnetisation curves are drawn on by rule (common practice, from memory)."""

BARE_SHARE = 0.1
"""Share of the magnets' length that may lie beside the steel before the user is told."""

LITTLE_FIELD = 0.1
"""Share of the EMF in an even field, as strong as the strongest at its height, below which a winding lies badly."""

ASSUMPTIONS = (
    "The current in the winding does not change the magnets' field (no armature reaction).",
    "No eddy currents flow in magnets or steel.",
    "Magnets are magnetised evenly and all alike; the rotor is round, flat and centred.",
    "Copper has 1/58 ohm mm2/m at 20 C and gains 0.393 % per kelvin.",
)


def assumptions_of(design: Design) -> tuple[str, ...]:
    """What every result rests on, and what this design adds to it."""
    steels = {plate.steel.source for plate in design.rotor.plates if plate.steel}
    curves = tuple(f"Steel follows {source}." for source in sorted(steels) if source)
    return ASSUMPTIONS + curves


def warnings_of(
    steel: tuple[SteelReport, ...],
    factors: Factors,
    rescue: Rescue | None = None,
    narrow: tuple[Remark, ...] = (),
) -> tuple[Remark, ...]:
    """What the user should know of steel and winding before winding; `narrow` comes from `narrow_steel`."""
    better = "wider or thicker" if narrow else "thicker"
    warnings = [*narrow, *(remark for disc in steel for remark in _steel(disc, better))]
    if rescue:
        warnings.append(Remark("belt-too-wide", _saved(rescue)))
    elif factors.warning:
        warnings.append(Remark("winding-cancels", factors.warning))
    return tuple(warnings)


def _saved(rescue: Rescue) -> str:
    def volts(emf: float) -> str:
        return f"{emf * KRPM:.3g} V per 1000 rpm"

    first, second = rescue.thirds_after
    return (
        f"the rounds go so far round the ring that they work against each other: {volts(rescue.as_wound)} as wound. "
        f"Stop after {rescue.best_rounds} of {rescue.rounds} rounds in each layer: {volts(rescue.best)} of less wire. "
        f"Wound already? Open each layer after round {rescue.open_after} and join what follows the other way round: "
        f"{volts(rescue.halves)}; or after rounds {first} and {second}, as three phases of {volts(rescue.thirds)} each"
    )


def bundle_warnings(plan: Twisting | None) -> tuple[Remark, ...]:
    """What to say of a bench too short for the winding; nothing of any other."""
    if plan is None or not plan.joints_in_legs:
        return ()
    text = (
        f"a piece of bundle twisted on {plan.bench_m:g} m gives {plan.usable_m:.3g} m, less than one turn of the "
        "winding, so that joints would lie among the legs: move the holding points apart"
    )
    return (Remark("bench-too-short", text),)


def narrow_steel(magnets: Magnets, rotor: Rotor) -> tuple[Remark, ...]:
    """What to say of steel that leaves more than a tenth of the magnets' length uncovered; nothing of any other.

    An ideal plate has no end and covers everything.
    """
    (inner, outer), low, high = ends_m(magnets.outline), rotor.steel_inner_radius_m, rotor.steel_outer_radius_m
    bare = outer - inner - max(0.0, min(outer, high) - max(inner, low))
    if not rotor.real_steel or bare <= BARE_SHARE * (outer - inner) * (1 + 1e-9):
        return ()
    reach = f"the steel reaches from {low / MM:.3g} to {high / MM:.3g} mm"
    return (Remark("steel-too-narrow", f"{reach} and leaves {bare / MM:.3g} mm of each magnet without steel behind"),)


def _steel(disc: SteelReport, better: str) -> Iterator[Remark]:
    carries = f"the {disc.name} carries up to {disc.peak_t:.2f} T ({peak_place(disc)})"
    if disc.above_knee > SATURATED_SHARE:
        share = f"{100 * disc.above_knee:.0f} % of it is above its knee at about {KNEE_T} T"
        yield Remark("steel-saturates", f"{carries}; {share}: {better} steel may give more volts")
    if disc.peak_t > MEASURED_UP_TO_T:
        rule = f"above {MEASURED_UP_TO_T} T magnetisation curves are drawn on by rule, not measured"
        yield Remark("steel-extrapolated", f"{carries}: {rule}")


def peak_place(disc: SteelReport) -> str:
    """Where a disc's largest flux density lies, in words."""
    where = ("behind a magnet", "at the edge of a magnet", "between two magnets")[min(2, int(3 * disc.peak_phase))]
    return f"{where}, {disc.peak_at[0] / MM:.0f} mm from the axis"


def field_warnings(field_map: FieldMap, laid: Lay, fundamental_v_s_per_rad: float) -> tuple[Remark, ...]:
    """What to say of a winding that meets little field, or leaves the map; nothing of any other.

    Parameters
    ----------
    field_map, laid : the field and the winding in it
    fundamental_v_s_per_rad : EMF of a phase, its groups in series
    """
    points = points_along(laid.pieces, np.broadcast_to(np.linspace(0, 1, 9), (laid.pieces.count, 9))).reshape(-1, 3)
    low, high = float(points[:, 0].min()), float(points[:, 0].max())
    warnings = []
    even = uniform_map(field_map.pole_pairs, [_strongest(field_map, points[:, 2])], (low, high), points[:, 2].max())
    hoped = float(abs(emf_harmonics(even, laid.pieces, 1)[0, 0]))
    if fundamental_v_s_per_rad < LITTLE_FIELD * hoped:
        share = f"{100 * fundamental_v_s_per_rad / hoped:.2g} % of the field it would have over the magnets' middle"
        warnings.append(Remark("no-field", f"the winding meets only {share}: check its radii and its height"))
    inner, outer = field_map.radii_m[[0, -1]]
    if low < inner or high > outer:
        reach = f"{inner / MM:.3g} to {outer / MM:.3g} mm from the axis"
        text = f"the winding leaves the field map, which reaches from {reach}; beyond it the field is taken as nothing"
        warnings.append(Remark("beyond-map", text))
    top = field_map.heights_m[-1]
    if field_map.open_above and points[:, 2].max() > top:
        text = f"the winding lies above the field map, which reaches {top / MM:.3g} mm over the magnets"
        warnings.append(Remark("above-map", f"{text}; above it the field is continued as over a flat row"))
    return tuple(warnings)


def _strongest(field_map: FieldMap, heights_m: Floats) -> float:
    """Largest fundamental of B_z over the radii, at the middle one of some heights [T]."""
    height = np.full(len(field_map.radii_m), np.median(heights_m))
    return float(np.max(np.abs(amplitudes_at(fundamental_only(field_map), field_map.radii_m, height)[2])))


def end_warnings(laid: Lay, magnets: Magnets, rotor: Rotor, clearance_m: float) -> tuple[Remark, ...]:
    """End arcs that would not pass the gap and lie so near the magnets that they must be kept off them by hand."""
    if rotor.gap_m is None:
        return ()
    (inner, outer), room = reach_m(magnets.outline), rotor.gap_m - 2 * clearance_m
    near = [
        bundle
        for bundle in laid.end_bundles
        if bundle.height_m > room and inner - bundle.height_m / 2 < bundle.radius_m < outer + bundle.height_m / 2
    ]
    return tuple(Remark("end-bundle", _bundle(bundle, inner, room)) for bundle in near)


def _bundle(bundle: EndBundle, inner_m: float, room_m: float) -> str:
    side = "inwards" if bundle.radius_m < inner_m + bundle.height_m / 2 else "outwards"
    return (
        f"the end arcs on {bundle.radius_m / MM:.4g} mm are {bundle.wires} wires, a bundle about "
        f"{bundle.height_m / MM:.2g} mm thick where the gap has room for {room_m / MM:.2g} mm: it must be built up "
        f"{side}, away from the magnets, or its radius moved"
    )

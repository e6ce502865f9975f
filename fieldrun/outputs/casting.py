"""Casting a winding in resin: how much to mix, how high the spacers are, how large the discs of the mould."""

import math
from dataclasses import dataclass

from fieldrun.design.materials import COPPER_DENSITY_KG_M3
from fieldrun.design.outlines import reach_m
from fieldrun.generator.heating import face_radii_m
from fieldrun.generator.moving import RESIN_KG_M3
from fieldrun.generator.result import RunResult
from fieldrun.winding.ends import EndBundle
from fieldrun.winding.former import Former

EXCESS = 0.15
"""Resin mixed on top of the sum: it stays in the cup, the brush and the cloth (common practice)."""


@dataclass(frozen=True)
class Casting:
    """A flat ring of resin with the winding in it.

    Parameters
    ----------
    hub_disc_m : diameter of the disc that keeps the middle free
    across_m : outer diameter of the ring
    spacer_m : distance between the mould's plates: thickness of the cast ring
    winding_m : thickness of the wires, with a board that stays between them
    resin_m3, resin_kg : what fills the ring around the copper; enamel counts as resin
    mix_kg : with what is lost
    air_m : left on each side of the ring in the gap; None if it is open above
    beyond_m : how far the wire's inner ends lie inward of the magnets, and its outer ends outward; negative over them
    ends_m : height of the thickest bundle of end arcs; None without any, or where it is not more than the ring
    """

    hub_disc_m: float
    across_m: float
    spacer_m: float
    winding_m: float
    resin_m3: float
    resin_kg: float
    mix_kg: float
    air_m: float | None
    beyond_m: tuple[float, float]
    ends_m: float | None


def casting_of(result: RunResult, former: Former) -> Casting:
    """Work out a casting: pi (R^2 - r^2) (T - board) and what end bundles add, less the copper; resin of 1150 kg/m3."""
    design, laid = result.design, result.lay
    inner, outer = face_radii_m(laid, design.wire)
    if former.stays:
        inner, outer = min(inner, former.hub_radius_m), max(outer, former.outer_radius_m)
    spacer = laid.thickness_m + design.winding.resin_m
    board = design.winding.former_in_gap_m
    copper = result.impedance.copper_mass_kg / COPPER_DENSITY_KG_M3
    flat = math.pi * (outer**2 - inner**2) * (spacer - board)
    ends = math.fsum(_beyond_m3(end, spacer, design.wire.overall_diameter_m) for end in laid.end_bundles)
    volume = max(0.0, flat + ends - copper)
    inner = min([inner, *(end.radius_m - end.height_m / 2 for end in laid.end_bundles)])
    outer = max([outer, *(end.radius_m + end.height_m / 2 for end in laid.end_bundles)])
    gap, bundle = design.rotor.gap_m, laid.end_bundle
    mass = RESIN_KG_M3 * volume
    magnets = reach_m(design.magnets.outline)
    return Casting(
        hub_disc_m=2 * inner,
        across_m=2 * outer,
        spacer_m=spacer,
        winding_m=laid.thickness_m,
        resin_m3=volume,
        resin_kg=mass,
        mix_kg=(1 + EXCESS) * mass,
        air_m=None if gap is None else (gap - spacer) / 2,
        beyond_m=(magnets[0] - laid.inner_radius_m, laid.outer_radius_m - magnets[1]),
        ends_m=bundle.height_m if bundle is not None and bundle.height_m > spacer else None,
    )


def _beyond_m3(end: EndBundle, spacer: float, wire: float) -> float:
    """What a bundle, as high as it is wide, adds to a flat ring that ends half a wire beyond the bundle's circle."""
    shared = min(end.height_m, spacer) * (end.height_m + wire) / 2
    return 2 * math.pi * end.radius_m * max(0.0, end.height_m**2 - shared)

"""What a result must say about itself: warnings in plain words, and what was taken for granted."""

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Design
from fieldrun.field.magnetostatics import SectionField
from fieldrun.generator.result import Accuracy, Remark
from fieldrun.winding.factors import Factors

KNEE_T = 1.6
"""Flux density where mild steel's knee ends (common practice, from memory)."""

SATURATED_SHARE = 0.05
"""Share of the steel that may be above its knee before the user is told: magnets' corners always are."""

LITTLE_PERCENT, MUCH_PERCENT = 0.1, 60.0
"""Spread past the magnets' ends that is not worth a figure, and that is beyond what slices can be corrected for."""

ASSUMPTIONS = (
    "The current in the winding does not change the magnets' field (no armature reaction).",
    "No eddy currents flow in magnets or steel.",
    "Magnets are magnetised evenly and all alike; the rotor is round, flat and centred.",
    "Copper has 1/58 ohm mm2/m at 20 C and gains 0.393 % per kelvin.",
)


def assumptions_of(design: Design) -> tuple[str, ...]:
    """What every result rests on, and what this design adds to it."""
    steels = {
        plate.steel.source for plate in (design.rotor.backing, design.rotor.return_plate) if plate and plate.steel
    }
    curves = tuple(f"Steel follows {source}." for source in sorted(steels) if source)
    return ASSUMPTIONS + curves


def warnings_of(section: SectionField, factors: Factors, accuracy: Accuracy) -> tuple[Remark, ...]:
    """Everything the user should know before winding."""
    warnings = [_slices(accuracy)]
    share = saturated_share(section)
    if share > SATURATED_SHARE:
        text = f"{100 * share:.0f} % of the steel at the magnets' mean radius is above its knee at about {KNEE_T} T"
        warnings.append(Remark("steel-saturates", f"{text}: thicker steel may give more volts"))
    if factors.warning:
        warnings.append(Remark("winding-cancels", factors.warning))
    return tuple(warnings)


def field_warnings(fundamental_v_s_per_rad: float) -> tuple[Remark, ...]:
    """What to say of a winding that meets no field at all, by the first phase's fundamental; nothing of any other."""
    if fundamental_v_s_per_rad > 0:
        return ()
    text = "the winding meets no field and gives nothing: does it lie over the magnets' radii, at their height?"
    return (Remark("no-field", text),)


def _slices(accuracy: Accuracy) -> Remark:
    start = "the field comes from flat slices, which leave out flux that spreads past the magnets' ends"
    if accuracy.ends_percent is None:
        text = f"{start}: the EMF is most often within 6 %, and off by 26 % for 1 machine in 20"
    else:
        text = f"{start}: {_ends(accuracy.ends_percent)} (by a second model, the K1 kernel)"
    return Remark("slices", text)


def _ends(percent: float) -> str:
    if abs(percent) < LITTLE_PERCENT:
        return "for this machine that hardly matters"
    if abs(percent) > MUCH_PERCENT:
        return "this winding lies so far from the magnets that its EMF is not to be trusted at all"
    return f"for this machine the true EMF is about {abs(percent):.1f} % {'lower' if percent < 0 else 'higher'}"


def steel_peak_t(section: SectionField) -> float | None:
    """Largest flux density at a Gauss point of any steel of the section [T]; None without steel of its own."""
    strength = _steel_strength(section)[0]
    return float(np.max(strength)) if strength.size else None


def saturated_share(section: SectionField) -> float:
    """Share of the steel's area that is above its knee; 0 without steel."""
    strength, area = _steel_strength(section)
    return float(np.sum(area[strength > KNEE_T]) / np.sum(area)) if strength.size else 0.0


def _steel_strength(section: SectionField) -> tuple[Floats, Floats]:
    """|B| [T] and area [m^2] of every Gauss point in steel."""
    steels = [i for i, region in enumerate(section.section.regions) if region.steel is not None]
    inside = np.isin(section.mesh.region, steels)
    return np.linalg.norm(section.flux_density_t[inside], axis=2), np.asarray(section.basis.dx[inside])

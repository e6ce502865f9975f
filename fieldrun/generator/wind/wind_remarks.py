"""What to say of a machine in the wind: warnings, and what was taken for granted."""

from collections.abc import Iterator

from fieldrun.design.digits import digits
from fieldrun.design.model import Design, Turbine
from fieldrun.generator.cautions import current_warnings, load_warnings, voltage_warnings
from fieldrun.generator.heating import Heat
from fieldrun.generator.result import Remark
from fieldrun.generator.wind.climate import USUAL_SHEAR, Measured, height_factor
from fieldrun.generator.wind.never import Never
from fieldrun.generator.wind.power_coefficient import LYSEN, USUAL_PEAK_CP, tells_its_start
from fieldrun.generator.wind.runaway import Runaway
from fieldrun.generator.wind.year import Wind

FULL_RECORD_H = 8000.0
"""A record of fewer hours misses a season."""

SHORT_OF_READINGS = 0.05
"""Share of a record that may be missing before it is warned of."""


def wind_warnings(
    design: Design, wind: Wind | None, runaway: Runaway, heat: Heat, never: Never | None = None
) -> tuple[Remark, ...]:
    """All warnings of volts, amperes and winds; `never` tells why a load gets no power."""
    told = list(voltage_warnings(runaway, design))
    if wind is not None and wind.fed is not None:
        told += [*current_warnings(wind.fed.curve, heat), *load_warnings(wind.fed, never)]
    if wind is not None and isinstance(wind.climate, Measured):
        told += _record_warnings(wind.climate)
    return tuple(told)


def _record_warnings(measured: Measured) -> Iterator[Remark]:
    record = measured.record
    hours = sum(record.hours)
    share = record.missing_hours / (hours + record.missing_hours)
    if share > SHORT_OF_READINGS:
        text = (
            f"{record.name} lacks {100 * share:.0f} % of its time in {record.gaps} gaps, the longest "
            f"{digits(record.longest_gap_hours, 3)} h: what blew then is in no number here (an iced anemometer misses "
            "the wildest winds)"
        )
        yield Remark("wind-record-gaps", text)
    if hours < FULL_RECORD_H:
        days = f"{hours / 24:.3g} days of wind"
        yield Remark("wind-record-short", f"{record.name} holds {days}; a year is made of them as if they were typical")


def wind_assumptions(design: Design, wind: Wind | None) -> tuple[str, ...]:
    """What was taken for granted of rotor, bearings, air and wind; nothing without a rotor."""
    turbine = design.turbine
    if turbine is None or wind is None:
        return ()
    return (*_rotor(turbine, wind), *_storm(turbine, wind), *_climate(turbine, wind))


def _rotor(turbine: Turbine, wind: Wind) -> Iterator[str]:
    curve, rotor = wind.rotor.curve, wind.rotor
    yield (
        f"The rotor's power coefficient follows {curve.source}: at most {curve.peak_cp:.3g} at tip-speed ratio "
        f"{curve.best_tip_speed_ratio:.3g}, none at {curve.free_tip_speed_ratio:.3g}."
    )
    if turbine.tip_speed_ratio is not None and turbine.peak_cp is None:
        yield f"wind.peak_cp is not given: {USUAL_PEAK_CP:g}, what small rotors of three blades reach at least."
    if turbine.start_torque_coefficient is None:
        lysen = f"by Lysen's rule ({LYSEN:g} over the best tip-speed ratio squared)"
        why = "as its table begins" if turbine.cp is not None and tells_its_start(turbine.cp) else lysen
        yield f"At standstill the rotor's torque coefficient is {curve.start_torque_coefficient:.3g}, {why}."
    if turbine.drag_nm is None:
        yield (
            f"wind.drag_nm is not given: bearings are taken to drag with {rotor.drag_nm:.2g} N m, as a pair of sealed "
            "ball bearings for a rotor of this size may (a rule of thumb)."
        )
    yield (
        f"Air has {rotor.density_kg_m3:.4g} kg/m3 (ISO 2533 at {turbine.altitude_m:g} m); winds are steady, the rotor "
        "faces them, starts from standstill by itself, and the winding has the temperature stated in every wind."
    )


def _storm(turbine: Turbine, wind: Wind) -> Iterator[str]:
    if turbine.furl_m_s is not None:
        yield f"Above {turbine.furl_m_s:g} m/s the rotor furls so far that it goes on as in that wind."
    if turbine.stop_m_s is None:
        yield f"wind.stop_m_s is not given: above {wind.stop_m_s:g} m/s the rotor is taken to be tied up."


def _climate(turbine: Turbine, wind: Wind) -> Iterator[str]:
    if isinstance(wind.climate, Measured):
        record = wind.climate.record
        missing, counted = digits(record.missing_hours, 3), digits(sum(record.hours), 4)
        gaps = f"; {record.gaps} gaps of {missing} h together are left out" if record.gaps else ""
        yield (
            f"The wind is {record.name}: {counted} h from {record.first} to {record.last}{gaps}; the "
            "year is made of them."
        )
    elif wind.climate is not None:
        name = "Rayleigh's law" if wind.climate.shape == 2 else f"Weibull's law, shape {wind.climate.shape:g}"
        yield f"Winds spread about their mean by {name}."
    if (factor := height_factor(turbine)) != 1:
        by = (
            f"the logarithmic law over ground of roughness {turbine.roughness_m:g} m"
            if turbine.roughness_m is not None
            else f"a power law of {USUAL_SHEAR if turbine.shear_exponent is None else turbine.shear_exponent:g}"
        )
        yield f"At the rotor the wind is {factor:.3g} times that at the measured height, by {by}: open, even ground."

"""What must be read before anything is switched on: volts that can be touched, amperes that burn, parts that fly."""

from fieldrun.design.digits import digits
from fieldrun.design.model import Design
from fieldrun.design.units import RPM
from fieldrun.generator.heating import FORMERS_SOFTEN_C, USUAL_DENSITY_A_MM2, Heat
from fieldrun.generator.result import Remark
from fieldrun.generator.wind.never import Never
from fieldrun.generator.wind.operating import PowerCurve
from fieldrun.generator.wind.runaway import Runaway
from fieldrun.generator.wind.year import Fed

EXTRA_LOW_AC_V, EXTRA_LOW_DC_V = 50.0, 120.0
"""Above these voltages, effective and smooth, protection against electric shock is asked for (extra-low voltage: IEC
61140 as told by bre-trafo.de, IEV at std.iec.ch; IEC 60364-4-41 clause 414, from memory)."""

TOUCHABLE_AC_V, TOUCHABLE_DC_V = 25.0, 60.0
"""Above these bare parts must not be within reach even so (the same sources)."""

STOPPED_BY = {"stops": "stop_m_s", "furls": "furl_m_s"}
"""The key of the design file that ends a rotor's winds."""

DECIDES = "licensed practice and local codes decide"


def voltage_warnings(runaway: Runaway, design: Design) -> tuple[Remark, ...]:
    """What to say of the voltage at open terminals when nothing holds the machine back; nothing where it is harmless.

    Parameters
    ----------
    runaway : speed and volts
    design : for how the voltage leaves the machine
    """
    direct = design.load is not None and design.load.rectifier != "none" and design.load.kind != "open"
    peak, rms = runaway.peak_v, runaway.line_rms_v
    volts = f"{digits(rms, 3)} V between its wires (effective)" + (
        f" and {digits(peak, 3)} V behind the diodes" if direct else ""
    )
    said = f"with nothing connected {_where(runaway)} the generator gives {volts}"
    if rms > EXTRA_LOW_AC_V or (direct and peak > EXTRA_LOW_DC_V):
        limits = f"extra-low voltage ends at {EXTRA_LOW_AC_V:g} V AC and {EXTRA_LOW_DC_V:g} V DC: this can kill"
        cure = "insulate everything, and have a brake or a short-circuit switch that works without the battery"
        return (Remark("voltage-dangerous", f"{said}; {limits}; {cure}; {DECIDES}"),)
    if rms > TOUCHABLE_AC_V or (direct and peak > TOUCHABLE_DC_V):
        limits = f"bare parts within reach may carry {TOUCHABLE_AC_V:g} V AC and {TOUCHABLE_DC_V:g} V DC at most"
        return (Remark("voltage-touchable", f"{said}; {limits}: cover them; {DECIDES}"),)
    return ()


def _where(runaway: Runaway) -> str:
    speed = f"{runaway.speed_rad_s / RPM:.0f} rpm"
    if runaway.wind_m_s is None:
        return f"at {speed}"
    return f"and the rotor running free in a wind of {runaway.wind_m_s:g} m/s, at {speed},"


def current_warnings(curve: PowerCurve, heat: Heat) -> tuple[Remark, ...]:
    """What to say of a current in strong wind that warms the winding beyond what holds it together.

    Parameters
    ----------
    curve : speeds and currents by wind
    heat : how much current the winding stands
    """
    stands = heat.moving.current_a
    hot = curve.phase_rms_a > stands
    if stands <= 0 or not hot.any():
        return ()
    amps, wind = float(curve.phase_rms_a.max()), float(curve.wind_m_s[curve.phase_rms_a.argmax()])
    density = heat.moving.density_a_m2 * amps / stands / 1e6
    usual = "{:g} to {:g}".format(*USUAL_DENSITY_A_MM2["moving"])
    soft = ", ".join(f"{name} {limit:g}" for name, limit in FORMERS_SOFTEN_C.items())
    text = (
        f"in winds from {curve.wind_m_s[hot.argmax()]:.2g} m/s on a phase carries more than the {digits(stands, 2)} A "
        f"that it stands for ever in moving air ({heat.limit_c:g} C, where resin softens; {soft}); in {wind:.2g} m/s "
        f"it is {digits(amps, 2)} A, {digits(density, 2)} A/mm2, where textbooks allow {usual}: thicker wire, or furl "
        "earlier"
    )
    return (Remark("current-density", text),)


def load_warnings(fed: Fed, never: Never | None = None) -> tuple[Remark, ...]:
    """What to say of a rotor and a load that do not suit each other; `never` is why the load gets no power."""
    if fed.cut_in_m_s is None:
        return (Remark("never-charges", _never_text(never)),)
    told = []
    if fed.stalls_from_m_s is not None:
        cure = "a larger or slower rotor, fewer rounds or more resistance lets it run"
        slow = "the load holds the rotor so slow that its blades stall and give little"
        told.append(Remark("rotor-stalls", f"from {fed.stalls_from_m_s:.2g} m/s on {slow}: {cure}"))
    if fed.runs_away_from_m_s is not None:
        text = "the load hardly holds the rotor back: it runs away; furl earlier, brake it or load it more"
        told.append(Remark("rotor-runs-away", f"from {fed.runs_away_from_m_s:.2g} m/s on {text}"))
    return tuple(told)


def _never_text(never: Never | None) -> str:
    if never is not None and never.would_m_s is not None:
        ends = f"the rotor {never.cause} in {digits(never.top_m_s, 3)} m/s already (wind.{STOPPED_BY[never.cause]})"
        cure = "let it run in stronger winds, or wind more rounds, or a gear"
        return f"{ends}, and no current flows before {digits(never.would_m_s, 3)} m/s: {cure}"
    if never is not None and never.cause == "held":
        held = "bearings and what the winding wastes hold the rotor slower than it must turn for any current to flow"
        return f"in every wind {held}: less drag and waste, more rounds, or a gear"
    return "in no wind does the rotor turn fast enough for any current to flow: more rounds, or a gear"

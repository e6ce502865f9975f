"""Plausible sizes in one place: a number outside is almost always a slip of the unit, and the message says which."""

from dataclasses import dataclass

from fieldrun.design.digits import digits
from fieldrun.design.units import MM
from fieldrun.design.wire import AWG_LARGEST, AWG_SMALLEST, COPPER_LEAST_M, COPPER_MOST_M


@dataclass(frozen=True)
class Range:
    """Smallest and largest plausible number of a key, with what lies beyond in plain words.

    `slips` are (factor, unit): if the number times the factor is plausible, it was probably given in that unit.
    `cure` says what to do instead, where the limits do not say it by themselves.
    """

    low: float
    high: float
    below: str = "too small"
    above: str = "too large"
    slips: tuple[tuple[float, str], ...] = ()
    unit: str = ""
    cure: str = ""

    def fault(self, key: str, value: float) -> str | None:
        """Return what is wrong with `value`, None if it is plausible."""
        if self.low <= value <= self.high:
            return None
        if value <= 0 <= self.low:
            return f"must be {'above' if self.low > 0 else 'at least'} 0; received {digits(value)}{self._cure()}"
        why = (self.below if value < self.low else self.above) + self._slip(key, value)
        limits = f"it must lie between {digits(self.low)} and {digits(self.high)}{self._unit()}"
        return f"{digits(value)}{self._unit()} is {why}{'' if why.endswith('?') else ';'} {limits}{self._cure()}"

    def _cure(self) -> str:
        return f"; {self.cure}" if self.cure else ""

    def _unit(self) -> str:
        return f" {self.unit}" if self.unit else ""

    def _slip(self, key: str, value: float) -> str:
        for factor, unit in self.slips:
            if self.low <= value * factor <= self.high:
                return f": is this {unit}? write {key} = {digits(value * factor)}"
        return ""


LENGTH_SLIPS = ((1e3, "metres"), (1e-3, "micrometres"))


def _length(low: float, high: float, below: str, above: str) -> Range:
    return Range(low, high, below, above, LENGTH_SLIPS, "mm")


def _share(low: float = 0.0, high: float = 1.0) -> Range:
    return Range(low, high, "too small", "more than the whole", ((1e-2, "percent"),))


_RADIUS = _length(2, 5000, "smaller than a finger ring", "larger than a windmill's hub")
_DIAMETER = _length(4, 10000, "smaller than a finger ring", "larger than a windmill's hub")
_SIDE = _length(1, 500, "smaller than a grain of rice", "larger than any magnet you can lift")
_SHEET = _length(0.1, 100, "thinner than a tin can", "thicker than any plate you can lift")
_CELSIUS = Range(
    -60, 250, "colder than any winter; is this fahrenheit?", "hotter than any such machine; is this kelvin?", unit="C"
)
_OHM = Range(0, 1e6, unit="ohm")

RANGES: dict[str, Range] = {
    "magnets.count": Range(2, 400, "too few", "too many", unit="magnets"),
    "magnets.thickness_mm": _length(0.3, 100, "thinner than foil", "thicker than any magnet you can lift"),
    "magnets.diameter_mm": _SIDE,
    "magnets.radial_mm": _SIDE,
    "magnets.tangential_mm": _SIDE,
    "magnets.pitch_radius_mm": _RADIUS,
    "magnets.pitch_diameter_mm": _DIAMETER,
    "magnets.inner_radius_mm": _RADIUS,
    "magnets.inner_diameter_mm": _DIAMETER,
    "magnets.outer_radius_mm": _RADIUS,
    "magnets.outer_diameter_mm": _DIAMETER,
    "magnets.arc_share": _share(0.05),
    "magnets.remanence_t": Range(
        0.05, 1.6, "weaker than any magnet", "stronger than any magnet", ((1e-3, "millitesla"), (1e-4, "gauss")), "T"
    ),
    "magnets.recoil_permeability": Range(1, 5, "less than air's", "more than any hard magnet's"),
    "magnets.segments_per_pole": Range(2, 16, "too few for a Halbach face", "more pieces than anybody glues"),
    "rotor.gap_mm": _length(0.2, 500, "thinner than paper", "wider than any such machine"),
    "rotor.backing_mm": _SHEET,
    "rotor.return_plate_mm": _SHEET,
    "rotor.steel_inner_radius_mm": Range(0, 5000, above=_RADIUS.above, slips=LENGTH_SLIPS, unit="mm"),
    "rotor.steel_outer_radius_mm": _RADIUS,
    "winding.inner_radius_mm": _RADIUS,
    "winding.inner_diameter_mm": _DIAMETER,
    "winding.outer_radius_mm": _RADIUS,
    "winding.outer_diameter_mm": _DIAMETER,
    "winding.rounds": Range(1, 100000, "too few", "too many", unit="rounds"),
    "winding.layers": Range(1, 200, "too few", "too many", unit="layers"),
    "winding.belt_deg": Range(0.1, 360, "too narrow", "more than a whole electrical turn"),
    "winding.span": _share(0.001),
    "winding.skew": _share(),
    "winding.straight_share": _share(0.0, 0.99),
    "winding.start_deg": Range(-360, 360, "more than a whole turn", "more than a whole turn"),
    "winding.step_deg": Range(-360, 360, "more than a whole turn", "more than a whole turn"),
    "winding.clearance_mm": Range(0, 50, above="more than any gap needs", slips=LENGTH_SLIPS[1:], unit="mm"),
    "winding.height_mm": Range(0, 500, above="above any such gap", slips=LENGTH_SLIPS[1:], unit="mm"),
    "winding.former_in_gap_mm": Range(0, 100, above="thicker than any former", slips=LENGTH_SLIPS[1:], unit="mm"),
    "winding.resin_mm": Range(0, 50, above="thicker than any coat", slips=LENGTH_SLIPS[1:], unit="mm"),
    "winding.parallel": Range(1, 10000, "too few", "too many", unit="groups"),
    "winding.inner_notches": Range(2, 100000, "too few", "too many", unit="notches"),
    "winding.outer_notches": Range(2, 100000, "too few", "too many", unit="notches"),
    "wire.copper_mm": _length(
        COPPER_LEAST_M / MM,
        COPPER_MOST_M / MM,
        "thinner than any enamelled wire",
        "thicker than enamelled round wire comes",
    ),
    "wire.strand_mm": _length(0.02, 2, "thinner than any enamelled wire", "thicker than strands come"),
    "wire.awg": Range(
        AWG_LARGEST, AWG_SMALLEST, "thicker than enamelled round wire comes", "thinner than any enamelled wire"
    ),
    "wire.strands": Range(
        2, 100000, "no bundle", "too many", unit="strands", cure='for one wire write kind = "solid" and copper_mm'
    ),
    "wire.temperature_c": _CELSIUS,
    "magnets.temperature_c": _CELSIUS,
    "wire.lay_mm": _length(1, 2000, "tighter than strands can be twisted", "longer than a bench"),
    "wire.bunching": Range(1.05, 2, "denser than circles pack", "looser than a bundle holds together"),
    "wire.serving_mm": Range(0, 1, above="thicker than any serving", slips=LENGTH_SLIPS[1:], unit="mm"),
    "wire.strands_in_series": Range(1, 100000, "too few", "too many", unit="groups"),
    "wire.bench_mm": _length(100, 1e6, "shorter than a forearm", "longer than a rope walk"),
    "load.voltage_v": Range(0.5, 2000, "less than any battery", "deadly", ((1e-3, "millivolts"),), "V"),
    "load.resistance_ohm": _OHM,
    "load.diode_drop_v": Range(0, 5, above="more than any diode drops", slips=((1e-3, "millivolts"),), unit="V"),
    "load.diode_slope_ohm": _OHM,
    "load.cable_ohm": _OHM,
    "load.speeds_rpm": Range(0.01, 100000, "standing still", "faster than any such machine holds together", unit="rpm"),
    "wind.rotor_diameter_m": Range(
        0.1, 30, "a toy", "no longer small wind", ((1e-3, "millimetres"), (1e-2, "centimetres")), "m"
    ),
    "wind.rotor_height_m": Range(
        0.1, 60, "a toy", "no longer small wind", ((1e-3, "millimetres"), (1e-2, "centimetres")), "m"
    ),
    "wind.tip_speed_ratio": Range(0.2, 20, "slower than any rotor runs", "faster than any rotor runs"),
    "wind.peak_cp": Range(
        0.01, 16 / 27, "a rotor that gives nothing", "above Betz's limit 16/27", ((1e-2, "percent"),)
    ),
    "wind.start_torque_coefficient": Range(0, 1, above="more than any rotor starts with"),
    "wind.gear_ratio": Range(0.05, 100, "too small", "too large"),
    "wind.drag_nm": Range(0, 1000, unit="N m"),
    "wind.brush_drop_v": Range(0, 10, slips=((1e-3, "millivolts"),), unit="V"),
    "wind.altitude_m": Range(-500, 6000, "below the Dead Sea", "higher than people live", unit="m"),
    "wind.air_temperature_c": Range(-60, 60, "colder than any winter", "hotter than any summer", unit="C"),
    "wind.mean_m_s": Range(0.5, 25, "no wind", "no such place", unit="m/s"),
    "wind.mean_km_h": Range(2, 90, "no wind", "no such place", unit="km/h"),
    "wind.mean_knots": Range(1, 50, "no wind", "no such place", unit="knots"),
    "wind.weibull_shape": Range(1, 10, "no such wind", "no such wind"),
    "wind.measured_height_m": Range(0.5, 300, "on the ground", "above any mast", unit="m"),
    "wind.hub_height_m": Range(0.5, 300, "on the ground", "above any mast", unit="m"),
    "wind.shear_exponent": Range(0, 1, above="no such place"),
    "wind.roughness_m": Range(1e-5, 5, "smoother than ice", "rougher than a city", unit="m"),
    "wind.furl_m_s": Range(2, 60, "no wind", "a hurricane", unit="m/s"),
    "wind.stop_m_s": Range(2, 100, "no wind", "a hurricane", unit="m/s"),
    "former.notch_mm": _length(0.1, 50, "narrower than a saw cut", "wider than any notch"),
    "former.clearance_mm": Range(0, 10, slips=LENGTH_SLIPS[1:], unit="mm"),
    "former.kerf_mm": Range(0, 10, slips=LENGTH_SLIPS[1:], unit="mm"),
    "former.hub_hole_mm": Range(0, 10000, slips=LENGTH_SLIPS[1:], unit="mm"),
    "former.rim_mm": Range(0, 500, slips=LENGTH_SLIPS[1:], unit="mm"),
    "former.thickness_mm": _SHEET,
    "former.tail_mm": Range(0, 10000, slips=LENGTH_SLIPS[1:], unit="mm"),
    "former.spare_percent": Range(0, 100, above="more than twice the wire"),
    "tolerance.remanence_percent": Range(0, 50),
    "tolerance.gap_mm": Range(0, 50, slips=LENGTH_SLIPS[1:], unit="mm"),
    "tolerance.magnet_mm": Range(0, 50, slips=LENGTH_SLIPS[1:], unit="mm"),
    "tolerance.placement_mm": Range(0, 50, slips=LENGTH_SLIPS[1:], unit="mm"),
}

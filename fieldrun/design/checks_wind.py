"""The rotor in the wind: keys that exclude each other or need each other, and the tables that they name."""

from collections.abc import Callable, Iterator
from pathlib import Path

from fieldrun.design.cp_table import read_cp_table
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.file_tables import WindTable
from fieldrun.design.tables import Tables
from fieldrun.design.text_file import is_file
from fieldrun.design.wind_record import read_wind_record

MEANS = ("mean_m_s", "mean_km_h", "mean_knots")
HEIGHTS = ("measured_height_m", "hub_height_m")


def wind_faults(tables: Tables, folder: Path) -> Iterator[Fault]:
    """Faults between keys of [wind], and in the tables it names."""
    wind = tables.wind
    if wind is None:
        return
    yield from _at_most_one(wind, (*MEANS, "record"))
    yield from _at_most_one(wind, ("shear_exponent", "roughness_m"))
    yield from _at_most_one(wind, ("cp_curve", "tip_speed_ratio"))
    yield from _needs(tables, wind, "peak_cp", "tip_speed_ratio", "at which it holds")
    yield from _distribution(tables, wind)
    yield from _heights(tables, wind)
    yield from _storms(wind)
    if wind.cp_curve not in {None, "default"}:
        yield from _table(folder, wind.cp_curve, read_cp_table)
    yield from _table(folder, wind.record, read_wind_record)


def _at_most_one(wind: WindTable, keys: tuple[str, ...]) -> Iterator[Fault]:
    first, *others = [key for key in keys if getattr(wind, key) is not None] or [""]
    yield from (Fault(f"wind.{key}", f"given with {first} too; keep one of the two") for key in others)


def _needs(tables: Tables, wind: WindTable, key: str, other: str, what: str) -> Iterator[Fault]:
    if getattr(wind, key) is not None and getattr(wind, other) is None and not tables.is_faulty(f"wind.{other}"):
        yield Fault(f"wind.{key}", f"given without the {other} {what}")


def _distribution(tables: Tables, wind: WindTable) -> Iterator[Fault]:
    """A shape spreads a mean out; a record has its own."""
    given = "weibull_shape" in wind.model_fields_set
    if given and wind.record is not None:
        yield Fault("wind.weibull_shape", "a record has its own distribution; remove one of the two")
    elif given and all(getattr(wind, key) is None and not tables.is_faulty(f"wind.{key}") for key in MEANS):
        yield Fault("wind.weibull_shape", "given without mean_m_s, the mean wind that it spreads out")


def _heights(tables: Tables, wind: WindTable) -> Iterator[Fault]:
    yield from _needs(tables, wind, "measured_height_m", "hub_height_m", "of the rotor")
    yield from _needs(tables, wind, "hub_height_m", "measured_height_m", "at which the wind is known")
    both = [height for key in HEIGHTS if (height := getattr(wind, key)) is not None]
    for key in ("shear_exponent", "roughness_m"):
        if getattr(wind, key) is not None and not both and not any(tables.is_faulty(f"wind.{k}") for k in HEIGHTS):
            yield Fault(f"wind.{key}", "given without measured_height_m and hub_height_m, between which it corrects")
    if wind.roughness_m is not None and both and wind.roughness_m >= min(both):
        text = f"must lie below both heights, the lower one {min(both):g} m; received {wind.roughness_m:g}"
        yield Fault("wind.roughness_m", f"{text}; grass has 0.03, woods and towns about 1")


def _storms(wind: WindTable) -> Iterator[Fault]:
    if wind.furl_m_s is not None and wind.stop_m_s is not None and wind.stop_m_s <= wind.furl_m_s:
        text = f"must be above furl_m_s = {wind.furl_m_s:g}, where the rotor turns away; received {wind.stop_m_s:g}"
        yield Fault("wind.stop_m_s", f"{text}; leave out the one that your machine does not have")


def _table(folder: Path, name: str | None, read: Callable[[Path], object]) -> Iterator[Fault]:
    """What is wrong inside a table: these carry file and line of the table, not of the design."""
    if name is None or not name.lower().endswith(".csv") or not is_file(folder / name):
        return  # a fault of its own
    try:
        read(folder / name)
    except DesignError as error:
        yield from error.faults

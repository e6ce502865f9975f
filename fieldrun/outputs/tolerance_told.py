"""What machines built to the design's tolerances give: a sentence, the table's rows, and the result file's keys."""

from typing import Any

from fieldrun.design.model import Design
from fieldrun.design.units import KRPM, MM, RPM
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.sentences import plain
from fieldrun.studies.tolerance import ToleranceBand

LOW, MEDIAN, HIGH = 0.05, 0.5, 0.95
"""Shares of the machines below the band's ends and its middle: 18 of 20 lie between the ends."""

DECIMALS = 9
"""Enough for any maker's tolerance, and few enough that 0.3 mm comes back as 0.3."""

CAPTION = "Tolerances are standard deviations: 2 in 3 parts, and 2 in 3 machines, lie within them."

NAMES = {
    "remanence": "strength of the magnets",
    "gap": "gap",
    "magnet": "size of the magnets",
    "placement": "place of each magnet",
}

OPEN_FACE = "height of the winding above the magnets"
"""What a tolerance on the gap is one of, where there is no gap."""

SHARED = {
    "remanence": "one batch",
    "gap": "one per machine",
    "magnet": "one batch",
    "placement": "averages over the magnets",
}


def band_sentence(band: ToleranceBand, design: Design) -> str:
    """The band in one sentence, at the last of the speeds asked about."""
    speed = asked_speeds(design)[-1]
    drawn, low, high = (
        plain(emf * speed * RPM, "V") for emf in (band.drawn_rms, band.quantile(LOW), band.quantile(HIGH))
    )
    if band.widest is None:
        return f"With no tolerances every machine gives {drawn} at {speed:g} rpm."
    each = "" if design.winding.phases == 1 else " per phase"
    return (
        f"Of 20 machines built to these tolerances 18 give between {low} and {high}{each} at {speed:g} rpm with "
        f"nothing connected (as drawn {drawn}{_outside(band)}); the {_name(band, band.widest)} matters most."
    )


def _name(band: ToleranceBand, key: str) -> str:
    return OPEN_FACE if key == "gap" and band.open_face else NAMES[key]


def _outside(band: ToleranceBand) -> str:
    """Why the machine as drawn lies outside the band, if it does: some deviations go one way only, on average."""
    below, above = band.drawn_rms < band.quantile(LOW), band.drawn_rms > band.quantile(HIGH)
    if not below and not above:
        return ""
    key = (max if below else min)(band.shift, key=lambda name: band.shift[name])
    does = f"{'raises' if below else 'lowers'} the mean by {plain(100 * abs(band.shift[key]), '%')}"
    return f", outside that range: tolerance on the {_name(band, key)} {does}"


def band_lines(band: ToleranceBand) -> list[str]:
    """The rows as lines of text."""
    return [f"{label}, {value}: {remark}" for label, value, remark in band_rows(band)]


def band_rows(band: ToleranceBand) -> list[tuple[str, str, str]]:
    """Rows of label, value and remark: each tolerance and what it alone does."""
    return [
        (
            _name(band, key),
            f"{plain(size)} {unit}",
            f"moves the EMF by {plain(100 * band.spread[key], '%')} ({SHARED[key]})",
        )
        for key, (size, unit) in _sizes(band).items()
    ]


def _sizes(band: ToleranceBand) -> dict[str, tuple[float, str]]:
    """Standard deviations in the units of the design file."""
    stated = band.tolerance
    lengths = {"gap": stated.gap_m, "magnet": stated.magnet_m, "placement": stated.placement_m}
    return {"remanence": (round(100 * stated.remanence, DECIMALS), "%")} | {
        key: (round(length / MM, DECIMALS), "mm") for key, length in lengths.items()
    }


def band_dict(band: ToleranceBand) -> dict[str, Any]:
    """The result file's `tolerance` table: effective EMF of a phase, nothing connected."""
    sizes = {f"{key}_{'percent' if unit == '%' else unit}": size for key, (size, unit) in _sizes(band).items()}
    voltages = {
        "drawn": band.drawn_rms,
        "median": band.quantile(MEDIAN),
        "percent_5": band.quantile(LOW),
        "percent_95": band.quantile(HIGH),
    }
    return {
        **sizes,
        "seed": band.seed,
        "samples": len(band.rms),
        "fields": band.fields,
        "rms_v_per_krpm": {name: emf * KRPM for name, emf in voltages.items()},
        "spread_percent": {key: 100 * share for key, share in band.spread.items()},
        **({} if band.widest is None else {"matters_most": band.widest}),
    }

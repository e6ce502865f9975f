"""What `run` and `report` work out beside the answer, their progress shown: tolerance band, and what changes do."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldrun.generator.result import RunResult
    from fieldrun.studies.changes.study import Changes, Variant
    from fieldrun.studies.tolerance import ToleranceBand

LONG_S = 1.0
"""Trying changes is shown on a terminal from here on."""


def band_of(result: "RunResult", *, quiet: bool) -> "ToleranceBand":
    """What machines built to the design's [tolerance] give."""
    from fieldrun.outputs.progress import steps_told
    from fieldrun.studies.tolerance import fields_needed, tolerance_band

    with steps_told(fields_needed(result.design), quiet=quiet) as tell:
        return tolerance_band(result, tell=tell)


def advice_on(
    result: "RunResult", variant: "Variant", cut_in_m_s: float | None = None, *, quiet: bool
) -> "Changes | None":
    """What single changes do; `variant` reads the design file with some of its values changed."""
    from fieldrun.outputs.changes_told import NAMES
    from fieldrun.outputs.progress import steps_told
    from fieldrun.studies.changes.study import changes, steps_needed

    with steps_told(steps_needed(result), quiet=quiet, after_s=LONG_S) as tell:
        return changes(result, variant, cut_in_m_s, lambda name: tell(NAMES.get(name, name)))

"""A chain's whole result as plain dicts: what a sweep picks from where a few numbers of the chain do not do."""

from typing import Any

from fieldrun.design.errors import DesignError
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import result_of
from fieldrun.outputs.result_file import result_dict
from fieldrun.studies.tolerance import tolerance_band
from fieldrun.studies.tolerance_checks import too_much


def answer_dict(chain: Chain, band: bool = False) -> dict[str, Any]:
    """The content of the result file; with the tolerance band, which takes a dozen fields, if it is asked for.

    Raises
    ------
    DesignError
        If parts built to the tolerances could not exist or would meet.
    FieldrunError
        As the chain.
    """
    if band and (faults := [each.fault() for each in too_much(chain.design)]):
        raise DesignError(faults)
    result = result_of(chain)
    return result_dict(result, tolerance_band(result) if band else None)

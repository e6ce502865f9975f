"""Rounds for a wish, and what is wished if nobody says."""

from types import SimpleNamespace

import pytest

from fieldrun.studies.changes.rounds_for import usual_wish


@pytest.mark.parametrize(
    ("starts", "cut_in", "wish"),
    [(1.0, 3.0, 2.5), (2.0, 2.3, 2.1), (2.26, 2.32, None), (2.0, 2.1, None), (2.42, 2.58, None)],
    ids=["half a metre earlier", "as soon as it turns", "it charges as it starts", "at the bound", "hardly earlier"],
)
def test_nothing_is_wished_that_is_later_than_now_or_hardly_earlier(starts, cut_in, wish):
    fed = SimpleNamespace(cut_in_m_s=cut_in)
    design = SimpleNamespace(load=SimpleNamespace(kind="battery"))
    result = SimpleNamespace(wind=SimpleNamespace(fed=fed, starts_at_m_s=starts), design=design)
    assert usual_wish(result) == (None if wish is None else pytest.approx(wish))

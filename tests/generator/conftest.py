"""Chains for laws that ask for a few links only: a run works out all of them, several fields among them."""

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import read_design


@pytest.fixture
def chained(design_file: Callable[..., Path]) -> Callable[..., Chain]:
    """The chain of a variation of a bundled design: `answered`, link by link (`test_chain`: a run is all of it)."""

    def chain(example: str, changes: Mapping[str, object] | None = None) -> Chain:
        return Chain(read_design(design_file(example, changes)))

    return chain

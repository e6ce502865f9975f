"""What tests of the field share: gmsh, or the reason why there is none."""

import os

import pytest

from fieldrun.field.gmsh_mesh import gmsh_state


@pytest.fixture(scope="session")
def gmsh_or_skip() -> None:
    """Skip where gmsh cannot be loaded; under FIELDRUN_REQUIRE_GMSH=1 that is a failure."""
    loads, state = gmsh_state()
    if loads:
        return
    if os.environ.get("FIELDRUN_REQUIRE_GMSH") == "1":
        pytest.fail(f"FIELDRUN_REQUIRE_GMSH=1, but {state}")
    pytest.skip(state)

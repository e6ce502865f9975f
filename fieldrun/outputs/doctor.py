"""What this computer has: versions, whether gmsh can load, and the line that mends what is missing."""

import os
import platform
from importlib import metadata

from fieldrun import __version__
from fieldrun.field.gmsh_mesh import gmsh_state

NEEDED = ("numpy", "scipy", "scikit-fem", "meshio", "matplotlib", "pydantic", "click", "rich", "threadpoolctl")
"""Libraries without which nothing runs."""


def diagnosis() -> tuple[list[str], bool]:
    """Lines to print, and whether everything a default run needs is there (gmsh is not: it is for own outlines)."""
    cores = os.cpu_count() or 1
    lines = [f"fieldrun {__version__}, Python {platform.python_version()} on {platform.platform()}, {cores} cores"]
    complete = True
    for name in NEEDED:
        version = _version(name)
        complete = complete and version is not None
        lines.append(f"  {name:12} {version or 'MISSING: pip install ' + name}")
    loads, state = gmsh_state()
    lines.append(f"  {'gmsh':12} {state}")
    if not loads:
        lines.append("  (gmsh is only needed to mesh outlines of your own; every bundled example runs without it)")
    return lines, complete


def _version(name: str) -> str | None:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return None

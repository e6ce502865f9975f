"""What this computer has: versions, whether libraries load, and the line that mends what is missing."""

import importlib
import os
import platform
import re
from importlib import metadata

from fieldrun import __version__

NEEDED = {
    "numpy": "numpy",
    "scipy": "scipy",
    "scikit-fem": "skfem",
    "meshio": "meshio",
    "matplotlib": "matplotlib",
    "pydantic": "pydantic",
    "click": "click",
    "rich": "rich",
    "threadpoolctl": "threadpoolctl",
    "jinja2": "jinja2",
    "reportlab": "reportlab",
    "pillow": "PIL",
    "markupsafe": "markupsafe",
}
"""Libraries without which nothing runs, and the module by which each is loaded."""


def diagnosis() -> tuple[list[str], bool]:
    """Lines to print, and whether everything a default run needs is there (gmsh and distributed are for more)."""
    cores = os.cpu_count() or 1
    lines = [f"fieldrun {__version__}, Python {platform.python_version()} on {platform.platform()}, {cores} cores"]
    states = {name: _state(name, module) for name, module in NEEDED.items()}
    lines += [f"  {name:13} {state}" for name, (_, state) in states.items()]
    complete = all(loads for loads, _ in states.values())
    return [*lines, *_gmsh(complete=complete), *_distributed()], complete


def _state(name: str, module: str) -> tuple[bool, str]:
    """Whether a library loads, and its version or what to do; an installed one may still be broken."""
    try:
        version = metadata.version(name)
        importlib.import_module(module)
    except metadata.PackageNotFoundError:
        return False, f"MISSING: pip install {name}"
    except Exception as error:  # noqa: BLE001 - whatever a broken library raises is what is to be told
        other = _awaited(error, module)
        if other:
            return False, f"{version} does not load without {other}"
        return False, f"{version} does not load ({type(error).__name__}: {error}); pip install --force-reinstall {name}"
    wanted = _broken_bounds(name, version)
    return (False, f"{version}, but fieldrun needs another: pip install '{wanted}'") if wanted else (True, version)


def _broken_bounds(name: str, version: str) -> str | None:
    """What fieldrun's own record asks of a library, if this version is not so; None also where there is no record."""
    try:
        declared = [line.partition(";")[0].strip() for line in metadata.requires("fieldrun") or ()]
    except metadata.PackageNotFoundError:  # run from a folder, not installed
        return None
    wanted = next((line for line in declared if re.split(r"[<>]", line)[0] == name), "")
    bounds = re.findall(r"(>=|<)([\d.]+)", wanted)
    kept = [(_numbers(version) >= _numbers(bound)) is (sign == ">=") for sign, bound in bounds]
    return None if all(kept) else wanted


def _numbers(version: str) -> tuple[int, ...]:
    """The release's numbers, without zeros at their end: 3.10.0 is not older than 3.10."""
    found = re.match(r"\d+(?:\.\d+)*", version)
    numbers = [int(part) for part in found.group().split(".")] if found else []
    while numbers and numbers[-1] == 0:
        numbers.pop()
    return tuple(numbers)


def _awaited(error: Exception, module: str) -> str | None:
    """Another library needed here, whose lack is the error: its own line has the cure."""
    wanted = (error.name or "").partition(".")[0] if isinstance(error, ModuleNotFoundError) else ""
    return next((name for name, other in NEEDED.items() if other == wanted != module), None)


def _gmsh(*, complete: bool) -> list[str]:
    if not complete:
        return [f"  {'gmsh':13} not tried before the libraries above load"]
    from fieldrun.field.gmsh_mesh import gmsh_state  # here: it needs numpy, which may be what is missing

    loads, state = gmsh_state()
    wanted = _broken_bounds("gmsh", state) if loads else None
    line = f"  {'gmsh':13} {state}" + (f", but fieldrun needs another: pip install '{wanted}'" if wanted else "")
    more = "(gmsh is only needed to mesh outlines of your own and for former.step and .stl; all else runs without it)"
    return [line] if loads else [line, f"  {more}"]


def _distributed() -> list[str]:
    loads, state = _state("distributed", "distributed")
    line = f"  {'distributed':13} {state}"
    return [line] if loads else [line, "  (only sweep --cluster needs it; all else runs without it)"]

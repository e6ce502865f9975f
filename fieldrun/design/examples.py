"""The designs that come with fieldrun: complete machines to run, read and copy."""

from importlib.resources import files
from pathlib import Path

from fieldrun.design.text_file import is_file, is_there


def example_names() -> tuple[str, ...]:
    """Names of the bundled designs."""
    return tuple(sorted(path.stem for path in _folder().glob("*.toml")))


def example_path(name: str) -> Path:
    """Where the bundled design of this name stands.

    Raises
    ------
    KeyError
        If there is no such example.
    """
    if name not in example_names():
        raise KeyError(name)
    return _folder() / f"{name}.toml"


def table_path(path: Path) -> Path:
    """A file of the user's, else the bundled table of that name, else the missing file."""
    bundled = _folder() / path.name
    if is_there(path) or path != Path(path.name) or bundled.suffix != ".csv" or not is_file(bundled):
        return path
    return bundled


def example_description(name: str) -> str:
    """First comment line of a bundled design: what the machine is for.

    Raises
    ------
    KeyError
        If there is no such example.
    """
    first, *_ = example_path(name).read_text(encoding="utf-8").splitlines()
    return first.lstrip("# ").strip()


def _folder() -> Path:
    return Path(str(files("fieldrun.design"))) / "examples"

"""Result folders appear whole or not at all, and nobody else's files are ever in the way of ours."""

import contextlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fieldrun.design.errors import DesignError, Fault, FieldrunError

RESULT_FILE = "result.json"

OUR_FILES = frozenset(
    {RESULT_FILE, "paths.csv", "field.vtu", "summary.txt"}
    | {f"{stem}.{end}" for stem in ("section", "winding", "waveform") for end in ("svg", "png")}
)
"""Every file that `run` writes; a folder with any other file in it is not ours to replace."""


def earlier_result(folder: Path) -> dict[str, Any] | None:
    """The result that lies in a folder; None if there is none that can be read."""
    try:
        content = json.loads((folder / RESULT_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return content if isinstance(content, dict) and "design_hash" in content else None


def check_replaceable(folder: Path, name: str) -> None:
    """Refuse a folder that holds anything but an earlier result of the design called `name`.

    Raises
    ------
    DesignError
        With what stands in the way and what to try.
    """
    if not folder.exists():
        return
    if not folder.is_dir():
        raise DesignError([Fault("--out", f"{folder} is a file; give a folder, or leave --out away")])
    found = {path.name for path in folder.iterdir()}
    if not found:
        return
    foreign = sorted(found - OUR_FILES)
    if foreign:
        listed = ", ".join(foreign[:3]) + (", ..." if len(foreign) > 3 else "")
        raise DesignError(
            [Fault("--out", f"{folder} holds files that are not ours ({listed}); use --force or another")]
        )
    earlier = earlier_result(folder)
    if earlier is None or earlier.get("name") != name:
        other = "no readable result" if earlier is None else f"the result of another design, {earlier.get('name')!r}"
        raise DesignError([Fault("--out", f"{folder} holds {other}; use --force or another folder")])


@contextlib.contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """Fill a folder beside the wanted one, and put it in its place by a rename once everything is in it.

    Whatever is raised inside leaves the wanted folder as it was and nothing half-written behind.

    Raises
    ------
    FieldrunError
        If the place cannot be written to.
    """
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise FieldrunError(f"cannot write beside {folder}: {error.strerror or error}") from error
    try:
        part.chmod(0o755)
        yield part
        _put_in_place(part, folder)
    except OSError as error:
        raise FieldrunError(f"cannot write {folder}: {error.strerror or error}") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _put_in_place(part: Path, folder: Path) -> None:
    if not folder.exists():
        part.rename(folder)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{folder.name}-old-", dir=folder.parent))
    folder.rename(old / folder.name)
    try:
        part.rename(folder)
    except OSError:
        (old / folder.name).rename(folder)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 with unix line ends, flushed to disk: a rename must not outrun its content."""
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())

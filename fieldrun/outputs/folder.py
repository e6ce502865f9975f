"""Result folders appear whole or not at all, and nobody else's files are ever in the way of ours."""

import contextlib
import json
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from fieldrun.design.errors import DesignError, Fault, FieldrunError
from fieldrun.outputs.beside import OLD, alone_in, held, hidden_beside, tidy, worked_in
from fieldrun.outputs.file_names import (
    BESIDE,
    EVERY_FILE,
    JOURNAL,
    LOAD_FILES,
    OUR_FILES,
    RECORDS,
    REPLACED,
    RESULT_FILE,
    SWEEP_FILES,
    WIND_FILES,
)


def earlier_result(folder: Path, name: str) -> dict[str, Any] | None:
    """The result of the design called `name` that lies in a folder; None if there is none that can be read."""
    content = _record_in(folder / RESULT_FILE)
    return content if content and content.get("name") == name else None


def _record_in(file: Path) -> dict[str, Any] | None:
    try:
        text = file.read_text(encoding="utf-8")
        content = json.loads(text.partition("\n")[0] if file.name == JOURNAL else text)
    except (OSError, ValueError, RecursionError):
        return None
    return content if isinstance(content, dict) and "design_hash" in content else None


def check_replaceable(folder: Path, name: str, *, force: bool = False) -> None:
    """Refuse a folder that must not be replaced by a result of the design called `name`.

    What a killed command left beside it is put back or taken away first.

    Parameters
    ----------
    folder : where the result shall be
    name : of the design
    force : foreign files and other results are no reason to refuse; foreign files will stay. A folder that bears the
        name of one of our files always is

    Raises
    ------
    DesignError
        With what stands in the way and what to try.
    """
    try:
        with contextlib.suppress(FileNotFoundError, NotADirectoryError):
            folder.stat()  # an error where links go in a circle, of which `resolve` says nothing from Python 3.13 on
        tidy(folder)
        reason = _in_the_way(folder, name, force=force)
    except OSError as error:
        reason = f"{folder} cannot be used: {error.strerror or error}; name another folder with --out"
    if reason:
        raise DesignError([Fault("--out", reason)])


def _in_the_way(folder: Path, name: str, *, force: bool) -> str:
    if not folder.exists():
        return _unwritable(folder)
    if not folder.is_dir():
        return f"{folder} is a file; name a folder with --out"
    if folder.resolve() in {Path.cwd(), *Path.cwd().parents}:
        return f"you are standing in {folder.resolve()}, which would be replaced; name another folder"
    return _folders_in(folder) or ("" if force else _held(folder, name)) or _unwritable(folder)


def _unwritable(folder: Path) -> str:
    """Both the folder and the one it lies in are written to: results come into their place by a rename."""
    folder = folder.resolve()
    places = [place for place in (folder, *folder.parents) if place.exists()]
    wanted = places[: 2 if folder.exists() else 1]
    if not wanted[0].is_dir():
        return f"{wanted[0]} is a file; name a folder with --out"
    refused = [str(place) for place in wanted if not os.access(place, os.W_OK | os.X_OK)]
    if refused:
        return f"you may not write in {refused[0]}; name a folder of your own with --out"
    if folder.exists() and folder.is_mount():
        return f"{folder} is a disk of its own and cannot be replaced as a whole; name a folder in it: {folder / 'out'}"
    with worked_in(wanted[-1] / folder.name):  # rights are not all: names may be too long, disks full
        pass
    return ""


def _folders_in(folder: Path) -> str:
    """A folder that bears the name of a file of ours is somebody else's: not even force may replace it."""
    theirs = sorted(path.name for path in folder.iterdir() if path.name in EVERY_FILE and path.is_dir())
    if not theirs:
        return ""
    listed = ", ".join(theirs)
    return f"{folder} holds a folder where a file of ours belongs ({listed}); move it away, or name another with --out"


def _held(folder: Path, name: str) -> str:
    found = {path.name for path in folder.iterdir()}
    foreign = sorted(found - EVERY_FILE)
    if foreign:
        listed = ", ".join(foreign[:3]) + (", ..." if len(foreign) > 3 else "")
        return f"{folder} holds files that are not ours ({listed}); name another folder, or --force writes beside them"
    names = _names_in(folder)
    others = [other for other in names if other != name]
    if not found or (names and not others):
        return ""
    what = f"the result of another design, {others[0]!r}" if others else "no readable result"
    return f"{folder} holds {what}; name another folder, or --force replaces it"


def _names_in(folder: Path) -> list[Any]:
    records = (_record_in(folder / file) for file in RECORDS)
    return [record.get("name") for record in records if record]


def replaced_by(files: frozenset[str], folder: Path, name: str) -> frozenset[str]:
    """Which files of a folder go when a command writes its own `files` of the design called `name`.

    Those of other commands stay as long as everything in the folder is of that design.
    """
    return files if set(_names_in(folder)) == {name} else REPLACED


def outdated_by(folder: Path, design_hash: str) -> frozenset[str]:
    """Which files of a folder go when a run of a design is written: its own, and those made of another state of it."""
    records = {name: _record_in(folder / name) for name in BESIDE}
    old = [BESIDE[name] for name, record in records.items() if not record or record["design_hash"] != design_hash]
    return OUR_FILES.union(WIND_FILES, LOAD_FILES, SWEEP_FILES, *old)


@contextlib.contextmanager
def whole_folder(folder: Path, replaced: Callable[[], frozenset[str]] = lambda: REPLACED) -> Iterator[Path]:
    """Fill a folder beside the wanted one, and put it in its place by a rename once everything is in it.

    Whatever is raised inside leaves the wanted folder as it was and nothing half-written behind.

    Parameters
    ----------
    folder : the wanted one
    replaced : names of the files in it that go, asked once all is filled: another command may have been there
        meanwhile; all others stay there

    Raises
    ------
    FieldrunError
        If the place cannot be written to.
    """
    try:
        folder = folder.resolve()  # a link to a folder stays a link; raises where the current folder is gone
        folder.parent.mkdir(parents=True, exist_ok=True)
        with worked_in(folder) as part:
            yield part
            _put_in_place(part, folder, replaced)
    except OSError as error:
        raise FieldrunError(f"cannot write {folder}: {error.strerror or error}") from error


def _put_in_place(part: Path, folder: Path, replaced: Callable[[], frozenset[str]]) -> None:
    with alone_in(folder.parent):
        if folder.exists():
            _replace(folder, part, replaced())
        else:
            part.rename(folder)


def _replace(folder: Path, part: Path, replaced: frozenset[str]) -> None:
    for name in EVERY_FILE - replaced:  # of other commands: whoever ends us between the renames must not cost them
        with contextlib.suppress(OSError, NotImplementedError):
            os.link(folder / name, part / name, follow_symlinks=False)
    old = hidden_beside(folder, OLD)
    with held(folder):
        try:
            folder.rename(old)
            part.rename(folder)
        except BaseException:  # an interruption too: the earlier result must not be lost between the two
            _put_back(old, folder, replaced)
            raise
        _keep_others(old, folder, replaced)
        shutil.rmtree(old, ignore_errors=True)


def _put_back(old: Path, folder: Path, replaced: frozenset[str]) -> None:
    """Let the earlier result stand again; where another command has put its own meanwhile, that is the later one."""
    if not old.exists():
        return
    with contextlib.suppress(OSError):  # a folder came just now
        old.rename(folder)
        return
    if folder.exists():
        _keep_others(old, folder, replaced)
        shutil.rmtree(old, ignore_errors=True)


def _keep_others(old: Path, folder: Path, replaced: frozenset[str]) -> None:
    try:
        for path in [path for path in old.iterdir() if path.name not in replaced or _is_folder(path)]:
            path.rename(folder / path.name)
    except OSError as error:
        raise FieldrunError(f"{folder} is written, but files of yours stay in {old}: {error.strerror}") from error


def _is_folder(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink()


def record_text(content: Mapping[str, Any]) -> str:
    """A record as it stands in its file and on standard output.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    return json.dumps(content, indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def comment_lines(facts: Mapping[str, object]) -> Iterator[str]:
    """Facts as comments at the top of a table, a line each."""
    return (f"# {key}: {' '.join(str(value).split())}\n" for key, value in facts.items())


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 with unix line ends, flushed to disk: a rename must not outrun its content."""
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())

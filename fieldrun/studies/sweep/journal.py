"""What a sweep has found so far, line by line in a file that outlives whatever ends the sweep."""

import contextlib
import json
import math
import os
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any, get_args

from fieldrun.design.errors import DesignError, Fault, FieldrunError
from fieldrun.studies.sweep.task import Outcome, Status

FLUSH_S = 0.5
"""Outcomes are put on the disk so often: that much is lost if the power goes, and nothing if the program does."""

ANOTHER = "name another folder with --out, or --force starts anew and drops what it holds"
"""What to do about a journal that is not this sweep's."""

DIFFERENCES = {
    "name": "another design",
    "design_hash": "other values in the design file",
    "plan": "other points",
    "kept": "--freeze-winding given in one of the two",
    "picks": "other picks",
    "mesh": "another mesh",
    "fieldrun": "another version of fieldrun",
    "physics": "other physics",
}
"""Keys of a journal's header, and what it means if they differ."""


class Journal:
    """An open journal: outcomes are appended, by one process alone.

    The first line says whose sweep it is, each further one is a finished point. A line that was torn off by an end of
    the program or a full disk is the last one, and is dropped when the journal is opened again.
    """

    def __init__(self, file: IO[bytes], path: Path) -> None:
        self._file = file
        self._path = path
        self._synced = time.monotonic()

    def add(self, outcome: Outcome, key: str) -> None:
        """Append an outcome of the design with this hash.

        Raises
        ------
        FieldrunError
            If the disk takes no more.
        """
        self._write(_line(_entry(outcome, key)))
        if time.monotonic() - self._synced > FLUSH_S:
            self.sync()

    def sync(self) -> None:
        """Put everything on the disk; raises as `add`."""
        with self._told():
            os.fsync(self._file.fileno())
        self._synced = time.monotonic()

    def _write(self, line: bytes) -> None:
        with self._told():
            # unbuffered: what is written stays although the program is killed
            written = self._file.write(line)
            while written < len(line):  # a disk that fills up takes a part first, then refuses
                written += self._file.write(line[written:])

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise FieldrunError(
                f"cannot write {self._path}: {error.strerror or error}; what was found so far is kept in it: make room "
                "and give the same command again, it goes on from there"
            ) from error


@contextlib.contextmanager
def open_journal(
    path: Path, header: Mapping[str, Any], *, fresh: bool = False
) -> Iterator[tuple[Journal, dict[int, tuple[str, Outcome]]]]:
    """Open a sweep's journal, or start it.

    Parameters
    ----------
    path : the file
    header : what makes this sweep another than others, as JSON would give it back
    fresh : begin anew, whatever there is

    Yields
    ------
    The journal, and what is in it already: by index, the hash of the design and its outcome.

    Raises
    ------
    DesignError
        If the journal is another sweep's, or damaged before its last line.
    FieldrunError
        If it cannot be read or written, or if another sweep is writing to it.
    """
    first = _line(header)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = path.open("ab", buffering=0)
    except OSError as error:
        raise FieldrunError(f"cannot write {path}: {error.strerror or error}") from error
    with file:
        _take(file, path)
        found = {} if fresh else _read(path, first)
        journal = Journal(file, path)
        if fresh:
            file.truncate(0)
        elif file.tell():
            file.truncate(_whole_bytes(path))
        if not os.fstat(file.fileno()).st_size:
            journal._write(first)  # noqa: SLF001 - the same module
        try:
            yield journal, found
        finally:
            journal.sync()


def _take(file: IO[bytes], path: Path) -> None:
    """Keep other sweeps out until the file is closed: their points may have the same place and other picks."""
    try:
        import fcntl
    except ImportError:  # not on Windows
        return
    try:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        text = f"another sweep is writing to {path} now; wait until it has ended, or name another folder with --out"
        raise FieldrunError(text) from None
    except OSError:  # some network disks know no locks, and a sweep is no less worth having there
        return


def _line(content: Mapping[str, Any]) -> bytes:
    return json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode() + b"\n"


def _entry(outcome: Outcome, key: str) -> dict[str, Any]:
    entry: dict[str, Any] = {"i": outcome.index, "design": key, "status": outcome.status}
    return entry | ({"picked": outcome.picked} if outcome.status == "ok" else {"reason": outcome.reason})


def _whole_bytes(path: Path) -> int:
    """Length of the file up to and with its last line end."""
    return path.read_bytes().rfind(b"\n") + 1


def _read(path: Path, first: bytes) -> dict[int, tuple[str, Outcome]]:
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise FieldrunError(f"cannot read {path}: {error.strerror or error}") from error
    lines = data[: data.rfind(b"\n") + 1].splitlines(keepends=True)
    if not lines:
        return {}
    if lines[0] != first:
        raise DesignError([Fault("--out", f"{path} {_whose(lines[0], first)}; {ANOTHER}")])
    return dict(_parsed(path, lines[1:], len(json.loads(first)["picks"])))


def _whose(line: bytes, first: bytes) -> str:
    """In what the journal's sweep differs from this one."""
    with contextlib.suppress(ValueError, RecursionError):
        theirs, ours = json.loads(line), json.loads(first)
        if isinstance(theirs, dict) and "sweep" in theirs:
            differ = [DIFFERENCES[key] for key in DIFFERENCES if theirs.get(key) != ours.get(key)]
            return f"holds a sweep with {_and(differ or ['another format'])}"
    return "is no journal of a sweep"


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _parsed(path: Path, lines: Sequence[bytes], picks: int) -> Iterator[tuple[int, tuple[str, Outcome]]]:
    for number, line in enumerate(lines, start=2):
        try:
            entry = json.loads(line, parse_constant=_no_number)
            yield entry["i"], (entry["design"], _outcome(entry, picks))
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            text = "this line is damaged; take it out to have its point solved again"
            raise DesignError([Fault("", text, str(path), number)]) from error


def _no_number(word: str) -> float:
    raise ValueError(word)


def _outcome(entry: Mapping[str, Any], picks: int) -> Outcome:
    """An entry's outcome, as `_entry` wrote it; whoever else has been at it is found out here."""
    index, status, reason = entry["i"], entry["status"], entry.get("reason", "")
    cells_told = entry.get("picked", [])
    picked = tuple(cells_told)
    right = (
        type(index) is int
        and isinstance(cells_told, list)
        and isinstance(entry["design"], str)
        and status in get_args(Status)
    )
    cells = len(picked) == (picks if status == "ok" else 0) and all(map(_is_cell, picked))
    if not (right and cells and isinstance(reason, str)):
        raise ValueError(entry)
    return Outcome(index, status, picked, reason)


def _is_cell(cell: object) -> bool:
    return cell is None or isinstance(cell, int | str) or (isinstance(cell, float) and math.isfinite(cell))

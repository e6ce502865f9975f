"""Hidden folders that a command fills beside the wanted one, and what becomes of those of a command that was killed.

`.NAME-xxxxxxxx.part` is being filled; `.NAME-xxxxxxxx.old` is what was moved out of its way. A living command holds a
shared lock on both, which ends with it however it ends; a folder that nobody holds is abandoned. Where folders cannot
be locked (Windows, some network disks) none is ever taken to be abandoned.
"""

import contextlib
import os
import re
import secrets
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from fieldrun.outputs.file_names import REPLACED

PART, OLD = "part", "old"

PATIENCE_S, STEP_S = 5.0, 0.02
"""Longest wait for others that put their result into the same place, which takes them a few ms; and between looks."""


def hidden_beside(folder: Path, kind: str) -> Path:
    """A new name beside a folder; `kind` is PART or OLD."""
    return folder.with_name(f".{folder.name}-{secrets.token_hex(4)}.{kind}")


@contextlib.contextmanager
def worked_in(folder: Path) -> Iterator[Path]:
    """A new hidden folder beside the wanted one, which goes afterwards unless it was moved.

    Raises
    ------
    OSError
        If it cannot be made.
    """
    part, lock = _made(folder)
    try:
        yield part
    finally:
        shutil.rmtree(part, ignore_errors=True)
        _let_go(lock)


def _made(folder: Path) -> tuple[Path, int | None]:
    while True:
        part = hidden_beside(folder, PART)
        part.mkdir()
        with contextlib.suppress(BlockingIOError):  # somebody is just taking it away as abandoned
            lock = _locked(part, shared=True)
            if part.exists():
                return part, lock
            _let_go(lock)


@contextlib.contextmanager
def held(folder: Path) -> Iterator[None]:
    """Nobody takes a folder to be abandoned meanwhile, whatever its name becomes."""
    try:
        lock = _locked(folder, shared=True)
    except BlockingIOError:
        lock = None
    try:
        yield
    finally:
        _let_go(lock)


@contextlib.contextmanager
def alone_in(place: Path) -> Iterator[None]:
    """Results come into a place, and are put back into it, one after the other: none finds another's half-way.

    Whoever holds the place for longer than that takes does so for reasons of his own, and is not waited for.
    """
    lock, until = None, time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        with contextlib.suppress(BlockingIOError):
            lock = _locked(place, shared=False)
            break
        time.sleep(STEP_S)
    try:
        yield
    finally:
        _let_go(lock)


def _locked(folder: Path, *, shared: bool) -> int | None:
    """A lock on a folder; None where there are no locks, or no folder.

    Raises
    ------
    BlockingIOError
        If somebody holds one that does not go with it.
    """
    if sys.platform == "win32":
        return None
    import fcntl

    try:
        lock = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except OSError:
        return None
    try:
        fcntl.flock(lock, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(lock)
        raise
    except OSError:
        os.close(lock)
        return None
    return lock


def _let_go(lock: int | None) -> None:
    if lock is not None:
        os.close(lock)


def tidy(folder: Path) -> None:
    """Put back or take away what commands left beside a folder that were killed over it.

    An earlier result that was just being replaced stands again; files of the user's that were in it come back. What a
    killed command had begun goes. What cannot be moved or read stays as it is.
    """
    folder = folder.resolve()
    name = re.compile(re.escape(f".{folder.name}-") + rf"[0-9a-f]{{8}}\.({PART}|{OLD})")
    with contextlib.suppress(OSError):
        found = sorted(path for path in folder.parent.iterdir() if name.fullmatch(path.name))
        with alone_in(folder.parent) if found else contextlib.nullcontext():
            for path in found:
                _settle(path, folder)


def _settle(path: Path, folder: Path) -> None:
    try:
        lock = _locked(path, shared=False)
    except BlockingIOError:
        return
    if lock is None:
        return
    with contextlib.suppress(OSError):
        if path.suffix != f".{OLD}" or _put_back(path, folder):
            shutil.rmtree(path, ignore_errors=True)
    os.close(lock)


def _put_back(old: Path, folder: Path) -> bool:
    """Whether what is left of an earlier result may go: nothing in it is the user's, or a night's work."""
    if not folder.exists():
        old.rename(folder)
        return False
    theirs = [path for path in old.iterdir() if path.name not in REPLACED or path.is_dir()]
    theirs = [path for path in theirs if not _is_linked(path, folder / path.name)]
    if any(os.path.lexists(folder / path.name) for path in theirs):
        return False
    for path in theirs:
        path.rename(folder / path.name)
    return True


def _is_linked(path: Path, kept: Path) -> bool:
    """Whether a file stands in the new result already: a hard link to the same."""
    return os.path.lexists(kept) and os.path.samestat(path.lstat(), kept.lstat())

"""Text files from users: whatever can be wrong with one before its content matters becomes a fault."""

import stat
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault

LARGEST_BYTES = 5_000_000
"""A design or a table by hand is a few kilobytes; anything larger is another file by mistake."""

ALLOW = "allow it to be read (chmod +r), or take a copy of your own"

WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")


def read_text_file(path: Path, largest_bytes: int = LARGEST_BYTES) -> str:
    """Return the file's text, a UTF-8 byte order mark taken off.

    Raises
    ------
    DesignError
        If the path is missing, no file, unreadable, empty, too large or not UTF-8 (with the line).
    """
    data = _bytes(path, largest_bytes)
    if data.startswith(WIDE_MARKS):
        raise _error(path, "this is UTF-16 text; save it as UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise _error(path, "this is not UTF-8 text here; save the file as UTF-8", line) from None
    if not text.strip():
        raise _error(path, "the file is empty")
    return text


def is_file(path: Path) -> bool:
    """Whether a file stands there, whatever nonsense the name may be."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def is_there(path: Path) -> bool:
    """Whether anything stands there, likewise."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _bytes(path: Path, largest_bytes: int) -> bytes:
    try:
        if path.is_dir():
            raise _error(path, "this is a folder; give a file in it")
        if not stat.S_ISREG(path.stat().st_mode):  # it might never end, or never begin
            raise _error(path, "this is a pipe or a device, not a file; save its text as a file first")
        with path.open("rb") as file:
            data = file.read(largest_bytes + 1)
    except FileNotFoundError:
        raise _error(path, "there is no such file") from None
    except PermissionError as error:
        raise _error(path, f"cannot be read: {error.strerror}; {ALLOW}") from None
    except (OSError, ValueError) as error:
        raise _error(path, f"cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if len(data) > largest_bytes:
        raise _error(path, f"larger than {largest_bytes // 1_000_000} MB; is this the right file?")
    return data


def _error(path: Path, text: str, line: int | None = None) -> DesignError:
    return DesignError([Fault("", text, str(path), line)])

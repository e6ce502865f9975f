"""Whatever goes wrong becomes a line for the user and an exit code."""

import contextlib
import errno
import io
import os
import sys
import tempfile
import traceback
from collections.abc import Iterator
from pathlib import Path
from typing import Literal, TextIO

import click

from fieldrun.design.errors import DesignError, FieldrunError

FAULT, CHECK_FAILED, MISSING, INTERRUPTED = 1, 3, 4, 130

FULL = {getattr(errno, name) for name in ("ENOSPC", "EIO", "EFBIG", "EDQUOT") if hasattr(errno, name)}
"""Errors of a disk that standard output goes to; those of our own files are told with their folder."""


@contextlib.contextmanager
def told_errors(verbose: bool) -> Iterator[None]:
    """Turn whatever goes wrong into a line for the user and an exit code."""
    try:
        yield
    except DesignError as error:
        for fault in error.faults:
            click.echo(str(fault), err=True)
        count = len(error.faults)
        click.echo(f"{count} fault{'s' if count > 1 else ''}, nothing was run", err=True)
        sys.exit(error.exit_code)
    except FieldrunError as error:
        click.echo(f"fieldrun: {error}", err=True)
        sys.exit(error.exit_code)
    except (KeyboardInterrupt, click.Abort):  # Abort: Ctrl-C, or the end of the input, at a question
        click.echo("fieldrun: interrupted; nothing half-written was left", err=True)
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        # whoever read us has left; what is still to be flushed on leaving must go somewhere
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(FAULT)
    except Exception as error:
        if isinstance(error, OSError) and error.filename is None and error.errno in FULL:
            raise  # `fieldrun.__main__` tells it
        if verbose:
            raise
        sys.exit(_told_unforeseen(error))


def _told_unforeseen(error: Exception) -> int:
    """Say in one line what nobody foresaw; the exit code. A library that does not load is no fault of ours."""
    if isinstance(error, ImportError) and not (error.name or "").startswith("fieldrun"):
        click.echo(f"fieldrun: {error}; `fieldrun doctor` tells what to install (details in {_log(error)})", err=True)
        return MISSING
    click.echo(f"fieldrun: {type(error).__name__}: {error} (details in {_log(error)}; -v shows them)", err=True)
    return FAULT


def show_anything() -> None:
    """Letters that the terminal or pipe cannot show must not end a run, nor a stream that somebody closed."""
    sys.stdin = sys.stdin or _nowhere("r")  # a question meets the end of its input there
    sys.stdout, sys.stderr = sys.stdout or _nowhere(), sys.stderr or _nowhere()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _nowhere(mode: Literal["r", "w"] = "w") -> TextIO:
    return Path(os.devnull).open(mode, encoding="utf-8")


def _log(error: Exception) -> str:
    with tempfile.NamedTemporaryFile("w", prefix="fieldrun-", suffix=".log", delete=False, encoding="utf-8") as file:
        file.writelines(traceback.format_exception(error))
    return file.name

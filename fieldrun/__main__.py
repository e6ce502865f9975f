"""Where `fieldrun` and `python -m fieldrun` begin: nothing is imported before an interruption would be caught."""

import contextlib
import os
import sys

FAULT, INTERRUPTED = 1, 130


def start() -> None:
    """Run the command line and leave with its exit code, whatever comes between, down to the last flush."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # products are small: a second thread only waits
    try:
        code = _code()
        for stream in filter(None, (sys.stdout, sys.stderr)):
            stream.flush()
    except KeyboardInterrupt:
        code = _told("interrupted; nothing half-written was left", INTERRUPTED)
    except BrokenPipeError:  # whoever read us has left
        code = FAULT
    except OSError as error:
        code = _told(f"what it says cannot be written: {error.strerror or error}", FAULT)
    _leave_quietly()
    sys.exit(code)


def _code() -> int | str | None:
    from fieldrun.cli import answer

    try:
        return answer()
    except SystemExit as leaving:
        return leaving.code


def _told(text: str, code: int) -> int:
    with contextlib.suppress(OSError, AttributeError):  # nowhere to say it
        sys.stderr.write(f"fieldrun: {text}\n")
        sys.stderr.flush()
    return code


def _leave_quietly() -> None:
    """What could not be written by now goes nowhere: Python would try once more on leaving, and show a traceback."""
    for stream in filter(None, (sys.stdout, sys.stderr)):
        try:
            stream.flush()
        except OSError:
            with contextlib.suppress(OSError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


if __name__ == "__main__":
    start()

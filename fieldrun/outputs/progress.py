"""A bar on the error stream while something takes seconds, on a terminal only."""

import contextlib
import itertools
import os
import sys
import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress


@contextlib.contextmanager
def steps_told(count: int, *, quiet: bool = False, after_s: float = 0.0) -> Iterator[Callable[[str], None]]:
    """Yield a function to call with the name of each of `count` steps before it starts.

    Nothing is shown where the error stream is no terminal, or if `quiet`, or before `after_s` seconds have passed; the
    bar vanishes when all is done.
    """
    if quiet or not sys.stderr.isatty():
        yield lambda _: None
        return
    progress = _bar()
    task, done = progress.add_task("", total=count), itertools.count()
    with _shown(progress, after_s):
        yield lambda name: progress.update(task, description=name, completed=next(done))


@contextlib.contextmanager
def points_told(*, quiet: bool = False, after_s: float = 2.0) -> Iterator[Callable[[int, int], None]]:
    """Yield a function to call with how many of how many points are done; shown as `steps_told`, with the time left."""
    if quiet or not sys.stderr.isatty():
        yield lambda _, __: None
        return
    progress = _bar(left=True)
    task = progress.add_task("points", total=0)
    with _shown(progress, after_s):
        yield lambda done, count: progress.update(task, completed=done, total=count)


def _bar(*, left: bool = False) -> "Progress":
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

    console = Console(stderr=True, color_system=None if os.environ.get("NO_COLOR") else "auto")
    columns = (BarColumn(), TextColumn("{task.completed:.0f} of {task.total:.0f}"), TimeElapsedColumn())
    remaining = (TextColumn("left"), TimeRemainingColumn()) if left else ()
    return Progress(TextColumn("{task.description}"), *columns, *remaining, console=console, transient=True)


@contextlib.contextmanager
def _shown(progress: "Progress", after_s: float) -> Iterator[None]:
    """Start a bar at once or after a while, and stop it, if it ever started, at the end."""
    late = threading.Timer(after_s, progress.start)
    late.daemon = True
    if after_s > 0:
        late.start()
    else:
        progress.start()
    try:
        yield
    finally:
        late.cancel()
        if late.ident is not None:
            late.join()  # a start under way must be over before the stop
        if progress.live.is_started:
            progress.stop()

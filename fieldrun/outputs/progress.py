"""A bar on the error stream while something takes seconds, on a terminal only."""

import contextlib
import itertools
import os
import sys
from collections.abc import Callable, Iterator


@contextlib.contextmanager
def steps_told(count: int, *, quiet: bool = False) -> Iterator[Callable[[str], None]]:
    """Yield a function to call with the name of each of `count` steps before it starts.

    Nothing is shown where the error stream is no terminal, or if `quiet`; the bar vanishes when all is done.
    """
    if quiet or not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True, color_system=None if os.environ.get("NO_COLOR") else "auto")
    columns = (BarColumn(), TextColumn("{task.completed:.0f} of {task.total:.0f}"), TimeElapsedColumn())
    with Progress(TextColumn("{task.description}"), *columns, console=console, transient=True) as progress:
        task, done = progress.add_task("", total=count), itertools.count()
        yield lambda name: progress.update(task, description=name, completed=next(done))

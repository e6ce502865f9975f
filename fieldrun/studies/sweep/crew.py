"""Who works: this process, processes beside it, or a cluster's; all do the same tasks and give the same numbers."""

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import chain, islice

from fieldrun.design.errors import FieldrunError
from fieldrun.studies.sweep.task import Order, Outcome, Task, solve_task

AHEAD = 4
"""Tasks handed out ahead for each worker: enough to keep it busy, few enough to stay small."""

TRIES = 3
"""A worker lost with the same task so often takes that task for the reason."""

WATCH_S = 1.0

Crew = Callable[[], "contextlib.AbstractContextManager[tuple[Executor, int]]"]
"""Gets workers together, and says how many they are; called again if they are lost."""


def processes_can_be_had() -> bool:
    """Whether processes may share locks here: without /dev/shm, or where it may not be written to, they may not."""
    try:
        multiprocessing.get_context("spawn").Lock()
    except OSError:
        return False
    return True


def local_crew(jobs: int) -> Crew:
    """Fresh processes of this program; each knows nothing but its tasks and keeps to one thread."""

    @contextlib.contextmanager
    def gathered() -> Iterator[tuple[Executor, int]]:
        others = multiprocessing.active_children()
        executor = ProcessPoolExecutor(
            jobs, multiprocessing.get_context("spawn"), initializer=_alone, initargs=(os.getpid(),)
        )
        done = False
        try:
            yield executor, jobs
            done = True
        finally:
            executor.shutdown(wait=done, cancel_futures=True)
            for process in [] if done else multiprocessing.active_children():
                if process not in others:
                    process.terminate()

    return gathered


def _alone(parent: int) -> None:
    """Leave Ctrl-C to the parent, and go if it is gone: killed, it cannot say so."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(WATCH_S)
    os._exit(1)


def worked_off(order: Order, tasks: Iterator[Task], crew: Crew) -> Iterator[Sequence[Outcome]]:
    """Have tasks done by a crew, in whatever order they come back; what a lost worker had is handed out again.

    Raises
    ------
    FieldrunError
        If workers are lost with the same tasks again and again.
    """
    numbered, tries = enumerate(tasks), Counter[int]()
    unanswered: dict[int, Task] = {}
    while True:
        try:
            with crew() as (executor, workers):
                yield from _handed_out(executor, order, numbered, unanswered, AHEAD * workers)
        except BrokenProcessPool:
            tries.update(list(unanswered))
        else:
            return
        if max(tries.values(), default=0) >= TRIES:
            raise FieldrunError("workers end before they answer; is there memory enough for so many? try --jobs 1")


def _handed_out(
    executor: Executor, order: Order, fresh: Iterator[tuple[int, Task]], unanswered: dict[int, Task], ahead: int
) -> Iterator[Sequence[Outcome]]:
    """Keep so many tasks with the executor; `unanswered` holds those that it has, and still has if it breaks."""
    waiting = chain(list(unanswered.items()), fresh)
    running: dict[Future[list[Outcome]], int] = {}
    while True:
        for number, task in islice(waiting, ahead - len(running)):
            unanswered[number] = task
            running[executor.submit(solve_task, order, task)] = number
        if not running:
            return
        done, _ = wait(running, return_when=FIRST_COMPLETED)
        for future in done:
            yield _result(future)
            unanswered.pop(running.pop(future))


def _result(future: Future[list[Outcome]]) -> list[Outcome]:
    """What a worker found; points that fail are among it, so that an error here is one of the workers themselves."""
    try:
        return future.result()
    except (FieldrunError, BrokenProcessPool):
        raise
    except Exception as error:
        what = f"{type(error).__name__}: {' '.join(str(error).split())[:200]}"
        text = f"the workers are gone or cannot work ({what}); what was found is kept, the same command goes on from it"
        raise FieldrunError(text) from error

"""Whoever works gives the same numbers; a worker that is lost loses nothing."""

import itertools
import multiprocessing
import os
import signal
import time
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager

import pytest

from fieldrun.design.errors import FieldrunError
from fieldrun.outputs.sweep_file import csv_text
from fieldrun.studies.sweep import crew, run
from fieldrun.studies.sweep.crew import TRIES, local_crew, processes_can_be_had, worked_off
from fieldrun.studies.sweep.points import resolve
from fieldrun.studies.sweep.run import run_sweep
from fieldrun.studies.sweep.task import solve_task

NEEDS_PROCESSES = pytest.mark.skipif(not processes_can_be_had(), reason="processes may not share locks here")


def test_where_processes_may_not_share_locks_it_is_known(monkeypatch):
    def refused():
        raise PermissionError(13, "Permission denied")

    context = multiprocessing.get_context("spawn")
    monkeypatch.setattr(context, "Lock", refused)
    monkeypatch.setattr(multiprocessing, "get_context", lambda _: context)
    assert not processes_can_be_had()


RANGES = ("magnets.thickness_mm=6,7,8", "wire.copper_mm=0.4,0.5")
LIGHT = ("emf.rms_v_per_krpm", "circuit.resistance_20c_ohm")


@pytest.fixture
def tasks(request_for):
    request = request_for(*RANGES, picks=LIGHT)
    points = resolve(request.template, request.plan, {})
    missing = frozenset(range(request.plan.count))
    return request.order, [task for family in points.families for task in points.tasks(family, missing)]


class Here:
    """An executor in this process that loses its workers at some tasks, so many times."""

    def __init__(self, losses):
        self.losses = losses

    def submit(self, function, order, task):
        future = Future()
        if self.losses and self.losses[0] == task.points[0][0]:
            self.losses.pop(0)
            future.set_exception(BrokenProcessPool("a worker is gone"))
        else:
            future.set_result(function(order, task))
        return future


def gathered(executor):
    @contextmanager
    def gather():
        yield executor, 1

    return gather


def every(parts):
    return sorted((outcome for part in parts for outcome in part), key=lambda outcome: outcome.index)


def test_a_task_is_text_and_numbers_and_gives_outcomes(tasks):
    order, (first, *_) = tasks
    assert [outcome.index for outcome in solve_task(order, first)] == [0, 1]
    assert isinstance(order.text, str)


@pytest.mark.parametrize("losses", [[], [0], [2, 4], [4, 4]])
def test_what_a_lost_worker_had_is_done_again(tasks, losses):
    order, todo = tasks
    found = every(worked_off(order, iter(todo), gathered(Here(losses))))
    assert found == every([solve_task(order, task) for task in todo])


def test_a_task_that_loses_every_worker_ends_it(tasks):
    order, todo = tasks
    with pytest.raises(FieldrunError, match="workers end before they answer"):
        list(worked_off(order, iter(todo), gathered(Here([2] * TRIES))))


def test_a_scheduler_that_goes_is_told_in_our_words(tasks):
    order, todo = tasks

    class Gone(Here):
        def submit(self, *_):
            future = Future()
            future.set_exception(RuntimeError("comm\nclosed"))
            return future

    with pytest.raises(FieldrunError) as caught:
        list(worked_off(order, iter(todo), gathered(Gone([]))))
    assert str(caught.value) == (
        "the workers are gone or cannot work (RuntimeError: comm closed); what was found is kept, the same command "
        "goes on from it"
    )


def test_tasks_are_made_only_as_they_are_handed_out(tasks, monkeypatch):
    order, todo = tasks
    monkeypatch.setattr(crew, "AHEAD", 1)
    made = []
    source = (made.append(task) or task for task in todo)
    parts = worked_off(order, source, gathered(Here([])))
    next(parts)
    assert len(made) == 1
    parts.close()


def test_processes_pay_only_for_work(request_for, tmp_path, monkeypatch):
    monkeypatch.setattr(run, "local_crew", lambda _: pytest.fail("a second of work is not worth a process"))
    sweep = run_sweep(request_for(*RANGES, picks=LIGHT), tmp_path / "j.jsonl", jobs=2)
    assert len(sweep.of_status("ok")) == 6


@pytest.mark.parametrize(
    ("spent", "done", "left", "pays"),
    [(0.5, 1, 10_000, False), (2.0, 20, 100, False), (2.0, 20, 300, True), (30.0, 300, 10, False)],
)
def test_when_processes_pay(spent, done, left, pays):
    assert run._pays(spent, done, left) is pays


@NEEDS_PROCESSES
@pytest.mark.slow
def test_two_processes_give_the_same_bytes(request_for, tmp_path, monkeypatch):
    request = request_for(*RANGES, picks=LIGHT)
    alone = csv_text(run_sweep(request, tmp_path / "alone.jsonl"))
    monkeypatch.setattr(run, "_pays", lambda *_: True)
    assert csv_text(run_sweep(request, tmp_path / "two.jsonl", jobs=2)) == alone


@NEEDS_PROCESSES
@pytest.mark.slow
def test_a_process_that_is_killed_loses_nothing(tasks):
    order, todo = tasks
    killed = []

    @contextmanager
    def shot():
        with local_crew(1)() as (executor, workers):
            if not killed:
                killed.append(executor.submit(os.getpid).result())
                os.kill(killed[0], signal.SIGKILL)
            yield executor, workers

    assert every(worked_off(order, iter(todo), shot)) == every([solve_task(order, task) for task in todo])
    assert killed


@pytest.mark.slow
def test_a_process_whose_parent_is_gone_goes_too():
    """A parent that was killed cannot say so: here it never was."""
    orphan = multiprocessing.get_context("spawn").Process(target=crew._watch, args=(-1,))
    orphan.start()
    orphan.join(60)
    assert orphan.exitcode == 1


@NEEDS_PROCESSES
@pytest.mark.slow
def test_a_crew_that_is_left_early_leaves_nobody_behind(tasks):
    order, todo = tasks
    parts = worked_off(order, itertools.cycle(todo), local_crew(2))
    next(parts)
    assert len(multiprocessing.active_children()) == 2
    parts.close()
    for _ in range(600):
        if not multiprocessing.active_children():
            break
        time.sleep(0.1)
    assert multiprocessing.active_children() == []

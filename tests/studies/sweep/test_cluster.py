"""A cluster of other people's making: missing, strange, or losing workers."""

import gc
import importlib.util
import multiprocessing
import socket
import sys

import pytest

from fieldrun.design.errors import FieldrunError, MissingError
from fieldrun.outputs.sweep_file import csv_text
from fieldrun.studies.sweep.cluster import cluster_crew, compared, versions
from fieldrun.studies.sweep.crew import processes_can_be_had
from fieldrun.studies.sweep.run import run_sweep

LIGHT = ("emf.rms_v_per_krpm", "circuit.resistance_20c_ohm")
needs_dask = pytest.mark.skipif(importlib.util.find_spec("distributed") is None, reason="distributed is not installed")


def gather(address):
    with cluster_crew(address, pytest.fail)():
        pytest.fail("nobody was there")


def test_without_the_package_the_line_that_installs_it_is_told(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MissingError) as caught:
        gather("tcp://127.0.0.1:8786")
    told = "--cluster needs dask.distributed, which is not installed: pip install 'fieldrun[cluster]'"
    assert (str(caught.value), caught.value.exit_code) == (told, 4)


@needs_dask
@pytest.mark.parametrize("address", ["nonsense://x", "hut", "tcp://127.0.0.1:{free}"])
def test_a_scheduler_that_does_not_answer(address, monkeypatch):
    from fieldrun.studies.sweep import cluster

    monkeypatch.setattr(cluster, "ANSWERS_WITHIN_S", 0.5)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        asked = address.format(free=free.getsockname()[1])
        with pytest.raises(MissingError) as caught:
            gather(asked)
    assert str(caught.value).startswith(f"no scheduler answers at {asked} (")
    assert str(caught.value).endswith("; start one: dask scheduler, then dask worker ADDRESS")
    gc.collect()  # a client that is half made would say so here


def test_workers_like_us_are_welcome():
    assert compared({"a": versions(), "b": versions()}, pytest.fail) == 2


def test_workers_with_another_fieldrun_are_refused():
    with pytest.raises(FieldrunError) as caught:
        compared({"tcp://a": versions() | {"fieldrun": "0.0.1"}, "tcp://b": versions()}, pytest.fail)
    ours = versions()["fieldrun"]
    told = f"the worker at tcp://a has fieldrun 0.0.1, this is {ours}; install the same on all (1 of 2 workers differ)"
    assert str(caught.value) == told


def test_another_numpy_is_told_and_works():
    told = []
    assert compared({"a": versions() | {"numpy": "1.0"}, "b": versions()}, told.append) == 2
    assert told == [f"workers have numpy 1.0, this is {versions()['numpy']}: last digits may differ"]


def serve(pipe):
    """A scheduler and two workers in processes of their own; one worker is killed when told to."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        pipe.send((cluster.scheduler_address, [worker.pid for worker in cluster.workers.values()]))
        pipe.recv()


@pytest.fixture
def cluster():
    """Address of a scheduler, and the process numbers of its workers."""
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    process = multiprocessing.get_context("spawn").Process(target=serve, args=(theirs,))
    process.start()
    theirs.close()  # else a child that dies would be waited for, for ever
    yield ours.recv()
    ours.send(None)
    process.join(20)
    process.kill()


@needs_dask
@pytest.mark.skipif(not processes_can_be_had(), reason="a cluster's processes share locks, which they may not here")
@pytest.mark.slow
def test_a_cluster_that_loses_a_worker_finishes_with_the_same_bytes(request_for, tmp_path, cluster):
    import os
    import signal

    address, workers = cluster
    request = request_for("magnets.thickness_mm=5:8:7", "wire.copper_mm=0.4,0.5", picks=LIGHT)
    alone = csv_text(run_sweep(request, tmp_path / "alone.jsonl"))
    told = []

    def tell(done, count):
        told.append(done)
        if len(told) == 4:
            os.kill(workers[0], signal.SIGKILL)

    crew = cluster_crew(address, pytest.fail)
    assert csv_text(run_sweep(request, tmp_path / "many.jsonl", cluster=crew, tell=tell)) == alone
    assert told[-1] == 14

"""Fair timing: jobs taken in turn in one process on one thread, medians of processor and wall time."""

import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

Job = Callable[[], object]


@dataclass(frozen=True)
class Cost:
    """Median seconds of a job."""

    processor: float
    wall: float


def both_costs_of(jobs: Mapping[str, Job], repeats: int) -> dict[str, Cost]:
    """Median times of each job; jobs in turn, so that what disturbs one disturbs all."""
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in jobs}
    for _ in range(repeats):
        for name, job in jobs.items():
            wall, processor = time.perf_counter(), time.process_time()
            job()
            taken[name].append((time.process_time() - processor, time.perf_counter() - wall))
    return {name: Cost(*(statistics.median(one) for one in zip(*rows, strict=True))) for name, rows in taken.items()}


def costs_of(jobs: Mapping[str, Job], repeats: int) -> dict[str, float]:
    """Median processor time alone of each job [s]."""
    return {name: cost.processor for name, cost in both_costs_of(jobs, repeats).items()}


def exponent(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """Growth: cost ~ size ** exponent, by least squares of the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(costs), 1)[0])

"""Fair timing: jobs taken in turn in one process on one thread, medians of processor time."""

import statistics
import time
from collections.abc import Callable, Mapping, Sequence

import numpy as np

Job = Callable[[], object]


def costs_of(jobs: Mapping[str, Job], repeats: int) -> dict[str, float]:
    """Median processor time of each job [s]; jobs in turn, so that what disturbs one disturbs all."""
    taken: dict[str, list[float]] = {name: [] for name in jobs}
    for _ in range(repeats):
        for name, job in jobs.items():
            start = time.process_time()
            job()
            taken[name].append(time.process_time() - start)
    return {name: statistics.median(times) for name, times in taken.items()}


def exponent(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """Growth: cost ~ size ** exponent, by least squares of the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(costs), 1)[0])

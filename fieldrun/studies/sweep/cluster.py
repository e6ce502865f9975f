"""A cluster of other people's making: workers of dask.distributed that know the same fieldrun."""

import contextlib
import logging
import platform
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor
from typing import Any

import numpy as np
import scipy

from fieldrun import __version__
from fieldrun.design.errors import FieldrunError, MissingError
from fieldrun.studies.sweep.crew import Crew

ANSWERS_WITHIN_S = 10

RETRIES = 3
"""A task whose worker is lost goes to another so often."""

Tell = Callable[[str], None]


def versions() -> dict[str, str]:
    """What numbers may depend on, as it is where this is called."""
    python = ".".join(platform.python_version_tuple()[:2])
    return {"fieldrun": __version__, "numpy": np.__version__, "scipy": scipy.__version__, "python": python}


def cluster_crew(address: str, warn: Tell) -> Crew:
    """Workers of the scheduler at an address such as tcp://10.0.0.1:8786.

    Parameters
    ----------
    address : of the scheduler
    warn : told what differs on the workers, and may change last digits

    Raises
    ------
    MissingError
        If the package, the scheduler or its workers are not there; when the crew is gathered.
    FieldrunError
        If workers have another fieldrun.
    """

    @contextlib.contextmanager
    def gathered() -> Iterator[tuple[Executor, int]]:
        client = _client(address)
        try:
            workers = compared(_asked(client, address), warn)
            yield client.get_executor(pure=False, retries=RETRIES), workers
        finally:
            client.close()

    return gathered


def _client(address: str) -> Any:
    try:
        from distributed import Client
        from distributed.comm.addressing import get_address_host_port
    except ImportError:
        text = "--cluster needs dask.distributed, which is not installed: pip install 'fieldrun[cluster]'"
        raise MissingError(text) from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what it says of lost workers we say ourselves
    try:
        get_address_host_port(address)  # a client that fails of this is half made, and says so once more when it goes
        return Client(address, timeout=ANSWERS_WITHIN_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        text = (
            f"no scheduler answers at {address} ({_short(error)}); start one: dask scheduler, then dask worker ADDRESS"
        )
        raise MissingError(text) from None


def _asked(client: Any, address: str) -> Mapping[str, Mapping[str, str]]:
    try:
        told: Mapping[str, Mapping[str, str]] = client.run(versions)
    except ImportError as error:
        text = f"the workers of {address} cannot import fieldrun ({error}); install it there: pip install fieldrun"
        raise MissingError(text) from None
    except Exception as error:
        raise MissingError(f"the workers of {address} do not answer ({_short(error)})") from error
    if not told:
        raise MissingError(f"{address} has no workers yet; start some: dask worker {address} --nthreads 1")
    return told


def _short(error: BaseException) -> str:
    return (str(error) or type(error).__name__).splitlines()[0]


def compared(told: Mapping[str, Mapping[str, str]], warn: Tell) -> int:
    """Hold the versions of workers, by address, against ours; how many workers there are.

    Raises
    ------
    FieldrunError
        If one has another fieldrun: its numbers would be others.
    """
    ours = versions()
    other = {address: their for address, their in told.items() if their.get("fieldrun") != ours["fieldrun"]}
    if other:
        address, their = next(iter(other.items()))
        text = f"the worker at {address} has fieldrun {their.get('fieldrun')}, this is {ours['fieldrun']}"
        raise FieldrunError(f"{text}; install the same on all ({len(other)} of {len(told)} workers differ)")
    for name in ("numpy", "scipy", "python"):
        if different := sorted({their[name] for their in told.values()} - {ours[name]}):
            warn(f"workers have {name} {', '.join(different)}, this is {ours[name]}: last digits may differ")
    return len(told)

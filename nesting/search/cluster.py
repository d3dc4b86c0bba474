"""A Dask cluster as the executor that errands are handed to; the only home of `distributed`."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from nesting import __version__
from nesting.errors import Fault, JobError

CONNECT_SECONDS = 10
PROBE_SECONDS = 60
"""A worker may have to import everything before it can say its version."""


def _version_there() -> str:
    """Return the version of this program on a worker."""
    import nesting.search.rounds  # noqa: F401  so that the first errand need not wait for it
    from nesting import __version__ as version

    return version


@contextmanager
def cluster_executor(address: str) -> Iterator[Executor]:
    """Yield an executor of the Dask cluster whose scheduler is at `address`, such as tcp://10.0.0.5:8786.

    Its workers need the same version of this program. What they run when the search is stopped is dropped.

    Raises
    ------
    JobError
        If `distributed` is not installed, no scheduler or worker answers, or the workers cannot run this program.
    """
    client = _connected(address)
    try:
        executor: Executor = client.get_executor(pure=False)
        _see_that_it_works(client, executor, address)
        yield executor
    finally:
        client.close(timeout=CONNECT_SECONDS)


def _connected(address: str) -> Any:
    """Return a client of the scheduler."""
    try:
        from distributed import Client
    except ImportError:
        hint = "pip install 'rollwright[cluster]'"
        raise _refused("no-cluster-package", "a cluster needs the package distributed", hint) from None
    try:
        with ThreadPoolExecutor(1) as thread:  # whoever calls may have an event loop of their own
            # A client that finds nobody would linger on and complain at the end.
            thread.submit(asyncio.run, _knocked(address)).result()
        return Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, RuntimeError) as error:  # no answer, or an address that is none
        what = f"no scheduler answers at {address}: {' '.join(str(error).split()) or type(error).__name__}"
        hint = "start `dask scheduler`, and `dask worker ADDRESS` where the work is to be done; give tcp://HOST:PORT"
        raise _refused("cluster-unreachable", what, hint) from None


async def _knocked(address: str) -> None:
    """See whether anybody answers at an address."""
    from distributed import Security
    from distributed.comm import connect

    comm = await connect(address, timeout=CONNECT_SECONDS, **Security().get_connection_args("client"))
    await comm.close()


def _see_that_it_works(client: Any, executor: Executor, address: str) -> None:
    """Refuse a cluster without workers, or whose workers have another version of this program or none."""
    try:
        client.wait_for_workers(1, timeout=CONNECT_SECONDS)
    except TimeoutError:
        hint = f"start `dask worker {address}` where the work is to be done"
        raise _refused("cluster-without-workers", f"the scheduler at {address} has no workers", hint) from None
    hint = f"install rollwright {__version__} where the workers run"
    try:
        there = executor.submit(_version_there).result(timeout=PROBE_SECONDS)
    except Exception as error:
        what = f"the workers of {address} cannot run the search: {type(error).__name__}: {error}"
        raise _refused("cluster-unable", what, hint) from None
    if there != __version__:
        raise _refused("cluster-version", f"the workers of {address} have rollwright {there}, not {__version__}", hint)


def _refused(code: str, what: str, hint: str) -> JobError:
    return JobError([Fault(code=code, what=what, hint=hint)])

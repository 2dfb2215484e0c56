"""The machines of a running Dask cluster as workers."""

from __future__ import annotations

import time
from typing import Any

from scalesim.errors import LibraryError, ParameterError, WorkerError
from scalesim.jobs.compare.study.spread import Workers
from scalesim.texts import echoed

_PATIENCE_S = 10
"""Seconds to wait for a scheduler to answer, and for one that went away to come back."""


def cluster(address: str) -> Workers:
    """Return the workers of a Dask scheduler.

    A task whose machine is lost is given to another by the scheduler; the rows are kept here alone.

    Parameters:  address : such as "tcp://10.0.0.5:8786"
    Raises: LibraryError without dask.distributed; ParameterError for what is no address; WorkerError when
        nobody answers there, or has no workers
    """
    if "://" not in address:
        raise ParameterError(f"scheduler is {echoed(address)}; write its address as tcp://HOST:PORT")
    try:
        from distributed import Client
    except ImportError:
        raise LibraryError(
            "--scheduler needs dask.distributed: pip install 'scalesim-bench[cluster]', on every machine"
        ) from None
    _quiet()
    try:
        client = Client(address, timeout=_PATIENCE_S, set_as_default=False)
        count = sum(client.nthreads().values())
    except Exception as error:  # what an address does wrong is told in many kinds of error
        raise WorkerError(f"scheduler {echoed(address)}: does not answer ({_reason(error)})") from None
    if not count:
        client.close()
        raise WorkerError(f"scheduler {echoed(address)}: has no workers; start some (dask worker {address})")
    executor = client.get_executor(pure=False)
    watch = _Watch(client)
    return Workers(lambda: executor, count, watch.alive, own=False, named=f"the scheduler {echoed(address)}")


class _Watch:
    """Whether a scheduler is there: gone for longer than one waits is gone."""

    def __init__(self, client: Any) -> None:
        self._client, self._seen = client, time.monotonic()

    def alive(self) -> bool:
        """Return whether it was there a while ago."""
        now = time.monotonic()
        if self._client.status == "running":
            self._seen = now
        return self._client.status != "closed" and now - self._seen < _PATIENCE_S


def _quiet() -> None:
    """Keep its own words off the terminal: what matters is told in one line."""
    import logging

    for name in ("distributed", "tornado"):
        logging.getLogger(name).setLevel(logging.CRITICAL)


def _reason(error: Exception) -> str:
    return " ".join(str(error).split())[:120] or type(error).__name__

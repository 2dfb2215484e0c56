"""Tasks spread over workers: processes, threads, a cluster; each result once, in the order they come."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, CancelledError, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool, ProcessPoolExecutor
from dataclasses import dataclass
from itertools import islice
from typing import Any

from scalesim.errors import ScalesimError, WorkerError
from scalesim.jobs.compare.study.work import Done, Work, do, each

AHEAD = 2
"""Tasks that are under way for each worker: one is done, the next is there already."""

MOST_DEATHS = 3
"""So often a task may lose its worker before it is given up: something in it ends them."""

_LOOK_S = 2.0
"""How often is looked whether those who work are still there."""


@dataclass
class Workers:
    """Who does the tasks.

    Parameters:
        make : gives the executor; called anew when a process of it died. count : of its workers
        alive : tells whether whoever is behind it is still there
        own : whether it is closed at the end; named : for messages
    """

    make: Callable[[], Executor]
    count: int
    alive: Callable[[], bool] = lambda: True
    own: bool = True
    named: str = "the workers"


def processes(count: int) -> Workers:
    """Return so many processes of this machine, each begun anew: alike on every system."""
    from multiprocessing import get_context

    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):  # of processes that begin from now on
        os.environ.setdefault(name, "1")

    def make() -> Executor:
        return ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_begin_worker)

    return Workers(make, count, named="a process")


def given(executor: Executor, count: int | None = None) -> Workers:
    """Return an executor of the user's, which stays open."""
    known = count or getattr(executor, "_max_workers", None) or os.cpu_count() or 1
    return Workers(lambda: executor, int(known), own=False, named=f"the executor ({type(executor).__name__})")


def spread(works: Iterable[Work], workers: Workers | None) -> Iterator[Done]:
    """Yield what every task gave; with no workers they are done here, and given frame by frame.

    A task whose worker died is given to another. Nothing is held back: results come as they are ready.

    Raises: WorkerError when those who work are gone, or a task ends them again and again
    """
    if workers is None:
        for work in works:
            yield from each(work)
        return
    yield from _Spreading(workers).over(iter(works))


class _Spreading:
    def __init__(self, workers: Workers) -> None:
        self._workers = workers
        self._executor = workers.make()
        self._under_way: dict[Future[Done], tuple[Work, int]] = {}

    def over(self, works: Iterator[Work]) -> Iterator[Done]:
        room = AHEAD * self._workers.count
        try:
            for work in islice(works, room):
                self._submit(work)
            while self._under_way:
                for future in self._ready():
                    done = self._result(future)
                    if done is None:
                        break  # all that was under way was submitted anew
                    for work in islice(works, max(0, room - len(self._under_way))):
                        self._submit(work)
                    yield done
        finally:
            self._close()

    def _ready(self) -> list[Future[Done]]:
        while True:
            done, _ = wait(self._under_way, timeout=_LOOK_S, return_when=FIRST_COMPLETED)
            if done:
                return list(done)
            if not self._workers.alive():
                raise self._gone("it does not answer")

    def _result(self, future: Future[Done]) -> Done | None:
        """Return what a task gave, None where its worker died and everything under way begins anew."""
        try:
            done = future.result()
        except BrokenProcessPool:
            self._anew()
            return None
        except ScalesimError:
            raise
        except (CancelledError, OSError, RuntimeError) as error:
            raise self._gone(str(error) or type(error).__name__) from None
        except Exception as error:
            # what a foreign executor raises when it cannot send a task, or its workers die, is of any kind
            raise self._gone(f"{type(error).__name__}: {error}") from None
        self._under_way.pop(future)
        return done

    def _submit(self, work: Work, deaths: int = 0) -> None:
        try:
            self._under_way[self._executor.submit(do, work)] = work, deaths
        except BrokenProcessPool:
            self._anew()
            self._submit(work, deaths)
        except RuntimeError as error:
            raise self._gone(str(error)) from None

    def _anew(self) -> None:
        """Begin with new processes: which task ended one cannot be told, so all that were there count."""
        if not self._workers.own:
            raise self._gone("one of its processes ended")
        left = [task for future, task in self._under_way.items() if not _has_result(future)]
        if any(deaths >= MOST_DEATHS for _, deaths in left):
            raise WorkerError(
                f"{self._workers.named} ended {MOST_DEATHS + 1} times while it measured, perhaps for want "
                "of memory; the rows so far are kept: try fewer workers, and --resume (a script that begins "
                "processes needs its work under if __name__ == '__main__')"
            )
        kept = {future: task for future, task in self._under_way.items() if _has_result(future)}
        self._close()
        self._executor, self._under_way = self._workers.make(), kept
        for work, deaths in left:
            self._submit(work, deaths + 1)

    def _gone(self, why: str) -> WorkerError:
        reason = " ".join(why.split())[:200]
        return WorkerError(
            f"{self._workers.named}: is gone ({reason}); the rows so far are kept, go on with --resume"
        )

    def _close(self) -> None:
        for future in self._under_way:
            future.cancel()
        if self._workers.own:
            self._executor.shutdown(wait=False, cancel_futures=True)


def _has_result(future: Future[Any]) -> bool:
    return future.done() and not future.cancelled() and future.exception() is None


def _begin_worker() -> None:
    """Leave signals to the process that began this one, and end with it however it ends."""
    import signal
    import threading
    from multiprocessing import parent_process

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    sys.excepthook = lambda *_: None

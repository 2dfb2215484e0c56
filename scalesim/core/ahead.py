"""Work done ahead: the next items of a stream are made in a thread while the one before is used."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")


def ahead(items: Iterable[T], many: int = 2) -> Iterator[T]:
    """Yield the items in order; at most so many wait, made in a thread of their own.

    What making an item raises is raised in its place. Who stops early waits for the item that is being made.
    """
    source, end = iter(items), object()

    def make() -> object:
        return next(source, end)

    maker = ThreadPoolExecutor(1, thread_name_prefix="ahead")
    try:
        waiting = deque(maker.submit(make) for _ in range(many))
        while (item := waiting.popleft().result()) is not end:
            waiting.append(maker.submit(make))
            yield item  # type: ignore[misc]
    finally:
        maker.shutdown(cancel_futures=True)

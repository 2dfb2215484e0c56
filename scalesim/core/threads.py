"""The threads that share the work on one picture; NumPy lets go of Python's lock while it computes."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TypeVar

T = TypeVar("T")
_THREADS = 2


def for_each(work: Callable[[T], object], parts: Iterable[T]) -> None:
    """Do the work on every part of a picture; work that calls `for_each` itself would wait for ever."""
    for _ in _pool().map(work, parts):
        pass


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(_THREADS, thread_name_prefix="picture")


if hasattr(os, "register_at_fork"):
    # a forked process has the pool but none of its threads, and would wait for them for ever
    os.register_at_fork(after_in_child=_pool.cache_clear)

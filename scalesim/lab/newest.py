"""Which request of a tab counts: the newest; older ones are told that they are stale."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any

from scalesim.errors import ParameterError
from scalesim.texts import echoed

MOST_TABS = 64


class Newest:
    """The newest request of every tab and task; safe to use from several threads."""

    def __init__(self) -> None:
        self._newest: OrderedDict[tuple[str, str], int] = OrderedDict()
        self._lock = threading.Lock()

    def begin(self, task: str, tab: Any, number: Any) -> Callable[[], bool]:
        """Take up a request; return what tells whether a newer one of its tab and task has come since.

        Raises: ParameterError for a tab that is no short text or a number that is none
        """
        if not isinstance(tab, str) or not 0 < len(tab) <= 64:
            raise ParameterError(f"tab is {echoed(repr(tab))}; it must be a short text")
        if not isinstance(number, int) or isinstance(number, bool):
            raise ParameterError(f"seq is {echoed(repr(number))}; it must be a whole number")
        key = task, tab
        with self._lock:
            self._newest[key] = max(number, self._newest.get(key, number))
            self._newest.move_to_end(key)
            while len(self._newest) > MOST_TABS:
                self._newest.popitem(last=False)
        return lambda: self._newest.get(key, number) > number

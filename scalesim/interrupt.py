"""What Ctrl-C and a request to end (SIGTERM) do to a command: one line, and nothing half-written.

Before anything is on disk the process ends at once. Later `Interrupted` is raised, so that what was begun
is removed; steps that must not be cut in two are `shielded`. Only Python's standard library is imported
here, and little of it: this is loaded before everything else.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
"""Signals that ask a command to end, as far as the system has them (SIGHUP: POSIX; SIGBREAK: Windows)."""

PATIENCE_S = 5.0
"""A second signal is not heard for so long, as the first one's tidying is under way."""

AGAIN_S = 2.0
"""An interruption that was lost is raised again after so long."""

NOTHING = "nothing was written"


class Interrupted(BaseException):
    """A signal asked for the end; `code` is the exit code: 130 for Ctrl-C, 143 for SIGTERM."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.code = _code(number)


_heard: dict[str, Any] = {"at": None, "on disk": False, "ending": False, "heeded": False, "stands": NOTHING}


def install() -> None:
    """Answer signals as said above; what was told to be ignored (`nohup`, a shell's `&`) stays ignored."""
    for number in _numbers():
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _answer)


def from_now_on_disk() -> None:
    """Raise `Interrupted` from now on instead of ending at once: there is something to remove."""
    _heard["on disk"] = True


def was_heard() -> bool:
    """Return whether a signal has been answered, whatever error it became on its way up."""
    return _heard["at"] is not None


def code_heard(otherwise: int) -> int:
    """Return the exit code of the signal that was answered: 130 for Ctrl-C, 143 for SIGTERM."""
    return _code(_heard["number"]) if was_heard() else otherwise


def stands(where: str = NOTHING) -> None:
    """Take note of what is on disk now, for the line that an interruption shows."""
    _heard["stands"] = where


def words() -> str:
    """Return the one line of an interruption: how things stand on disk."""
    return f"interrupted; {_heard['stands']}"


def heed() -> None:
    """Take note that the tidying of an interruption has begun: nothing raises it again."""
    _heard["heeded"] = was_heard()
    if sys.platform != "win32" and was_heard():
        # Python takes its handlers back before a process is over: the alarm would kill it
        signal.setitimer(signal.ITIMER_REAL, 0)


def no_more() -> None:
    """Ignore further signals: all that is left to do is to say how it went."""
    heed()
    for number in _numbers():
        if signal.getsignal(number) is _answer:
            signal.signal(number, signal.SIG_IGN)


@contextmanager
def shielded() -> Iterator[None]:
    """Hold signals back until the end of a step that must be done whole; then they are answered as before."""
    if threading.current_thread() is not threading.main_thread():
        yield  # signals are answered in the main thread only
        return
    held: list[int] = []
    before: dict[int, Any] = {}
    try:
        for number in _numbers():
            if signal.getsignal(number) not in (None, signal.SIG_IGN):
                before[number] = signal.signal(number, lambda heard, _: held.append(heard))
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for number in dict.fromkeys(held):
            signal.raise_signal(number)


def _numbers() -> list[int]:
    return [int(getattr(signal, name)) for name in NAMES if hasattr(signal, name)]


def _code(number: int) -> int:
    # Ctrl-Break is the same wish as Ctrl-C; its number follows no convention of exit codes
    return 130 if number == getattr(signal, "SIGBREAK", None) else 128 + number


def _answer(number: int, _: FrameType | None) -> None:
    if not _heard["on disk"]:
        if _heard["ending"]:
            return  # a second signal between the line and the end
        _heard["ending"] = True
        os.write(2, f"scalesim: {words()}\n".encode())
        os._exit(_code(number))
    now = time.monotonic()
    if _heard["at"] is not None and now - _heard["at"] < PATIENCE_S:
        return
    _heard["at"] = now
    _heard["number"] = number
    sys.excepthook = sys.unraisablehook = _quiet  # libraries in C print what stops their imports
    _keep_asking()
    raise Interrupted(number)


def _raise_again(_: int, __: FrameType | None) -> None:
    """Raise once more what some library swallowed: C code may drop any error on its way up."""
    if not _heard["heeded"]:
        raise Interrupted(_heard["number"])


def _keep_asking() -> None:
    """Have the interruption raised again and again until it is heeded, where the system has such a clock."""
    if sys.platform != "win32":  # it has none
        signal.signal(signal.SIGALRM, _raise_again)
        signal.setitimer(signal.ITIMER_REAL, AGAIN_S, AGAIN_S)


def _quiet(*_: Any) -> None:
    """Show nothing of errors that nobody handles: the interruption is told in its one line."""

"""Loops over a frame, compiled where Numba is installed; who asks for them does without where it is not.

Compiling takes seconds once on a machine, and finding what was compiled half a second in every process:
worth it for many frames only. So they are there while somebody measures a clip (`wanted`), and no process
loads Numba for one picture. Values differ in the last digits, so nobody else is given them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from threading import Lock
from types import ModuleType, SimpleNamespace
from typing import Any

from scalesim.core import loops as of_pictures


class Loops(SimpleNamespace):
    """The functions of a module of loops, such as `scalesim.core.loops`, by their names."""


_wanting = 0
"""How many tasks of this process want them: a cluster runs several in its threads."""
_counting = Lock()


@contextmanager
def wanted(many: bool) -> Iterator[None]:
    """Have compiled loops in this process meanwhile, if `many` frames are measured."""
    global _wanting
    with _counting:
        _wanting += many
    try:
        yield
    finally:
        with _counting:
            _wanting -= many


def compiled(module: ModuleType = of_pictures) -> Loops | None:
    """Return the loops of a module compiled where they are wanted and there is a compiler, else None.

    Parameters:  module : holds them; in `FREE` what a compiler may do to the sums of each, and in `WITHIN`
        what they call
    """
    return _found(module) if _wanting else None


@cache
def _found(module: ModuleType) -> Loops | None:
    try:
        from numba.extending import register_jitable
    except ImportError:  # not installed, or not for this Python or NumPy
        return None
    for helper in module.WITHIN:
        register_jitable(helper)
    return Loops(**{name: _compiled(getattr(module, name), free) for name, free in module.FREE.items()})


def _compiled(loop: Callable[..., None], free: set[str] | bool) -> Any:
    """Return a loop compiled, see `loops.FREE`."""
    from numba import njit

    options: dict[str, Any] = {"fastmath": free, "nogil": True, "error_model": "numpy"}
    try:
        return njit(cache=True, **options)(loop)
    except RuntimeError:  # nowhere to keep it: every process compiles its own
        return njit(**options)(loop)

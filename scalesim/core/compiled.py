"""Loops over a frame, compiled where Numba is installed; who asks for them does without where it is not.

Compiling takes seconds once on a machine, and finding what was compiled half a second in every process:
worth it for many frames only. So they are wanted first, by who measures a clip (`want`), and no process loads
Numba for one picture.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from scalesim.core import loops


@dataclass(frozen=True)
class Loops:
    """The functions of `scalesim.core.loops` by their names."""

    mix: Callable[..., None]
    means: Callable[..., None]
    luminance: Callable[..., None]
    apart: Callable[..., None]


_wanted = False


def want(many: bool) -> None:
    """Ask for compiled loops in this process from now on, as many frames are to come, or for none of them."""
    global _wanted
    _wanted = many


def compiled() -> Loops | None:
    """Return the compiled loops where they are wanted and there is a compiler, else None."""
    return _found() if _wanted else None


@cache
def _found() -> Loops | None:
    try:
        from numba.extending import register_jitable
    except ImportError:  # not installed, or not for this Python or NumPy
        return None
    for helper in (loops.upsample, loops.light):
        register_jitable(helper)
    return Loops(**{name: _compiled(getattr(loops, name), free) for name, free in loops.FREE.items()})


def _compiled(loop: Callable[..., None], free: set[str] | bool) -> Any:
    """Return a loop compiled, see `loops.FREE`."""
    from numba import njit

    options: dict[str, Any] = {"fastmath": free, "nogil": True, "error_model": "numpy"}
    try:
        return njit(cache=True, **options)(loop)
    except RuntimeError:  # nowhere to keep it: every process compiles its own
        return njit(**options)(loop)

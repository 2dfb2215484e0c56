"""The dictionary: every way of making lines that has a name, as the operator it is.

A method is a base (drop, average, resample with a kernel, a window of N whole lines) that goes straight
to the output lines, or to twice as many, of which neighbours are then weighed by `taps` and every
second is kept: that is a reduction in two boxes, and it is also one field of an interlaced picture
after a flicker filter. The matrices are those of `core.build`, the ones `predict` applies.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.build import average_lines, resample_lines
from scalesim.core.operator import matrix_from_taps

if TYPE_CHECKING:
    from scipy.sparse import csr_array

PAIR = (1.0, 1.0)
"""Taps of a pair of lines, 2r and 2r + 1: the only even list."""
HELD_TAPS = (-1.0, 2.0, 6.0, 2.0, -1.0)
"""Taps that sharpen while they filter; some boxes hold their result between a line and its neighbours."""
TAPS: tuple[tuple[float, ...], ...] = (
    (1.0,),
    PAIR,
    (1.0, 2.0, 1.0),
    (1.0, 6.0, 1.0),
    (1.0, 1.0, 1.0),
    HELD_TAPS,
    (1.0, 2.0, 2.0, 2.0, 1.0),
)
_REACH = 2
"""Lines to either side that the longest taps reach."""


@dataclass(frozen=True)
class Base:
    """What makes lines of source lines; `kind` is a stage's, or others have none.

    "keys" is a cubic convolution with its own `sharpness`, "window" the mean of whole lines, "point-box"
    the mean of the lines whose middles lie in the span.

    `steady` is False where the weights jump when the phase moves, because whole lines are chosen.
    """

    kind: str
    kernel: str = ""
    antialias: bool = True
    window: int = 0
    sharpness: float = 0.0

    @property
    def steady(self) -> bool:
        """True when the weights change smoothly with the phase."""
        return not self.kind.startswith(("line-drop", "window", "point-box"))

    def matrix(self, lines_in: int, lines_out: int, step: float, phase: float) -> csr_array:
        """Return the (lines_out, lines_in) operator; edges replicate."""
        if self.kind == "line-average":
            return average_lines(lines_in, lines_out, step, phase)
        if self.kind == "resample":
            return resample_lines(
                lines_in, lines_out, step, phase, kernel=self.kernel, antialias=self.antialias
            )
        if self.kind == "keys":
            return _keys_lines(self.sharpness, self.antialias, lines_in, lines_out, step, phase)
        columns, weights = whole_lines(self.window, lines_in, lines_out, step, phase)
        rows = np.repeat(np.arange(lines_out), columns.shape[1])
        return matrix_from_taps((lines_out, lines_in), rows, columns.ravel(), weights.ravel())

    def applied(self, codes: NDArray, lines_out: int, step: float, phase: float) -> NDArray:
        """Return the lines made of `codes`, (lines_out, cells): `matrix` times codes."""
        if self.steady:
            return self.matrix(len(codes), lines_out, step, phase) @ codes
        columns, weights = whole_lines(self.window, len(codes), lines_out, step, phase)
        if columns.shape[1] == 1:
            return codes[columns[:, 0]]
        return np.einsum("lw,lwc->lc", weights, codes[columns])


def _keys_lines(
    sharpness: float, antialias: bool, lines_in: int, lines_out: int, step: float, phase: float
) -> csr_array:
    """Return a cubic convolution of another a than resample's -1/2 (Keys 1981), as common libraries have."""
    wide = max(step, 1.0) if antialias else 1.0
    middles = (np.arange(lines_out) + 0.5) * step + phase
    first = np.floor(middles - 2 * wide - 0.5).astype(int)
    columns = first[:, None] + np.arange(int(np.ceil(4 * wide)) + 2)
    x = np.abs(columns + 0.5 - middles[:, None]) / wide
    a = sharpness
    near = ((a + 2) * x - (a + 3)) * x * x + 1
    far = ((a * x - 5 * a) * x + 8 * a) * x - 4 * a
    weights = np.where(x <= 1, near, np.where(x < 2, far, 0.0))
    weights /= weights.sum(axis=1, keepdims=True)
    rows = np.repeat(np.arange(lines_out), columns.shape[1])
    return matrix_from_taps(
        (lines_out, lines_in), rows, np.clip(columns, 0, lines_in - 1).ravel(), weights.ravel()
    )


def whole_lines(
    window: int, lines_in: int, lines_out: int, step: float, phase: float
) -> tuple[NDArray, NDArray]:
    """Return (columns, weights), each (lines_out, lines), of the mean of whole lines; edges replicate.

    `window` lines from the one that holds the span's start; 0: those with their middles in the span.
    """
    starts = np.arange(lines_out) * step + phase
    if window:
        first, count = np.floor(starts + 1e-9), np.full(lines_out, window)
    else:
        first = np.ceil(starts - 0.5 - 1e-9)
        count = np.maximum(np.ceil(starts + step - 0.5 - 1e-9) - first, 1).astype(int)
    along = np.arange(int(count.max()))
    columns = np.clip(first[:, None].astype(int) + along, 0, lines_in - 1)
    return columns, (along < count[:, None]) / count[:, None]


@dataclass(frozen=True)
class Method:
    """A base, and taps over lines at half the step (None: straight to the output lines).

    `step` and `phase` of every method: source lines per output line, and where the span of output
    line 0 begins (of the intermediate line 0, when there are taps).
    """

    base: Base
    taps: tuple[float, ...] | None = None

    @property
    def mixes(self) -> bool:
        """False when every output line is one source line, whatever the step."""
        return self.base.kind != "line-drop" or len(self.weights) > 1

    @property
    def weights(self) -> NDArray:
        """The taps, normalised."""
        taps = np.asarray(self.taps or (1.0,))
        return taps / taps.sum()

    @property
    def first_tap(self) -> int:
        """Place of the first tap, in intermediate lines from line 2r."""
        return 0 if self.taps == PAIR else -(len(self.weights) // 2)

    def matrix(self, lines_in: int, lines_out: int, step: float, phase: float) -> csr_array:
        """Return the (lines_out, lines_in) operator of one field or progressive picture."""
        if self.taps is None:
            return self.base.matrix(lines_in, lines_out, step, phase)
        between = self.base.matrix(lines_in, *self._between(lines_out, step, phase))
        return _combined(tuple(self.weights), self.first_tap, lines_out) @ between

    def between(self, codes: NDArray, lines_out: int, step: float, phase: float) -> NDArray:
        """Return the intermediate lines -2 to 2*lines_out + 1 made of `codes`, at half the step."""
        return self.base.applied(codes, *self._between(lines_out, step, phase))

    def combined(self, between: NDArray) -> NDArray:
        """Return the output lines made of the intermediate ones."""
        lines_out = (len(between) - 2 * _REACH) // 2
        first = _REACH + self.first_tap
        places = (slice(first + k, first + k + 2 * lines_out, 2) for k in range(len(self.weights)))
        found = np.zeros((lines_out, between.shape[1]))
        for weight, place in zip(self.weights, places, strict=True):
            found += weight * between[place]
        return found

    def applied(self, codes: NDArray, lines_out: int, step: float, phase: float) -> NDArray:
        """Return the output lines made of `codes`, (lines_out, cells)."""
        if self.taps is None:
            return self.base.applied(codes, lines_out, step, phase)
        return self.combined(self.between(codes, lines_out, step, phase))

    def _between(self, lines_out: int, step: float, phase: float) -> tuple[int, float, float]:
        return 2 * lines_out + 2 * _REACH, step / 2, phase - _REACH * step / 2


@lru_cache(maxsize=64)
def _combined(weights: tuple[float, ...], first: int, lines_out: int) -> Any:
    """Return the (lines_out, 2*lines_out + 4) matrix that weighs intermediate lines."""
    rows = np.repeat(np.arange(lines_out), len(weights))
    columns = 2 * rows + _REACH + first + np.tile(np.arange(len(weights)), lines_out)
    shape = (lines_out, 2 * lines_out + 2 * _REACH)
    return matrix_from_taps(shape, rows, columns, np.tile(weights, lines_out))


BASES = (
    Base("line-drop", window=1),
    Base("line-average"),
    *(Base("resample", kernel, False) for kernel in ("linear", "cubic", "lanczos2", "lanczos3")),
    *(Base("resample", kernel, True) for kernel in ("linear", "cubic", "lanczos2", "lanczos3")),
    *(Base("keys", sharpness=a, antialias=wide) for a in (-0.6, -0.75) for wide in (False, True)),
    Base("window", window=2),
    Base("window", window=3),
    Base("window", window=4),
    Base("point-box"),
)


def methods() -> tuple[Method, ...]:
    """Return every method, simplest first: straight ones, then two boxes, then filtered fields."""
    straight = [Method(base) for base in BASES]
    series = [
        Method(base, taps)
        for taps in TAPS
        for base in BASES
        if base.kind not in ("point-box", "keys")
        # every second of twice the lines is a drop itself, or the same unwidened kernel
        and not (taps == (1.0,) and _unwidened(base))
    ]
    return (*straight, *series)


def _unwidened(base: Base) -> bool:
    return base.kind in ("line-drop", "window") or (base.kind == "resample" and not base.antialias)


def tables(members: Iterable[Method], step: float, phases: int, reach: int) -> dict[Method, NDArray]:
    """Return the weights of one output line at every phase in a line.

    Parameters:
        members : the methods
        step : source lines per output line
        phases : number of phases k/phases of the span's start, k = 0 .. phases-1
        reach : lines to either side of line 0
    Returns: method -> (phases, 2*reach + 1); column `reach` is the source line the span starts in
    """
    size = 2 * reach + 1
    straight: dict[Base, NDArray] = {}
    series: dict[Base, NDArray] = {}
    found = {}
    for method in members:
        base = method.base
        if method.taps is None:
            if base not in straight:
                straight[base] = np.stack(
                    [base.matrix(size, 1, step, reach + k / phases).toarray()[0] for k in range(phases)]
                )
            found[method] = straight[base]
            continue
        if base not in series:
            half = step / 2
            starts = [reach + k / phases - _REACH * half for k in range(phases)]
            series[base] = np.stack(
                [base.matrix(size, 2 * _REACH + 1, half, start).toarray() for start in starts]
            )
        first = _REACH + method.first_tap
        rows = series[base][:, first : first + len(method.weights)]
        found[method] = np.einsum("ptw,t->pw", rows, method.weights)
    return found

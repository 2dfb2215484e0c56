"""A capture followed picture by picture through the clip that was played.

The source is gone through twice: once to know each picture by a coarse thumbnail and what kind of motion
leads to it, then alongside the capture, a few pictures at a time. Where the capture begins in the source,
and where it goes on after a jump, is found by the thumbnails. Levels are fitted once: captured = gain *
source + offset.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scalesim.core.luma import Luma
from scalesim.signal.counter.picture import Part, Seen
from scalesim.signal.counter.stream import Shown
from scalesim.signal.played.kinds import KINDS, kind_of
from scalesim.signal.played.match import Matched, match
from scalesim.signal.played.reduced import Small, small_of, thumb

BACK, AHEAD, _KEPT = 3, 4, 8
"""Source pictures before and after the expected one to compare with, and those kept for a step back."""
HELD = 30
_LIKE = 0.9
"""Correlation of thumbnails from which on a picture may be the source's."""
_LOST = 0.25
"""Share of the captured picture's own variance that may be left over."""
_LEAST_NOISE = 0.02
_SLOW = 0.05
"""How fast the noise follows the misfit of clean pictures."""
Sources = Callable[[], Iterator[Small]]


class Follower:
    """Follows a capture through its source; what was found out about the source lies in `kinds`.

    Parameters:
        sources : gives the source's pictures afresh, on the capture's lines
        advance : called for every source picture of the first pass
    """

    def __init__(self, sources: Sources, advance: Callable[[], None] = lambda: None) -> None:
        self._sources = sources
        thumbs, self.kinds = [], bytearray()
        before: Small | None = None
        for small in sources():
            thumbs.append(thumb(small.lines))
            self.kinds.append(KINDS.index(kind_of(before, small)) if before is not None else 0)
            before = small
            advance()
        if len(self.kinds) > 1:
            self.kinds[0] = self.kinds[1]  # nothing leads to the first
        self._thumbs = np.array(thumbs, np.float32).reshape(len(thumbs), -1)
        self.found = False
        self.between: dict[int, tuple[float, float]] = {}
        self._window: dict[int, NDArray[np.float32]] = {}
        self._stream = sources()
        self._next = 0
        self._gain, self._offset = 1.0, 0.0
        self._noise: float | None = None
        self._expected = 0

    def __call__(self, frames: Iterable[Luma]) -> Iterator[Shown]:
        """Yield what every captured picture is of, in the order of time."""
        held: list[Luma] = []
        index = 0
        for frame in frames:
            if not self.found:
                held.append(replace(frame, values=frame.values.copy()))
                if len(held) < HELD:
                    continue
                yield from self._begin(held, index)
                index, held = index + len(held), []
            else:
                yield self._read(index, frame)
                index += 1
        if held:
            yield from self._begin(held, index)

    def _begin(self, held: list[Luma], index: int) -> Iterator[Shown]:
        """Find where some pictures lie in the source, and read them if they are there."""
        smalls = [small_of(frame.values).lines for frame in held]
        begin = self._place(smalls)
        if begin is None:
            yield from (Shown(index + k, None, frame.seconds, Seen((), 0, 0)) for k, frame in enumerate(held))
            return
        self.found, self._expected = True, begin
        self._fit_levels(smalls, begin)
        for k, frame in enumerate(held):
            yield self._read(index + k, frame)

    def _place(self, smalls: list[NDArray[np.float32]]) -> int | None:
        """Return the source picture at which pictures in a row most likely begin; None if none is alike."""
        if not len(self._thumbs):
            return None
        like = np.array([thumb(small) for small in smalls]) @ self._thumbs.T
        count = len(self._thumbs)
        best, place = -1.0, None
        for begin in range(-len(smalls) + 1, count):
            rows = np.arange(max(0, -begin), min(len(smalls), count - begin))
            if len(rows) < min(len(smalls), count) / 2:
                continue
            mean = float(like[rows, begin + rows].mean())
            if mean > best + 1e-4:
                best, place = mean, begin
        return place if best >= _LIKE else None

    def _fit_levels(self, smalls: list[NDArray[np.float32]], begin: int) -> None:
        """Fit the gain and the offset between source and capture, on pictures that are likely the same."""
        pairs = [(k, begin + k) for k in range(len(smalls)) if 0 <= begin + k < len(self._thumbs)]
        found = {n: small.lines for n, small in self._from(min(n for _, n in pairs), len(pairs))}
        x = np.concatenate([found[n].ravel() for _, n in pairs if n in found])
        y = np.concatenate([smalls[k].ravel() for k, n in pairs if n in found])
        spread = float(x.var())
        self._gain = float(((x - x.mean()) * (y - y.mean())).mean() / spread) if spread > 1 else 1.0
        self._offset = float(y.mean() - self._gain * x.mean())

    def _from(self, first: int, count: int) -> Iterator[tuple[int, Small]]:
        for number, small in enumerate(self._sources()):
            if number >= first + count:
                return
            if number >= first:
                yield number, small

    def _read(self, index: int, frame: Luma) -> Shown:
        small = small_of(frame.values).lines
        found = self._matched(small)
        if found is None:
            place = self._place([small])
            if place is not None:
                self._expected = place
                found = self._matched(small)
        if found is None:
            return Shown(index, None, frame.seconds, Seen((), 0, 0))
        self._expected = max(found.upper, found.lower) + 1
        if found.line is not None:
            self.between[index] = (found.low, found.high)
        lines = small.shape[0]
        return Shown(index, None, frame.seconds, Seen(_parts(found, lines), 0, lines))

    def _matched(self, small: NDArray[np.float32]) -> Matched | None:
        """Return what a picture is of, None when it is of none of the pictures around the expected one."""
        window = self._around(self._expected)
        if not window:
            return None
        first = self._noise is None
        noise = self._noise if self._noise is not None else _LEAST_NOISE
        found = match(small, window, self._expected, noise)
        if first or (found.line is None and found.weight is None):
            # The first picture has no noise to go by yet: its own misfit as a whole is the best guess.
            noise = found.misfit if first else (1 - _SLOW) * noise + _SLOW * min(found.misfit, 9 * noise)
            self._noise = max(_LEAST_NOISE, noise)
        return found if found.misfit <= _LOST * max(float(small.var()), 4.0) else None

    def _around(self, number: int) -> dict[int, NDArray[np.float32]]:
        """Return the source pictures around a number, at the capture's levels."""
        low, high = max(0, number - BACK), number + AHEAD
        if low < self._next and low not in self._window:
            self._stream, self._next, self._window = self._sources(), 0, {}
        while self._next <= high:
            small = next(self._stream, None)
            if small is None:
                break
            if self._next >= low - _KEPT:
                self._window[self._next] = self._gain * small.lines + self._offset
            self._next += 1
        self._window = {n: lines for n, lines in self._window.items() if n >= low - _KEPT}
        return {n: lines for n, lines in self._window.items() if low <= n <= high}


def _parts(found: Matched, lines: int) -> tuple[Part, ...]:
    if found.line is not None:
        return Part(0, found.line, found.upper), Part(found.line, lines, found.lower)
    if found.weight is not None:
        return (Part(0, lines, found.upper, found.lower, found.weight),)
    return (Part(0, lines, found.upper),)

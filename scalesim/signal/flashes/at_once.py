"""Which changes are concurrent: how many there were within one second over more than a quarter of a field.

"The combined area of flashes occurring concurrently" is what both standards limit. It is read here in
two ways, and the worse one tells:

- *The same places flash again and again*, each in its own rhythm, and change at once: in the same
  picture (in either direction, so places out of step add up where one rises as another falls), or in
  the same direction within `SAME_S`, or in one direction more than in the other within `SWELL_S` (a
  swell that reaches unlike places one after another).
- *Enough places change in the same picture, and the same ones change back together in a later one*,
  wherever that is each time.

A scene that moves past does neither: its places change one after another, up here and down there, and
what rises together does not fall together. How often it may do so has a limit of its own: with changes
spread evenly, a quarter of the places rises within `SAME_S` from 7.5 flashes a second on.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.flashes.limits import AREA_LIMIT, FLASH_LIMIT

SAME_S = 1 / 30
"""Seconds in which changes in one direction are at once: one picture of 30 a second, so two of 60."""

SWELL_S = 0.125
"""Half a period of four flashes a second, the fewest that are not allowed."""

_FLASHING = 4
"""Changes within one second from which a place is flashing, where it is asked how long: two flashes."""


class Watch:
    """How many changes there were within one second over more than a quarter of any block of cells.

    `most` is the largest number of changes, `share` the largest share of a block in which the same
    places flash at once and more often than allowed, `longest` the pictures from the first change to the
    last of what flashes without a pause.

    Parameters:
        cells, block : (rows, columns) of the screen and of the field
        window : pictures of one second
    """

    def __init__(self, cells: tuple[int, ...], block: tuple[int, ...], window: int) -> None:
        self._block, self._window = block, window
        self._cells = _Recent(cells, window)
        self._blocks = _Recent(tuple(c - b + 1 for c, b in zip(cells, block, strict=True)), window)
        # for each direction, the picture of a place's last change, long ago before the first
        self._last = np.full((2, *cells), -(10**6), np.int32)
        self.most = 0
        self.share = 0.0
        self.longest = self._now = 0
        self._since: int | None = None
        self._met = -(10**6)

    def add(self, rose: NDArray, fell: NDArray) -> None:
        """Take the places of one picture that changed."""
        changes = self._cells.add(rose, fell)
        together = self._together(rose, fell)
        self.most = max(self.most, int(together.max()))
        while changes.max() > self.most and self._at_once(changes > self.most, AREA_LIMIT) > AREA_LIMIT:
            self.most += 1
        if changes.max() > 2 * FLASH_LIMIT:
            self.share = max(self.share, self._at_once(changes > 2 * FLASH_LIMIT, self.share))
        self._long(changes, together)
        self._now += 1

    def _at_once(self, places: NDArray, above: float) -> float:
        """Return the largest share of a block of these places that change at once; any up to `above` as 0."""
        if self._may_be(places) <= above:
            return 0.0
        rose, fell = self._cells.latest & places
        most = self._largest(rose | fell, above)
        for direction in self._cells.within(round(SAME_S * self._window)) & places:
            most = max(most, self._largest(direction, max(above, most)))
        swell = self._cells.within(round(SWELL_S * self._window)) & places
        if max(self._may_be(direction) for direction in swell) > max(above, most):
            rising, falling = (self._shares(direction) for direction in swell)
            most = max(most, float(np.abs(rising - falling).max()))
        return most

    def _largest(self, marked: NDArray, above: float) -> float:
        """Return the largest share of marked cells in any block; any up to `above` as 0."""
        return float(self._shares(marked).max()) if self._may_be(marked) > above else 0.0

    def _may_be(self, marked: NDArray) -> float:
        """Return what the share of marked cells in a block is at most: were all of them in one."""
        return float(np.count_nonzero(marked) / (self._block[0] * self._block[1]))

    def _together(self, rose: NDArray, fell: NDArray) -> NDArray:
        """Return the changes of each block within the last second that a quarter of its places made together.

        A change counts with the one before it: the same places made that together too.
        """
        self._blocks.add(np.False_, np.False_)
        least = AREA_LIMIT * self._block[0] * self._block[1]
        for direction, places in enumerate((rose, fell)):
            if np.count_nonzero(places) <= least:
                continue
            opposite = self._last[1 - direction]
            before, counts = np.unique(opposite[places], return_counts=True)
            for then in before[counts > least]:
                blocks = self._shares(places & (opposite == then)) > AREA_LIMIT
                self._blocks.mark(direction, 0, blocks)
                self._blocks.mark(1 - direction, self._now - int(then), blocks)
        for direction, places in enumerate((rose, fell)):
            self._last[direction][places] = self._now
        return self._blocks.changes()

    def _long(self, changes: NDArray, together: NDArray) -> None:
        """Note how long it has been flashing: two flashes a second at once, without a pause."""
        flashing = changes >= _FLASHING
        if changes.max() >= _FLASHING and self._at_once(flashing, AREA_LIMIT) > AREA_LIMIT:
            self._met = self._now
        if self._now - self._met < self._window and self._largest(flashing, AREA_LIMIT) > AREA_LIMIT:
            self._lasts(self._cells, flashing)
        elif together.max() >= _FLASHING:
            self._lasts(self._blocks, together >= _FLASHING)
        else:
            self._since = None

    def _lasts(self, places: _Recent, flashing: NDArray) -> None:
        """Note how long it has been flashing, from the first change to the latest."""
        if self._since is None:
            self._since = self._now - places.oldest(flashing)
        if places.latest[:, flashing].any():
            self.longest = max(self.longest, self._now - self._since)

    def _shares(self, marked: NDArray) -> NDArray:
        """Return the share of marked cells in the block at each of its positions."""
        rows, columns = self._block
        count = np.count_nonzero(marked)
        if count == 0 or marked.shape == self._block:
            return np.full(self._blocks.shape, count / marked.size)
        sums = np.zeros((marked.shape[0] + 1, marked.shape[1] + 1), np.int32)
        np.cumsum(np.cumsum(marked, axis=0, dtype=np.int32), axis=1, out=sums[1:, 1:])
        inside = (
            sums[rows:, columns:] - sums[:-rows, columns:] - sums[rows:, :-columns] + sums[:-rows, :-columns]
        )
        share: NDArray = inside / (rows * columns)
        return share


class _Recent:
    """Changes of each place within the last second, one that follows another of its kind left out."""

    def __init__(self, shape: tuple[int, ...], window: int) -> None:
        self.shape = shape
        self._past = np.zeros((window, 2, *shape), bool)
        self._counts = np.zeros((2, *shape), np.int16)
        self._at = 0

    def add(self, rose: NDArray | np.bool_, fell: NDArray | np.bool_) -> NDArray:
        """Take the next picture's changes; return the number of changes, int16."""
        past = self._past[self._at]
        self._counts -= past
        past[0], past[1] = rose, fell
        self._counts += past
        self._at = (self._at + 1) % len(self._past)
        return self.changes()

    def mark(self, direction: int, ago: int, places: NDArray) -> None:
        """Add changes of a picture some pictures ago; those a second ago or longer are past."""
        if ago >= len(self._past):
            return
        past: NDArray = self._past[self._at - 1 - ago, direction]
        self._counts[direction] += places & ~past
        past |= places

    def changes(self) -> NDArray:
        """Return the number of changes of each place, int16."""
        rises, falls = self._counts
        changes: NDArray = np.minimum(rises + falls, 2 * np.minimum(rises, falls) + 1)
        return changes

    @property
    def latest(self) -> NDArray:
        """The changes of the latest picture, (2, *shape) boolean."""
        return self._past[self._at - 1]

    def within(self, pictures: int) -> NDArray:
        """Return where there was a change within the latest pictures, at least one, (2, *shape) boolean."""
        back = self._at - 1 - np.arange(max(1, pictures))
        return np.asarray(self._past[back].any(axis=0))

    def oldest(self, places: NDArray) -> int:
        """Return how many pictures ago, at most a second, the first change of any of the places was."""
        changed = np.roll(self._past[:, :, places].any(axis=(1, 2)), -self._at)
        return len(changed) - 1 - int(np.argmax(changed))

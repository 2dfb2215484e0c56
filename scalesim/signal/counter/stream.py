"""A capture of the counter chart read picture by picture, in one pass, holding a few frames at a time.

Where the chart lies is found from some frames, which are held so long; frames before the chart begins, such
as a menu, are told as unread. Woven frames are read field by field.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.luma import Luma
from scalesim.signal.counter.cells import CellReader
from scalesim.signal.counter.find import find_chart, profile_of
from scalesim.signal.counter.lines import NONE, read_lines
from scalesim.signal.counter.mixture import Patterns
from scalesim.signal.counter.picture import Seen, after, see, see_whole

HELD = 24
"""Frames by which the chart is found; every cell changes within 8."""
FEWEST, _EDGE = 240, 4
"""Lines of a picture that are read at first, evenly spread, and how many at each edge; all if these do not
agree. Two tears nearer to each other than lines / 240 are missed so."""
_PATIENCE = 8
"""Failed looks after which the chart is looked for in one of so many batches of frames."""
LOST = 240
"""Frames in a row that cannot be read after which the chart is looked for anew."""
Scan = Literal["progressive", "top", "bottom"]


@dataclass(frozen=True)
class Shown:
    """What one picture of a capture shows.

    Parameters:
        frame : of the capture, from 0; parity : of its field, None for whole frames
        seconds : when the frame is shown, from the first; seen : what it shows
    """

    frame: int
    parity: int | None
    seconds: float
    seen: Seen


class CounterReader:
    """Reads a capture; after it has run, `scan` and `found` tell how.

    Parameters:  scan : the earlier field where the capture says that it has fields; None for whole frames, or
        for woven ones that are not marked. The count has the last word where the fields show different
        pictures. frame_seconds : from frame to frame; the later field is shown half of it after the earlier
    """

    def __init__(self, scan: Scan | None = None, frame_seconds: float = 0.0) -> None:
        self.scan: Scan | None = scan
        self._between_fields = frame_seconds / 2
        self.turned = 0
        self.found = False
        self._cells: CellReader | None = None
        self._patterns = Patterns()
        self._near: int | None = None
        self._lost = self._failed = 0

    def __call__(self, frames: Iterable[Luma]) -> Iterator[Shown]:
        """Yield what every picture shows, in the order of time."""
        held: list[tuple[int, Luma]] = []
        for index, frame in enumerate(frames):
            if self._cells is None:
                held.append((index, frame))
                if len(held) == HELD:
                    yield from self._begin(held)
                    held = []
            else:
                yield from self._read(index, frame)
        if held:
            yield from self._begin(held)

    def _begin(self, held: list[tuple[int, Luma]]) -> Iterator[Shown]:
        """Look for the chart in frames, and read them where it is there."""
        profiles = np.stack([profile_of(frame.values) for _, frame in held])
        rest = self._failed >= _PATIENCE and self._failed % _PATIENCE
        place = None if rest else find_chart(profiles)
        if place is None:
            self._failed += 1
            self._look_turned(held)
        else:
            self._cells = CellReader(place[0], profiles.shape[1])
            self._patterns, self.found, self._lost, self._failed = place[1], True, 0, 0
            counted = self._scan_of([frame.values for _, frame in held[::3]])
            if self.scan is None or counted != "progressive":
                self.scan = counted
        for index, frame in held:
            yield from self._read(index, frame)

    def _look_turned(self, held: list[tuple[int, Luma]]) -> None:
        """See whether the chart is there when the picture is turned, so that the answer can say so."""
        if self.turned or self.found or self._failed > 1:
            return
        for quarters in (1, 2, 3):
            turned = [np.rot90(frame.values, quarters) for _, frame in held]
            if find_chart(np.stack([profile_of(values) for values in turned])) is not None:
                self.turned = 90 * quarters
                return

    def _seen(self, luma: NDArray[np.uint8], cells: CellReader) -> Seen:
        """Return what a picture shows: by a few of its lines where these agree, else by all of them."""
        lines = luma.shape[0]
        step = lines // FEWEST
        if step > 1:
            few = (luma[:_EDGE], luma[_EDGE : lines - _EDGE : step], luma[lines - _EDGE :])
            seen = see_whole(np.concatenate([cells(each) for each in few]), self._patterns, lines)
            if seen is not None:
                return seen
        return see(cells(luma), self._patterns, self._near)

    def _scan_of(self, frames: list[NDArray[np.uint8]]) -> Scan:
        """Return whether frames are woven of two fields, and which is the earlier, by their lines."""
        assert self._cells is not None
        steps = []
        for frame in frames:
            pair = [
                read_lines(self._cells(frame[parity : frame.shape[0] // 2 * 2 : 2])).numbers
                for parity in (0, 1)
            ]
            known = (pair[0] != NONE) & (pair[1] != NONE)
            apart = known & (pair[0] != pair[1])
            if apart.sum() > 0.8 * max(known.sum(), 1):
                steps.append(after(int(np.median(pair[1][apart])), int(np.median(pair[0][apart]))))
        if 2 * len(steps) < len(frames):
            return "progressive"
        return "top" if sum(step > 0 for step in steps) * 2 >= len(steps) else "bottom"

    def _read(self, index: int, frame: Luma) -> Iterator[Shown]:
        fields: tuple[int | None, ...] = {"top": (0, 1), "bottom": (1, 0)}.get(self.scan or "", (None,))
        read = False
        for later, parity in enumerate(fields):
            seen = Seen((), 0, 0)
            if self._cells is not None:
                values = frame.values if parity is None else frame.values[parity::2]
                seen = self._seen(values, self._cells)
            if seen.parts:
                self._near, read = seen.parts[-1].number, True
            yield Shown(index, parity, frame.seconds + later * self._between_fields, seen)
        self._lost = 0 if read else self._lost + 1
        if self._lost >= LOST:
            self._cells, self._lost = None, 0

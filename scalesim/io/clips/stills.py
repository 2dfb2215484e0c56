"""Whole frames of a clip by their numbers, decoded in one pass, damage listed frame by frame.

A damaged packet spoils what is built on it: from there to the next key picture no frame is given.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from scalesim.core.clip import Clip, CodedStill
from scalesim.errors import ReadError
from scalesim.io.clips.colour import to_planes
from scalesim.io.clips.ffmpeg import opened
from scalesim.io.clips.index import ClipIndex, tolerant

_WORTH_A_JUMP = 24
"""Pictures that are decoded for nothing before it is quicker to begin anew at the next key picture."""


@dataclass(frozen=True)
class ClipStills:
    """Some frames of a clip, to be decoded where this is sent to.

    Parameters:
        path : of the file; name : for messages; index : of the clip with its key pictures and stamps left out
        wanted : (number, time in ticks or the number itself, time of the key picture it is decoded from)
    """

    path: str
    index: ClipIndex
    wanted: tuple[tuple[int, int, int], ...]
    counted: bool

    @classmethod
    def of(cls, path: str, index: ClipIndex, numbers: Sequence[int]) -> ClipStills:
        """Return the frames of these numbers, rising."""
        from dataclasses import replace

        counted = not index.stamps.size
        places = [
            (k, k, 0) if counted else (k, int(index.stamps[k]), int(index.stamps[index.key_before(k)]))
            for k in numbers
        ]
        small = replace(index, stamps=index.stamps[:0], keys=index.keys[:0])
        return cls(path, small, tuple(places), counted)

    def stills(self) -> Iterator[tuple[int, Clip | ReadError]]:
        """Yield every frame by its number, as a still clip, or why it cannot be had."""
        for run in self._runs():
            yield from self._run(run)

    def _runs(self) -> Iterator[list[tuple[int, int, int]]]:
        """Yield frames that are decoded in one go: the next begins where a jump saves decoding."""
        run: list[tuple[int, int, int]] = []
        for place in self.wanted:
            if run and not self.counted and place[2] > run[-1][1] and place[0] - run[-1][0] > _WORTH_A_JUMP:
                yield run
                run = []
            run.append(place)
        if run:
            yield run

    def _run(self, run: list[tuple[int, int, int]]) -> Iterator[tuple[int, Clip | ReadError]]:
        left = list(reversed(run))
        why = ""
        for time, frame, broken in self._pictures(run[0][2]):
            why = broken or why
            while left and left[-1][1] < time:
                yield left.pop()[0], _lost(why)
            if left and left[-1][1] == time:
                number = left.pop()[0]
                yield number, _lost(broken) if frame is None else self._still(frame)
            if not left:
                return
        while left:
            yield left.pop()[0], _lost(why)

    def _pictures(self, begin: int) -> Iterator[tuple[int, Any, str]]:
        """Yield (time, picture or None, what is damaged) in the order they are shown."""
        with opened(self.path, self.index.name) as (container, stream):
            if not self.counted and begin:
                container.seek(begin, stream=stream, backward=True)
            met = False
            for picture in self._sound(container, stream, None if self.counted else begin):
                met = True
                yield picture
        if met or self.counted:
            return
        with opened(self.path, self.index.name) as (container, stream):  # the jump went past it
            yield from self._sound(container, stream, begin)

    def _sound(self, container: Any, stream: Any, begin: int | None) -> Iterator[tuple[int, Any, str]]:
        broken, clean_from, last_key, count = "", None, None, 0
        for decoded in tolerant(container, stream, begin):
            if decoded.broken:
                if self.counted:
                    return  # which picture comes next cannot be told any more
                # a picture shown before the last key picture spoils none that is shown after it
                leading = decoded.at is not None and last_key is not None and decoded.at < last_key
                broken, clean_from = decoded.broken, last_key if leading else None
            if decoded.key is not None:
                last_key = decoded.key
                clean_from = last_key if clean_from is None else clean_from
            for frame in decoded.frames:
                time = count if self.counted else frame.pts
                count += 1
                if time is None:
                    continue
                if broken and clean_from is not None and time >= clean_from:
                    broken = ""
                fits = (frame.height, frame.width) == self.index.size
                why = broken or ("" if fits else "its size changes")
                yield time, None if why else frame, why

    def _still(self, frame: Any) -> Clip:
        index, raster = self.index, self.index.raster
        parities = [None] if raster.period == 1 else [field.parity for field in raster.fields]
        planes = [to_planes(frame, index.colour, parity) for parity in parities]
        return CodedStill(planes, raster, index.name, index.mode, index.notes)


def _lost(why: str) -> ReadError:
    return ReadError(f"damaged, or built on a picture that is{f' ({why})' if why else ''}")

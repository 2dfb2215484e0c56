"""What a study looks at: frames of clips, and pictures; parts of it can be sent to where it is measured."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice
from typing import Any, Protocol

from scalesim.core.clip import Clip, still_of
from scalesim.core.picture import Picture
from scalesim.errors import ParameterError, ScalesimError
from scalesim.texts import echoed

Frame = tuple[int, Clip | ScalesimError]


class Part(Protocol):
    """Some frames, decoded where they are asked for; plain data that can be sent to another process."""

    def stills(self) -> Iterator[Frame]:
        """Yield every frame by its number, as a still clip, or why it cannot be had."""
        ...


@dataclass(frozen=True, eq=False)
class Footage:
    """A clip or a picture, and which frames of it are taken.

    Parameters:
        name : for tables and file names
        mark : tells its content and the way it is read from every other's
        frames : numbers of the frames that are taken, counted from 0, rising
        rate : whole frames a second; None of a picture
        part : gives the part of some of these frames
        begins : gives the number of the frame from which one is decoded
        whole : whether it must be read in one go
        settings, kind, notes : as of a frame; damage : what the file itself tells is missing
    """

    name: str
    mark: str
    frames: Sequence[int]
    rate: Fraction | None
    part: Callable[[Sequence[int]], Part]
    begins: Callable[[int], int] = lambda frame: frame
    whole: bool = False
    settings: Mapping[str, Any] = field(default_factory=dict)
    kind: str = ""
    notes: tuple[str, ...] = ()
    damage: tuple[str, ...] = ()

    def frame_name(self, frame: int) -> str:
        """Return what tables call a frame: "fight.mkv at 12.48 s"."""
        if self.rate is None:
            return self.name
        digits = 2 if self.rate <= 100 else 3
        return f"{self.name} at {float(frame / self.rate):.{digits}f} s"

    def still(self, frame: int) -> Clip:
        """Return one frame, read now; raises why it cannot be had."""
        (_, found) = next(self.part([frame]).stills())
        if isinstance(found, ScalesimError):
            said = str(found).removeprefix(f"{self.name}: ")
            raise type(found)(f"{self.frame_name(frame)}: {said}")
        return found


def step_of(every: str | None, rate: Fraction) -> int | None:
    """Return frames from one to the next that is taken; None when only the first is.

    Raises: ParameterError for an `every` that is neither a time nor a number of frames
    """
    if every is None:
        return None
    found = re.fullmatch(r"(\d+(?:\.\d+)?) *(s?)", every.strip())
    value = Fraction(found[1]) if found else Fraction(0)
    if found is None or value == 0 or (not found[2] and value.denominator != 1):
        raise ParameterError(
            f"every is {echoed(every)}; it must be a time such as 1s, or a whole number of frames such as 30"
        )
    return max(1, round(value * rate)) if found[2] else int(value)


class WholeFrames:
    """The whole frames of a clip, decoded on from the last that was asked for, afresh for earlier ones."""

    def __init__(self, clip: Clip) -> None:
        self._clip = clip
        self._pictures: Iterator[Picture] = iter(())
        self._next = -1

    def still(self, frame: int) -> Clip:
        """Return the still of a whole frame, counted from 0."""
        period = self._clip.raster.period
        if self._next < 0 or frame < self._next:
            self._pictures, self._next = self._clip.pictures(), 0
        skipped = (frame - self._next) * period
        taken = list(islice(self._pictures, skipped, skipped + period))
        self._next = frame + 1
        if len(taken) < period:
            self._next = -1
            raise ParameterError(f"{self._clip.name}: has no whole frame {frame}; export it again")
        clip = self._clip
        return still_of(taken, clip.raster, clip.name, clip.mode, clip.notes)

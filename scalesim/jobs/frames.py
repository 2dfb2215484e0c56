"""Frames a job is given: read when their turn comes, and whole frames out of clips."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any

from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.core.landed import woven
from scalesim.errors import ParameterError
from scalesim.sampled import WholeFrames, step_of

MOST_FRAMES = 8


@dataclass(frozen=True)
class FrameSource:
    """A frame to be read when its turn comes.

    Parameters:
        name : for tables and file names
        load : gives the still clip; may raise ScalesimError
        settings : what a note beside it says (box, firmware, source mode …), plain values
        kind : what it is a frame of (a game, a folder, a clip), "" where that is not known
        notes : what was done to choose or make it
    """

    name: str
    load: Callable[[], Clip]
    settings: Mapping[str, Any] = field(default_factory=dict)
    kind: str = ""
    notes: tuple[str, ...] = ()


def named_apart(sources: Iterable[FrameSource]) -> list[FrameSource]:
    """Return the sources, each with a name of its own: those of a name that is taken are numbered."""
    found: dict[str, FrameSource] = {}
    for source in sources:
        name, number = source.name, 1
        while name in found:
            number += 1
            name = f"{source.name} ({number})"
        found[name] = replace(source, name=name)
    return list(found.values())


def still_of(source: FrameSource) -> Clip:
    """Return the still of a source, read now.

    Raises: ParameterError for a clip that moves; what reading it raises
    """
    clip = source.load()
    if not clip.is_still:
        raise ParameterError(
            f"{source.name}: is a clip or several pictures; a frame is one picture: give one picture of it"
        )
    return clip


def whole_frames(clip: Clip) -> list[NDArray]:
    """Return whole frames of a clip, its fields woven, eight at most; a still once."""
    if clip.frame is not None:
        return [clip.frame]
    period = clip.raster.period
    pictures = [picture.values for picture in islice(clip.pictures(), MOST_FRAMES * period)]
    whole = [pictures[k : k + period] for k in range(0, len(pictures) - period + 1, period)]
    return [woven(run, clip.raster) for run in whole]


def frames_of_clip(
    clip: Clip, every: str | None, *, name: str, settings: Mapping[str, Any], kind: str = ""
) -> list[FrameSource]:
    """Return whole frames of a moving clip, one in so many; its first, which is said, when `every` is None.

    Asked for in their order they are decoded in one pass, and one frame is held at a time.

    Parameters:
        every : time between frames, "1s" or "0.5 s", or a number of frames, "30"
        name : of the clip, for the frames' names; settings, kind : see `FrameSource`
    Raises: ParameterError for a clip without a whole frame, or an `every` that is none
    """
    rate = clip.raster.rate / clip.raster.period
    step = step_of(every, rate)
    pictures = sum(1 for _ in clip.pictures()) if clip.length is None else clip.length
    count = pictures // clip.raster.period
    if not count:
        raise ParameterError(f"{name}: has no whole frame; export it again")
    kind = kind or name
    stream = WholeFrames(clip)
    if step is None:
        said = "is a clip: its first whole frame is taken; --every 1s takes one each second."
        return [FrameSource(name, lambda: stream.still(0), settings, kind, (f"{name} {said}",))]
    return [
        FrameSource(f"{name} at {float(k / rate):.2f} s", lambda k=k: stream.still(k), settings, kind)  # type: ignore[misc]  # k is bound now
        for k in range(0, count, step)
    ]

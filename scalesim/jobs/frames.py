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

MOST_FRAMES = 8


@dataclass(frozen=True)
class FrameSource:
    """A frame to be read when its turn comes.

    Parameters:
        name : for tables and file names
        load : gives the still clip; may raise ScalesimError
        settings : what a note beside it says (box, firmware, source mode …), plain values
    """

    name: str
    load: Callable[[], Clip]
    settings: Mapping[str, Any] = field(default_factory=dict)


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

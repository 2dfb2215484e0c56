"""Frames a job is given: read when their turn comes, and whole frames out of clips."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.core.landed import woven

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


def whole_frames(clip: Clip) -> list[NDArray]:
    """Return whole frames of a clip, its fields woven, eight at most; a still once."""
    if clip.frame is not None:
        return [clip.frame]
    period = clip.raster.period
    pictures = [picture.values for picture in islice(clip.pictures(), MOST_FRAMES * period)]
    whole = [pictures[k : k + period] for k in range(0, len(pictures) - period + 1, period)]
    return [woven(run, clip.raster) for run in whole]

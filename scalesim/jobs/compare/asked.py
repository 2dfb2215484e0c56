"""What is asked of a comparison's page: parts of frames, stills, who made it and when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scalesim.errors import ParameterError, nearest
from scalesim.figure import MOST_VIEWS
from scalesim.jobs.compare.crops import Asked, Crop, crops_of
from scalesim.jobs.frames import FrameSource
from scalesim.texts import echoed

SOURCE = "source"
"""How a still names the source."""


@dataclass(frozen=True)
class StillAsked:
    """A still that is asked for: of a frame, of which contestants, and of which part.

    Parameters:
        labels : in their order, `SOURCE` among them; () for the source and the two that matter
        crop : None for that of the frame
    """

    frame: str
    labels: tuple[str, ...] = ()
    crop: Crop | None = None


def known_crops(crop: Asked | None, frames: Sequence[FrameSource]) -> Asked | None:
    """Return the parts; raise ParameterError for those of a frame that is not there."""
    for name in filter(None, crops_of(crop)):
        _check_frame("crop", name, frames)
    return crop


def known_stills(
    asked: Iterable[StillAsked | str],
    frames: Sequence[FrameSource],
    read: Sequence[FrameSource],
    labels: Sequence[str],
) -> tuple[StillAsked, ...]:
    """Return the stills of frames that could be read.

    Raises: ParameterError for a frame or a contestant that is not there, or for more than there is room for
    """
    found = [StillAsked(each) if isinstance(each, str) else each for each in asked]
    for still in found:
        _check_frame("still", still.frame, frames)
        named = f"still of {echoed(still.frame)}"
        for label in still.labels:
            if label != SOURCE and label not in labels:
                known = nearest(label, [SOURCE, *labels])
                raise ParameterError(f"{named}: no chain is named '{echoed(label)}'; {known}")
        if not set(still.labels) - {SOURCE} and still.labels:
            raise ParameterError(f"{named}: names the source alone; name a chain besides")
        if len(still.labels) > MOST_VIEWS:
            raise ParameterError(f"{named}: names {len(still.labels)}; it has room for {MOST_VIEWS}")
    names = {frame.name for frame in read}
    return tuple(still for still in found if still.frame in names)


def _check_frame(what: str, name: str, frames: Sequence[FrameSource]) -> None:
    known = [frame.name for frame in frames]
    if name not in known:
        raise ParameterError(f"{what}: no frame is named '{echoed(name)}'; {nearest(name, known)}")


def noted(frames: Sequence[FrameSource], key: str) -> str:
    """Return what the notes of all frames say alike, "" when they differ or say nothing."""
    said = {str(frame.settings.get(key, "")) for frame in frames}
    return said.pop() if len(said) == 1 else ""

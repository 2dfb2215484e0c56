"""How footage is divided into tasks, and footage made of frames of this process."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from scalesim.core.clip import Clip
from scalesim.errors import ScalesimError
from scalesim.jobs.frames import FrameSource
from scalesim.sampled import Footage, Frame


@dataclass(frozen=True, eq=False)
class HeldPart:
    """A frame that is read by a function of this process."""

    load: Callable[[], Clip]

    def stills(self) -> Iterator[Frame]:
        """Yield the frame."""
        try:
            yield 0, self.load()
        except ScalesimError as error:
            yield 0, error


def held(source: FrameSource) -> Footage:
    """Return a frame of this process as footage; only threads of the process can measure it."""
    return Footage(
        source.name,
        f"held {source.name}",
        (0,),
        None,
        lambda _: HeldPart(source.load),
        settings=source.settings,
        kind=source.kind,
        notes=source.notes,
    )


TASK_FRAMES = 16
"""Frames of one task, about: a run that is killed loses no more than a task for each worker."""

MOST_FRAMES = 128
"""Frames of one task at most, where a clip has few key pictures and each task decodes from one on."""


def tasks_of(footage: Footage) -> Iterator[Sequence[int]]:
    """Yield the frames of every task: whole runs from key picture to key picture, where these are short."""
    if footage.whole:
        yield footage.frames
        return
    run: list[int] = []
    begin = None
    for frame in footage.frames:
        own = footage.begins(frame)
        full = len(run) >= TASK_FRAMES and own != begin
        if run and (full or len(run) >= MOST_FRAMES):
            yield run
            run = []
        run.append(frame)
        begin = own
    if run:
        yield run


def frame_of(footage: Footage, frame: int) -> FrameSource:
    """Return one frame of footage, to be read when its turn comes."""
    name = footage.frame_name(frame)
    return FrameSource(name, lambda: footage.still(frame), footage.settings, footage.kind)

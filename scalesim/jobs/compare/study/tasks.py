"""How footage is divided into tasks, and footage made of frames of this process."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

from scalesim.core.clip import Clip
from scalesim.errors import ScalesimError
from scalesim.jobs.frames import FrameSource
from scalesim.sampled import Footage, Frame

T = TypeVar("T")


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


LEAST_FRAMES = 8
"""Frames of a part of a task at least: each decodes from the task's key picture on."""


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


def evened(tasks: Iterable[T], workers: int, divide: Callable[[T, int], Iterable[T]]) -> Iterator[T]:
    """Yield tasks; the last ones, while which some of the workers have none left, in as many parts for all.

    Parameters:  divide : gives a task in so many parts, or fewer
    """
    count, held = 0, deque[T]()
    for task in tasks:
        count += 1
        held.append(task)
        if len(held) > workers:
            yield held.popleft()
    over = count % workers
    while len(held) > over:
        yield held.popleft()
    for task in held:
        yield from divide(task, workers // over)


def parts_of(frames: Sequence[int], parts: int) -> Iterator[Sequence[int]]:
    """Yield frames in so many parts of about the same length, in fewer where they are few."""
    parts = max(1, min(parts, len(frames) // LEAST_FRAMES))
    ends = [len(frames) * k // parts for k in range(parts + 1)]
    return (frames[begin:end] for begin, end in pairwise(ends))


def frame_of(footage: Footage, frame: int) -> FrameSource:
    """Return one frame of footage, to be read when its turn comes."""
    name = footage.frame_name(frame)
    return FrameSource(name, lambda: footage.still(frame), footage.settings, footage.kind)

"""What a chain's free-running clock does to a clip: every torn, repeated and dropped picture."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.signal.tear_step import TearStep, tear_step
from scalesim.stages.slip import Slip

MOST_TOLD = 100_000


@dataclass(frozen=True)
class SlipEvent:
    """One event.

    Parameters:
        picture : number in the output, from 0; time_s : when it begins
        what : "torn", "repeated" or "dropped"
        first, last : source pictures, from 0: above and below a tear; of a repeated picture; those dropped
        line : of a tear, from 0, the first that shows `last`; step : along it
    """

    picture: int
    time_s: float
    what: str
    first: int
    last: int
    line: int | None = None
    step: TearStep | None = None


@dataclass(frozen=True)
class Slips:
    """All events of one slip stage, of so many output pictures."""

    pictures: int
    events: tuple[SlipEvent, ...]

    def count(self, what: str) -> int:
        """Return how many pictures were torn, repeated or dropped."""
        if what == "dropped":
            return sum(event.last - event.first + 1 for event in self.events if event.what == what)
        return len({event.picture for event in self.events if event.what == what})

    def sentence(self) -> str:
        """Return the counts, and how many tears show."""
        torn = [event for event in self.events if event.what == "torn"]
        shown = sum(event.step is not None and event.step.shows for event in torn)
        tears = f" ({shown} of their {len(torn)} tears show in this scene)" if torn else ""
        return (
            f"The free-running clock makes {self.count('torn')} torn pictures{tears}, "
            f"{self.count('repeated')} repeated and {self.count('dropped')} dropped "
            f"(n = {self.pictures} output pictures)."
        )

    def csv(self) -> str:
        """Return every event as a table."""
        lines = [
            "picture,time_s,event,source_first,source_last,line,step_percent,share_percent,shift_samples"
        ]
        for event in self.events:
            step = event.step
            told = ",,"
            if step is not None:
                shift = "" if step.shift is None else step.shift
                told = f"{100 * step.step:.3f},{100 * step.share:.2f},{shift}"
            line = "" if event.line is None else event.line
            lines.append(
                f"{event.picture},{event.time_s:.6f},{event.what},{event.first},{event.last},{line},{told}"
            )
        return "\n".join(lines) + "\n"

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        torn = [event for event in self.events if event.what == "torn"]
        return {
            "frames": self.pictures,
            "repeated": self.count("repeated"),
            "dropped": self.count("dropped"),
            "torn": [
                {
                    "frame": event.picture,
                    "line": event.line,
                    "step_percent": 100 * event.step.step,
                    "share_percent": 100 * event.step.share,
                    "shift_samples": event.step.shift,
                    "shows": event.step.shows,
                }
                for event in torn
                if event.step is not None
            ],
        }


def slips(
    source: Clip,
    chain: Chain,
    *,
    pictures: int | None = None,
    advance: Callable[[str], None] = lambda _: None,
) -> Slips | None:
    """Return what the chain's first slip stage does to a clip; None for a chain without one.

    Parameters:
        pictures : output pictures to follow, None for the whole clip; a still needs it
    The clip is streamed through the stages before the slip, and two or three pictures are held.
    """
    place = next((k for k, each in enumerate(chain.stages) if isinstance(each, Slip)), None)
    if place is None:
        return None
    stage = chain.stages[place]
    assert isinstance(stage, Slip)
    before = chain.with_stages(chain.stages[:place]) if place else None
    raster = before.resolve(source.raster).output if before else source.raster
    law, rate = stage.law(raster), stage.raster(raster).rate
    stream = before.run(source.pictures()) if before else source.pictures()
    held: dict[int, Any] = {}
    events: list[SlipEvent] = []
    earlier: deque[NDArray] = deque(maxlen=law.period)
    read, number, latest = 0, 0, -1
    while pictures is None or number < pictures:
        shown = law.shown(number)
        low, high = int(shown.min()), int(shown.max())
        while read <= high:
            picture = next(stream, None)
            if picture is None:
                return Slips(number, tuple(events))
            held[read] = picture.values
            read += 1
        held = {n: values for n, values in held.items() if n > low - law.period}
        time = float(number / rate)
        told = len(events) < MOST_TOLD
        if told and len(earlier) == law.period and np.array_equal(shown, earlier[0]):
            events.append(SlipEvent(number, time, "repeated", low, high))
        if told and number and law.period == 1 and low > latest + 1:
            events.append(SlipEvent(number, time, "dropped", latest + 1, low - 1))
        for line in law.tears(number):
            if len(events) < MOST_TOLD:
                a, b = int(shown[line - 1]), int(shown[line])
                events.append(SlipEvent(number, time, "torn", a, b, line, tear_step(held[a], held[b], line)))
        latest = max(latest, high)
        earlier.append(shown)
        number += 1
        advance("following the clocks")
    return Slips(number, tuple(events))

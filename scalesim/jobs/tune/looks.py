"""Close looks of a tuning: where outlines suffer most now and where they do after, each before and after."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.codes import to_codes
from scalesim.draw.marks import marked
from scalesim.draw.views import fitted, zoom_for
from scalesim.errors import NotMeasurable
from scalesim.figure import View, Window
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.prediction import Prediction
from scalesim.jobs.predict.views import Contestant, part_size, shape_of
from scalesim.metrics.outlines.line_doubling import splits
from scalesim.metrics.outlines.shares import outlines_of
from scalesim.metrics.outlines.strips import strip_width

MOST_FRAMES = 3
"""Frames looked at: those that gain most."""

_CUT = (160, 240)
"""Dots of the picture at the shape of the tube that a look takes, about."""
_ROOM = (320, 600)
"""Dots of the page that a look has, at most."""


@dataclass(frozen=True, eq=False)
class TuneLook:
    """One place of a frame before and after.

    `line` and `sample` say where it is on the source, `why` what it was chosen for: outlines suffer most
    there "now", "after" the best setting is dialled in, or in "both".
    """

    frame: str
    why: Literal["now", "after", "both"]
    line: float
    sample: float
    pair: tuple[Contestant, Contestant]

    @property
    def source(self) -> NDArray:
        """The frame that was sent, (lines, samples, 3) uint8 codes."""
        frame = self.pair[0].outcome.source.frame
        assert frame is not None
        return to_codes(frame)

    @property
    def shape(self) -> float:
        """Width of a source sample in heights of a source line."""
        return shape_of(self.pair[0].outcome, "4:3")

    @property
    def window(self) -> Window:
        """The part of the source about the place."""
        views = [View("", self.source), *(each.view for each in self.pair)]
        tall, wide = part_size(views, self.shape, _ROOM, self.source.shape[:2])
        return self.line - tall / 2, self.sample - wide / 2, tall, wide

    @property
    def at_fault(self) -> bool:
        """Whether there is anything to point at, before or after."""
        return any(each.marks for each in self.pair)

    def picture(self, number: int) -> NDArray:
        """Return the place before (0) or after (1) with what is at fault marked, (rows, dots, 3) uint8."""
        views = [View("", self.source), *(each.marked for each in self.pair)]
        zoom = zoom_for(views, self.window, self.shape, _ROOM)
        return marked(views[1 + number], fitted(views, self.window, zoom, _ROOM), zoom)


def looks_of(
    before: Chain, after: Chain, gains: Iterable[tuple[str, float]], clips: Iterable[tuple[str, Clip]]
) -> list[TuneLook]:
    """Return one or two looks at each of the frames that gain most, the greatest gain first.

    What is worst now is sure to look better after; so the place that is worst after is shown as well.

    Parameters:  gains : (frame, how far its score moves)
    """
    wanted = [name for name, _ in sorted(gains, key=lambda gain: -gain[1])[:MOST_FRAMES]]
    found = {}
    for name, clip in clips:
        if name in wanted:
            found[name] = _looks(before, after, name, clip)
    return [look for name in wanted for look in found.get(name, ())]


def _looks(before: Chain, after: Chain, name: str, clip: Clip) -> list[TuneLook]:
    found = [predict(clip, chain, metrics=[]) for chain in (before, after)]
    now, then = (worst_place(prediction) for prediction in found)
    pair = Contestant("as it is set now", 0, found[0]), Contestant("with the best setting", 1, found[1])
    tall, wide = _size_of_look(*found[0].evidence().source.shape[:2])
    if abs(now[0] - then[0]) < tall / 2 and abs(now[1] - then[1]) < wide / 2:
        return [TuneLook(name, "both", *now, pair)]
    return [TuneLook(name, "now", *now, pair), TuneLook(name, "after", *then, pair)]


def _size_of_look(lines: int, samples: int) -> tuple[float, float]:
    """Return how many source lines and samples a look shows, about."""
    return lines * _CUT[0] / 960, samples * _CUT[1] / 1280


def worst_place(prediction: Prediction) -> tuple[float, float]:
    """Return the source line and sample about which outlines are split or lost most.

    The split of every outline (1 for one that is gone), weighted by contrast and length, is added up over
    windows of the size of a look. Where there are no outlines the middle of the picture is taken.
    """
    evidence = prediction.evidence()
    lines, samples = evidence.source.shape[:2]
    try:
        outlines = outlines_of(evidence)
    except NotMeasurable:
        return lines / 2, samples / 2
    gone = outlines.shares.sum(axis=1) < outlines.least_share
    harm = outlines.weight * np.where(gone, 1.0, splits(evidence, outlines))
    middle = outlines.found.middle
    width = strip_width(samples)
    first = outlines.found.strip[outlines.found.starts]
    across = (first + outlines.found.pieces / 2) * width
    tall, wide = _size_of_look(lines, samples)
    near = (np.abs(middle[:, None] - middle) < tall / 2) & (np.abs(across[:, None] - across) < wide / 2)
    most = int(np.argmax(near @ harm))
    return float(middle[most]), float(across[most])

"""Close looks of a tuning: where outlines suffer most now and where they do after, each before and after."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.errors import NotMeasurable
from scalesim.jobs.predict.crop import cut, place_on_screen
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.prediction import Prediction
from scalesim.metrics.outlines.line_doubling import splits
from scalesim.metrics.outlines.shares import outlines_of
from scalesim.metrics.outlines.strips import strip_width

MOST_FRAMES = 3
"""Frames looked at: those that gain most."""

_CUT, _TIMES = (160, 240), 2
"""Dots of the seen picture that a look takes, and how large each is drawn."""


@dataclass(frozen=True, eq=False)
class TuneLook:
    """One place of a frame before and after, (dot rows, dots, 3) code values each.

    `line` and `sample` say where it is on the source, `why` what it was chosen for: outlines suffer most
    there "now", "after" the best setting is dialled in, or in "both".
    """

    frame: str
    why: Literal["now", "after", "both"]
    line: float
    sample: float
    before: NDArray
    after: NDArray


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
    pair = [predict(clip, chain, metrics=[]) for chain in (before, after)]
    now, then = (worst_place(prediction) for prediction in pair)
    tall, wide = _size_of_look(*pair[0].evidence().source.shape[:2])
    if abs(now[0] - then[0]) < tall / 2 and abs(now[1] - then[1]) < wide / 2:
        return [TuneLook(name, "both", *now, *_pictures(pair, now))]
    return [
        TuneLook(name, "now", *now, *_pictures(pair, now)),
        TuneLook(name, "after", *then, *_pictures(pair, then)),
    ]


def _pictures(pair: Iterable[Prediction], place: tuple[float, float]) -> list[NDArray]:
    pictures = []
    for prediction in pair:
        seen = prediction.seen
        small = cut(seen, *place_on_screen(prediction, *place, seen.shape), _CUT)
        pictures.append(np.repeat(np.repeat(small, _TIMES, axis=0), _TIMES, axis=1))
    return pictures


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

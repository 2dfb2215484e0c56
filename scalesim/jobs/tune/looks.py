"""Close looks of a tuning: the outlines that suffer most now, before and after, in the same places."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.errors import NotMeasurable
from scalesim.jobs.predict.crop import cut, place_on_screen
from scalesim.jobs.predict.predict import predict
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

    `line` and `sample` say where it is on the source.
    """

    frame: str
    line: float
    sample: float
    before: NDArray
    after: NDArray


def looks_of(
    before: Chain, after: Chain, gains: Iterable[tuple[str, float]], clips: Iterable[tuple[str, Clip]]
) -> list[TuneLook]:
    """Return looks at the frames that gain most, the greatest gain first.

    Parameters:  gains : (frame, how far its score moves)
    """
    wanted = [name for name, _ in sorted(gains, key=lambda gain: -gain[1])[:MOST_FRAMES]]
    found = {}
    for name, clip in clips:
        if name in wanted:
            found[name] = _look(before, after, name, clip)
    return [found[name] for name in wanted if name in found]


def _look(before: Chain, after: Chain, name: str, clip: Clip) -> TuneLook:
    line, sample = worst_place(before, clip)
    pictures = []
    for chain in (before, after):
        prediction = predict(clip, chain, metrics=[])
        seen = prediction.seen
        small = cut(seen, *place_on_screen(prediction, line, sample, seen.shape), _CUT)
        pictures.append(np.repeat(np.repeat(small, _TIMES, axis=0), _TIMES, axis=1))
    return TuneLook(name, line, sample, *pictures)


def worst_place(chain: Chain, clip: Clip) -> tuple[float, float]:
    """Return the source line and sample about which most outlines are split by a chain.

    The split of every outline, weighted by contrast and length, is added up over windows of the size of
    a look. Where there are no outlines the middle of the picture is taken.
    """
    evidence = predict(clip, chain, metrics=[]).evidence()
    lines, samples = evidence.source.shape[:2]
    try:
        outlines = outlines_of(evidence)
    except NotMeasurable:
        return lines / 2, samples / 2
    harm = outlines.weight * splits(evidence, outlines)
    middle = outlines.found.middle
    width = strip_width(samples)
    first = outlines.found.strip[outlines.found.starts]
    across = (first + outlines.found.pieces / 2) * width
    tall, wide = lines * _CUT[0] / 960, samples * _CUT[1] / 1280
    near = (np.abs(middle[:, None] - middle) < tall / 2) & (np.abs(across[:, None] - across) < wide / 2)
    most = int(np.argmax(near @ harm))
    return float(middle[most]), float(across[most])

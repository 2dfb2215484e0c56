"""What a chain's prediction leaves of a capture: both looked at alike, gain, lift and tone fitted.

The source is drawn along the lines once; a trial of a position then mixes lines alone. Columns are means,
some 240 across the picture, and the residual is told tile by tile, so that its spread is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.affine import Affine
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.landed import landed
from scalesim.core.picture import split_fields
from scalesim.core.raster import Raster
from scalesim.errors import ScalesimError
from scalesim.jobs.predict.predict import predict
from scalesim.signal.registration.align import reduced, warped

_COLUMNS = 240
_TILES = (8, 4)
"""Tiles down the picture and along the lines that the spread is taken over."""
_SIZED = 0.002
"""Heights within this of the predicted one are taken for it: the error of the size is no larger."""


@dataclass(frozen=True)
class Looks:
    """How the views of a capture lie across and down the predicted pictures.

    Parameters:
        samples : capture sample -> predicted sample
        lines : capture line -> predicted line, were the picture where the chain puts it
    """

    samples: Affine
    lines: Affine


def views_of(capture: NDArray, raster: Raster) -> list[NDArray]:
    """Return each picture a capture holds.

    A capture of twice a picture's lines holds two pictures: both fields, or one progressive picture
    twice. Anything else is taken for the whole landed picture.
    """
    if capture.shape[0] != 2 * raster.lines:
        return [capture]
    if raster.period == 1:
        return [capture[0::2], capture[1::2]]
    return [capture[own.parity :: 2] for own in raster.fields]


def predicted_views(cycle: Sequence[NDArray], raster: Raster, capture_lines: int) -> list[NDArray]:
    """Return the predicted picture of each view, (lines, samples, channels) as those of the cycle."""
    if capture_lines != 2 * raster.lines:
        return [landed(cycle, raster)]
    if raster.period == 1:
        return [landed(cycle, raster)] * 2
    return [values for values, _ in zip(cycle, raster.fields, strict=False)]


class Drawing:
    """The source once through what the chain does along the lines; then only lines are left to mix."""

    def __init__(self, clip: Clip, chain: Chain, capture_lines: int, looks: Sequence[Looks]) -> None:
        self.clip, self.capture_lines = clip, capture_lines
        self.columns, self.narrowed = 1, False
        assert clip.frame is not None
        try:
            first = chain.resolve(clip.raster).operator().phases[0]
        except ScalesimError:
            self._whole: NDArray | None = None
            return
        across = replace(first, lines=None)
        self._whole = across(luma(clip.frame)[:, :, None])

    def __call__(self, chain: Chain) -> list[NDArray]:
        """Return the predicted luma of each view, (lines, samples)."""
        plan = chain.resolve(self.clip.raster)
        if self._whole is None:
            cycle = [luma(picture)[:, :, None] for picture in predict(self.clip, chain, metrics=()).cycle]
        else:
            fields = split_fields(self._whole, self.clip.raster)
            phases = plan.operator().phases
            cycle = [
                replace(phases[k % len(phases)], samples=None)(fields[k % len(fields)])
                for k in range(plan.cycle)
            ]
        return [view[:, :, 0] for view in predicted_views(cycle, plan.output, self.capture_lines)]

    def narrow(self, look: Looks, samples: int) -> None:
        """Reduce the source to about 240 columns of a capture of so many samples, once and for all."""
        if self._whole is None or self.narrowed:
            return
        shape = (self._whole.shape[0], samples)
        drawn = warped(self._whole[:, :, 0], Affine(), look.samples, shape)
        self.columns, self.narrowed = max(1, samples // _COLUMNS), True
        self._whole = np.ascontiguousarray(reduced(drawn, 1, self.columns))[:, :, None]


class Seen:
    """One view of the capture, reduced to columns, and how a prediction is compared with it."""

    def __init__(self, view: NDArray, look: Looks, draw: Drawing, margin: float) -> None:
        draw.narrow(look, view.shape[1])
        self._columns = max(1, view.shape[1] // _COLUMNS)
        self._samples = view.shape[1]
        self._look, self._narrowed = look, draw.narrowed
        self._values = np.asarray(reduced(view, 1, self._columns), np.float64)
        self._margin = margin
        self._source_lines = draw.clip.raster.frame_lines

    def power(self, predicted: NDArray) -> NDArray:
        """Return the residual power per tile, gain, lift and a bend of the tone fitted."""
        drawn = self._drawn(predicted)
        lines, columns = self._values.shape
        edge = min(ceil(self._margin * lines / self._source_lines) + 2, lines // 6)
        inside = slice(edge, lines - edge), slice(columns // 50, columns - columns // 50)
        x, y = drawn[inside], self._values[inside]
        design = np.stack([np.ones(x.size), x.ravel(), x.ravel() ** 2], axis=1)
        answer = np.linalg.solve(design.T @ design + 1e-9 * np.eye(3), design.T @ y.ravel())
        missing = np.square(y - (design @ answer).reshape(y.shape))
        down, across = (np.arange(n) * t // n for n, t in zip(missing.shape, _TILES, strict=True))
        tile = down[:, None] * _TILES[1] + across
        return np.bincount(tile.ravel(), missing.ravel(), _TILES[0] * _TILES[1])

    def _drawn(self, predicted: NDArray) -> NDArray:
        lines, samples = len(self._values), predicted.shape[1]
        values = np.asarray(predicted, np.float32)
        height = values.shape[0] / (lines * self._look.lines.scale)
        down = None if lines == values.shape[0] and abs(height - 1) < _SIZED else self._look.lines
        if down is None and self._narrowed:
            return values.astype(np.float64)
        across = Affine() if self._narrowed else self._look.samples
        shape = (lines, samples if self._narrowed else self._samples)
        made = warped(values, down or Affine(), across, shape)
        return np.asarray(made if self._narrowed else reduced(made, 1, self._columns), np.float64)

"""A stage for boxes that carry colour differences at fewer places than luma."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from scalesim.core.build import filter_lines, resample_lines, select_lines
from scalesim.core.operator import Operator
from scalesim.core.raster import Raster
from scalesim.schema import param
from scalesim.stages._base import PictureStage, stage

MATRICES = {"bt601": (0.299, 0.114), "bt709": (0.2126, 0.0722)}
"""Luma weights of red and blue: ITU-R BT.601-7 item 2.5.1, BT.709-6 item 3.2; green has the rest."""


@stage("chroma", example={"sampling": "420"})
@dataclass(frozen=True, kw_only=True)
class Chroma(PictureStage):
    """Colour-difference subsampling: R'G'B' to Y'CbCr, chroma thinned and filled in again, and back.

    - 422: along a line, at every second sample, on the luma samples 0, 2, 4 … (ITU-R BT.601 part A),
      after taps 1/2/1; filled in linearly.
    - 420: also down the picture, midway between lines 2k and 2k+1 (the mean of both); filled in
      linearly. Each field is treated by itself when there are two.

    Luma by the weights of `matrix` passes untouched, so every line keeps its place; by other weights a
    coloured line changes by what its colour differences lose. Values are not clipped.
    """

    keeps_lines: ClassVar[bool] = True

    sampling: str = param("422", type="choice", choices=("422", "420"), doc="which chroma samples are kept")
    matrix: str = param("bt601", type="choice", choices=tuple(MATRICES), doc="luma weights of the box")

    def apply(self, values: NDArray, before: Raster, phase: int = 0) -> NDArray:
        """Return the picture with thinned chroma; same shape and dtype, every field treated alike."""
        red, blue = MATRICES[self.matrix]
        to_ycc = ycc_matrix(red, blue)
        ycc = values @ to_ycc.T.astype(values.dtype)
        keep_lines = before.lines if self.sampling == "422" else -(-before.lines // 2)
        thin = _thinner(before.lines, before.samples, keep_lines)
        fill = _filler(before.lines, before.samples, keep_lines)
        ycc[..., 1:] = fill(thin(np.ascontiguousarray(ycc[..., 1:])))
        return ycc @ np.linalg.inv(to_ycc).T.astype(values.dtype)


def ycc_matrix(red: float, blue: float) -> NDArray:
    """Return the 3x3 matrix from R'G'B' to Y', Cb, Cr with Cb and Cr in -1/2…1/2."""
    luma = np.array([red, 1.0 - red - blue, blue])
    cb = (np.array([0.0, 0.0, 1.0]) - luma) / (2 * (1 - blue))
    cr = (np.array([1.0, 0.0, 0.0]) - luma) / (2 * (1 - red))
    return np.stack([luma, cb, cr])


def _thinner(lines: int, samples: int, keep_lines: int) -> Operator:
    keep_samples = -(-samples // 2)
    across = select_lines(samples, keep_samples, 2.0) @ filter_lines(samples, (1, 2, 1))
    down = None
    if keep_lines != lines:
        down = resample_lines(lines, keep_lines, 2.0, antialias=False)
    return Operator(down, across, "code")


def _filler(lines: int, samples: int, keep_lines: int) -> Operator:
    keep_samples = -(-samples // 2)
    # chroma sample j lies on luma sample 2j: the middle of its own span is a quarter to the right
    across = resample_lines(keep_samples, samples, 0.5, 0.25)
    down = resample_lines(keep_lines, lines, 0.5) if keep_lines != lines else None
    return Operator(down, across, "code")

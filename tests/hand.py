"""Small pictures and plain numbers, so that expected values can be written out by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.operator import Operator
from scalesim.core.picture import Picture, still_stream
from scalesim.core.raster import Raster


def ramp(lines: int, samples: int = 2) -> NDArray:
    """Return a frame whose line i holds the number i (values above 1 are allowed between stages)."""
    return np.tile(np.arange(lines, dtype=np.float64)[:, None, None], (1, samples, 3))


def across(lines: int, samples: int) -> NDArray:
    """Return a frame whose sample j holds the number j."""
    return np.tile(np.arange(samples, dtype=np.float64)[None, :, None], (lines, 1, 3))


def taps(operator: Operator, line: int) -> dict[int, float]:
    """Return {input line: weight} of one output line, rounded to 9 places."""
    lines, weights = operator.taps(line)
    return {int(i): round(float(w), 9) for i, w in zip(lines, weights, strict=True)}


def pictures(chain: str, raster: Raster, frame: NDArray) -> list[Picture]:
    """Return one cycle of a chain's pictures of a still."""
    return Chain(chain).run_still(raster, still_stream(frame, raster))


def lines_of(picture: Picture | NDArray) -> list[float]:
    """Return the value of each line at its first sample."""
    values = picture.values if isinstance(picture, Picture) else picture
    return [round(float(v), 9) for v in values[:, 0, 0]]


def samples_of(picture: Picture | NDArray) -> list[float]:
    """Return the value of each sample on the first line."""
    values = picture.values if isinstance(picture, Picture) else picture
    return [round(float(v), 9) for v in values[0, :, 0]]


def nearly(found: Sequence[float], wanted: Sequence[float], tolerance: float = 1e-6) -> None:
    """Compare two lists of numbers, lengths included."""
    assert len(found) == len(wanted), f"{len(found)} numbers, not {len(wanted)}: {found}"
    np.testing.assert_allclose(found, wanted, atol=tolerance, rtol=0)

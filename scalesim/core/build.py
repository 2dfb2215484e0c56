"""Builders: the matrices of line dropping, averaging, resampling, repeating and filtering.

One rule for spans serves them all. Edges sit at integers: input line i covers [i, i+1). Output line
r owns the span [r*step + phase, (r+1)*step + phase) of input lines; `step` is input lines per
output line, `phase` is in input lines and positive moves the sampling down. The same rule serves
the samples along a line. Definition of this project (see the agreement with other libraries'
conventions in the tests).

What lies outside the picture is decided by `edge`: "replicate" repeats the outermost line, "black"
leaves those weights out, so that they add nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.kernel import KERNELS
from scalesim.core.operator import matrix_from_taps

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Edge = Literal["replicate", "black"]

_WHOLE = 1e-9
"""A span edge within this of a line's edge counts as being on it: r*step is rounded in binary."""


def span_starts(lines_out: int, step: float, phase: float) -> NDArray:
    """Return r*step + phase for every output line, snapped to integers within 1e-9; float64."""
    starts = np.arange(lines_out + 1) * float(step) + float(phase)
    whole = np.round(starts)
    return np.where(np.abs(starts - whole) < _WHOLE, whole, starts)


def select_lines(
    lines_in: int, lines_out: int, step: float, phase: float = 0.0, *, edge: Edge = "replicate"
) -> csr_array:
    """Keep, for each output line, the input line that holds its span's first point, floor(r*step + phase)."""
    columns = np.floor(span_starts(lines_out, step, phase)[:-1]).astype(np.int64)
    return _gather(lines_in, lines_out, np.arange(lines_out), columns, np.ones(lines_out), edge)


def average_lines(
    lines_in: int, lines_out: int, step: float, phase: float = 0.0, *, edge: Edge = "replicate"
) -> csr_array:
    """Average the span: each input line weighted by the share of the span it covers."""
    starts = span_starts(lines_out, step, phase)
    first = np.floor(starts[:-1]).astype(np.int64)
    reach = int(np.ceil(step)) + 1
    columns = first[:, None] + np.arange(reach)
    overlap = np.minimum(columns + 1, starts[1:, None]) - np.maximum(columns, starts[:-1, None])
    weights = np.maximum(overlap, 0.0) / step
    rows = np.repeat(np.arange(lines_out), reach)
    return _gather(lines_in, lines_out, rows, columns.ravel(), weights.ravel(), edge)


def resample_lines(
    lines_in: int,
    lines_out: int,
    step: float,
    phase: float = 0.0,
    *,
    kernel: str = "linear",
    antialias: bool = True,
    edge: Edge = "replicate",
) -> csr_array:
    """Weigh input lines by a kernel centred on the span's middle, (r + 1/2)*step + phase.

    With `antialias` the kernel is widened by max(step, 1), which removes detail the output cannot
    carry. The taps of a line are normalised to sum 1 before the edge rule is applied.
    """
    shape = KERNELS[kernel]
    widening = max(float(step), 1.0) if antialias else 1.0
    reach = shape.half_width * widening
    middles = (np.arange(lines_out) + 0.5) * float(step) + float(phase)
    first = np.floor(middles - reach - 0.5).astype(np.int64)
    columns = first[:, None] + np.arange(int(np.ceil(2 * reach)) + 2)
    weights = shape.weight((columns + 0.5 - middles[:, None]) / widening)
    weights /= weights.sum(axis=1, keepdims=True)
    rows = np.repeat(np.arange(lines_out), columns.shape[1])
    return _gather(lines_in, lines_out, rows, columns.ravel(), weights.ravel(), edge)


def beam_lines(middles: NDArray, lines_out: int, sigma: float) -> csr_array:
    """Draw lines with their middles at `middles` through a Gaussian beam onto `lines_out` lines.

    Every output line is the mean of the drawn lines weighted by exp(-d^2 / 2 sigma^2), d the distance
    of the middles in output lines; weights beyond 4 sigma are left out, and the nearest line always
    counts. A flat picture stays flat.
    """
    places = np.arange(lines_out) + 0.5
    reach = 4 * sigma
    nearest = np.clip(np.searchsorted(middles, places), 1, max(1, len(middles) - 1))
    width = int(np.ceil(reach / max(np.min(np.diff(middles), initial=np.inf), 1e-6))) + 1
    width = min(width, len(middles))
    columns = np.clip(nearest[:, None] + np.arange(-width, width + 1), 0, len(middles) - 1)
    distance = np.abs(middles[columns] - places[:, None])
    closest = distance == distance.min(axis=1, keepdims=True)
    weights = np.where((distance <= reach) | closest, np.exp(-0.5 * (distance / sigma) ** 2), 0.0)
    # a column clipped to the border appears more than once: only its first appearance counts
    weights[:, 1:][columns[:, 1:] == columns[:, :-1]] = 0.0
    weights = np.where(weights.sum(axis=1, keepdims=True) > 0, weights, closest)
    weights = weights / weights.sum(axis=1, keepdims=True)
    rows = np.repeat(np.arange(lines_out), columns.shape[1])
    return matrix_from_taps((lines_out, len(middles)), rows, columns.ravel(), weights.ravel())


def repeat_lines(lines_in: int, times: int) -> csr_array:
    """Show every line `times` times in a row."""
    lines_out = lines_in * times
    return select_lines(lines_in, lines_out, 1.0 / times)


def filter_lines(lines_in: int, taps: tuple[float, ...], *, edge: Edge = "replicate") -> csr_array:
    """Filter the lines with an odd number of taps centred on each line, normalised to sum 1."""
    weights = np.asarray(taps, dtype=np.float64)
    weights = weights / weights.sum()
    offsets = np.arange(len(taps)) - len(taps) // 2
    columns = np.arange(lines_in)[:, None] + offsets
    rows = np.repeat(np.arange(lines_in), len(taps))
    return _gather(lines_in, lines_in, rows, columns.ravel(), np.tile(weights, lines_in), edge)


def average_pairs(lines_in: int) -> csr_array:
    """Replace lines 2k and 2k+1 by their mean; `lines_in` is even."""
    rows = np.repeat(np.arange(lines_in), 2)
    columns = (rows // 2) * 2 + np.tile([0, 1], lines_in)
    return matrix_from_taps((lines_in, lines_in), rows, columns, np.full(2 * lines_in, 0.5))


def take_field(frame_lines: int, parity: int) -> csr_array:
    """Keep the lines of one field of a frame: parity, parity + 2, parity + 4 ..."""
    return select_lines(frame_lines, frame_lines // 2, 2.0, float(parity))


def _gather(
    lines_in: int, lines_out: int, rows: NDArray, columns: NDArray, weights: NDArray, edge: Edge
) -> csr_array:
    """Build the matrix after sending the columns outside the picture where `edge` says."""
    shape = (lines_out, lines_in)
    if edge == "replicate":
        return matrix_from_taps(shape, rows, np.clip(columns, 0, lines_in - 1), weights)
    inside = (columns >= 0) & (columns < lines_in)
    return matrix_from_taps(shape, rows[inside], columns[inside], weights[inside])

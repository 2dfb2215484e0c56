"""From an answer of `identify` to an operator file, so that a box nobody can name is still predicted."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.core.operator_file import FieldRows, OperatorFile, Row
from scalesim.core.raster import Field
from scalesim.core.source import source_mode
from scalesim.jobs.identify.findings import Findings

_NEGLIGIBLE = 1e-6


def operator_file(found: Findings) -> OperatorFile:
    """Return the measured line weights of a box.

    Two fields are taken to land half a line apart, as an interlaced sync makes them: a capture does not show
    where they land. Put `field-only` after the stage for a display that draws both on one set of lines.
    """
    fields_in = source_mode(found.lines_in, 1280 if found.lines_in >= 720 else 720, found.mode).raster.period
    fields, steps = [], []
    for parity, weights in enumerate(found.rows):
        rows = weights[:, parity::2] if fields_in == 2 else weights
        step, phase = _spans(rows)
        steps.append(step)
        fields.append(
            FieldRows(Field(parity, Fraction(parity, 2)), phase, tuple(_row(line) for line in rows))
        )
    step = sum(steps) / len(steps)
    return OperatorFile(
        title=f"measured with the kernel chart, {found.mode}",
        lines_in=found.lines_in // fields_in,
        fields_in=fields_in,
        encoding="light" if found.encoding == "light" else "code",
        step=float(step),
        fields=tuple(fields),
    )


def _spans(rows: NDArray) -> tuple[float, float]:
    """Return step and phase of the spans about which the rows' weights are balanced.

    A line through the centroids of the rows inside the source: middle of row r = step (r + 1/2) + phase.
    """
    sums = rows.sum(axis=1)
    lines = np.flatnonzero(sums > 0.5)
    inner = lines[len(lines) // 10 : len(lines) - len(lines) // 10]
    middles = rows[inner] @ (np.arange(rows.shape[1]) + 0.5) / sums[inner]
    step, phase = np.polyfit(inner + 0.5, middles, 1)
    return float(step), float(phase)


def _row(weights: NDArray) -> Row:
    """Return (first line, weights) of one dense row, without the noughts at its ends."""
    at = np.flatnonzero(np.abs(weights) > _NEGLIGIBLE)
    if not len(at):
        return 0, (0.0,)
    first, last = int(at[0]), int(at[-1])
    return first, tuple(float(w) for w in weights[first : last + 1])

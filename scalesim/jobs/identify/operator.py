"""From an answer of `identify` to an operator file, so that a box nobody can name is still predicted."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.operator_file import FieldRows, OperatorFile, Row
from scalesim.core.raster import Field
from scalesim.core.source import source_mode
from scalesim.jobs.identify.findings import Findings
from scalesim.stages.fields import Deinterlace
from scalesim.stages.measured import Measured

_NEGLIGIBLE = 1e-6


def operator_file(found: Findings) -> OperatorFile:
    """Return the measured line weights of a box.

    Two fields are taken to land half a line apart, as an interlaced sync makes them: a capture does not show
    where they land. Put `field-only` after the stage for a display that draws both on one set of lines.

    The file takes fields where each field out is made of the source's field of that parity, else frames:
    those of an interlaced source must be woven first, see `takes_woven`.
    """
    fields_in = 1 if takes_woven(found) else _period(found)
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


def takes_woven(found: Findings) -> bool:
    """True when the fields of an interlaced source must be woven before the weights can act on them.

    They need not where each field out is made of the lines of its own parity alone.
    """
    if _period(found) == 1:
        return False
    own = [bool(np.abs(rows[:, 1 - k :: 2]).max() <= _NEGLIGIBLE) for k, rows in enumerate(found.rows)]
    return len(own) == 1 or not all(own)


def measured_chain(found: Findings, file: str) -> Chain:
    """Return the chain that reads a box's operator file."""
    stages = (Deinterlace(how="weave"),) if takes_woven(found) else ()
    return Chain(*stages, Measured(file=file))


def _period(found: Findings) -> int:
    """Return the pictures in a cycle of the source, 2 where it has fields."""
    return source_mode(found.lines_in, 1280 if found.lines_in >= 720 else 720, found.mode).raster.period


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

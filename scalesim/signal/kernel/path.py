"""Dividing out a capture path that was measured with a known source, before a box is identified.

A path that filters lines acts on the box's lines as a matrix P. Captured lines are then P x, and x is had by
least squares with a small ridge: x = (P^T P + r I)^-1 P^T y, on code values. What P has taken away entirely
does not come back; noise grows where P is weak.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.core.operator_file import OperatorFile
from scalesim.errors import ParameterError

RIDGE = 1e-3
"""Of the largest eigenvalue: what P weakens to less than about 3 % is given up."""


def without_path(captures: Sequence[NDArray], path: OperatorFile) -> list[NDArray]:
    """Return captured frames as they were before the path.

    Parameters:
        captures : (lines, samples, 3) each, woven when the path has two fields
        path : measured with a source of the box's own output mode played straight into the capture
    Raises: ParameterError when the path is of other lines than the captures
    """
    inverses = [
        _inverse(phase.lines.toarray()) for phase in path.operator().phases if phase.lines is not None
    ]
    period = len(path.fields)
    found = []
    for frame in captures:
        if frame.shape[0] != path.lines_out * period or path.lines_in * path.fields_in != frame.shape[0]:
            raise ParameterError(
                f"path: was measured with {path.lines_in * path.fields_in} lines to "
                f"{path.lines_out * period}; the capture has {frame.shape[0]} (measure the path with a chart "
                "of the box's output mode)"
            )
        made = np.empty(frame.shape, np.float32)
        for parity, inverse in enumerate(inverses):
            lines = frame[parity::period]
            made[parity::period] = (inverse @ lines.reshape(len(lines), -1)).reshape(lines.shape)
        found.append(np.clip(made, -0.5, 1.5))
    return found


def _inverse(weights: NDArray) -> NDArray:
    square = weights.T @ weights
    ridge = RIDGE * float(np.linalg.eigvalsh(square)[-1])
    return np.asarray(np.linalg.solve(square + ridge * np.eye(len(square)), weights.T), np.float32)

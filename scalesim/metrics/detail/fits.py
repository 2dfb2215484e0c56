"""The other axis taken out: what a chain does along the line must not pass for detail of its lines.

A smear along the line takes detail out of every column, and a dropped line is another line: neither says
anything of the axis that is measured. So the source is first brought through the other axis as the output
shows it, by least squares.
"""

from __future__ import annotations

from math import ceil
from typing import Any

import numpy as np

from scalesim.core.affine import Affine
from scalesim.core.build import filter_lines
from scalesim.core.operator import matrix_from_taps
from scalesim.metrics._base import Evidence
from scalesim.metrics.detail.waves import Array
from scalesim.metrics.outlines.line_weights import known_of

_REACH = 8
"""Strips on either side that a smear may reach: a fifteenth of the width in all."""
_SAME = 0.02
"""Taps that differ by less from one single tap smear nothing."""
_LEAST_GAIN = 0.05
_ROUNDING = 1e-5
_EXPLAINED = 0.7
"""A smear leaves less than this of the squared difference; what else makes pictures differ leaves more."""
_RIDGE = 1e-4
_TURNS = 2
_FITTED = "fitted lines"


def line_by_line(evidence: Evidence, strips: Array, landed: Array) -> Any:
    """Return what each landed line holds of the source lines: the chain's weights, or fitted ones.

    Fitted lines and the smear of the strips are found in turns, because either hides the other.

    Parameters:  strips : (source lines, strips) of the source; landed : (landed lines, strips)
    Returns:     (landed lines, source lines) sparse float32, to be applied from the left
    """
    known = known_of(evidence)
    if known is not None:
        return known.sparse
    if _FITTED not in evidence.cache:
        lines = _fitted_lines(strips, landed, evidence.lines)
        for _ in range(_TURNS):
            taps = smear(lines @ strips, landed)
            if taps is None:
                break
            lines = _fitted_lines(smeared(strips, taps), landed, evidence.lines)
        evidence.cache[_FITTED] = lines
    return evidence.cache[_FITTED]


def _fitted_lines(source: Array, landed: Array, look: Affine) -> Any:
    """Return for every landed line the mixture of source lines around it that is nearest to it."""
    reach = ceil(2 * abs(look.scale)) + 1
    middle = np.floor(look(np.arange(landed.shape[0]) + 0.5)).astype(int)
    lines = np.clip(middle[:, None] + np.arange(-reach, reach + 1), 0, source.shape[0] - 1)
    about = (source - source.mean(axis=1, keepdims=True))[lines]
    spread = about @ about.transpose(0, 2, 1)
    level = np.trace(spread, axis1=1, axis2=2) / spread.shape[1]
    spread += (_RIDGE * level + 1e-6)[:, None, None] * np.eye(spread.shape[1], dtype=spread.dtype)
    taps = np.linalg.solve(spread, about @ (landed - landed.mean(axis=1, keepdims=True))[:, :, None])
    rows = np.repeat(np.arange(landed.shape[0]), lines.shape[1])
    shape = (landed.shape[0], source.shape[0])
    return matrix_from_taps(shape, rows, lines.ravel(), taps.ravel().astype(float)).astype(np.float32)


def smear(on_lines: Array, landed: Array) -> tuple[float, ...] | None:
    """Return the taps along the strips that make the one from the other, sum 1; None when they are alike, or
    differ by something else.

    Parameters:  on_lines : the source on the landed lines; landed : the output, (lines, strips) both
    """
    size = 2 * _REACH + 1
    if on_lines.shape[1] < 4 * size:
        return None
    about, seen = on_lines - on_lines.mean(), landed - landed.mean()
    inner = slice(_REACH, -_REACH)
    own, seen = about[:, inner].reshape(-1), seen[:, inner].reshape(-1)
    power = max(float(own @ own), 1e-12)
    gain = float(own @ seen) / power
    if gain < _LEAST_GAIN:
        return None
    missing = seen / np.float32(gain) - own
    if float(missing @ missing) < _ROUNDING * power:
        return None
    around = np.lib.stride_tricks.sliding_window_view(about, size, axis=1).reshape(-1, size)
    spread = (around.T @ around).astype(np.float64)
    spread += _RIDGE * np.trace(spread) / size * np.eye(size)
    straight = np.eye(size)[_REACH]
    change = np.linalg.solve(spread, around.T @ missing)
    left, taps = missing - around @ change.astype(np.float32), straight + change
    if float(left @ left) > _EXPLAINED * float(missing @ missing):
        return None
    if taps.sum() < _LEAST_GAIN or np.abs(change).max() < _SAME:
        return None
    return tuple(taps / taps.sum())


def smeared(strips: Array, taps: tuple[float, ...]) -> Array:
    """Return (lines, strips) after the taps along the line."""
    across = filter_lines(strips.shape[1], taps[::-1]).astype(np.float32)
    along: Array = (across @ strips.T).T
    return along

"""Where the captured lines look: the ridge in the correlation of captured lines with source lines.

A captured line's cells correlate with the codes of the source lines it was made from and with no
others, so that the table of correlations shows a straight ridge. A grid over step and phase finds it,
with a box as wide as the step; centroids of its profile, block by block, make it fine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine

_STEPS = (0.72, 1.5)
"""Range of steps tried, as shares of source lines over captured lines: overscan, crops, letterbox."""
_OFF_CENTRE = 0.14
"""Farthest the capture's middle may look from the source's middle, as a share of the source's lines."""
_BLOCK = 20
_SURE = 15.0
"""Chance reaches 6 standard deviations over the whole grid."""


@dataclass(frozen=True)
class Ridge:
    """Where captured lines look, and how clearly.

    Parameters:
        place : output line r's middle is at place(r + 1/2), in source lines
        height : mean correlation on the ridge, in standard deviations of what chance gives
        upside_down : True when the capture runs the other way
    """

    place: Affine
    height: float
    upside_down: bool = False


def find_ridge(values: NDArray, usable: NDArray, codes: NDArray, coded: NDArray) -> Ridge:
    """Find the ridge of one field.

    Parameters:
        values : (lines, cells) captured codes
        usable : (lines,) bool, those that may carry codes
        codes : (source lines, cells) of 0 and 1
        coded : (source lines,) bool
    """
    table = correlations(values, usable, codes, coded)
    best = _search(table)
    if best[0] < _SURE:
        turned = _search(table[::-1])
        if turned[0] > 1.5 * best[0]:
            return Ridge(turned[1], turned[0], upside_down=True)
    place = best[1]
    for _ in range(3):
        place = _finer(table, place)
    return Ridge(place, best[0])


def correlations(values: NDArray, usable: NDArray, codes: NDArray, coded: NDArray) -> NDArray:
    """Return (lines, source lines) correlation coefficients, 0 where there are no codes."""
    y = values - values.mean(axis=1, keepdims=True)
    y = np.where(usable[:, None], y / np.maximum(np.linalg.norm(y, axis=1, keepdims=True), 1e-6), 0.0)
    x = codes - codes.mean(axis=1, keepdims=True)
    x = np.where(coded[:, None], x / np.maximum(np.linalg.norm(x, axis=1, keepdims=True), 1e-6), 0.0)
    return (y @ x.T).astype(np.float32)


def _search(table: NDArray) -> tuple[float, Affine]:
    """Return (height, place) of the best straight line through the table."""
    lines, sources = table.shape
    nominal = sources / lines
    wide = max(round(nominal), 1)
    pad = sources
    sums = np.concatenate([np.zeros((lines, 1), np.float32), np.cumsum(table, axis=1)], axis=1)
    sums = np.pad(sums, ((0, 0), (pad, pad)), mode="edge")
    box = sums[:, wide:] - sums[:, :-wide]
    hop = max(lines // 70, 1)
    rows = np.arange(0, lines, hop)
    off = np.arange(-int(_OFF_CENTRE * sources), int(_OFF_CENTRE * sources) + 1, max(wide // 2, 1))
    best = (-np.inf, 0.0, 0.0)
    for step in np.arange(_STEPS[0] * nominal, _STEPS[1] * nominal, nominal / lines):
        middle = step * (rows + 0.5 - lines / 2) + sources / 2
        first = np.round(middle - wide / 2).astype(int) + pad
        scores = box[rows[:, None], np.clip(first[:, None] + off, 0, box.shape[1] - 1)].sum(axis=0)
        at = int(np.argmax(scores))
        if scores[at] > best[0]:
            best = (float(scores[at]), float(step), float(off[at]))
    score, step, centre = best
    noise = float(np.std(box[rows])) * np.sqrt(len(rows))
    return float(score / max(noise, 1e-9)), Affine(step, sources / 2 + centre - step * lines / 2)


def _finer(table: NDArray, place: Affine) -> Affine:
    """Return the place after a straight line through the centroids of the ridge, block by block."""
    lines, sources = table.shape
    reach = max(int(np.ceil(1.5 * place.scale)), 3)
    middles = place(np.arange(lines) + 0.5)
    nearest = np.floor(middles).astype(int)
    columns = nearest[:, None] + np.arange(-reach, reach + 1)
    inside = (columns >= 0) & (columns < sources)
    profile = np.where(inside, table[np.arange(lines)[:, None], np.clip(columns, 0, sources - 1)], 0.0)
    distance = columns + 0.5 - middles[:, None]
    at, centroid, weight = [], [], []
    for top in range(0, lines, _BLOCK):
        block = slice(top, min(top + _BLOCK, lines))
        mass = float(profile[block].sum())
        if mass > 0.1 * (block.stop - block.start):
            at.append((block.start + block.stop) / 2)
            centroid.append(float((profile[block] * distance[block]).sum()) / mass)
            weight.append(mass)
    if len(at) < 3:
        return place
    offset, slope = _robust_line(np.asarray(at), np.asarray(centroid), np.asarray(weight))
    return Affine(place.scale + slope, place.offset + offset)


def _robust_line(x: NDArray, y: NDArray, weight: NDArray) -> tuple[float, float]:
    """Return (offset, slope) of a line, outliers weighed down."""
    trust = weight.copy()
    for _ in range(5):
        slope, offset = np.polyfit(x, y, 1, w=np.sqrt(trust))
        rest = np.abs(y - slope * x - offset)
        scale = max(1.5 * float(np.median(rest)), 1e-3)
        trust = weight / (1 + (rest / (2 * scale)) ** 2)
    return float(offset), float(slope)

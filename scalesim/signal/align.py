"""Aligning two pictures by Gauss-Newton: the fit behind `registration`.

The source is warped onto the capture's lines and samples by one straight line per axis, low-passed to
the capture's pitch on the way, and the maps are moved until the weighted squared difference is least
(B. Lucas and T. Kanade, 1981, for six parameters). Gain, lift and a bend of the tone curve are fitted
along with them, so that a darker capture is not taken for a moved one. Differences beyond what most of
the picture shows (an overlay, a bar, a mouse pointer) lose their weight by Tukey's biweight.

Standard errors are those of clustered data: the picture is cut into 12 x 12 tiles and what each tile
pulls at the parameters is taken as one observation, because neighbouring differences are not
independent (codec, scaling).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.build import resample_lines
from scalesim.core.operator import Operator

_BIWEIGHT = 6.0
_TILES = 12
_SETTLED = 2e-3
"""A round that moves the picture's border by less than this share of a line or sample is the last."""
_LEAST_INSIDE = 0.25
_FARTHEST = 0.15
"""A scale that leaves its first guess by more than this share runs away: the grid of guesses is finer."""


@dataclass(frozen=True, eq=False)
class Fit:
    """Maps from capture to source coordinates and what the fit left.

    Parameters:
        lines, samples : capture -> source
        errors : (4,) standard errors of lines and samples: value at the capture's middle, scale
        slopes : source lines per source sample along a line, and source samples per source line down
        correlation : of the two pictures' detail where they overlap, -1..1
    """

    lines: Affine
    samples: Affine
    errors: NDArray
    slopes: tuple[float, float]
    correlation: float


def reduced(values: NDArray, lines: int, samples: int) -> NDArray:
    """Return means of `lines` x `samples` values; what does not fill a whole block is left out."""
    if lines == 1 and samples == 1:
        return values
    down, across = values.shape[0] // lines, values.shape[1] // samples
    cut = values[: down * lines, : across * samples]
    if samples > 1:
        cut = cut.reshape(len(cut), across, samples).mean(axis=2)
    return cut.reshape(down, lines, across).mean(axis=1) if lines > 1 else cut


def warped(source: NDArray, lines: Affine, samples: Affine, shape: tuple[int, int]) -> NDArray:
    """Return the source as `shape` lines and samples that look where the maps say, low-passed to that pitch.

    Parameters:  source : (lines, samples) float; scales are positive
    Returns:     (shape) of the same dtype; beyond the source its border is repeated
    """
    down = resample_lines(source.shape[0], shape[0], lines.scale, lines.offset, kernel="cubic")
    across = resample_lines(source.shape[1], shape[1], samples.scale, samples.offset, kernel="cubic")
    picture: NDArray = Operator(down, across)(source[:, :, None])[:, :, 0]
    return picture


def smooth(values: NDArray) -> NDArray:
    """Return the 1/2/1 low-pass along both axes, borders repeated."""
    wide = np.pad(values, 1, mode="edge")
    down = wide[:-2] + 2 * wide[1:-1] + wide[2:]
    return (down[:, :-2] + 2 * down[:, 1:-1] + down[:, 2:]) / values.dtype.type(16)


def fit(capture: NDArray, source: NDArray, start: tuple[Affine, Affine], rounds: int) -> Fit | None:
    """Return the maps that carry the source onto the capture, from `start`; None when they run away.

    Parameters:
        capture, source : (lines, samples) float32 luma, of any sizes; working grids of the caller
        start : maps of lines and samples, capture -> source, within about two capture lines of right
        rounds : most rounds of Gauss-Newton
    """
    lines, samples = start
    target = smooth(capture)
    size = capture.shape
    ends = np.array([s / 2 for s in size])
    for left in range(rounds, 0, -1):
        inside = _inside(lines, samples, size, source.shape)
        if inside.mean() < _LEAST_INSIDE:
            return None
        drawn = smooth(warped(source, lines, samples, size))
        step, covariance, correlation = _solve(target, drawn, inside)
        if step is None:
            return None
        new_lines = _moved(lines, step[0], step[1] / ends[0], ends[0])
        new_samples = _moved(samples, step[2], step[3] / ends[1], ends[1])
        if min(new_lines.scale, new_samples.scale) <= 0:
            return None
        last = left == 1 or float(np.max(np.abs(step[:4]))) < _SETTLED
        if last:
            units = np.array([lines.scale, lines.scale / ends[0], samples.scale, samples.scale / ends[1]])
            errors = np.sqrt(np.diag(covariance)[:4]) * units
            slopes = (
                step[4] * lines.scale / (ends[1] * samples.scale),
                step[5] * samples.scale / (ends[0] * lines.scale),
            )
            return Fit(new_lines, new_samples, errors, slopes, correlation)
        if any(
            abs(np.log(new.scale / old.scale)) > _FARTHEST
            for new, old in zip((new_lines, new_samples), start, strict=True)
        ):
            return None
        lines, samples = new_lines, new_samples
    return None


def _moved(old: Affine, shift: float, stretch: float, middle: float) -> Affine:
    """Return the map that looks `shift + stretch * (after - middle)` output units further."""
    scale = float(old.scale * (1 + stretch))
    return Affine(scale, float(old.offset + old.scale * (shift - stretch * middle)))


def _inside(lines: Affine, samples: Affine, size: tuple[int, int], source: tuple[int, ...]) -> NDArray:
    """Return which values look inside the source, a border of two pitches left out; bool."""
    keep = []
    for look, count, there in ((lines, size[0], source[0]), (samples, size[1], source[1])):
        place = look(np.arange(count) + 0.5)
        margin = 2 * look.scale
        own = np.arange(count)
        keep.append((place > margin) & (place < there - margin) & (own > 1) & (own < count - 2))
    return np.outer(*keep)


def _solve(target: NDArray, drawn: NDArray, inside: NDArray) -> tuple[NDArray | None, NDArray, float]:
    """Return (six motions in capture units, their covariance, correlation of detail).

    The motions are lines: shift, stretch times half height; samples likewise; then the two shears.
    """
    down, across = (np.arange(s) + 0.5 - s / 2 for s in drawn.shape)
    y = (down / (drawn.shape[0] / 2)).astype(np.float32)[:, None]
    x = (across / (drawn.shape[1] / 2)).astype(np.float32)[None, :]
    by_line, by_sample = (np.gradient(drawn, axis=axis) for axis in (0, 1))
    columns = (
        *(by_line, by_line * y, by_sample, by_sample * x, by_line * x, by_sample * y),
        *(drawn, drawn * drawn, np.ones_like(drawn)),
    )
    design = np.stack([c[inside] for c in columns], axis=1).astype(np.float64)
    wanted = target[inside].astype(np.float64)
    weight = np.ones_like(wanted)
    answer = np.zeros(design.shape[1])
    for _ in range(3):
        leaning = design * weight[:, None]
        normal = (leaning.T @ design).astype(np.float64)
        normal[np.diag_indices(len(normal))] *= 1 + 1e-12
        try:
            answer = np.linalg.solve(normal, (leaning.T @ wanted).astype(np.float64))
        except np.linalg.LinAlgError:
            return None, normal, 0.0
        missing = wanted - design @ answer
        limit = _BIWEIGHT * 1.4826 * float(np.median(np.abs(missing))) + 4 / 255
        weight = np.square(np.maximum(0, 1 - np.square(missing / limit)))
    gain = answer[6] + 2 * answer[7] * float(np.mean(drawn[inside]))
    if abs(gain) < 1e-3 or not np.all(np.isfinite(answer)):
        return None, normal, 0.0
    covariance = _clustered(design, weight * missing, normal, inside)[:6, :6] / gain**2
    return answer[:6] / gain, covariance, _correlation(target, drawn, inside)


def _clustered(design: NDArray, pull: NDArray, normal: NDArray, inside: NDArray) -> NDArray:
    """Return the sandwich covariance of the answer with tiles as the independent units."""
    lines, samples = inside.shape
    tile = (np.arange(lines) * _TILES // lines)[:, None] * _TILES + np.arange(samples) * _TILES // samples
    own = tile[inside]
    pulls = np.stack([np.bincount(own, c * pull, _TILES**2) for c in design.T], axis=1)
    inverse = np.linalg.pinv(normal)
    return inverse @ (pulls.T @ pulls) @ inverse


def _correlation(target: NDArray, drawn: NDArray, inside: NDArray) -> float:
    """Return the correlation of both pictures' detail (less their means over 17 x 17) where they overlap."""
    a, b = (detail(v)[inside] for v in (target, drawn))
    scale = float(np.sqrt(np.sum(a * a, dtype=np.float64) * np.sum(b * b, dtype=np.float64)))
    return float(np.sum(a * b, dtype=np.float64)) / scale if scale > 0 else 0.0


def detail(values: NDArray, width: int = 17) -> NDArray:
    """Return values less their running means over `width` lines and samples, same dtype."""
    from scipy.ndimage import uniform_filter

    return values - uniform_filter(values, width, mode="nearest")

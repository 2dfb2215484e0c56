"""Aligning two pictures by Gauss-Newton: the fit behind `registration`.

The source is warped onto the capture's lines and samples by one straight line per axis, low-passed to
the capture's pitch on the way, and the maps are moved until the weighted squared difference is least
(B. Lucas and T. Kanade, 1981, for six parameters). Gain, lift and a bend of the tone curve are fitted
along with them, so that a darker capture is not taken for a moved one. Differences beyond what most of
the picture shows (an overlay, a bar, a mouse pointer) lose their weight by Tukey's biweight.

Standard errors are those of clustered data: the picture is cut into 12 x 12 tiles and what each tile
pulls at the parameters is taken as one observation, because neighbouring differences are not
independent (codec, scaling). They are those of the method of instrumental variables (O. Reiersol, 1945;
from memory), the capture's own slopes being the instruments.
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
        slopes, slope_errors : (2,) source lines per source sample along a line, and source samples per
            source line down
        correlation : of the two pictures' detail where they overlap, -1..1
        agreement : correlation of the two pictures' slopes down and along the lines, -1..1: near 0 where
            what varies that way is noise
        condition : condition number of the six motions, each in its own unit, gain and tone left free
    """

    lines: Affine
    samples: Affine
    errors: NDArray
    slopes: NDArray
    slope_errors: NDArray
    correlation: float
    agreement: tuple[float, float]
    condition: float


@dataclass(frozen=True, eq=False)
class Step:
    """One round of Gauss-Newton.

    Parameters:
        motions : (6,) in capture units: lines' shift and stretch times half the height; samples likewise;
            then the two shears
        covariance : (6, 6) of the motions
        correlation, agreement, condition : as of `Fit`
    """

    motions: NDArray
    covariance: NDArray
    correlation: float
    agreement: tuple[float, float]
    condition: float


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
        found = _solve(target, drawn, inside)
        if found is None:
            return None
        step = found.motions
        new_lines = _moved(lines, step[0], step[1] / ends[0], ends[0])
        new_samples = _moved(samples, step[2], step[3] / ends[1], ends[1])
        if min(new_lines.scale, new_samples.scale) <= 0:
            return None
        last = left == 1 or float(np.max(np.abs(step[:4]))) < _SETTLED
        if last:
            units = np.array([lines.scale, lines.scale / ends[0], samples.scale, samples.scale / ends[1]])
            turn = np.array(
                [lines.scale / (ends[1] * samples.scale), samples.scale / (ends[0] * lines.scale)]
            )
            errors = np.sqrt(np.diag(found.covariance))
            return Fit(
                lines=new_lines,
                samples=new_samples,
                # a fit that has not come to rest is off by about its last step
                errors=np.hypot(errors[:4], step[:4]) * units,
                slopes=step[4:] * turn,
                slope_errors=errors[4:] * turn,
                correlation=found.correlation,
                agreement=found.agreement,
                condition=found.condition,
            )
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


def _solve(target: NDArray, drawn: NDArray, inside: NDArray) -> Step | None:
    """Return the step that carries `drawn` onto `target`; None where none can be told.

    Sums are taken in double precision: the columns share their mean, and condition numbers of 1e5 on art
    of few tones leave nothing of sums in single precision.
    """
    by_line, by_sample = (np.gradient(drawn, axis=axis) for axis in (0, 1))
    tones = [c[inside] for c in (drawn, drawn * drawn, np.ones_like(drawn))]
    design = np.stack([*_motions(by_line, by_sample, inside), *tones], axis=1).astype(np.float64)
    wanted = target[inside].astype(np.float64)
    strength = np.square(by_line[inside]) + np.square(by_sample[inside])
    telling = strength >= strength.mean()
    weight = np.ones_like(wanted)
    for _ in range(3):
        leaning = design * weight[:, None]
        normal = leaning.T @ design
        normal[np.diag_indices(len(normal))] *= 1 + 1e-12
        try:
            answer = np.linalg.solve(normal, leaning.T @ wanted)
        except np.linalg.LinAlgError:
            return None
        missing = np.abs(wanted - design @ answer)
        # most of flat art agrees wherever it lies: what is usual is asked of its outlines
        limit = _BIWEIGHT * 1.4826 * float(np.median(missing[telling])) + 4 / 255
        weight = np.square(np.maximum(0, 1 - np.square(missing / limit)))
    gain = answer[6] + 2 * answer[7] * float(np.mean(drawn[inside]))
    if abs(gain) < 1e-3 or not np.all(np.isfinite(answer)):
        return None
    other_line, other_sample = (np.gradient(target, axis=axis) for axis in (0, 1))
    theirs = np.stack([*_motions(other_line, other_sample, inside), *tones], axis=1).astype(np.float64)
    pull = weight * (wanted - design @ answer)
    bread = (theirs * weight[:, None]).T @ design
    covariance = _clustered(theirs, pull, bread, inside)[:6, :6] / gain**2
    agreement = tuple(_cosine(theirs[:, c], design[:, c], weight) for c in (0, 2))
    return Step(
        answer[:6] / gain,
        covariance,
        _correlation(target, drawn, inside),
        (agreement[0], agreement[1]),
        _condition(normal),
    )


def _motions(by_line: NDArray, by_sample: NDArray, inside: NDArray) -> list[NDArray]:
    """Return what a unit of each motion changes a picture by, from its slopes down and along the lines."""
    down, across = (np.arange(s) + 0.5 - s / 2 for s in inside.shape)
    y = (down / (inside.shape[0] / 2)).astype(np.float32)[:, None]
    x = (across / (inside.shape[1] / 2)).astype(np.float32)[None, :]
    columns = (by_line, by_line * y, by_sample, by_sample * x, by_line * x, by_sample * y)
    return [c[inside] for c in columns]


def _cosine(one: NDArray, other: NDArray, weight: NDArray) -> float:
    """Return the weighted correlation about 0, -1..1; 0 where one of both is 0."""
    both = float(np.sum(weight * one * other))
    size = float(np.sqrt(np.sum(weight * one * one) * np.sum(weight * other * other)))
    return both / size if size > 0 else 0.0


def _condition(normal: NDArray) -> float:
    """Return the condition number of the six motions, each in its own unit, once gain and tone are free."""
    across, tones = normal[:6, 6:], normal[6:, 6:]
    own = normal[:6, :6] - across @ np.linalg.pinv(tones, hermitian=True) @ across.T
    unit = np.sqrt(np.maximum(np.diag(own), 0))
    if not np.all(unit > 0):
        return float("inf")
    return float(np.linalg.cond(own / np.outer(unit, unit)))


def _clustered(instruments: NDArray, pull: NDArray, bread: NDArray, inside: NDArray) -> NDArray:
    """Return the sandwich covariance of the answer with tiles as the independent units.

    The slopes of the *other* picture stand as instruments: noise that steepens the slopes of one picture
    would pass for detail, but is not found in both.
    """
    lines, samples = inside.shape
    tile = (np.arange(lines) * _TILES // lines)[:, None] * _TILES + np.arange(samples) * _TILES // samples
    own = tile[inside]
    pulls = np.stack([np.bincount(own, c * pull, _TILES**2) for c in instruments.T], axis=1)
    inverse = np.linalg.pinv(bread)
    return inverse @ (pulls.T @ pulls) @ inverse.T


def _correlation(target: NDArray, drawn: NDArray, inside: NDArray) -> float:
    """Return the correlation of both pictures' detail (less their means over 17 x 17) where they overlap."""
    a, b = (detail(v)[inside] for v in (target, drawn))
    scale = float(np.sqrt(np.sum(a * a, dtype=np.float64) * np.sum(b * b, dtype=np.float64)))
    return float(np.sum(a * b, dtype=np.float64)) / scale if scale > 0 else 0.0


def detail(values: NDArray, width: int = 17) -> NDArray:
    """Return values less their running means over `width` lines and samples, same dtype."""
    from scipy.ndimage import uniform_filter

    return values - uniform_filter(values, width, mode="nearest")

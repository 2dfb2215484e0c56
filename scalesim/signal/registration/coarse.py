"""A first guess of where a capture looks on its source: correlation over a grid of scales.

Both pictures are reduced to about 80 x 112 values, freed of slow shading and of differences in contrast,
and correlated at every shift at once (by the Fourier transform) for each pair of scales. Near the
expected scales first; over the wide grid only when that finds nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.build import resample_lines
from scalesim.signal.registration.align import detail, reduced

GRID = (80, 112)
"""Lines and samples a capture is reduced to, at most."""
NEAR = np.exp(np.arange(-4, 5) * np.log(1.03))
WIDE = np.exp(np.arange(-13, 14) * np.log(1.05))
"""Scales tried, as shares of the expected one: 0.89 to 1.13, and 0.53 to 1.89."""
_LEAST_OVERLAP = 0.4


@dataclass(frozen=True)
class Guess:
    """Maps from capture to source, and how well the reduced pictures correlate there, about -1..1."""

    lines: Affine
    samples: Affine
    score: float


@dataclass(frozen=True, eq=False)
class Small:
    """A reduced picture without slow shading, and how many lines and samples each value stands for."""

    values: NDArray
    lines: int
    samples: int


def small(values: NDArray, lines: int, samples: int) -> Small:
    """Return the picture in blocks of `lines` x `samples`, shading removed, contrast evened out."""
    from scipy.ndimage import uniform_filter

    shrunk = reduced(values, lines, samples)
    fine = detail(shrunk, 15)
    # a running mean of squares can come out a rounding below 0
    strength = np.sqrt(np.maximum(uniform_filter(fine * fine, 21, mode="nearest"), 0))
    return Small(fine / (strength + 0.5 * float(strength.mean()) + 1e-4), lines, samples)


def capture_blocks(size: tuple[int, int]) -> tuple[int, int]:
    """Return how many lines and samples of a capture of `size` make one value of the reduced one."""
    return max(1, round(size[0] / GRID[0])), max(1, round(size[1] / GRID[1]))


def guesses(
    capture: Small, source: Small, expected: tuple[float, float], shares: NDArray, most: int
) -> list[Guess]:
    """Return the `most` best distinct guesses, best first.

    Parameters:
        expected : source lines per capture line, source samples per capture sample
        shares : scales to try on each axis as shares of the expected ones
    """
    found = sorted(_peaks(capture, source, expected, shares), key=lambda g: -g.score)
    chosen: list[Guess] = []
    for guess in found:
        if len(chosen) == most:
            break
        if all(_apart(guess, other, source) for other in chosen):
            chosen.append(guess)
    return chosen


def _apart(one: Guess, other: Guess, source: Small) -> bool:
    """Say whether two guesses differ by more than a fit from either would bridge."""
    apart = 0.0
    for axis, blocks, count in (
        ("lines", source.lines, source.values.shape[0]),
        ("samples", source.samples, source.values.shape[1]),
    ):
        a, b = getattr(one, axis).inverse(), getattr(other, axis).inverse()
        reach = getattr(one, axis).scale
        ends = (0.25 * count * blocks, 0.75 * count * blocks)
        apart = max(apart, *(abs(a(e) - b(e)) * reach / blocks for e in ends))
    return apart > 2.0


def _peaks(capture: Small, source: Small, expected: tuple[float, float], shares: NDArray) -> Iterator[Guess]:
    """Yield the best shift of every pair of scales."""
    from scipy.fft import irfft2, next_fast_len, rfft2

    pitch = (expected[0] * capture.lines / source.lines, expected[1] * capture.samples / source.samples)
    downs, acrosses = (
        [_scaled(source.values.shape[axis], pitch[axis] * share) for share in shares] for axis in (0, 1)
    )
    deepest = max(len(d) for d in downs) + capture.values.shape[0]
    widest = max(len(a) for a in acrosses) + capture.values.shape[1]
    size = (next_fast_len(deepest, real=True), next_fast_len(widest, real=True))
    wanted = np.conj(rfft2(capture.values, size))
    own = float(np.sqrt(np.sum(capture.values**2)))
    for down, lines_share in zip(downs, shares, strict=True):
        tall = down @ source.values
        for across, samples_share in zip(acrosses, shares, strict=True):
            drawn = tall @ across.T
            matched = irfft2(rfft2(drawn, size) * wanted, size)
            score, at = _best(matched, drawn, capture.values.shape, own)
            scales = (expected[0] * lines_share, expected[1] * samples_share)
            offsets = (scales[0] * at[0] * capture.lines, scales[1] * at[1] * capture.samples)
            yield Guess(Affine(scales[0], offsets[0]), Affine(scales[1], offsets[1]), score)


def _scaled(count: int, step: float) -> NDArray:
    """Return the dense matrix that draws `count` values at one value per `step`."""
    matrix: NDArray = resample_lines(count, max(1, round(count / step)), step).toarray().astype(np.float32)
    return matrix


def _best(
    matched: NDArray, drawn: NDArray, size: tuple[int, ...], own: float
) -> tuple[float, tuple[int, int]]:
    """Return the highest normalised correlation and the capture's place on the drawn source."""
    overlaps = []
    for axis in (0, 1):
        shift = np.arange(matched.shape[axis])
        shift = np.where(shift < drawn.shape[axis], shift, shift - matched.shape[axis])
        seen = np.minimum(shift + size[axis], drawn.shape[axis]) - np.maximum(shift, 0)
        overlaps.append(np.maximum(seen, 0).astype(np.float32))
    share = np.outer(*overlaps)
    area, theirs = float(drawn.size), float(np.sum(drawn**2))
    mine = share / np.float32(size[0] * size[1])
    norm = own * np.sqrt(np.maximum(mine * share / area, 1e-9) * max(theirs, 1e-9))
    valid = share >= _LEAST_OVERLAP * min(size[0] * size[1], area)
    # a part of the capture that agrees says less than the whole of it
    score = np.where(valid, matched / norm * np.sqrt(np.minimum(1.0, mine)), -1.0)
    line, sample = np.unravel_index(int(np.argmax(score)), score.shape)
    at = [
        int(v) if v < d else int(v) - m
        for v, d, m in zip((line, sample), drawn.shape, matched.shape, strict=True)
    ]
    return float(score[line, sample]), (at[0], at[1])

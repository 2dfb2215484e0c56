"""Where a capture of a chart lies along the line, found from bands whose lines are all alike.

A captured place x shows the chart's place ``scale * x + shift``; both are shares of the width. The
guess comes from correlating captured lines with the bars over a grid of scales, all shifts at once by
the Fourier transform; Gauss-Newton on the exact sample means of the bars makes it fine.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.core.build import average_lines

_COARSE = 256
_SCALES = np.exp(np.arange(np.log(0.62), np.log(1.5), 0.007))
_LINES_TRIED = 24
_SURE = 0.8
_BLURS = (0.0, 0.6, 1.0, 1.6, 2.4, 3.5)
"""Horizontal blurs tried first, standard deviations in samples of the capture; then any between two."""
_MOST_BLUR = 6.0
_BORDER = 14
"""Samples at either end that the place is not fitted to: four times a blur of 3.5."""
_ROUNDING = 1e-9
_MIXED = 3.0
"""Times what the middle line leaves unexplained, from which on a line is not of the bars alone."""
_TOLD, _STEP_BLUR = 9.0, 0.02
"""Variances of one value that blur must save before it is told from none; a step for its slope, samples."""


@dataclass(frozen=True)
class Steps:
    """A line of flat steps: `edges` in shares of the width, one more than `levels`; `outside` around them."""

    edges: NDArray
    levels: NDArray
    outside: float = 0.5

    def mirrored(self) -> Steps:
        """Return the steps as a mirror shows them."""
        return Steps(1.0 - self.edges[::-1], self.levels[::-1], self.outside)

    def sampled(self, scale: float, shift: float, samples: int, blur: float = 0.0) -> NDArray:
        """Return the mean of each of `samples` samples of a capture, blurred by `blur` samples rms."""
        from scipy.ndimage import gaussian_filter1d

        reach = int(np.ceil(4 * blur))
        places = scale * np.arange(-reach, samples + reach + 1) / samples + shift
        values = np.diff(self._integral(places)) / (scale / samples)
        if not reach:
            return values
        blurred: NDArray = gaussian_filter1d(values, blur, radius=reach)[reach:-reach]
        return blurred

    def shown(self, scale: float, shift: float, samples: int) -> slice:
        """Return the samples of a capture that lie inside the steps."""
        low = int(np.ceil((self.edges[0] - shift) / scale * samples))
        high = int(np.floor((self.edges[-1] - shift) / scale * samples))
        return slice(max(low, 0), max(min(high, samples), max(low, 0)))

    def _integral(self, places: NDArray) -> NDArray:
        """Return the integral of level - outside from the first edge to each place, plus outside * place."""
        sums = np.concatenate([[0.0], np.cumsum(np.diff(self.edges) * (self.levels - self.outside))])
        return np.interp(places, self.edges, sums) + self.outside * places


@dataclass(frozen=True)
class AlongLine:
    """The map of a capture's places to the chart's, and how sure it is.

    Parameters:
        scale, shift : chart place = scale * capture place + shift, shares of the widths
        likeness : correlation of the best lines with the bars, 0..1
        blur : of the bars, standard deviation in samples of the Gaussian (its values at whole samples, cut
            at four) that acts on the bars' mean over each captured sample; 0 where it is not told from none
        blur_error : its standard error; where it is 0, the least blur that would have been told
        mirrored : True when left and right are exchanged
    """

    scale: float
    shift: float
    likeness: float
    blur: float = 0.0
    mirrored: bool = False
    blur_error: float = 0.0


def blurred(lines: NDArray, blur: float) -> NDArray:
    """Return (lines, samples) blurred along the line by `blur` samples rms as `AlongLine` has it."""
    from scipy.ndimage import gaussian_filter1d

    if not blur:
        return lines
    found: NDArray = gaussian_filter1d(lines, blur, axis=1, mode="nearest")
    return found


def bars_likeness(picture: NDArray, bars: Steps) -> float:
    """Return how like the bars the likeliest lines of a picture are, 0..1: a quick look."""
    return _guess(_likely_lines(picture)[::2], bars, False, _SCALES[::2]).likeness


def register_bars(picture: NDArray, bars: Steps) -> AlongLine:
    """Find the bars in a capture.

    Parameters:
        picture : (lines, samples) values of one field, any unit
        bars : the pattern of the bands
    Returns: the best map; `likeness` below about 0.6 means that no bars are there
    """
    lines = _likely_lines(picture)
    best = _guess(lines, bars, False)
    if best.likeness < _SURE:
        best = max(best, _guess(lines, bars.mirrored(), True), key=lambda found: found.likeness)
    pattern = bars.mirrored() if best.mirrored else bars
    likeness = likenesses(picture, pattern, best)
    alike = picture[likeness > max(0.5, 0.9 * likeness.max())]
    if len(alike):
        best = _refined(alike.mean(axis=0), pattern, best)
        alike = picture[_bars_alone(likenesses(picture, pattern, best))]
        best = _refined(alike.mean(axis=0), pattern, best) if len(alike) else best
    return best


def _bars_alone(likeness: NDArray) -> NDArray:
    """Return which lines show bars and nothing else, (lines,) bool.

    The first and last line of a band may hold a share of the lines beside it: they are less like the bars
    than the middle one of those that resemble them is.
    """
    alike = likeness > 0.9 * likeness.max()
    left = 1 - likeness
    alone: NDArray = alike & (left <= _MIXED * np.median(left[alike]) + _ROUNDING)
    return alone


def moved_bars(lines: NDArray, bars: Steps, along: AlongLine) -> AlongLine:
    """Return where the bars lie in the mean of some lines, looked for near a known place."""
    return _newton(lines.mean(axis=0), bars, along)


def likenesses(picture: NDArray, pattern: Steps, along: AlongLine) -> NDArray:
    """Return the correlation of every line with a pattern at a known place, (lines,) -1..1."""
    samples = picture.shape[1]
    shown = pattern.shown(along.scale, along.shift, samples)
    line = pattern.sampled(along.scale, along.shift, samples, along.blur)[shown]
    if len(line) < 2:
        return np.zeros(len(picture))
    line = line - line.mean()
    part = picture[:, shown]
    norms = np.linalg.norm(line) * part.std(axis=1) * np.sqrt(part.shape[1])
    return (part @ line) / np.maximum(norms, 1e-9)


def _likely_lines(picture: NDArray) -> NDArray:
    """Return the lines most like their neighbour below, at `_COARSE` samples, zero mean and unit length."""
    samples = picture.shape[1]
    step = samples / _COARSE
    lines = step * (picture @ average_lines(samples, _COARSE, step).T)
    lines -= lines.mean(axis=1, keepdims=True)
    norms = np.linalg.norm(lines, axis=1)
    lines /= np.maximum(norms, 1e-9)[:, None]
    alike = np.sum(lines[:-1] * lines[1:], axis=1) * np.minimum(norms[:-1], norms[1:])
    return lines[np.argsort(-alike)[:_LINES_TRIED]]


def _guess(lines: NDArray, pattern: Steps, mirrored: bool, scales: NDArray = _SCALES) -> AlongLine:
    """Return the best scale and shift of the grid over all the likely lines."""
    size = 4 * _COARSE
    spectra = np.fft.rfft(lines, size)
    found = AlongLine(1.0, 0.0, -1.0)
    flat = replace_outside(pattern)
    for scale in scales:
        line, first = _template(flat, float(scale))
        scores = np.fft.irfft(spectra * np.conj(np.fft.rfft(line, size)), size)
        # what of the template lies inside the capture decides its length
        energy = np.fft.irfft(np.fft.rfft(np.ones(_COARSE), size) * np.conj(np.fft.rfft(line**2, size)), size)
        visible = energy > 0.45 * energy.max()
        scores = np.where(visible, scores, 0.0) / np.sqrt(np.maximum(energy, 1e-9))
        # the third best line decides: one line of codes may resemble the bars by chance
        third = np.partition(scores, -3, axis=0)[-3]
        at = int(np.argmax(third))
        if third[at] > found.likeness:
            delay = at if at < size // 2 else at - size
            shift = (first - delay * scale) / _COARSE
            found = AlongLine(float(scale), float(shift), float(third[at]), 0.0, mirrored)
    return found


def replace_outside(pattern: Steps) -> Steps:
    """Return the pattern with its own mean around it and taken off, so that correlation sees bars alone."""
    mean = float(np.average(pattern.levels, weights=np.diff(pattern.edges)))
    return Steps(pattern.edges, pattern.levels - mean, 0.0)


def _template(pattern: Steps, scale: float) -> tuple[NDArray, float]:
    """Return the bars at the coarse pitch of a scale, and the chart place (coarse samples) they begin at."""
    count = int(np.ceil((pattern.edges[-1] - pattern.edges[0]) * _COARSE / scale)) + 1
    begin = float(pattern.edges[0])
    places = begin + scale * np.arange(count + 1) / _COARSE
    return np.diff(pattern._integral(places)) * _COARSE / scale, begin * _COARSE


def _refined(line: NDArray, pattern: Steps, along: AlongLine) -> AlongLine:
    """Return the map after Gauss-Newton on one mean line, at the blur that fits best."""
    from scipy.optimize import minimize_scalar

    def at(blur: float) -> AlongLine:
        return _newton(line, pattern, replace(along, blur=float(blur)))

    tried = [at(blur) for blur in _BLURS]
    best = max(range(len(tried)), key=lambda k: tried[k].likeness)
    ends = (*_BLURS, _MOST_BLUR)
    between = (ends[max(best - 1, 0)], ends[best + 1])
    found = at(minimize_scalar(lambda blur: -at(blur).likeness, bounds=between, method="bounded").x)
    if _saved(tried[0], found, len(line)) > _TOLD:
        return replace(found, blur_error=_blur_error(line, pattern, found))
    told = (blur for blur in np.arange(0.1, _MOST_BLUR, 0.1) if _saved(at(blur), tried[0], len(line)) > _TOLD)
    return replace(tried[0], blur_error=float(next(told, _MOST_BLUR)))


def _inner(shown: slice) -> slice:
    """Return the samples without those into which blur may bring what lies beyond the bars or the capture."""
    if shown.stop - shown.start < 8 * _BORDER:
        return shown
    return slice(shown.start + _BORDER, shown.stop - _BORDER)


def _saved(worse: AlongLine, better: AlongLine, values: int) -> float:
    """Return the sum of squares that one map leaves above another's, in variances of what that leaves."""
    left, least = 1 - worse.likeness**2, 1 - better.likeness**2
    return values * (left - least) / max(least, _ROUNDING)


def _blur_error(line: NDArray, pattern: Steps, found: AlongLine) -> float:
    """Return the standard error of the blur, by linear least squares about the best map."""
    samples = len(line)
    shown = _inner(pattern.shown(found.scale, found.shift, samples))
    small = 0.1 / samples
    moves = ((0, 0, 0), (small, 0, 0), (0, small, 0), (0, 0, _STEP_BLUR))
    here, *moved = (
        pattern.sampled(found.scale + scale, found.shift + shift, samples, found.blur + blur)[shown]
        for scale, shift, blur in moves
    )
    slopes = [(value - here) / step for value, step in zip(moved, (small, small, _STEP_BLUR), strict=True)]
    design = np.stack([here, np.ones(len(here)), *slopes], axis=1)
    found_all = np.linalg.lstsq(design, line[shown], rcond=None)[0]
    left = line[shown] - design @ found_all
    variance = float(left @ left) / max(len(left) - design.shape[1], 1)
    covariance = variance * np.linalg.pinv(design.T @ design)
    return float(np.sqrt(covariance[-1, -1]) / max(abs(found_all[0]), _ROUNDING))


def _newton(line: NDArray, pattern: Steps, along: AlongLine) -> AlongLine:
    samples = len(line)
    scale, shift = along.scale, along.shift
    small = 0.1 / samples
    likeness = -1.0
    best = (scale, shift)
    for _ in range(8):
        shown = _inner(pattern.shown(scale, shift, samples))
        here, by_shift, by_scale = (
            pattern.sampled(scale + to_scale, shift + to_shift, samples, along.blur)[shown]
            for to_scale, to_shift in ((0, 0), (0, small), (small, 0))
        )
        seen = line[shown]
        design = np.stack([here, np.ones(len(here))], axis=1)
        gain, lift = np.linalg.lstsq(design, seen, rcond=None)[0]
        now = float(np.corrcoef(here, seen)[0, 1])
        if now < likeness + 1e-9:
            break
        likeness, best = now, (scale, shift)
        slopes = gain / small * np.stack([by_scale - here, by_shift - here], axis=1)
        design = np.concatenate([design, slopes], axis=1)
        change = np.linalg.lstsq(design, seen - gain * here - lift, rcond=None)[0]
        scale += float(np.clip(change[2], -0.01, 0.01))
        shift += float(np.clip(change[3], -0.01, 0.01))
    return AlongLine(best[0], best[1], likeness, along.blur, along.mirrored)

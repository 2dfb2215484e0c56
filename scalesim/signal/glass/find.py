"""Scan lines found in a photo: candidates at several reductions, each fitted, false ones told and left
out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable
from scalesim.signal.glass.candidates import SHORTEST, WORKING, candidates, reduced
from scalesim.signal.glass.carrier import TILE, carrier, width_of
from scalesim.signal.glass.consensus import Pattern
from scalesim.signal.glass.demodulate import Frame, cells_of
from scalesim.signal.glass.fit import Fitted, fitted, start_of
from scalesim.signal.glass.impostors import Impostor, as_screenshot, folded, impostor, plain, woven
from scalesim.signal.glass.lines import Lines
from scalesim.signal.glass.refusals import cause_of, no_lines

LARGE = 6e6
"""Pixels, reduced, above which it is reduced further."""
AREA = 0.6
"""Of what goes up and down: where the lines must agree with one phase."""
AMPLITUDE, RESOLVED = 0.02, 0.08
"""Least height of the carrier, and of one whose period is `WORKING` pixels or more."""
EVEN = 0.02
"""Most rms of the phase of lines that high, in lines: they stand the more evenly the larger they are seen."""
MANY_LINES = 48
"""Over fewer the rms must be less in proportion: a cubic follows any pattern over a few of them."""
FEWEST_LINES = 10
MEAN_LIGHT = 1.2
"""Periods by which the mean light is smoothed, sigma."""
ALIKE = 0.01
"""Of their frequency: nearer, two patterns that were found at two reductions are one."""


@dataclass(frozen=True)
class Demands:
    """What lines must be: coherence of their carrier, rms of their phase (lines), change of light between
    them; and how far single ones may stand off, rms over the lines that are smoothed together (lines)."""

    coherence: float
    residual: float
    content: float
    common: float


STRICT = Demands(0.9, 0.03, 0.04, 0.06)
"""Where nothing is known of the photo: walls, cloth and print hold patterns that are not as even as lines."""
KNOWN = Demands(0.8, 0.08, 0.0, 0.1)
"""Where the scale is known, and the pattern has it."""


@dataclass(frozen=True, eq=False)
class View:
    """A photo as it is analysed: reduced `factor` times, its carrier and its mean light."""

    light: NDArray[np.float32]
    wave: NDArray[np.float32]
    mean: NDArray[np.float32]
    factor: int


@dataclass(frozen=True, eq=False)
class Found:
    """Lines of a photo with what they were found in, and patterns that are none."""

    view: View
    fit: Fitted
    share: float
    impostors: tuple[Impostor, ...] = ()

    @property
    def amplitude(self) -> float:
        """A1: height of the carrier over the mean light, median of where lines are."""
        heights = 2 * np.abs(self.fit.cells.z[self.fit.used])
        return float(np.median(heights)) if heights.size else 0.0

    @property
    def lines(self) -> Lines:
        """The lines in pixels of the photo itself."""
        factor, frame = self.view.factor, self.fit.frame
        centre = ((frame.centre[0] + 0.5) * factor - 0.5, (frame.centre[1] + 0.5) * factor - 0.5)
        return Lines(
            self.fit.coefficients,
            centre,
            frame.scale * factor,
            frame.rows * factor,
            frame.columns * factor,
            self.fit.trust,
            self.share,
            self.fit.coherence,
            self.fit.residual,
            self.amplitude,
        )


def find_lines(
    light: NDArray[np.float32],
    *,
    pitch: tuple[float, float] | None = None,
    seamless: bool = False,
    box: tuple[int, int, int, int] | None = None,
) -> Found:
    """Return the scan lines of a photo.

    Parameters:
        light : (rows, columns) relative luminance
        pitch : smallest and largest pixels a field line that are possible, where the scale is known;
            half of it is looked for as well
        seamless : several fields were exposed over each other, so that no part lies half a line from another:
            where the scale is known too, the carrier is fitted itself and not its square, which loses weak
            ones in noise
        box : left, top, right, bottom in pixels of the picture, where it is known: what lies around it is not
            looked at for candidates
    Raises: NotMeasurable with the reason and what would help
    """
    if min(light.shape) < TILE:
        raise NotMeasurable(
            f"the photo has {light.shape[1]}x{light.shape[0]} pixels; at least {TILE} each way are needed"
        )
    made: list[Found] = []
    told: list[Impostor] = []
    views: dict[tuple[int, int], View] = {}
    failed: list[Pattern] = []
    for pattern, found in candidates(light, pitch, box):
        if any(abs(pattern.period / _period(each) - 1) < 0.03 for each in made):
            continue
        if any(abs(each.period / pattern.period / n - 1) < 0.01 for each in told for n in (2, 3)):
            continue  # a harmonic of what was told to be no line
        if any(_is_harmonic(pattern, each) for each in made):
            continue
        if any(_alike(pattern, each, light.shape) for each in failed):
            continue  # found at another reduction too: the fit would end where it did
        fitted_ = _fitted(light, pattern, views, squared=pitch is None or not seamless)
        if not _holds(fitted_, STRICT if pitch is None else KNOWN):
            failed.append(pattern)
            continue
        cause = impostor(pattern, found, fitted_.lines)
        if cause is None and pitch is None:
            cause = woven(fitted_.view.light, fitted_.lines, fitted_.view.factor, fitted_.amplitude)
        if cause is not None:
            told.append(cause)
        else:
            made.append(fitted_)
    if not made:
        raise NotMeasurable(no_lines(light, told, bool(failed)))
    best = _itself(max(made, key=lambda each: each.amplitude * each.fit.used.mean()), made)
    if _height(best, 0.5) > best.amplitude:
        # twice the pitch stands out more: these are no lines but halves
        raise NotMeasurable(cause_of(told, True))
    doubt = as_screenshot(best.lines)
    if doubt is None and pitch is None:
        doubt = plain(best.fit, best.lines, STRICT.content)
    if doubt is not None:
        raise NotMeasurable(doubt.words)
    return replace(best, impostors=tuple(told))


def _alike(one: Pattern, other: Pattern, shape: tuple[int, ...]) -> bool:
    """Tell whether two patterns have one frequency all over a photo, to `ALIKE` of it."""
    at = np.array([[x, y] for x in (0, shape[1] - 1) for y in (0, shape[0] - 1)], dtype=np.float64)
    first, second = one.frequency(at), other.frequency(at)
    apart = np.hypot(*(first - second).T)
    return bool((apart < ALIKE * np.hypot(*first.T)).all())


def _is_harmonic(pattern: Pattern, found: Found) -> bool:
    """Tell whether a pattern is only the second or third harmonic of lines: lower, at their phase."""
    period = _period(found)
    for n in (2, 3):
        if abs(n * pattern.period / period - 1) < 0.03:
            own = _height(found, float(n))
            # what may be the lines that a colour sensor doubled is looked at by itself
            return own < found.amplitude and not folded(period, pattern.period, found.amplitude, own)
    return False


def viewed(light: NDArray[np.float32], factor: int, period: float) -> View:
    """Return a photo reduced `factor` times with its carrier; `period` in pixels of the photo."""
    small = reduced(light, factor)
    wave, mean = carrier(small, MEAN_LIGHT * period / factor)
    return View(small, wave, mean, factor)


def _period(found: Found) -> float:
    lines = found.lines
    return float(lines.period(np.array(lines.centre[0]), np.array(lines.centre[1])))


def _fitted(
    light: NDArray[np.float32], pattern: Pattern, views: dict[tuple[int, int], View], *, squared: bool
) -> Found:
    """Return a pattern's lines.

    Parameters:  views : the photo as it was analysed for others, by factor and width of the mean; added to
    """
    period = pattern.period
    factor = max(1, int(period / WORKING))
    while light.size / factor**2 > LARGE and period / (factor + 1) > SHORTEST * 1.5:
        factor += 1
    key = factor, width_of(MEAN_LIGHT * period / factor)
    view = views[key] if key in views else views.setdefault(key, viewed(light, factor, period))
    shifted = replace(
        pattern,
        coefficients=pattern.coefficients * np.array([[factor], [factor**2], [factor**2]]),
        middle=(pattern.middle + 0.5) / factor - 0.5,
    )
    start = start_of(shifted, Frame.of(*view.light.shape))
    return Found(view, fitted(view.wave, view.mean, start, period / factor, squared=squared), pattern.share)


def _holds(found: Found, demands: Demands) -> bool:
    fit = found.fit
    coherence, residual = fit.steady
    if coherence < demands.coherence or residual > demands.residual:
        return False
    if np.sqrt(fit.common) > demands.common:
        return False
    period = _period(found)
    tall = fit.used.any(axis=1).sum() * fit.cells.size[0] * found.view.factor / period
    resolved = demands is STRICT and period >= WORKING
    if resolved and residual > EVEN * min(1.0, tall / MANY_LINES):
        return False
    least = RESOLVED if resolved else AMPLITUDE
    if found.amplitude < least or tall < FEWEST_LINES:
        return False
    return bool(fit.used.mean() >= AREA * fit.seen and period >= SHORTEST)


def _itself(best: Found, made: list[Found]) -> Found:
    """Return the pattern whose double in the sensor the best one is, or the best one."""
    finer = [each for each in made if folded(_period(best), _period(each), best.amplitude, each.amplitude)]
    return finer[0] if finer else best


def _height(found: Found, factor: float) -> float:
    """Return the height of the carrier at `factor` times the frequency, median of where lines are."""
    view, fit = found.view, found.fit
    cells = cells_of(view.wave, view.mean, fit.frame.parts(fit.coefficients), fit.cells.size, factor)
    smooth = cells.smoothed(2.5 * fit.cells.size[0] / factor).z[fit.used]
    return float(2 * np.median(np.abs(smooth)))

"""Patterns that look like scan lines and are none: mask rows, flat panels, block grids, screenshots,
bricks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.carrier import Peaks, carrier, peaks
from scalesim.signal.glass.consensus import Pattern, patterns
from scalesim.signal.glass.demodulate import Frame
from scalesim.signal.glass.fit import Fitted, fitted, start_of
from scalesim.signal.glass.lines import Lines

PAIRED = 0.5
"""Share of tiles in which a slanted twin must stand for a pattern to be staggered."""
APART_DEG = 5.0
LEAST_GRID = 4.0
"""Pixels, reduced: below, moire of a mask looks like columns."""
LEVEL_DEG = 0.1
EVEN = 0.002
DRAWN_DEG, DRAWN_EVEN = 0.01, 0.001
"""No tripod and no lens come as near to level and even as a drawn picture."""
GRIDS = (2.0, 4.0, 8.0, 16.0)
"""Periods in pixels of what demosaicing and block coding leave (ITU-T T.81, H.264: blocks of 8 and 4)."""

FOLDED = 0.01
"""Cycles a pixel within which two frequencies are each other's double."""
FOLDED_HEIGHT = 0.5
"""Height of the finer of the two, of the coarser one's, above which the finer one is the lines."""


@dataclass(frozen=True)
class Impostor:
    """A pattern that is no scan line: what it is, its period in pixels, and a sentence's words."""

    kind: str
    period: float
    words: str


def impostor(pattern: Pattern, found: Peaks, lines: Lines) -> Impostor | None:
    """Return what a pattern is when it is not scan lines, None when nothing speaks against it."""
    period = float(lines.period(np.array(lines.centre[0]), np.array(lines.centre[1])))
    if _staggered(pattern, found):
        return Impostor(
            "mask",
            period,
            f"a pattern of {period:.2f} pixels is staggered from column to column, as a mask's slots or a "
            "wall's bricks are, and no scan lines stand out; come closer, or give --corners",
        )
    level, even = _evenness(lines)
    if abs(level) < LEVEL_DEG and even < EVEN and min(abs(period / grid - 1) for grid in GRIDS) < 0.005:
        return Impostor(
            "blocks",
            period,
            f"a pattern of {period:.2f} pixels lies dead level on the grid of the file's blocks, as in a "
            "screenshot; take a photo of the glass, and when it is one, again a little closer or with less "
            "compression",
        )
    return None


def as_screenshot(lines: Lines) -> Impostor | None:
    """Return what tells that a picture came from no camera: lines of even height, level to a hundredth
    degree."""
    level, even = _evenness(lines)
    period = float(lines.period(np.array(lines.centre[0]), np.array(lines.centre[1])))
    half = abs(2 * period - round(2 * period)) < 0.001 * period
    if abs(level) < DRAWN_DEG and even < DRAWN_EVEN and half:
        return Impostor(
            "screenshot",
            period,
            f"its lines are {period:.3f} pixels high everywhere and level to a hundredth of a degree: this "
            "is a drawn picture or a screenshot, not a photo of a tube; take a photo of the glass",
        )
    return None


def woven(light: NDArray[np.float32], lines: Lines, factor: int, amplitude: float) -> Impostor | None:
    """Return what tells a flat panel or cloth: columns as wide as the lines are high, and half as strong.

    Parameters:  light : (rows, columns) reduced `factor` times; amplitude : of the lines
    """
    turned = np.ascontiguousarray(light.T)
    period = float(lines.period(np.array(lines.centre[0]), np.array(lines.centre[1])))
    if period / factor < LEAST_GRID:
        return None
    for pattern in patterns(peaks(turned, most=36), most=2):
        if pattern.share < PAIRED or abs(pattern.period * factor / period - 1) > 0.06:
            continue
        wave, mean = carrier(turned, 1.2 * pattern.period)
        fit = fitted(wave, mean, start_of(pattern, Frame.of(*turned.shape)), pattern.period)
        if fit.used.any() and 2 * np.median(np.abs(fit.cells.z[fit.used])) > amplitude / 2:
            return Impostor(
                "grid",
                period,
                f"rows and columns of {period:.2f} pixels cross each other, as on a flat panel or in cloth; "
                "scan lines of a tube have no columns of their own height",
            )
    return None


def folded(coarser: float, finer: float, tall: float, other: float) -> bool:
    """Tell whether a pattern is what a colour sensor makes of a finer one, which is the lines.

    Red and blue stand in every other row alone, so that f cycles a pixel come back at 1/2 - f as well. Of
    lines of the coarser pitch the finer would be left by the demosaicing's errors, which are weaker.

    Parameters:  coarser, finer : periods in pixels; tall, other : heights of their carriers
    """
    return finer < coarser and abs(1 / finer + 1 / coarser - 0.5) < FOLDED and other > FOLDED_HEIGHT * tall


def plain(fit: Fitted, lines: Lines, least: float) -> Impostor | None:
    """Return what tells that stripes are all there is: their mean light changes evenly, as no picture's does.

    Parameters:  least : rms change of light about an even one (a cubic), of the mean
    """
    cells, used = fit.cells, fit.used
    basis = fit.frame.basis(cells.x, cells.y)[used]
    light = cells.light[used]
    even = basis @ np.linalg.lstsq(basis, light, rcond=None)[0]
    if np.sqrt(np.mean((light - even) ** 2)) >= least * light.mean():
        return None
    period = float(lines.period(np.array(lines.centre[0]), np.array(lines.centre[1])))
    return Impostor(
        "stripes",
        period,
        f"even stripes of {period:.2f} pixels are all that is seen, without a picture in them; show a "
        "picture, or give --corners when this is a tube",
    )


def _staggered(pattern: Pattern, found: Peaks) -> bool:
    """Tell whether most tiles hold a twin of the same height that leans the other way about the lines'
    own."""
    chosen = pattern.chosen
    twins = 0
    for number in chosen:
        same = np.flatnonzero((found.tile == found.tile[number]) & (np.arange(len(found.tile)) != number))
        f, g = found.f[number], found.f[same]
        apart = np.degrees(np.abs(np.arctan2(g[:, 0], g[:, 1]) - np.arctan2(f[0], f[1])))
        alike = (np.abs(g[:, 1] / f[1] - 1) < 0.06) & (apart > APART_DEG)
        strong = found.power[same] > 0.1 * found.power[number]
        twins += bool((alike & strong).any())
    return twins >= PAIRED * len(chosen)


def _evenness(lines: Lines) -> tuple[float, float]:
    """Return the direction at the middle in degrees, and how the period varies over the photo, of itself."""
    x, y = np.meshgrid(np.linspace(0, lines.columns - 1, 5), np.linspace(0, lines.rows - 1, 5))
    period = lines.period(x, y)
    return float(lines.direction(x, y)[2, 2]), float(np.ptp(period) / np.median(period))

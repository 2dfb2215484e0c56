"""Where the counter chart lies along the lines of a capture, found from some of its pictures.

The white guards stay white and the black ones black in every picture, all other cells change. So for every
map (scale and middle) the low quartile over time at the white guards less the high quartile at the black ones
is a score; the best few maps are then told apart by whether pictures can be read.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.counter.code import CELLS, COPIES, REFUSED, numbers_of
from scalesim.charts.counter.layout import CELL, UNITS, guard_levels, strip_centres
from scalesim.signal.counter.cells import CellReader, LineMap, guards, inner
from scalesim.signal.counter.lines import LEAST_CONTRAST
from scalesim.signal.counter.mixture import REACH, Mixture, Patterns, fitted, spread_of

SCALES = (0.55, 1.45)
"""Of the scale that fills the captured width with the source's: squeezed by half, or cropped and enlarged."""
_STEP = 0.004
_TRIED, _MIXED_TRIED = 6, 4
_NEAR = np.arange(-REACH, 1)
_SURE = 0.9
"""Share of the pictures that spell a number from which on no other map is tried."""
_FITTED = 12
"""Pictures that the blur is fitted to."""
_ENOUGH = 6
"""Pictures that must spell a number for their blur to be fitted from what they spell."""
_POWERS = 2 ** np.arange(CELLS - 1, -1, -1)
_WHITE, _BLACK = guard_levels()
_BAND = (0.1, 0.9)
"""Share of the lines whose mean stands for a picture."""


def profile_of(luma: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return the mean line of a picture's middle, (samples,): of one field's lines, if it has fields."""
    lines = luma.shape[0]
    return np.asarray(luma[int(_BAND[0] * lines) // 2 * 2 : int(np.ceil(_BAND[1] * lines)) : 2].mean(axis=0))


def find_chart(profiles: NDArray[np.float32]) -> tuple[LineMap, Patterns] | None:
    """Return where the chart lies, and what its cells look like there; None when it is not there.

    Parameters:  profiles : (pictures, samples), the mean line of each
    """
    tried: list[LineMap] = []
    best, found = 0.0, None
    for rough, guarded in product(_candidates(profiles), (False, True)):
        place = _sharpened(profiles, rough, guarded)
        tried.append(place)
        share = _read_share(profiles, place)
        if share > best:
            best, found = share, place
        if best >= _SURE:
            break
    if found is not None:
        return found, _patterns(profiles, found)
    # No picture spells a number: they may all be mixtures of two.
    for place in tried[:_MIXED_TRIED]:
        x = _normalised(profiles[:: max(1, len(profiles) // _MIXED_TRIED)], place)
        if any(Patterns().explain(each) for each in x):
            return place, _patterns(profiles, place)
    return None


def _candidates(profiles: NDArray[np.float32]) -> list[LineMap]:
    """Return the maps whose guards stand out most, best first."""
    samples = profiles.shape[1]
    low, high = np.percentile(profiles, (25, 75), axis=0)
    centres = strip_centres() - UNITS / 2
    white, black = centres[:, _WHITE].ravel(), centres[:, _BLACK].ravel()
    found: list[tuple[float, LineMap]] = []
    for share in np.arange(SCALES[0], SCALES[1] + _STEP, _STEP):
        scale = share * samples / UNITS
        reach = centres.max() * scale + CELL * scale / 2
        middles = np.arange(reach, samples - reach + 0.01, max(CELL * scale / 4, 0.5))
        if not len(middles):
            middles = np.array([samples / 2])
        at_white = _at(low, middles[:, None] + scale * white)
        at_black = _at(high, middles[:, None] + scale * black)
        # The darkest of the white guards and the brightest of the black: all eight must be there.
        contrast = at_white.min(axis=1) - at_black.max(axis=1)
        for k in np.argsort(contrast)[-2:]:
            if contrast[k] >= LEAST_CONTRAST / 2:
                found.append((float(contrast[k]), LineMap(float(middles[k]), float(scale))))
    found.sort(key=lambda each: -each[0])
    apart: list[LineMap] = []
    for _, place in found:
        if len(apart) == _TRIED:
            break
        if not any(_close(place, other) for other in apart):
            apart.append(place)
    return apart


def _close(one: LineMap, other: LineMap) -> bool:
    """Tell whether two maps are so near each other that sharpening finds one of them from the other."""
    return abs(one.middle - other.middle) < CELL * one.scale / 2 and abs(one.scale / other.scale - 1) < 0.01


def _at(line: NDArray, places: NDArray) -> NDArray:
    return line[np.clip(np.round(places - 0.5), 0, len(line) - 1).astype(np.intp)]


def _sharpened(profiles: NDArray[np.float32], place: LineMap, guarded: bool) -> LineMap:
    """Return the map nearby at which the cells are furthest from the middle grey: their centres."""
    shown = profiles[:: max(1, len(profiles) // 8)]
    for reach in (1.0, 0.3):
        tried = [
            LineMap(place.middle + move * CELL * place.scale, place.scale * (1 + zoom))
            for move in reach * np.linspace(-0.5, 0.5, 7)
            for zoom in reach * np.linspace(-0.012, 0.012, 9)
        ]
        opened = [_opening(shown, each, guarded) for each in tried]
        best = max(opened)
        # The top is flat where cells are wide: the middle of it.
        flat = [each for each, value in zip(tried, opened, strict=True) if value >= 0.997 * best]
        place = LineMap(
            float(np.mean([each.middle for each in flat])), float(np.mean([each.scale for each in flat]))
        )
    return place


def _opening(profiles: NDArray[np.float32], place: LineMap, guarded: bool = False) -> float:
    """Return how far the cells are from the middle between the guards, in codes: most at their centres.

    In mixtures many cells lie in the middle, and the guards must tell; in blurred captures they are the worse
    guide, as what stands beside them shifts them.
    """
    levels = _levels(profiles, place)
    white, black = guards(levels)
    clear = np.abs(levels - ((white + black) / 2)[..., None]).mean()
    apart = (levels[..., _WHITE].min(axis=-1) - levels[..., _BLACK].max(axis=-1)).mean()
    return float(clear + apart if guarded else clear)


def _levels(profiles: NDArray[np.float32], place: LineMap) -> NDArray[np.float32]:
    return CellReader(place, profiles.shape[1])(profiles)  # type: ignore[arg-type]  # levels of any dtype are read


def _normalised(profiles: NDArray[np.float32], place: LineMap) -> NDArray[np.float32]:
    """Return the levels of the cells of pictures with contrast, (pictures, 48), 0 black and 1 white."""
    levels = _levels(profiles, place)
    white, black = guards(levels)
    lit = ((white - black) >= LEAST_CONTRAST).all(axis=1)
    return normalised(levels[lit], white[lit], black[lit])


def normalised(
    levels: NDArray[np.float32], white: NDArray[np.float32], black: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Return the levels of the code's cells, (..., 48), 0 the black guard and 1 the white one of their copy.

    Parameters:  levels : (..., 2, 28); white, black : (..., 2)
    """
    x = (inner(levels) - black[..., None]) / (white - black)[..., None]
    return x.reshape(*x.shape[:-2], COPIES * CELLS)


def _spelled(x: NDArray[np.float32]) -> NDArray[np.int64]:
    """Return the number each picture spells in both copies, -1 for none."""
    words = (x.reshape(-1, COPIES, CELLS) > 0.5) @ _POWERS
    left, left_wrong = numbers_of(words[:, 0], 0)
    right, right_wrong = numbers_of(words[:, 1], 1)
    return np.where((left == right) & (left_wrong < REFUSED) & (right_wrong < REFUSED), left, -1)


def _read_share(profiles: NDArray[np.float32], place: LineMap) -> float:
    """Return the share of pictures that spell a number, a little more where their cells are clearer."""
    x = _normalised(profiles, place)
    if not len(x):
        return 0.0
    share = float((_spelled(x) >= 0).mean())
    return share + _opening(profiles, place) / 1000 if share else 0.0


def _patterns(profiles: NDArray[np.float32], place: LineMap) -> Patterns:
    """Return what numbers look like here, from what the pictures show; twice, as each needs the other."""
    x = _normalised(profiles, place)
    x = x[:: max(1, len(x) // _FITTED)]
    numbers = _spelled(x)
    read = numbers >= 0
    if read.sum() >= _ENOUGH:
        response = spread_of(x[read], numbers[read])
        patterns = Patterns(response, _floor(Patterns(response), x[read], numbers[read]))
    else:
        patterns = Patterns()
    for _ in range(2):
        known: list[tuple[NDArray, Mixture]] = []
        for each, number in zip(x, numbers, strict=True):
            found = patterns.explain(each, None if number < 0 else number + _NEAR)
            if found is not None:
                known.append((each, found))
        if len(known) < max(2, len(x) // 2):
            return patterns
        response = fitted(np.array([each for each, _ in known]), [found for _, found in known])
        patterns = Patterns(response, float(np.median([found.misfit for _, found in known])))
    return patterns


def _floor(patterns: Patterns, x: NDArray, numbers: NDArray) -> float:
    """Return the misfit of clear pictures, with what they may hold of their neighbours taken into account."""
    return float(np.median([patterns.closest(e, n + _NEAR).misfit for e, n in zip(x, numbers, strict=True)]))

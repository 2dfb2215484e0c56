"""Blurs of known shape between source lines, by SciPy, and the width they truly have after sampling."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import convolve1d
from scipy.special import erf

from scalesim.core.affine import Affine
from scalesim.metrics import Evidence
from scalesim.metrics.edges.kernel import Kernel
from scalesim.metrics.edges.view import View
from scalesim.metrics.outlines.strips import landed_strips, strip_width

Array = NDArray[Any]
PHASE = 0.4
"""Source lines below the middle of a span that an output line looks at."""


def _box(x: Array, width: float) -> Array:
    return np.clip(x / width + 0.5, 0, 1)


def _gaussian(x: Array, sigma: float) -> Array:
    return np.asarray((1 + erf(x / (np.sqrt(2) * sigma))) / 2)


def _triangle(x: Array, half: float) -> Array:
    inside = np.clip(x / half, -1, 1)
    return 0.5 + inside - np.sign(inside) * inside**2 / 2


SPREADS: dict[str, Callable[[Array], Array]] = {
    **{f"box {w}": lambda x, w=w: _box(x, w) for w in (1, 2, 3, 4, 6)},
    **{f"Gaussian {s}": lambda x, s=s: _gaussian(x, s) for s in (0.6, 1, 1.5, 2, 3)},
    **{f"triangle {h}": lambda x, h=h: _triangle(x, h) for h in (3, 4.5)},
}
"""Edge spread functions, of distances in source lines of 720."""

BLURS = tuple(SPREADS)


def taps_of(blur: str, scale: float = 1.0, phase: float = 0.0, reach: int = 24) -> Array:
    """Return the weights of source lines -reach..reach: the spread's rise over each line, its middle at
    `phase`."""
    edges = np.arange(-reach, reach + 2) - 0.5 - phase
    return np.diff(SPREADS[blur](edges / scale))


def blurred_view(
    evidence: Evidence, blur: str, through: Callable[[Array], Array] = lambda p: p
) -> tuple[View, dict[float, Array]]:
    """Return the view of a blurred source, a third (or so) of its lines kept, and its taps by the lines'
    fraction.

    Output line k is the blurred source at look(k + 1/2) + `PHASE`, blurred by SciPy's convolution with the
    spread's exact weights for that place. `through` harms the output picture.
    """
    source, look = evidence.source_luma.astype(np.float64), evidence.lines
    scale = len(source) / 720
    centres = look(np.arange(len(evidence.landed)) + 0.5) + PHASE * scale
    first = np.floor(centres).astype(int)
    fractions = np.round(centres - first - 0.5, 9)
    taps = {float(f): taps_of(blur, scale, float(f)) for f in np.unique(fractions)}
    picture = np.zeros((len(centres), source.shape[1]))
    for fraction, weights in taps.items():
        # SciPy's convolution turns its weights round, these are a correlation's
        whole = convolve1d(source, weights[::-1], axis=0, mode="nearest")
        lines = np.flatnonzero(fractions == fraction)
        picture[lines] = whole[np.clip(first[lines], 0, len(source) - 1)]
    width = strip_width(source.shape[1])
    strips = range(source.shape[1] // width)
    seen = landed_strips(evidence.source_luma, Affine(), width, strips)
    landed = landed_strips(through(picture.astype(np.float32)), evidence.samples, width, strips)
    return View(seen, landed, look, slice(0, len(landed))), taps


def true_width(kernel: Kernel, taps: dict[float, Array]) -> float:
    """Return the weighted mean width of the true taps, by plain loops: straight lines between line
    centres."""
    look = kernel.view.look
    scale = len(kernel.view.source) / 720
    total = weights = 0.0
    known: dict[float, float] = {}
    for boundary, weight in zip(kernel.boundaries, kernel.weights, strict=True):
        place = (boundary - look.offset) / look.scale
        key = round(place % (1 if abs(look.scale % 1) < 1e-9 else 2), 6)
        if key not in known:
            known[key] = _width_at(int(boundary), look, scale, taps)
        total += weight * known[key]
        weights += weight
    return total / weights


def _width_at(boundary: int, look: Affine, scale: float, taps: dict[float, Array]) -> float:
    lines = np.arange(
        int((boundary - look.offset) / look.scale) - 20, int((boundary - look.offset) / look.scale) + 21
    )
    levels = []
    for k in lines:
        centre = look(k + 0.5) + PHASE * scale
        first = int(np.floor(centre))
        weights = taps[float(np.round(centre - first - 0.5, 9))]
        reach = len(weights) // 2
        levels.append(
            sum(
                w
                for j, w in zip(range(first - reach, first + reach + 1), weights, strict=True)
                if j >= boundary
            )
        )
    return crossing(levels, 0.9) - crossing(levels, 0.1)


def crossing(levels: list[float], share: float) -> float:
    """Return where a rising row of levels crosses a share, straight between."""
    k = next(i for i in range(len(levels) - 1) if levels[i + 1] > share)
    return k + (share - levels[k]) / (levels[k + 1] - levels[k])

"""What a chain does across the lines, measured on the picture: taps from the source to every output line.

Along the line, source and output are averaged in strips of 1/240 of the width. Then, in this order:

1. *Place*: the output may lie some lines off its map (a capture): the whole number of source lines, within
   three scan lines, at which source and output vary together most is taken into the map.
2. *Tone*: a cubic from the output's code values to the source's, fitted where the source is flat around
   (weights 1 / (0.01^2 + range^2), range of the source within 1.5 output lines on either side). It is used
   only where the taps then explain the output better than without it: on texture, nowhere flat, it would
   bend levels that are right.
3. *Taps*: output line k looks at source line c = map(k + 1/2). Lines that look alike, k mod q with q the
   denominator of (source lines / output lines), else those with like fractions of c in eighths, make a
   class; on an interlaced raster the fields are kept apart. Each class has its taps on the source lines from
   floor(c) - n to floor(c) + n, n = ceil(2 source lines per scan line) + 1 (more when the outermost taps are
   not empty and more explain the output better), by least squares with 1e-4 of the energy of the source's
   line differences as a ridge, means removed; their sum is then made 1.
4. *Steps*: for every boundary between two source lines, what a step there becomes: the running sum of the
   taps. Each counts by the source's own steps at that boundary, the sum over the strips of (difference)^2.

So no edge is chosen and no plateau needed. The source's own softness is not in the result, and no detail
of the picture is: the taps are what source and output have in common.

For the samples of a line the axes change places. The source is then taken through the taps across the lines
first, where those could be measured, and each output line is a strip: else what the chain does to the lines
(a drop leaves two of three out) would be looked for along them. Definition of this project.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
from scalesim.metrics.edges.taps import Fit, fitted
from scalesim.metrics.edges.tone import toned
from scalesim.metrics.edges.view import Classes, View, inside
from scalesim.metrics.outlines.strips import landed_strips, source_strips, strip_width

Across = Literal["lines", "samples"]
"""What an edge lies across: the lines, when it is horizontal, or the samples of a line."""

LEAST_STEPS = 20
"""Steps of the source a figure rests on, at least."""

LEAST_DETAIL, LEAST_DETAIL_CODED = 0.5, 3.0
"""RMS second difference of the source's strips, 8-bit codes: below the first nothing can be told, below the
second nothing of a picture that went through more than the chain (a capture, a compression)."""

_NOTHING_LEFT = 0.1 / 255
"""Residual up to which the output is explained to the last code."""

_FITS = 0.6 / 255
"""An RMS residual up to this is rounding: the output has not been compressed."""


@dataclass(frozen=True, eq=False)
class Kernel:
    """The taps of each class, and what they make of a step at each boundary between two source lines.

    Parameters:
        view, classes : what was measured, the map corrected for displacement
        taps : (classes, 2 n + 1) weights of source lines floor(c) - n ... floor(c) + n; each row sums to 1
        boundaries : (boundaries,) source lines whose upper edge it is
        weights : (boundaries,) the source's own steps there, sum of squares, code values
        steps : effective number of the source's steps, (sum of squares)^2 / (sum of fourth powers)
        samples : output lines times strips the taps were fitted to
        residual : RMS of what they do not explain, code values
    """

    view: View
    classes: Classes
    taps: NDArray
    boundaries: NDArray
    weights: NDArray
    steps: float
    samples: int
    residual: float

    @property
    def places(self) -> NDArray:
        """Output line coordinate of each boundary."""
        return np.asarray(self.view.look.inverse()(self.boundaries.astype(np.float64)))

    def responses(self) -> tuple[NDArray, NDArray]:
        """Return (output lines, levels 0..1), both (boundaries, points): a step at each boundary."""
        reach = self.taps.shape[1] // 2
        half = ceil((reach + 2) / abs(self.view.look.scale)) + 1
        lines = np.floor(self.places).astype(np.int64)[:, None] + np.arange(-half, half + 1)
        below = np.zeros((len(self.taps), self.taps.shape[1] + 1))
        below[:, 1:] = np.cumsum(self.taps[:, ::-1], axis=1)
        covered = self.classes.first(lines) + reach + 1 - self.boundaries[:, None]
        return lines, below[self.classes(lines), np.clip(covered, 0, self.taps.shape[1])]


def kernel_across(evidence: Evidence, axis: Across) -> Kernel:
    """Return what the chain does across an axis, measured once per evidence.

    Raises: NotMeasurable when the source has too few steps or is too soft, when the picture is too small,
        when the source repeats so that its lines cannot be told apart, or the output does not follow it
    """
    name = f"kernel across {axis}"
    if name not in evidence.cache:
        try:
            evidence.cache[name] = measured(view_across(evidence, axis), coded=evidence.coverage is None)
        except NotMeasurable as reason:
            evidence.cache[name] = str(reason)
    found: Kernel | str = evidence.cache[name]
    if isinstance(found, str):
        raise NotMeasurable(found)
    return found


def view_across(evidence: Evidence, axis: Across) -> View:
    """Return the visible strips of source and output across an axis."""
    if axis == "samples":
        return _view_along(evidence)
    seen, seen_along = evidence.window
    strips = evidence.source_strips
    width = strip_width(evidence.source.shape[1])
    middle = evidence.samples.inverse()((np.arange(strips.shape[1]) + 0.5) * width)
    shown = _range((middle >= seen_along.start) & (middle < seen_along.stop))
    return View(
        strips[:, shown.start : shown.stop],
        landed_strips(evidence.landed_luma, evidence.samples, width, shown),
        evidence.lines,
        seen,
        float(evidence.raster.landed_pitch),
    )


def _view_along(evidence: Evidence) -> View:
    """Return the visible lines of the output, and of the source as the chain makes lines of it."""
    seen, seen_along = evidence.window
    source, landed = evidence.source_luma, evidence.landed_luma
    try:
        kernel = kernel_across(evidence, "lines")
    except NotMeasurable:  # nothing across the lines to be misled by
        strips = evidence.once("strips along samples", lambda: source_strips(np.ascontiguousarray(source.T)))
        width = strip_width(len(source))
        middle = evidence.lines.inverse()((np.arange(strips.shape[1]) + 0.5) * width)
        shown = _range((middle >= seen.start) & (middle < seen.stop))
        across = landed_strips(landed.T, evidence.lines, width, shown)
        return View(strips[:, shown.start : shown.stop], across, evidence.samples, seen_along, doublings=4)
    lines = inside(kernel.view, kernel.classes, kernel.taps.shape[1] // 2)
    made = _taken(kernel, source, lines)
    return View(made.T, landed[lines].T, evidence.samples, seen_along, doublings=4)


def _taken(kernel: Kernel, source: NDArray, lines: NDArray) -> NDArray:
    """Return what the taps make of a source's lines, (lines, samples) float32."""
    first, reach = kernel.classes.first(lines), kernel.taps.shape[1] // 2
    taps = kernel.taps[kernel.classes(lines)].astype(np.float32)
    made = np.zeros((len(lines), source.shape[1]), np.float32)
    for o in range(-reach, reach + 1):
        made += taps[:, o + reach, None] * source[first + o]
    return made


def _range(shown: NDArray) -> range:
    found = np.flatnonzero(shown)
    return range(int(found[0]), int(found[-1]) + 1) if len(found) else range(0)


def measured(view: View, *, coded: bool = False) -> Kernel:
    """Return the kernel of a view.

    Parameters:  coded : the output went through more than a chain that is known, a compression perhaps
    Raises:      NotMeasurable as `kernel_across`
    """
    _check_detail(view)
    classes = Classes.of(view)
    view = replace(view, look=Affine(view.look.scale, view.look.offset + displacement(view, classes)))
    classes = replace(classes, look=view.look)
    fit = plain = fitted(view, classes)
    if plain.residual > _FITS:
        by_tone = fitted(replace(view, landed=toned(view, classes)), classes)
        fit = min(plain, by_tone, key=lambda of: of.residual)
    if not fit.follows and plain.residual <= _NOTHING_LEFT:
        raise NotMeasurable(
            "the source repeats every few lines, so its lines cannot be told apart: their weights are unknown"
        )
    if not fit.follows:
        raise NotMeasurable(
            f"the output does not follow the source: {255 * fit.residual:.1f} codes of it are not explained"
        )
    detail = detail_of(view.source)
    if coded and detail < LEAST_DETAIL_CODED and fit.residual > _FITS:
        raise NotMeasurable(
            f"the source is too soft: its lines bend by {detail:.1f} codes (RMS second difference), and of a "
            f"picture that was captured or compressed at least {LEAST_DETAIL_CODED:g} are needed"
        )
    return _with_boundaries(view, classes, fit)


def detail_of(source: NDArray) -> float:
    """Return the RMS second difference of (lines, strips) down the lines, in 8-bit codes."""
    bend = source[2:] - 2 * source[1:-1] + source[:-2]
    return 255 * float(np.sqrt(np.mean(bend**2))) if bend.size else 0.0


def _check_detail(view: View) -> None:
    if not view.source.size or not view.landed.size:
        raise NotMeasurable("nothing of the picture is visible")
    places = view.look.inverse()(np.arange(1.0, len(view.source)))
    steps = _steps(view.source, (places >= view.seen.start) & (places < view.seen.stop))
    if steps < LEAST_STEPS:
        raise NotMeasurable(
            f"the visible source has {steps:.0f} steps that count; at least {LEAST_STEPS} are needed"
        )
    detail = detail_of(view.source)
    if detail < LEAST_DETAIL:
        raise NotMeasurable(
            f"the source is too soft: its lines bend by {detail:.2f} codes (RMS second difference); "
            f"at least {LEAST_DETAIL:g} are needed"
        )


def _steps(source: NDArray, counted: NDArray) -> float:
    """Return the effective number of steps between the lines of `source`, at the boundaries counted."""
    squares = np.square(np.diff(source, axis=0)[counted], dtype=np.float64)
    fourth = float(np.sum(squares**2))
    return float(np.sum(squares)) ** 2 / fourth if fourth > 1e-12 else 0.0


def displacement(view: View, classes: Classes) -> int:
    """Return how many source lines below its map the output looks, in whole lines, within three scan
    lines."""
    scan = view.per_scan_line
    wide, box = ceil(5 * scan) + 1, max(1, round(abs(view.look.scale)))
    lines = inside(view, classes, wide)
    if len(lines) < 8:
        return 0
    every = -(-view.source.shape[1] // 60)
    landed = view.landed[lines, ::every].astype(np.float64)
    landed -= landed.mean()
    thinned = np.ascontiguousarray(view.source[:, ::every], dtype=np.float64)
    first = classes.first(lines)
    together = np.array([np.vdot(landed, thinned[first + o]) for o in range(-wide, wide + 1)])
    together = np.convolve(together, np.ones(box), mode="same")
    farthest = ceil(3 * scan)
    score = together[wide - farthest : wide + farthest + 1]
    near = np.flatnonzero(score >= score.max() - 1e-4 * abs(score.max())) - farthest
    return int(near[np.argmin(np.abs(near))])


def _with_boundaries(view: View, classes: Classes, fit: Fit) -> Kernel:
    """Return the kernel at the visible boundaries of the source."""
    boundaries = np.arange(1, len(view.source))
    places = view.look.inverse()(boundaries.astype(np.float64))
    shown = (places >= view.seen.start) & (places < view.seen.stop)
    squares = np.square(np.diff(view.source, axis=0)[shown], dtype=np.float64)
    return Kernel(
        view,
        classes,
        fit.taps,
        boundaries[shown],
        squares.sum(axis=1),
        _steps(view.source, shown),
        fit.samples,
        fit.residual,
    )

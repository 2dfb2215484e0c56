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
from fractions import Fraction
from math import ceil, lcm
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
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

_MOST_CLASSES, _EIGHTHS = 16, 8
_RIDGE = 1e-4
_MULTIPLICATIONS, _VALUES = 40_000_000, 2_500_000
"""A fit takes about so many at most; strips are left out, evenly, to keep to it."""


@dataclass(frozen=True, eq=False)
class View:
    """Source and output across one axis, where the display shows them.

    Parameters:
        source : (source lines, visible strips) code values
        landed : (output lines, visible strips) code values
        look : map from output lines to source lines
        seen : the visible output lines
        pitch : scan lines per output line: 1, or 1/2 when interlaced
        doublings : how often n may double: along the line filters are wider than across the lines
    """

    source: NDArray
    landed: NDArray
    look: Affine
    seen: slice
    pitch: float = 1.0
    doublings: int = 2

    @property
    def per_scan_line(self) -> float:
        """Source lines per scan line."""
        return abs(self.look.scale) / self.pitch


@dataclass(frozen=True, eq=False)
class Classes:
    """Which output lines look at the source alike.

    Parameters:  look : map from output lines to source lines; period : output lines after which it repeats, 0
                 when it does not; fields : 2 when even and odd lines are of different fields, else 1
    """

    look: Affine
    period: int
    fields: int

    @classmethod
    def of(cls, view: View) -> Classes:
        """Return the classes of a view."""
        fields = 2 if view.pitch != 1 else 1
        near = Fraction(abs(view.look.scale)).limit_denominator(_MOST_CLASSES)
        drift = abs(float(near) - abs(view.look.scale)) * len(view.landed)
        return cls(view.look, lcm(near.denominator, fields) if drift < 0.05 else 0, fields)

    @property
    def count(self) -> int:
        """How many classes there are."""
        return self.period or self.fields * _EIGHTHS

    def __call__(self, lines: NDArray) -> NDArray:
        """Return the class of output lines."""
        if self.period:
            return lines % self.period
        centre = self.look(lines + 0.5) + 1e-6
        eighth = np.floor((centre - np.floor(centre)) * _EIGHTHS).astype(np.int64)
        return np.minimum(eighth, _EIGHTHS - 1) * self.fields + lines % self.fields

    def first(self, lines: NDArray) -> NDArray:
        """Return the source line an output line looks at."""
        return np.floor(self.look(lines + 0.5) + 1e-6).astype(np.int64)


@dataclass(frozen=True, eq=False)
class Fit:
    """Taps of each class, (classes, 2 n + 1), each row's sum 1, and how well they explain the output.

    Parameters:  residual : RMS of what they leave, code values of the source; samples : output lines times
                 strips fitted to; follows : less is left than half of the output's line differences, and no
                 sum of taps was near 0
    """

    taps: NDArray
    residual: float
    samples: int
    follows: bool


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
    strips = evidence.once("strips along lines", lambda: source_strips(evidence.source_luma))
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
    lines = _inside(kernel.view, kernel.classes, kernel.taps.shape[1] // 2)
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
    fit = plain = _fitted(view, classes)
    if plain.residual > _FITS:
        by_tone = _fitted(replace(view, landed=toned(view, classes)), classes)
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
    lines = _inside(view, classes, wide)
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


def _inside(view: View, classes: Classes, reach: int) -> NDArray:
    """Return the visible output lines whose taps, `reach` source lines either way, all lie on the source."""
    lines = np.arange(max(0, view.seen.start), min(len(view.landed), view.seen.stop))
    first = classes.first(lines)
    return lines[(first >= reach) & (first < len(view.source) - reach)]


def toned(view: View, classes: Classes) -> NDArray:
    """Return the output brought to the source's levels by a cubic, straight where no cubic is to be had."""
    reach = ceil(1.5 * abs(view.look.scale))
    lines = _inside(view, classes, reach)
    if len(lines) < 8:
        return view.landed
    around = [_windowed(extreme, view.source, 2 * reach + 1) for extreme in (np.minimum, np.maximum)]
    rows = classes.first(lines) - reach
    spread = (around[1] - around[0])[rows].ravel()
    half = max(0, round(abs(view.look.scale) / 2 - 0.5))
    mean = sum(view.source[classes.first(lines) + o] for o in range(-half, half + 1)) / (2 * half + 1)
    weight = 1 / (0.01**2 + spread.astype(np.float64) ** 2)
    weight /= weight.sum()
    landed = view.landed[lines].ravel().astype(np.float64)
    low, high = float(landed.min()), float(landed.max())
    if high - low < 1e-6:
        raise NotMeasurable("the output is of one level throughout")
    return _curved(view.landed, (low, high), (landed, np.asarray(mean).ravel(), weight))


def _windowed(extreme: np.ufunc, values: NDArray, size: int) -> NDArray:
    """Return the least or most of every `size` lines in a row."""
    covered = 1
    while covered < size:  # each step covers up to twice as many
        step = min(covered, size - covered)
        values = extreme(values[:-step], values[step:])
        covered += step
    return values


def _curved(picture: NDArray, ends: tuple[float, float], pairs: tuple[NDArray, NDArray, NDArray]) -> NDArray:
    """Return a picture through the cubic that takes landed to source levels, given (landed, source,
    weight)."""
    from numpy.polynomial.legendre import legder, legval, legvander

    low, high = ends
    landed, source, weight = pairs
    for degree in (3, 1):
        basis = legvander(2 * (landed - low) / (high - low) - 1, degree)
        weighted = basis * weight[:, None]
        ridge = np.diag([0.0, 0.0, 1e-4, 1e-4][: degree + 1])  # curves only as far as the levels show one
        curve = np.linalg.lstsq(weighted.T @ basis + ridge, weighted.T @ source, rcond=None)[0]
        if degree == 1 or np.all(legval(np.linspace(-1, 1, 41), legder(curve)) > 0):
            break
    return np.asarray(legval(2 * (picture.astype(np.float64) - low) / (high - low) - 1, curve))


def _fitted(view: View, classes: Classes) -> Fit:
    """Return the fit with as many taps as the output needs."""
    reach = ceil(2 * view.per_scan_line) + 1
    best = _fit(view, classes, reach)
    for _ in range(view.doublings):
        if np.abs(best.taps[:, [0, 1, -2, -1]]).sum(axis=1).max() < 0.02:
            break
        reach *= 2
        try:
            wider = _fit(view, classes, reach)
        except NotMeasurable:
            break
        if wider.residual > 0.95 * best.residual:
            break
        best = wider
    return best


def _fit(view: View, classes: Classes, reach: int) -> Fit:
    """Return the fit of 2 reach + 1 source lines; raise NotMeasurable when too few lines see so many."""
    lines = _inside(view, classes, reach)
    kind, first = classes(lines), classes.first(lines)
    count = 2 * reach + 1
    taken = max(1, len(lines) * count)
    strips = max(16, min(_MULTIPLICATIONS // (taken * count), _VALUES // taken))
    every = -(-view.source.shape[1] // strips)
    source = np.ascontiguousarray(view.source[:, ::every], dtype=np.float64)
    landed = view.landed[:, ::every].astype(np.float64)
    ridge = _RIDGE * float(np.mean(np.diff(source, axis=0) ** 2))
    taps = np.zeros((classes.count, count))
    left, seen = 0.0, 0
    for number in np.unique(kind):
        of_class = np.flatnonzero(kind == number)
        known = np.stack([source[first[of_class] + o].ravel() for o in range(-reach, reach + 1)])
        taps[number], unexplained = _least_squares(known, landed[lines[of_class]].ravel(), ridge)
        left, seen = left + unexplained, seen + known.shape[1]
    total = taps.sum(axis=1)
    missing = np.setdiff1d(np.arange(classes.count), kind) if classes.period else np.zeros(0)
    if not seen or len(missing):
        raise NotMeasurable(
            f"the picture is too small: {len(lines)} of its lines see {count} source lines around them, and "
            f"{classes.count} ways of looking at the source must be told apart"
        )
    shown = total[np.unique(kind)]
    differences = float(np.mean(np.diff(view.landed[lines], axis=0) ** 2))
    follows = left / seen <= 0.5 * differences and float(shown.min()) > 0.2
    if float(shown.mean()) <= 0.05:
        return Fit(taps, float(np.sqrt(left / seen)), seen, False)
    used = np.flatnonzero(total > 0)
    nearest = used[np.argmin(np.abs(used[None] - np.arange(classes.count)[:, None]), axis=1)]
    taps = taps[nearest] / total[nearest, None]  # a class no line is of is never asked for inside the picture
    return Fit(taps, float(np.sqrt(left / seen)) / float(shown.mean()), seen, follows)


def _least_squares(known: NDArray, wanted: NDArray, ridge: float) -> tuple[NDArray, float]:
    """Return the weights of the rows of `known` that make `wanted`, means removed, and the squares left."""
    known -= known.mean(axis=1, keepdims=True)
    wanted = wanted - wanted.mean()
    size = len(wanted)
    weights = np.linalg.solve(known @ known.T / size + ridge * np.eye(len(known)), known @ wanted / size)
    return weights, float(np.sum((wanted - weights @ known) ** 2))


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

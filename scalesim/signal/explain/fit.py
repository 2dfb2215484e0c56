"""Lines of light fitted to tiles of a straightened photo: place, spread, gain and black of each tile.

The place of the picture may differ from the view by a cubic (a tube's own geometry), the beam within its
physical range. All tiles share these; each has a gain and a black of its own (vignetting, halation, light of
the room), which are solved away. Least squares by Gauss and Newton with numeric slopes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.explain.lit import Beam, LitLines
from scalesim.signal.explain.straight import Straight

POWERS = tuple((i, total - i) for total in range(4) for i in range(total + 1))
"""Powers of (across, down) in the cubic, the constant first."""

WHITE, BLACK, ALONG = (0.09, 0.6), (0.07, 0.5), (0.0004, 0.02)
"""Ranges of the spread at white and at black (lines) and along a line (picture widths)."""

APART = 0.2
"""Field-line pitches that shake may move two fields of an exposure against each other; more is a landing."""

_BEAM, _APART = slice(2 * len(POWERS), 2 * len(POWERS) + 3), 2 * len(POWERS) + 3
"""Where the logarithms of the beam, and the fields' shift, stand among the parameters."""

START = Beam(0.3, 0.22, 0.0025)
OFFSETS = (0.0, -0.5, 0.5, -0.25, 0.25)
"""Field-line pitches by which the view may be wrong before the lines themselves are looked at."""

EQUAL = 1e-4
"""Misfit below which two predictions are alike: no model is better than that."""

_STEPPED, _KEPT = 6, 3
"""Starts from which a first step is taken, and that are followed after it: the best each time."""

_STEP_V, _STEP_U = 0.02, 0.0003
_PRIOR_V, _PRIOR_U, _PRIOR_APART = 0.6, 0.003, 0.1
"""How far terms of the cubic may go without a reason, lines and picture widths; and fields apart, lines."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """A prediction on a photo.

    Parameters:
        misfit : (tiles,) mean square of what is left, over the tile's own variance
        gain, black : (tiles,) of each tile, black as a share of its gain
        bend : (20,) coefficients of the cubic, down (lines) then across (picture widths)
        left : what is left of the variance of all tiles together, 0..1
        apart : field-line pitches by which the second field lies further down than it should: shake between
            two fields of an exposure, or a set that does not hold them still
    """

    beam: Beam
    misfit: NDArray[np.float64]
    gain: NDArray[np.float64]
    black: NDArray[np.float64]
    bend: NDArray[np.float64]
    left: float
    apart: float = 0.0

    @property
    def score(self) -> float:
        """Mean logarithm of the misfit, lower is better: no tile alone decides."""
        return float(np.log(self.misfit + EQUAL).mean())


@dataclass(frozen=True, eq=False)
class Tiles:
    """Tiles of a photo: values and places, each (tiles, pixels); terms of the cubic, (10, tiles, pixels).

    Places are in pitches of `lines` over the picture's height; predictions of other counts are scaled.
    """

    lines: int
    seen: NDArray[np.float32]
    v: NDArray[np.float32]
    u: NDArray[np.float32]
    terms: NDArray[np.float32]

    @property
    def coarse(self) -> Tiles:
        """Every second row and column: for a first look."""
        return Tiles(self.lines, self.seen[:, ::3], self.v[:, ::3], self.u[:, ::3], self.terms[:, :, ::3])


def tiles_of(photo: Straight, cuts: Sequence[tuple[slice, slice]]) -> Tiles:
    """Return some tiles of a straightened photo."""
    v, u = photo.places()
    seen, v, u = (np.stack([each[cut].ravel() for cut in cuts]) for each in (photo.light, v, u))
    across, down = 2 * u - 1, 2 * v / photo.lines - 1
    terms = np.stack([across**i * down**j for i, j in POWERS]).astype(np.float32)
    return Tiles(photo.lines, seen, v, u, terms)


def fit(lit: LitLines, tiles: Tiles, along: float) -> Fitted:
    """Return the best fit of lines of light to tiles.

    Parameters:  along : blur along the lines that the photo was given, in picture widths
    """
    few = tiles.coarse
    shifts = (0.0, -APART / 2, APART / 2) if len(lit.fields) == 2 else (0.0,)
    starts = [_start(offset, shift) for offset in OFFSETS for shift in shifts]
    starts.sort(key=lambda values: _cost(lit, few, along, values))
    tried = [_step(lit, few, along, values, bends=3) for values in starts[:_STEPPED]]
    tried.sort(key=lambda values: _cost(lit, few, along, values))
    for _ in range(2):
        tried[:_KEPT] = [_step(lit, few, along, values, bends=3) for values in tried[:_KEPT]]
    values = min(tried[:_KEPT], key=lambda each: _cost(lit, few, along, each))
    for bends in (3, 10, 10):
        values = _step(lit, tiles, along, values, bends=bends)
    return _fitted(lit, tiles, along, values)


def light_at(lit: LitLines, found: Fitted, tiles: Tiles, along: float) -> NDArray[np.float32]:
    """Return the light of a fitted prediction at tiles, (tiles, pixels), before their gain and black.

    Parameters:  tiles : any tiles of the photo it was fitted to; along : as for `fit`
    """
    beam = found.beam
    values = np.concatenate([found.bend, np.log([beam.white, beam.black, beam.along]), [found.apart]])
    return _model(lit, tiles, along, values)


def _start(offset: float, apart: float = 0.0) -> NDArray[np.float64]:
    bend = np.zeros(2 * len(POWERS))
    bend[0] = offset
    return np.concatenate([bend, np.log([START.white, START.black, START.along]), [apart]])


def _beam(values: NDArray) -> Beam:
    white, black, along = np.exp(values[_BEAM])
    return Beam(float(white), float(black), float(along))


def _model(lit: LitLines, tiles: Tiles, along: float, values: NDArray) -> NDArray[np.float32]:
    beam, count = _beam(values), len(POWERS)
    v = tiles.v + np.tensordot(values[:count].astype(np.float32), tiles.terms, 1)
    v *= np.float32(lit.lines / tiles.lines)
    u = tiles.u + np.tensordot(values[count : 2 * count].astype(np.float32), tiles.terms, 1)
    return lit.smooth(float(np.hypot(beam.along, along))).light(v, u, beam, float(values[_APART]))


def _prior(parameter: int) -> float:
    """Return how far a parameter may go without a reason; 1 for the logarithms of the beam: they are free."""
    count = len(POWERS)
    if parameter == _APART:
        return _PRIOR_APART
    return _PRIOR_V if parameter < count else _PRIOR_U if parameter < 2 * count else 1.0


def _left(model: NDArray, tiles: Tiles) -> tuple[NDArray, NDArray, NDArray]:
    """Return what is left of each tile after its gain and black, those, all by least squares."""
    m = model - model.mean(axis=1, keepdims=True)
    y = tiles.seen - tiles.seen.mean(axis=1, keepdims=True)
    gain = np.maximum((m * y).sum(axis=1) / np.maximum((m * m).sum(axis=1), 1e-12), 0)
    return y - gain[:, None] * m, gain, tiles.seen.mean(axis=1) - gain * model.mean(axis=1)


def _weights(tiles: Tiles) -> NDArray[np.float64]:
    """Return what a squared deviation of each tile counts: over its own variance, dim tiles less."""
    variance = tiles.seen.var(axis=1)
    return 1 / (variance + 0.05 * float(np.median(variance)) + 1e-12)


def _cost(lit: LitLines, tiles: Tiles, along: float, values: NDArray) -> float:
    left, _, _ = _left(_model(lit, tiles, along, values), tiles)
    return float(((left**2).mean(axis=1) * _weights(tiles)).mean())


def _step(lit: LitLines, tiles: Tiles, along: float, values: NDArray, *, bends: int) -> NDArray[np.float64]:
    """Return parameters after one step, halved until it helps; `bends` of the cubic's terms take part."""
    count = len(POWERS)
    base = _model(lit, tiles, along, values)
    left, gain, _ = _left(base, tiles)
    weights = _weights(tiles)
    columns, which = [], []

    def slope(k: int, size: float) -> NDArray:
        moved = values.copy()
        moved[k] += size
        return (_model(lit, tiles, along, moved) - base) / size

    down, over = slope(0, _STEP_V), slope(count, _STEP_U)
    for k in range(bends):
        columns += [down * tiles.terms[k], over * tiles.terms[k]]
        which += [k, count + k]
    for k in range(2 * count, 2 * count + (4 if len(lit.fields) == 2 else 3)):
        columns.append(slope(k, 0.03))
        which.append(k)
    root = np.sqrt(weights)[:, None]
    m = base - base.mean(axis=1, keepdims=True)
    unit = m / np.sqrt((m * m).sum(axis=1, keepdims=True) + 1e-12)
    system = []
    for column in columns:
        c = column - column.mean(axis=1, keepdims=True)
        c -= unit * (unit * c).sum(axis=1, keepdims=True)
        system.append((c * gain[:, None] * root).ravel())
    matrix = np.stack(system, axis=1).astype(np.float64)
    target = (left * root).ravel().astype(np.float64)
    noise = float((target**2).mean())
    scale = np.array([_prior(k) for k in which])
    # a twentieth of the pixels counts: what is left is alike over neighbours
    normal = matrix.T @ matrix / 20 + np.diag(noise / scale**2)
    right = matrix.T @ target / 20 - noise * (values[which] - _start(0.0)[which]) / scale**2 * (scale < 1)
    step = np.linalg.solve(normal, right)
    step = np.clip(step, -0.5 * scale, 0.5 * scale)
    before = float((target**2).sum())
    for _ in range(4):
        tried = values.copy()
        tried[which] += step
        limits = np.log([WHITE, BLACK, ALONG])
        tried[_BEAM] = np.clip(tried[_BEAM], limits[:, 0], limits[:, 1])
        tried[_BEAM][1] = min(tried[_BEAM][:2])  # no beam is wider at black than at white
        tried[_APART] = np.clip(tried[_APART], -APART, APART)
        after, _, _ = _left(_model(lit, tiles, along, tried), tiles)
        if float(((after * root) ** 2).sum()) < before:
            return tried
        step /= 3
    return values


def _fitted(lit: LitLines, tiles: Tiles, along: float, values: NDArray) -> Fitted:
    left, gain, offset = _left(_model(lit, tiles, along, values), tiles)
    square = (left**2).mean(axis=1)
    return Fitted(
        _beam(values),
        square * _weights(tiles),
        gain,
        offset / np.maximum(gain, 1e-9),
        values[: 2 * len(POWERS)],
        float(square.sum() / max(float(tiles.seen.var(axis=1).sum()), 1e-12)),
        float(values[_APART]),
    )

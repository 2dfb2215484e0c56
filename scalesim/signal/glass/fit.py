"""From a rough pattern to a phase: a cubic polynomial that the demodulated carrier agrees with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.consensus import Pattern
from scalesim.signal.glass.demodulate import Cells, Frame, cells_of
from scalesim.signal.glass.lines import CUBIC

ROUNDS = (1.5, 2.0, 2.5, 2.5)
"""Spread of the smoothing in periods, round by round."""
BRIGHT = 0.05
"""Cells darker than this share of the 95th percentile say nothing."""
STRONG = 0.35
"""Cells whose carrier is weaker than this share of the typical one say nothing."""
NEAR = 0.2
"""Cycles within which a cell agrees with the model; by chance 40 % do."""
AGREE = 0.85
"""Share of the cells around that must agree where lines are."""
FEWEST_CELLS = 12
BLOCK = 5
"""Columns of cells that the smoothing joins."""
_ROWS = 2048
"""Rows of a fit that are taken at a time."""
ENOUGH = 25_000
"""Cells that a cubic is fitted to: of four times as many and more every second is left out each way, and so
on. The smoothing makes them share what they say with their neighbours."""
_Part = tuple[slice, slice]


@dataclass(frozen=True, eq=False)
class Fitted:
    """A phase and how well it holds.

    Parameters:
        coefficients : (10,) in lines; frame : their coordinates; cells : of the last round
        used : (down, across) cells that agree; seen : share of all cells that are bright and go up and down
        residual : rms of their phase, lines
        coherence : |sum z| / sum |z| of these (of z squared when `squared`)
        common : variance of what moves whole lines alike, lines squared: a tube's own jitter
    """

    coefficients: NDArray[np.float64]
    frame: Frame
    cells: Cells
    used: NDArray[np.bool_]
    seen: float
    residual: float
    coherence: float
    squared: bool
    common: float = 0.0

    @property
    def steady(self) -> tuple[float, float]:
        """(coherence, residual) without what moves whole lines alike.

        Variances subtract, and Gaussian phase of variance s takes exp(-s / 2) of a coherence.
        """
        turns = (2 * np.pi * (2 if self.squared else 1)) ** 2
        residual = float(np.sqrt(max(self.residual**2 - self.common, 0.0)))
        return min(1.0, self.coherence * float(np.exp(turns * self.common / 2))), residual

    @property
    def trust(self) -> NDArray[np.float32]:
        """(down, across) 0..1: 1 where the carrier agrees with the phase, 0 where nothing goes up and
        down."""
        off = np.abs(self.error()) / 0.25
        return np.where(self.used, np.clip(1 - off, 0, 1), 0).astype(np.float32)

    def error(self) -> NDArray[np.float64]:
        """Return (down, across) phase left in every cell, lines; half-line jumps folded when squared."""
        power = 2 if self.squared else 1
        return np.asarray(np.angle(self.cells.z**power) / (2 * np.pi * power))


def start_of(pattern: Pattern, frame: Frame) -> NDArray[np.float64]:
    """Return the coefficients whose slope is the pattern's frequency; of its curl nothing is left."""
    x = np.linspace(0, frame.columns - 1, 9)
    y = np.linspace(0, frame.rows - 1, 9)
    xs, ys = (each.ravel() for each in np.meshgrid(x, y))
    at = np.column_stack([xs, ys]) - pattern.middle
    f = pattern.coefficients[0] + at[:, :1] * pattern.coefficients[1] + at[:, 1:] * pattern.coefficients[2]
    a, b = (xs - frame.centre[0]) / frame.scale, (ys - frame.centre[1]) / frame.scale
    quadratic = [k for k, (i, j) in enumerate(CUBIC) if 1 <= i + j <= 2]
    rows_x = np.stack([CUBIC[k][0] * a ** max(CUBIC[k][0] - 1, 0) * b ** CUBIC[k][1] for k in quadratic], 1)
    rows_y = np.stack([CUBIC[k][1] * a ** CUBIC[k][0] * b ** max(CUBIC[k][1] - 1, 0) for k in quadratic], 1)
    design = np.concatenate([rows_x, rows_y]) / frame.scale
    found, *_ = np.linalg.lstsq(design, np.concatenate([f[:, 0], f[:, 1]]), rcond=None)
    out = np.zeros(len(CUBIC))
    out[quadratic] = found
    return out


def fitted(wave: NDArray, mean: NDArray, start: NDArray, period: float, *, squared: bool = True) -> Fitted:
    """Return the phase that a carrier agrees with.

    The carrier is demodulated; the steps of phase from cell to cell (which cannot wrap while the model is
    within half a cycle a cell) are fitted, then the phase itself, with more and more smoothing. `squared`
    fits
    twice the phase, so that parts half a line apart agree.

    Parameters:  start : (10,) coefficients; period : pixels a line about the middle
    """
    frame = Frame.of(*wave.shape)
    power = 2 if squared else 1
    size = (max(1, round(period)), max(2, round(2 * period)))
    coefficients = np.array(start, dtype=np.float64)
    for rounds in (ROUNDS[:1], ROUNDS[1:]):
        cells = cells_of(wave, mean, frame.parts(coefficients), size)
        basis = frame.basis(cells.x[:1], cells.y[:, :1])
        step = max(1, int(np.sqrt(cells.light.size / ENOUGH)))
        some, pairs = (slice(None, None, step), slice(None, None, step)), _pairs(step)
        design = _step_design(basis, pairs)
        for spread in rounds:
            smooth = cells.smoothed(spread * period)
            moved = _from_steps(design, smooth, power, pairs)
            cells, coefficients = cells.turned(np.einsum("ijk,k->ij", basis, moved)), coefficients + moved
            if spread > ROUNDS[0]:
                moved = _from_level(basis[some], cells.smoothed(spread * period), power, some)
                cells, coefficients = cells.turned(np.einsum("ijk,k->ij", basis, moved)), coefficients + moved
    cells = cells_of(wave, mean, frame.parts(coefficients), size).smoothed(ROUNDS[-1] * period)
    return judged(frame, coefficients, cells, squared=squared)


def _weights(cells: Cells) -> NDArray[np.float64]:
    bright = cells.light > BRIGHT * np.percentile(cells.light, 95)
    height = np.abs(cells.z)
    typical = np.median(height[bright]) if bright.any() else 1.0
    return np.where(bright, np.minimum(height / (typical + 1e-12), 1.5), 0.0)


def _pairs(step: int) -> tuple[tuple[_Part, _Part], tuple[_Part, _Part]]:
    """Return neighbours: of every `step`th cell the one below it, and the one to its right."""
    every, first, following = slice(None, None, step), slice(None, -1, step), slice(1, None, step)
    return ((first, every), (following, every)), ((every, first), (every, following))


def _step_design(basis: NDArray, pairs: tuple[tuple[_Part, _Part], ...]) -> NDArray[np.float64]:
    """Return (steps, 9) what the coefficients but the first add from cell to cell, down and then across."""
    return np.concatenate([(basis[b] - basis[a]).reshape(-1, len(CUBIC))[:, 1:] for a, b in pairs])


def _from_steps(
    design: NDArray, cells: Cells, power: int, pairs: tuple[tuple[_Part, _Part], ...]
) -> NDArray[np.float64]:
    z, weight = cells.z**power, _weights(cells)
    steps, weights = [], []
    for a, b in pairs:
        steps.append(np.angle(z[b] * np.conj(z[a])).ravel() / (2 * np.pi * power))
        weights.append(np.minimum(weight[a], weight[b]).ravel())
    return _solved(design, np.concatenate(steps), np.concatenate(weights), offset=1)


def _from_level(basis: NDArray, cells: Cells, power: int, some: _Part) -> NDArray[np.float64]:
    z, weight = cells.z[some] ** power, _weights(cells)[some]
    middle = np.angle(np.sum(z * weight))
    phase = (np.angle(z * np.exp(-1j * middle)) + middle) / (2 * np.pi * power)
    return _solved(basis.reshape(-1, len(CUBIC)), phase.ravel(), weight.ravel(), offset=0)


def _solved(design: NDArray, values: NDArray, weight: NDArray, *, offset: int) -> NDArray[np.float64]:
    """Return coefficients by weighted least squares, what lies far off left out in three turns."""
    out = np.zeros(len(CUBIC))
    keep = weight > 0
    for _ in range(3):
        chosen = np.flatnonzero(keep)
        if len(chosen) < 3 * len(CUBIC):
            break
        normal, right = _normal(design, values, weight, chosen)
        ridge = 1e-9 * np.trace(normal) / len(normal) * np.eye(len(normal))
        found = np.linalg.solve(normal + ridge, right)
        left = np.abs(values - np.einsum("ij,j->i", design, found))
        out[offset:] = found
        keep = (weight > 0) & (left < max(4 * float(np.median(left[chosen])), 1e-4))
    return out


def _normal(design: NDArray, values: NDArray, weight: NDArray, chosen: NDArray) -> tuple[NDArray, NDArray]:
    """Return the two sides of the normal equations of some rows.

    Block by block: matrices as small as these are not shared out among threads, which are not worth their
    waiting here.
    """
    total = np.zeros((design.shape[1], design.shape[1] + 1))
    for begin in range(0, len(chosen), _ROWS):
        some = chosen[begin : begin + _ROWS]
        rows = np.column_stack([design[some], values[some]])
        total += (rows[:, :-1] * weight[some, None]).T @ rows
    return total[:, :-1], total[:, -1]


def judged(frame: Frame, coefficients: NDArray, cells: Cells, *, squared: bool) -> Fitted:
    power = 2 if squared else 1
    bright = cells.light > BRIGHT * np.percentile(cells.light, 95)
    z = cells.z**power
    turned = np.angle(z) / (2 * np.pi * power)
    height = np.abs(cells.z)
    typical = float(np.percentile(height[bright], 70)) if bright.any() else 0.0
    seen = bright & (height > STRONG * typical)
    near = np.abs(turned) < NEAR / power
    used = seen & near & (_share(near, seen) > AGREE)
    if used.sum() < FEWEST_CELLS:
        return Fitted(coefficients, frame, cells, used, float(seen.mean()), np.inf, 0.0, squared)
    residual = float(np.sqrt(np.mean(turned[used] ** 2)))
    coherence = float(np.abs(z[seen].sum()) / np.abs(z[seen]).sum())
    common = _common(turned, used, frame.basis(cells.x[:1], cells.y[:, :1]) @ coefficients)
    return Fitted(coefficients, frame, cells, used, float(seen.mean()), residual, coherence, squared, common)


def _common(error: NDArray, used: NDArray, phase: NDArray) -> float:
    """Return the variance that one half of the cells of a line shares with the other, lines squared.

    Blocks of columns belong to the halves by turns, so that noise, which only neighbours share, falls out.

    Parameters:  error, phase : (down, across) of cells, lines; used : which count
    """
    number = np.round(phase).astype(np.int64)
    number -= number.min()
    lines = int(number.max()) + 1
    side = np.broadcast_to((np.arange(used.shape[1]) // BLOCK) % 2, used.shape)
    key = (2 * number + side)[used]
    count = np.bincount(key, minlength=2 * lines).reshape(lines, 2)
    total = np.bincount(key, error[used], 2 * lines).reshape(lines, 2)
    both = (count >= BLOCK).all(axis=1)
    if both.sum() < FEWEST_CELLS:
        return 0.0
    one, two = (total[both] / count[both]).T
    return max(0.0, float(np.mean(one * two)))


def _share(near: NDArray, seen: NDArray, window: int = 9) -> NDArray[np.float64]:
    """Return how many of the cells around that are seen are near, 0..1."""
    from scipy.ndimage import uniform_filter

    both = uniform_filter((near & seen).astype(np.float64), window, mode="nearest")
    return np.asarray(
        both / np.maximum(uniform_filter(seen.astype(np.float64), window, mode="nearest"), 1e-3)
    )

"""Is a frame low-resolution art shown n lines to a line, and where does its grid lie?

Art scaled by a whole number n repeats every line n times: from one line to the next something changes
only at lines congruent to the grid's offset modulo n. So the share of the change that lies there tells
n and the offset. It is taken tile by tile with a limit on what one tile counts, because an overlay drawn
at full resolution must not outvote the art; changes as small as noise and coding leave do not count.

Definition of this project. *Confidence* is the mean over the tiles of how far that share exceeds the 1/n
that a picture without a grid gives, 0 for none and 1 for all: (share - 1/n) / (1 - 1/n).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma
from scalesim.errors import ShapeError

MOST = 8
LEAST_CONFIDENCE = 0.6
_CLOSE = 0.12
"""A coarser grid is taken when it explains this little less: art of n lines also fits n/2 and n/3."""
_TILES = (12, 16)
_LEAST_TILES = 6
_LEAST_STEP = 8 / 255
_MARGIN = 1e-6


@dataclass(frozen=True)
class Grid:
    """The grid along one axis.

    Parameters:
        pitch : source lines (or samples) per line of art, 2..8; 1 when there is no grid
        offset : the grid's borders lie at lines congruent to this modulo `pitch`
        confidence : 0..1, see the module; what the best grid reached when `pitch` is 1
    """

    pitch: int
    offset: int
    confidence: float

    def __bool__(self) -> bool:
        """True when there is a grid."""
        return self.pitch > 1


@dataclass(frozen=True)
class ArtGrid:
    """The grids of a frame along its lines and samples; true when its lines have one."""

    lines: Grid
    samples: Grid

    def __bool__(self) -> bool:
        """True when the lines have a grid, which is what a chain's line ratio can match."""
        return bool(self.lines)

    def sentence(self) -> str:
        """Return what was found, in a sentence."""
        if not self.lines and not self.samples:
            return "No grid of magnified art was found: the frame is drawn at its own resolution."
        parts = [
            f"{grid.pitch} source {unit} to each of the art's, from {one} {grid.offset} on"
            for grid, unit, one in ((self.lines, "lines", "line"), (self.samples, "samples", "sample"))
            if grid
        ]
        least = min(grid.confidence for grid in (self.lines, self.samples) if grid)
        return f"The frame is magnified art: {'; '.join(parts)} (confidence {least:.2f})."


def art_grid(frame: NDArray) -> ArtGrid:
    """Return the grid of magnified art along both axes; pitch 1 where there is none.

    Parameters:  frame : (lines, samples, 3) float code values 0..1
    Raises: ShapeError for another shape or fewer than 32 lines or samples
    """
    if frame.ndim != 3 or min(frame.shape[:2]) < 32:
        raise ShapeError(
            f"frame: shape is {frame.shape}; it must be (lines, samples, 3), at least 32 of each"
        )
    values = luma(np.asarray(frame, np.float32))  # coding halves colour's resolution, which blurs a grid
    return ArtGrid(_grid(values), _grid(values.T))


def _grid(values: NDArray) -> Grid:
    change = _change(values)
    tiles, counts = _tiles(change)
    if len(tiles) < _LEAST_TILES:
        return Grid(1, 0, 0.0)
    scores = {n: _score(tiles, counts, n) for n in range(2, MOST + 1)}
    best = max(score for _, score in scores.values())
    if best < LEAST_CONFIDENCE:
        return Grid(1, 0, max(0.0, best))
    pitch = max(n for n, (_, score) in scores.items() if score >= best - _CLOSE)
    return Grid(pitch, scores[pitch][0], min(1.0, scores[pitch][1]))


def _change(values: NDArray) -> NDArray:
    """Return (lines - 1, samples): squared change from each line to the next, less the noise's.

    Changes count where one of three neighbours is more than noise: the small steps beside a large one
    are what tells a smooth enlargement from a repeated line.
    """
    step = np.diff(values, axis=0)
    distance = step * step
    # second differences along the line cancel the art's own flat runs; their median is the noise's
    every = step[::3]
    fine = np.abs(every[:, 2:] - 2 * every[:, 1:-1] + every[:, :-2])
    sigma = 1.4826 / np.sqrt(12) * float(np.median(fine))
    least = max(_LEAST_STEP, 5 * sigma * np.sqrt(2)) ** 2
    large = np.pad(distance > least, ((1, 1), (0, 0)))
    near = large[:-2] | large[1:-1] | large[2:]
    noise = np.float32(2 * sigma**2)
    return np.where(near, np.maximum(distance - noise, 0), 0)


def _tiles(change: NDArray) -> tuple[NDArray, NDArray]:
    """Return (tiles, lines) energies by border, zero outside the tile, and each tile's weight.

    A tile counts by its energy up to the median of the tiles that have any.
    """
    lines, samples = change.shape
    columns = np.linspace(0, samples, _TILES[1] + 1).astype(int)[:-1]
    by_column = np.add.reduceat(change, columns, axis=1)
    rows = np.linspace(0, lines, _TILES[0] + 1).astype(int)
    found = np.zeros((_TILES[0] * _TILES[1], lines))
    for band, (begin, end) in enumerate(pairwise(rows)):
        found[band * _TILES[1] : (band + 1) * _TILES[1], begin:end] = by_column[begin:end].T
    energy = found.sum(axis=1)
    some = energy > 0
    found, energy = found[some], energy[some]
    usual = float(np.median(energy)) if len(energy) else 1.0
    return found / energy[:, None], np.minimum(1.0, energy / usual)


def _score(tiles: NDArray, weights: NDArray, n: int) -> tuple[int, float]:
    """Return the offset that explains most and its confidence for a pitch of `n`."""
    border = np.arange(tiles.shape[1]) + 1  # change i lies on the border above line i + 1
    shares = np.stack([tiles[:, border % n == offset].sum(axis=1) for offset in range(n)], axis=1)
    mean = (weights @ shares) / weights.sum()
    offset = int(np.argmax(mean))
    return offset, float((mean[offset] - 1 / n) / (1 - 1 / n))


@dataclass(frozen=True)
class ArtMatch:
    """Whether a chain's ratio can give the art back line by line.

    Parameters:
        exact_possible : every line of art can become a whole number of output lines
        exact_positions : values of `position.lines`, in source lines from 0 up to the art's pitch,
            that put the borders of the chain's spans on the grid's
        sentence : the same in words
    """

    exact_possible: bool
    exact_positions: tuple[float, ...]
    sentence: str


def art_match(grid: Grid, step: float, phase: float = 0.0) -> ArtMatch:
    """Return whether, and at which positions, spans of a chain coincide with the lines of art.

    Output line r owns the source lines [r * step + phase, (r + 1) * step + phase). A picture moved down
    by q shows what was at y at y + q, so borders meet when offset + q equals phase modulo step. A chain
    that drops lines gives every line of art at any position, as long as the step is the pitch; one that
    averages does so only at these.

    Parameters:
        grid : of the frame's lines
        step : source lines per output line of the screen
        phase : where the first span begins, in source lines
    """
    if not grid:
        return ArtMatch(
            False, (), "The frame is drawn at its own resolution: no ratio matches it line by line."
        )
    times = grid.pitch / step
    if times < 1 - _MARGIN or abs(times - round(times)) > _MARGIN * max(times, 1):
        return ArtMatch(False, (), _why_not(grid.pitch, step))
    whole = round(times)
    first = (phase - grid.offset) % step
    if step - first < _MARGIN * step:
        first = 0.0
    places = tuple(round(first + k * step, 6) + 0.0 for k in range(whole))
    shown = ", ".join(f"{place:g}" for place in places)
    each = "one output line" if whole == 1 else f"{whole} output lines"
    return ArtMatch(
        True,
        places,
        f"A step of {step:g} gives each line of art {each}; averaging is exact with the picture moved down "
        f"by {shown} source lines, give or take a multiple of {grid.pitch}, and dropping lines at every "
        "position.",
    )


def _why_not(pitch: int, step: float) -> str:
    """Return why `step` source lines per output line cannot match art of `pitch` lines."""
    share = step / pitch
    if share > 1:
        what = f"each output line stands for {share:g} lines of art, so lines are mixed or lost"
    else:
        low, high = floor(1 / share), ceil(1 / share)
        what = f"some lines of art get {low} output line{'s' if low > 1 else ''} and others {high}"
    return (
        f"A step of {step:g} cannot match art of {pitch} source lines: {what}; "
        f"a step of {pitch} would be exact."
    )

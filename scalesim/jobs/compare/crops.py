"""Which part of a frame is looked at: where outlines were split and lines lost, and where there are words.

The frame is divided into cells. A cell counts by how far the contestants differ in what they did to the
outlines there (their judged cases), by how much they all did, and by *strokes*: strong steps both down and
along, as letters, faces and drawn contours have them, and water, brick and dithering have not. The best
window is that which holds most, less what its border cuts through. Definition of this project.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError
from scalesim.metrics import Judged

Crop = tuple[int, int, int, int]
"""(top, left, height, width) in source lines and samples."""

_LEAST_CROP = 8
Asked = Crop | Sequence[Crop] | Mapping[str, Crop | Sequence[Crop]]
"""One part, several, or those of frames by name ("" for every other frame)."""

CELLS = 120
"""Cells down a frame; they are about as wide as tall."""

_STRONG, _WEAK = 0.3, 0.05
"""Luma of a step that a stroke has, and that texture has; fainter ones are shading and dither."""
_RUN = 160
"""A stroke goes on for so many-th of the frame's height at least: 4 lines of 720, more than a dot of art."""
_REACH, _FAR = 3, 0.1
"""Cells about an outline in which strokes are looked for, and what it counts without any."""
_CASES = 4000
_DIFFERING, _ALL, _STROKES = 0.55, 0.15, 0.3
"""What the three count: how contestants differ, what they all did, and strokes."""
_MUCH = 0.05
"""From this difference of the judged values on, what was judged counts in full."""
_CUT = 20.0
"""What a window loses by its border: so many times the share of its strokes that are cut."""
_CENTRED = 0.04
"""How much less a window at the frame's edge is worth than one in its middle, all else being equal."""


@dataclass(frozen=True, eq=False)
class Cells:
    """What every cell of a frame counts.

    Parameters:
        worth, strokes : (down, along) float64, what a cell counts in all, and of strokes (1 taken together)
        height, width : of a cell, in source lines and samples
        differing : by how much contestants differ in what was judged, the metrics' values added up
    """

    worth: NDArray
    strokes: NDArray
    height: float
    width: float
    differing: float

    def why(self, contestants: int) -> str:
        """Return why the best window is where it is."""
        if self.differing > _MUCH / 10 and contestants > 1:
            return "The part was chosen because the chains differ most there in outlines split or lost."
        return "The part was chosen for its letters and contours."


def cells_of(luma: NDArray, judged: Sequence[Sequence[Judged]]) -> Cells:
    """Return what the cells of a frame count.

    Parameters:
        luma : (lines, samples) of the source, code values
        judged : of every contestant, what its metrics judged
    """
    lines, samples = luma.shape
    down = min(CELLS, lines)
    along = max(1, min(samples, round(down * samples / lines)))
    shape = (down, along)
    harms = [sum((_spread(each, shape, (lines, samples)) for each in one), np.zeros(shape)) for one in judged]
    stacked = np.stack(harms) if harms else np.zeros((1, *shape))
    differing = stacked.max(axis=0) - stacked.min(axis=0)
    strokes = strokes_of(luma, shape)
    # a single line lost in a frame that is whole otherwise is not what a reader comes for
    most = min(1.0, float(differing.sum()) / _MUCH)
    # what is at fault in water or brick is seen by nobody: outlines count where there are strokes about
    near = _near(strokes, _REACH)
    seen = _FAR + (1 - _FAR) * np.minimum(near / max(float(np.percentile(near, 90)), 1e-9), 1)
    parts = (
        (_DIFFERING * most, differing * seen),
        (_ALL * most, stacked.mean(axis=0) * seen),
        (_STROKES, strokes),
    )
    worth = sum((share * _whole(part) for share, part in parts), np.zeros(shape))
    return Cells(worth, _whole(strokes), lines / down, samples / along, float(differing.sum()))


def strokes_of(luma: NDArray, shape: tuple[int, int]) -> NDArray:
    """Return how many strokes every cell has: strong steps that go on for a while, both down and along.

    Dots of a dither do not go on; where weaker steps crowd around, as in water and brick, they count less.
    """
    run = max(2, round(luma.shape[0] / _RUN))
    steps = [np.abs(np.diff(luma, axis=axis)) for axis in (0, 1)]
    strong = [_going_on(step > _STRONG, 1 - axis, run) for axis, step in enumerate(steps)]
    counts = [_near(_summed(each, shape), 1) for each in strong]
    every = [_near(_summed(step > _WEAK, shape), 1) for step in steps]
    clear = (counts[0] + counts[1]) / np.maximum(every[0] + every[1], 1e-9)
    found = np.sqrt(counts[0] * counts[1]) * clear**2
    # a busy cell is no better than one with a letter in it
    return np.minimum(found, np.percentile(found[found > 0], 80) if found.any() else 0.0)


def _going_on(steps: NDArray, axis: int, run: int) -> NDArray:
    """Return the steps that have as many neighbours in a row, along an axis."""
    moved = np.moveaxis(steps, axis, -1)
    if moved.shape[-1] < run:
        return np.zeros_like(steps)
    inside = np.lib.stride_tricks.sliding_window_view(moved, run, axis=-1).all(axis=-1)
    found = np.zeros_like(moved)
    for further in range(run):
        found[..., further : further + inside.shape[-1]] |= inside
    return np.moveaxis(found, -1, axis)


def _near(values: NDArray, reach: int) -> NDArray:
    """Return the means over the cells within a reach, the frame's edge repeated."""
    padded = np.pad(values, reach, mode="edge")
    return _windows(padded, 2 * reach + 1, 2 * reach + 1) / (2 * reach + 1) ** 2


def best_crop(cells: Cells, frame: tuple[int, int], size: tuple[float, float]) -> Crop:
    """Return the window of a size that is worth most.

    Parameters:  frame : (lines, samples); size : (lines, samples), at most the frame's
    """
    height, width = min(size[0], frame[0]), min(size[1], frame[1])
    down = max(1, min(cells.worth.shape[0], round(height / cells.height)))
    along = max(1, min(cells.worth.shape[1], round(width / cells.width)))
    inside = _windows(cells.strokes, down, along)
    cut = _cut_through(cells.strokes, down, along) / np.maximum(inside, 0.01 * float(inside.max()) + 1e-30)
    value = _windows(cells.worth, down, along) / (1 + _CUT * cut)
    centred = [np.abs(np.linspace(-1, 1, n)) if n > 1 else np.zeros(1) for n in value.shape]
    value = value - _CENTRED * value.max() * np.maximum(centred[0][:, None], centred[1])
    top, left = np.unravel_index(int(np.argmax(np.round(value, 9))), value.shape)
    return (
        int(min(round(top * cells.height), frame[0] - height)),
        int(min(round(left * cells.width), frame[1] - width)),
        int(height),
        int(width),
    )


def _spread(judged: Judged, shape: tuple[int, int], frame: tuple[int, int]) -> NDArray:
    """Return what the cases add to the value, over the cells that they lie in."""
    found = np.zeros(shape)
    total = max(float(judged.weight.sum()), 1e-30)
    harm = judged.harm / total
    for k in np.argsort(-harm, kind="stable")[:_CASES]:
        if harm[k] <= 0:
            break
        rows = _cells(judged.lines[k], frame[0], shape[0])
        columns = _cells(judged.samples[k], frame[1], shape[1])
        part = found[rows, columns]
        part += harm[k] / max(1, part.size)
    return found


def _cells(ends: NDArray, size: int, count: int) -> slice:
    first = int(np.clip(ends[0] * count / size, 0, count - 1))
    return slice(first, int(np.clip(np.ceil(ends[1] * count / size), first + 1, count)))


def _summed(picture: NDArray, shape: tuple[int, int]) -> NDArray:
    """Return the sums of a picture over cells."""
    edges = [
        np.linspace(0, n, cells + 1).astype(np.int64)[:-1]
        for n, cells in zip(picture.shape, shape, strict=True)
    ]
    rows = np.add.reduceat(picture.astype(np.float64), edges[0], axis=0)
    found: NDArray = np.add.reduceat(rows, edges[1], axis=1)
    return found


def _whole(part: NDArray) -> NDArray:
    total = float(part.sum())
    return part / total if total > 0 else np.zeros_like(part)


def _windows(values: NDArray, down: int, along: int) -> NDArray:
    """Return the sums over all windows of so many cells."""
    sums = np.zeros(tuple(n + 1 for n in values.shape))
    sums[1:, 1:] = values.cumsum(0).cumsum(1)
    found: NDArray = sums[down:, along:] - sums[:-down, along:] - sums[down:, :-along] + sums[:-down, :-along]
    return found


def _cut_through(strokes: NDArray, down: int, along: int) -> NDArray:
    """Return what the border of every window cuts: strokes that go on on its other side."""
    rows, columns = strokes.shape
    across = np.zeros((rows, columns + 1))  # at the left edge of every cell; nothing at the frame's own edge
    across[:, 1:-1] = np.minimum(strokes[:, :-1], strokes[:, 1:])
    upright = np.zeros((rows + 1, columns))
    upright[1:-1] = np.minimum(strokes[:-1], strokes[1:])
    sides = _windows(across, down, 1)
    ends = _windows(upright, 1, along)
    found: NDArray = (
        sides[:, : columns - along + 1] + sides[:, along:] + ends[: rows - down + 1] + ends[down:]
    )
    return found


def check_crop(crop: Crop, name: str, lines: int, samples: int) -> None:
    """Raise ParameterError unless the crop lies inside a frame and is large enough to see."""
    top, left, height, width = crop
    for what, begin, size, limit, unit in (
        ("height", top, height, lines, "lines"),
        ("width", left, width, samples, "samples"),
    ):
        edge = "top" if what == "height" else "left"
        if size < _LEAST_CROP:
            raise ParameterError(f"crop: {what} is {size}; it must be at least {_LEAST_CROP} {unit}")
        if begin < 0 or begin + size > limit:
            raise ParameterError(
                f"crop: {edge} {begin} and {what} {size} reach {unit} {begin} to {begin + size}, but {name} "
                f"has {unit} 0 to {limit}; keep the crop inside"
            )


def crops_of(asked: Asked | None) -> dict[str, tuple[Crop, ...]]:
    """Return frame -> the parts that are asked for; "" stands for every frame that is not named."""
    if not asked:
        return {}
    if isinstance(asked, Mapping):
        return {name: found for name, each in asked.items() if (found := _several(each))}
    return {"": _several(asked)}


def _several(asked: Crop | Sequence[Crop]) -> tuple[Crop, ...]:
    if all(isinstance(each, int) for each in asked):
        top, left, height, width = asked
        return ((top, left, height, width),)  # type: ignore[return-value]  # whole numbers, as was asked
    return tuple(asked)  # type: ignore[arg-type]  # of crops

"""What a capture program adds to a picture, and how it is taken off: a border, a whole-number enlargement.

Both are undone exactly: lines and samples are left away, never mixed. Definitions of this project.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError

Sides = tuple[int, int, int, int]
"""Top, bottom, left and right."""

_BORDER = 6 / 255
"""A line of a border stays within this of the picture's corner (99 of 100 samples): compression included."""
_REPEATED = 0.15
"""Change inside groups of repeated lines over that between them: 0 if exact, 1 where none repeat."""
_LEAST_CHANGE = 0.5 / 255
_MOST_TIMES = 12
_LEAST_LEFT = 32


@dataclass(frozen=True)
class Framing:
    """What is to be taken off a picture.

    Parameters:
        trim : lines and samples at (top, bottom, left, right), "auto" for a border of one colour, or None
        native : frame lines before a whole-number enlargement, "auto" to find them, None to leave it
    """

    trim: Sides | Literal["auto"] | None = None
    native: int | Literal["auto"] | None = None

    def __bool__(self) -> bool:
        return self.trim is not None or self.native is not None


_TRIMMED, _NATIVE = "Trimmed: ", "Native: "


def framing_notes(notes: Iterable[str]) -> tuple[str, ...]:
    """Return those of a clip's notes that say what was taken off."""
    return tuple(note for note in notes if note.startswith((_TRIMMED, _NATIVE)))


@dataclass(frozen=True)
class Cut:
    """What is taken off, settled for one size of picture.

    Parameters:  sides : trimmed first; times : then one line in so many is kept, and one sample in so many
    """

    sides: Sides = (0, 0, 0, 0)
    times: tuple[int, int] = (1, 1)
    notes: tuple[str, ...] = ()

    def __call__(self, values: NDArray) -> NDArray:
        """Return the picture without it: (lines, samples, 3), values untouched."""
        inside = trimmed(values, self.sides)
        middle = [times // 2 for times in self.times]
        return np.ascontiguousarray(inside[middle[0] :: self.times[0], middle[1] :: self.times[1]])


def cut_of(values: NDArray, framing: Framing, name: str = "picture") -> Cut:
    """Return what a framing takes off a picture, and say so.

    Parameters:  values : (lines, samples, 3) code values 0..1; a woven frame counts frame lines
    Raises: ParameterError for sides that leave too little, or an enlargement that is none
    """
    notes: list[str] = []
    sides = (0, 0, 0, 0)
    if framing.trim is not None:
        sides = border_of(values) if framing.trim == "auto" else framing.trim
        _check_sides(sides, values.shape[:2], name)
        left = trimmed(values, sides).shape
        taken = ", ".join(f"{n} {side}" for n, side in zip(sides, _SIDES, strict=True) if n)
        notes.append(
            f"{_TRIMMED}{taken}; {left[1]}x{left[0]} are left."
            if taken
            else f"{_TRIMMED}nothing, no border of one colour was found."
        )
    times = (1, 1)
    if framing.native is not None:
        times, note = _native(trimmed(values, sides), framing.native, name)
        notes.append(note)
    return Cut(sides, times, tuple(notes))


_SIDES = ("at the top", "at the bottom", "left", "right")


def trimmed(values: NDArray, sides: Sides) -> NDArray:
    """Return a picture without lines at its top and bottom and samples at its left and right."""
    top, bottom, left, right = sides
    lines, samples = values.shape[:2]
    return values[top : lines - bottom, left : samples - right]


def border_of(values: NDArray) -> Sides:
    """Return the lines and samples around a picture that have the colour of its corner throughout.

    Each side is judged by its own corner colour. A picture that is dark at its edge may lose dark lines
    with the border; one of one colour altogether has no border.
    """
    top, bottom = _flat_from(values), _flat_from(values[::-1])
    if top >= values.shape[0]:
        return (0, 0, 0, 0)
    inside = values[top : values.shape[0] - bottom].swapaxes(0, 1)
    return top, bottom, _flat_from(inside), _flat_from(inside[::-1])


def _flat_from(values: NDArray) -> int:
    """Return how many lines from the first on have its corner's colour."""
    apart = np.abs(values - np.median(values[0], axis=0)).max(axis=2)
    flat = np.quantile(apart, 0.99, axis=1) <= _BORDER
    return int(flat.size if flat.all() else np.argmin(flat))


def _check_sides(sides: Sides, size: tuple[int, ...], name: str) -> None:
    if min(sides) < 0:
        raise ParameterError(f"{name}: trim is {','.join(map(str, sides))}; sides must be 0 or more")
    for what, near, far, limit in (
        ("lines", sides[0], sides[1], size[0]),
        ("samples", sides[2], sides[3], size[1]),
    ):
        if limit - near - far < _LEAST_LEFT:
            raise ParameterError(
                f"{name}: trim takes {near + far} of {limit} {what}; at least {_LEAST_LEFT} must be left"
            )


def repeats(values: NDArray) -> int:
    """Return how many times in a row each line of a picture is repeated, 1 when lines are not.

    The largest whole number up to 12 that divides the lines and within whose groups next to nothing
    changes. (lines, samples, 3) code values; swap the axes for samples.
    """
    for times in range(_MOST_TIMES, 1, -1):
        if (
            values.shape[0] % times == 0
            and values.shape[0] // times > 1
            and _change(values, times) <= _REPEATED
        ):
            return times
    return 1


def _change(values: NDArray, times: int) -> float:
    """Return the change inside groups of lines over that between groups; 1 for a flat picture.

    Inside, the place in the group that changes most counts: groups of eight may be two of four.
    """
    change = np.abs(np.diff(values, axis=0)).mean(axis=tuple(range(1, values.ndim)))
    places = [float(change[k::times].mean()) for k in range(times)]
    return max(places[:-1]) / places[-1] if places[-1] > _LEAST_CHANGE else 1.0


def _native(values: NDArray, native: int | Literal["auto"], name: str) -> tuple[tuple[int, int], str]:
    """Return (lines, samples) times of an enlargement and what was done about it."""
    lines, samples = values.shape[:2]
    along = repeats(values.swapaxes(0, 1))
    down = repeats(values) if native == "auto" else _asked(values, native, name)
    if (down, along) == (1, 1):
        return (
            1,
            1,
        ), f"{_NATIVE}no line and no sample is repeated a whole number of times; nothing was undone."
    return (down, along), (
        f"{_NATIVE}lines were repeated {down} times and samples {along} times; one of each was kept, "
        f"{samples // along}x{lines // down} are left."
    )


def _asked(values: NDArray, native: int, name: str) -> int:
    lines = values.shape[0]
    times, over = divmod(lines, native) if native > 0 else (0, 1)
    if over or times < 1:
        raise ParameterError(
            f"{name}: native is {native}, but its {lines} lines are no whole multiple of that; trim a border "
            "first (--trim), or give the lines the box sends"
        )
    if times > 1 and _change(values, times) > _REPEATED:
        raise ParameterError(
            f"{name}: native is {native}, but its {lines} lines are not {times} alike in a row: it was "
            "enlarged with a filter, or begins inside a group; capture it at its own size, or trim it "
            "first (--trim)"
        )
    return times

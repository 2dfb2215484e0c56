"""What does one press of a dial do? Two captures of one picture, before and after some presses.

The later capture is registered to the earlier one. A third, taken after as many presses back, tells the
hysteresis: how far the picture is from where it began. Captures whose lines were sampled at different places
between the source's lines look different, and registering them errs by that; with the chain and the frame
that was sent, the position of each is found by predicting the chain instead.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi, sin

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import still_clip
from scalesim.core.encoding import luma
from scalesim.errors import NotIdentifiable, ParameterError, ShapeError
from scalesim.jobs.press.answer import PHASE, SURE, Calibration, Move
from scalesim.jobs.press.dial import dial_of, with_key
from scalesim.jobs.settings.sits import Sits, sits, source_per_output
from scalesim.signal.registration.register import Registration, register

_WOVEN = 400
"""Captures of more lines than this may be two fields, whose lines are two capture lines apart."""


def calibrate(
    before: NDArray,
    after: NDArray,
    presses: int,
    back: NDArray | None = None,
    *,
    chain: Chain | None = None,
    source: NDArray | None = None,
    key: str = "position.lines",
    mode: str | None = None,
    label: str | None = None,
) -> Calibration:
    """Return what one press of a dial does.

    Parameters:
        before, after : (lines, samples, 3) code values 0..1, captures of one picture that stands still,
            before and after `presses` presses; woven frames count frame lines
        presses : how many, at least 1
        back : capture after pressing back as many times, or None
        chain, key, mode, label : of the dial; see `dial_of`
        source : (lines, samples, 3), the frame that was sent; with the chain, lines are found by
            predicting it at many positions
    Raises: ParameterError for presses below 1, a chain whose dial cannot be told, or a source without a
        chain; ShapeError for captures of different sizes; NotIdentifiable when nothing moved, or the
        captures cannot be registered to each other
    """
    if isinstance(presses, bool) or not isinstance(presses, int) or presses < 1:
        raise ParameterError(f"presses is {presses!r}; it must be a whole number of at least 1")
    if source is not None and chain is None:
        raise ParameterError("source: says where lines were sampled only with a chain; give chain too")
    views = {"before": _checked(before, "before"), "after": _checked(after, "after", before)}
    if back is not None:
        views["back"] = _checked(back, "back", before)
    if np.array_equal(views["before"], views["after"]):
        raise NotIdentifiable(
            "after: is the same picture as before, value for value; capture again after pressing"
        )
    moves = {name: _between(views["before"], views[name], name) for name in views if name != "before"}
    if chain is not None and source is not None:
        moves = _synthesised(views, moves, chain, source, key, mode)
    else:
        moves = {name: _in_doubt(move, len(views["before"])) for name, move in moves.items()}
    total = moves["after"]
    _check_moved(total, presses)
    dial = None
    if total.moved_down:
        step = (total.lines / presses, total.lines_error / presses)
        dial = dial_of(step, len(views["before"]), chain, key=key, mode=mode, label=label)
    return Calibration(presses, total, moves.get("back"), dial, source is not None)


def _synthesised(
    views: dict[str, NDArray],
    moves: dict[str, Move],
    chain: Chain,
    source: NDArray,
    key: str,
    mode: str | None,
) -> dict[str, Move]:
    """Return the moves with their lines from where the chain's position stands in each capture."""
    clip = still_clip(source, mode=mode)
    found = {name: sits(view, clip, chain, with_key(chain, key), key, name) for name, view in views.items()}
    first = found["before"]
    return {name: _apart(move, first, found[name], len(views[name])) for name, move in moves.items()}


def _apart(move: Move, first: Sits, second: Sits, capture_lines: int) -> Move:
    raster = first.predicted.raster
    per_capture_line = source_per_output(first.predicted)[0] * raster.landed_lines / capture_lines
    return replace(
        move,
        lines=(second.lines - first.lines) / per_capture_line,
        lines_error=hypot(first.lines_error, second.lines_error) / per_capture_line,
    )


def _in_doubt(move: Move, capture_lines: int) -> Move:
    """Return a move between two captures with what sampling elsewhere may have moved it by."""
    pitch = 2 if capture_lines > _WOVEN else 1
    doubt = pitch * PHASE * abs(sin(pi * move.lines / pitch))
    return replace(move, lines_error=hypot(move.lines_error, doubt))


def _checked(values: NDArray, name: str, like: NDArray | None = None) -> NDArray:
    shape = getattr(values, "shape", type(values).__name__)
    if getattr(values, "ndim", 0) != 3 or values.shape[2] != 3:
        raise ShapeError(f"{name}: shape is {shape}; it must be (lines, samples, 3) code values")
    if like is not None and values.shape != like.shape:
        raise ShapeError(f"{name}: shape is {shape}; it must be {like.shape} as before (capture both alike)")
    return luma(np.asarray(values, np.float32))


def _check_moved(move: Move, presses: int) -> None:
    """Raise NotIdentifiable when a dial moved nothing."""
    if not (move.moved_down or move.moved_along or move.resized):
        raise NotIdentifiable(
            f"after: the picture moved by {move.lines:.3f} lines and {move.samples:.3f} samples in "
            f"{presses} presses, less than {SURE:g} standard errors; press more often between the captures"
        )


def _between(first: NDArray, second: NDArray, name: str) -> Move:
    """Return how the second capture lies against the first."""
    found = register(second, first, name=name, source_name="before")
    if found.mirrored:
        raise NotIdentifiable(f"{name}: is mirrored against before; capture both alike")
    return _as_move(found, (first.shape[0], first.shape[1]))


def _as_move(found: Registration, size: tuple[int, int]) -> Move:
    """Return the movement at the middle: the second looks at `lines(y)` of the first where it shows y."""
    middle = (size[0] / 2, size[1] / 2)
    height, width = 1 / found.lines.scale, 1 / found.samples.scale
    return Move(
        lines=(middle[0] - found.lines(middle[0])) * height,
        lines_error=found.error_lines,
        samples=(middle[1] - found.samples(middle[1])) * width,
        samples_error=found.error_samples,
        height=height,
        height_error=found.scale_error_lines,
        width=width,
        width_error=found.scale_error_samples,
    )

"""What does one press of a dial do? Two captures of one picture, before and after some presses.

The later capture is registered to the earlier one. A third, taken after as many presses back, tells the
hysteresis: how far the picture is from where it began. Captures whose lines were sampled at different places
between the source's lines look different, and registering them errs by that; with the chain and the frame
that was sent, the position of each is found by predicting the chain instead.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, pi, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import still_clip
from scalesim.core.encoding import luma
from scalesim.errors import NotIdentifiable, ParameterError, ShapeError
from scalesim.jobs.press.dial import DialTable, dial_of, with_key
from scalesim.jobs.settings.sits import Sits, sits, source_per_output
from scalesim.jobs.settings.stated import error_text, value_text
from scalesim.result import File, Result, Table
from scalesim.signal.registration.register import Registration, register

_SURE = 3.0
"""Standard errors a movement must exceed to be called one."""
_LEAST_MOVE = 0.01
_LEAST_SIZE = 4.0
_PHASE = 0.06
"""Capture lines, standard error at half a line: what another place of sampling moves a registration by.

Measured on one frame only (kettle_crew, averaged to 480 and dropped to 240, moves of 0.15 and 1.25 lines):
0.027 and 0.040 lines off, 0.06 of the sine of the move each. Other boxes and frames can be worse.
"""
_WOVEN = 400
"""Captures of more lines than this may be two fields, whose lines are two capture lines apart."""


@dataclass(frozen=True)
class Move:
    """How one capture lies against another, at its middle.

    Parameters:
        lines, samples : capture lines lower and capture samples further right (negative: the other way)
        height, width : size over the other's
        *_error : standard errors
    """

    lines: float
    lines_error: float
    samples: float
    samples_error: float
    height: float
    height_error: float
    width: float
    width_error: float


@dataclass(frozen=True, eq=False)
class Calibration(Result):
    """What a dial does; a `Result`.

    Parameters:
        presses : between the first two captures
        total : from the first to the second capture
        hysteresis : from the first capture to the one after pressing back, or None
        dial : the table of a chain file, None when the picture did not move down or up
        synthesised : True when lines are from the chain's predictions, not from one capture on the other
    """

    presses: int
    total: Move
    hysteresis: Move | None = None
    dial: DialTable | None = None
    synthesised: bool = False

    kind = "press"

    @property
    def title(self) -> str:
        """What a press was seen to do: the first sentence that says it, without its error."""
        told = next((said for said in self.sentences() if said.startswith("One press ")), "")
        return told.split(" (±")[0] or "What a press of the dial does"

    @property
    def lines_per_press(self) -> float:
        """Capture lines the picture moves down with a press."""
        return self.total.lines / self.presses

    @property
    def lines_per_press_error(self) -> float:
        """Its standard error."""
        return self.total.lines_error / self.presses

    @property
    def samples_per_press(self) -> float:
        """Capture samples the picture moves right with a press."""
        return self.total.samples / self.presses

    @property
    def samples_per_press_error(self) -> float:
        """Its standard error."""
        return self.total.samples_error / self.presses

    def sentences(self) -> list[str]:
        """Return what a press does and whether the dial comes back, in a reviewer's words."""
        said = []
        if _sure(self.total.lines, self.total.lines_error):
            said.append(self._press("down", "up", self.lines_per_press, self.lines_per_press_error, "lines"))
            if self.dial is not None and self.dial.unit != "capture lines":
                step, doubt = value_text(abs(self.dial.step), self.dial.error), error_text(self.dial.error)
                said.append(
                    f"That is {step} {self.dial.unit} (± {doubt}) of "
                    f"{self.dial.key}; dial.toml holds the [[dial]] for the chain file."
                )
        if _sure(self.total.samples, self.total.samples_error):
            said.append(
                self._press("right", "left", self.samples_per_press, self.samples_per_press_error, "samples")
            )
        for what, size, error in (
            ("height", self.total.height, self.total.height_error),
            ("width", self.total.width, self.total.width_error),
        ):
            if abs(size - 1) > _LEAST_SIZE * error:
                each = 100 * (size ** (1 / self.presses) - 1)
                said.append(
                    f"One press changes the {what} by {each:+.3f} % (± {100 * error / self.presses:.3f})."
                )
        if not self.synthesised and _sure(self.total.lines, self.total.lines_error):
            said.append(
                f"The ± allows up to {_PHASE:.2f} capture lines for a box that samples elsewhere between "
                "lines after the presses, less near whole lines; a box that only drops lines can be off by "
                "more, up to half a line. Giving the chain and the source that was sent removes this doubt."
            )
        if self.hysteresis is not None:
            said.append(self._back(self.hysteresis))
        return said

    def _press(self, way: str, other: str, amount: float, error: float, unit: str) -> str:
        return (
            f"One press moves the picture {way if amount > 0 else other} by {value_text(abs(amount), error)} "
            f"capture {unit} (± {error_text(error)})."
        )

    def _back(self, move: Move) -> str:
        if not _sure(move.lines, move.lines_error):
            return (
                "Pressing back as many times returns it to where it was, within "
                f"{error_text(_SURE * move.lines_error)} capture lines."
            )
        way = "lower" if move.lines > 0 else "higher"
        return (
            f"Pressing back as many times leaves it {value_text(abs(move.lines), move.lines_error)} capture "
            f"lines {way} than before (± {error_text(move.lines_error)}): "
            "approach every setting from the same side."
        )

    def table(self) -> Table:
        """Return the numbers with their units."""
        rows = [
            _row(
                "a press, down (− is up)", self.lines_per_press, self.lines_per_press_error, "capture lines"
            ),
            _row(
                "a press, right (− is left)",
                self.samples_per_press,
                self.samples_per_press_error,
                "capture samples",
            ),
            _row(f"height after {self.presses}", 100 * self.total.height, 100 * self.total.height_error, "%"),
            _row(f"width after {self.presses}", 100 * self.total.width, 100 * self.total.width_error, "%"),
        ]
        if self.hysteresis is not None:
            back = self.hysteresis
            rows.append(_row("left over after pressing back", back.lines, back.lines_error, "capture lines"))
        return Table(
            "What the dial does",
            ("what", "value", "± (standard error)", "unit"),
            tuple(rows),
            ("left", "right", "right", "left"),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        back = self.hysteresis
        return {
            "presses": self.presses,
            "lines_per_press": self.lines_per_press,
            "lines_per_press_error": self.lines_per_press_error,
            "samples_per_press": self.samples_per_press,
            "samples_per_press_error": self.samples_per_press_error,
            "height": self.total.height,
            "height_error": self.total.height_error,
            "width": self.total.width,
            "width_error": self.total.width_error,
            "hysteresis_lines": None if back is None else back.lines,
            "hysteresis_lines_error": None if back is None else back.lines_error,
            "error": self.lines_per_press_error,
            "hysteresis": None if back is None else back.lines,
            "synthesised": self.synthesised,
            "dial": None if self.dial is None else self.dial.text,
            "dial_step": None if self.dial is None else self.dial.step,
            "dial_error": None if self.dial is None else self.dial.error,
            "dial_unit": None if self.dial is None else self.dial.unit,
            "n": 2 if back is None else 3,
            "why": self._why(),
        }

    def _why(self) -> dict[str, str]:
        """Return the reason of every None."""
        why: dict[str, str] = {}
        if self.hysteresis is None:
            why |= dict.fromkeys(
                ("hysteresis", "hysteresis_lines"), "no capture after pressing back was given"
            )
        if self.dial is None:
            why["dial"] = "the picture did not move down or up: the dial turns another key"
        return why

    def files(self) -> dict[str, File]:
        """Return the dial for a chain file."""
        return {} if self.dial is None else {"dial": File("dial.toml", self.dial.text)}


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
    if _sure(total.lines, total.lines_error):
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
    doubt = pitch * _PHASE * abs(sin(pi * move.lines / pitch))
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
    sizes = ((move.height, move.height_error), (move.width, move.width_error))
    still = not _sure(move.lines, move.lines_error) and not _sure(move.samples, move.samples_error)
    if still and all(abs(size - 1) <= _LEAST_SIZE * error for size, error in sizes):
        raise NotIdentifiable(
            f"after: the picture moved by {move.lines:.3f} lines and {move.samples:.3f} samples in "
            f"{presses} presses, less than {_SURE:g} standard errors; press more often between the captures"
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


def _sure(amount: float, error: float) -> bool:
    return abs(amount) > max(_SURE * error, _LEAST_MOVE)


def _row(what: str, value: float, error: float, unit: str) -> tuple[str, str, str, str]:
    return what, value_text(value, error), error_text(error), unit

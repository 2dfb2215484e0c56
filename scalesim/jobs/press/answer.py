"""What a press of a dial does, as an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scalesim.jobs.press.dial import DialTable
from scalesim.jobs.settings.stated import error_text, value_text
from scalesim.result import File, Result, Table

SURE = 3.0
"""Standard errors a movement must exceed to be called one."""
_LEAST_MOVE = 0.01
LEAST_SIZE = 4.0
PHASE = 0.06
"""Capture lines, standard error at half a line: what another place of sampling moves a registration by.

Measured on one frame only (kettle_crew, averaged to 480 and dropped to 240, moves of 0.15 and 1.25 lines):
0.027 and 0.040 lines off, 0.06 of the sine of the move each. Other boxes and frames can be worse.
"""


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

    @property
    def moved_down(self) -> bool:
        """Whether it moved down or up for sure."""
        return _sure(self.lines, self.lines_error)

    @property
    def moved_along(self) -> bool:
        """Whether it moved along the lines for sure."""
        return _sure(self.samples, self.samples_error)

    @property
    def resized(self) -> bool:
        """Whether its height or width changed for sure."""
        sizes = ((self.height, self.height_error), (self.width, self.width_error))
        return any(abs(size - 1) > LEAST_SIZE * error for size, error in sizes)


def _sure(amount: float, error: float) -> bool:
    return abs(amount) > max(SURE * error, _LEAST_MOVE)


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
        if self.total.moved_down:
            said.append(self._press("down", "up", self.lines_per_press, self.lines_per_press_error, "lines"))
            if self.dial is not None and self.dial.unit != "capture lines":
                step, doubt = value_text(abs(self.dial.step), self.dial.error), error_text(self.dial.error)
                said.append(
                    f"That is {step} {self.dial.unit} (± {doubt}) of "
                    f"{self.dial.key}; dial.toml holds the [[dial]] for the chain file."
                )
        if self.total.moved_along:
            said.append(
                self._press("right", "left", self.samples_per_press, self.samples_per_press_error, "samples")
            )
        for what, size, error in (
            ("height", self.total.height, self.total.height_error),
            ("width", self.total.width, self.total.width_error),
        ):
            if abs(size - 1) > LEAST_SIZE * error:
                each = 100 * (size ** (1 / self.presses) - 1)
                said.append(
                    f"One press changes the {what} by {each:+.3f} % (± {100 * error / self.presses:.3f})."
                )
        if not self.synthesised and self.total.moved_down:
            said.append(
                f"The ± allows up to {PHASE:.2f} capture lines for a box that samples elsewhere between "
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
        if not move.moved_down:
            return (
                "Pressing back as many times returns it to where it was, within "
                f"{error_text(SURE * move.lines_error)} capture lines."
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


def _row(what: str, value: float, error: float, unit: str) -> tuple[str, str, str, str]:
    return what, value_text(value, error), error_text(error), unit

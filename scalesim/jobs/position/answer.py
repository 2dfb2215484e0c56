"""The answer of `position`: how far the picture sits from where the chain puts it, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scalesim.chain import Chain
from scalesim.chain.keys import get_key
from scalesim.jobs.position.place import Place
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.stated import error_text, value_text
from scalesim.jobs.settings.words import amount, count_text, score_text, standing
from scalesim.result import Result, Table

_SURE = 2.0
"""Standard errors a displacement must exceed to be called one."""
_SIZE_TOLERANCE = 0.004
_FIELDS_TOLERANCE = 0.2


@dataclass(frozen=True, eq=False)
class CapturePosition(Result):
    """How far the captured picture sits from where the chain puts it; a `Result`.

    Parameters:
        lines, lines_error : source lines the picture sits lower than predicted (negative: higher)
        scan_lines : the same in field-line pitches of the output (one set of scan lines)
        samples, samples_error : source samples the picture sits further right than predicted
        height : height of the captured picture over that of the predicted one
        field_lines : per captured field, `lines` from that field alone
        unseen : source lines the picture can move by without a change, for a chain that only chooses
            lines (1, or the lines of one line of magnified art); 0 for one that mixes them
        way : how the box moves its picture, "sampling" (its scaler samples elsewhere) or "output" (shifted
            after it), as far as the residual tells; "" where both explain the capture alike
        correlation, gain, lift : of the registration to the prediction where the picture is
        place : where that is on the chain's position, and where the picture would be best
    """

    name: str
    chain: Chain
    mode_out: str
    lines: float
    lines_error: float
    scan_lines: float
    samples: float
    samples_error: float
    height: float
    field_lines: tuple[float, ...]
    unseen: int
    way: str
    correlation: float
    gain: float
    lift: float
    place: Place

    kind = "position"

    @property
    def title(self) -> str:
        """Where the picture sits, as far as that is sure."""
        if not self.moved:
            return "The picture sits where the chain puts it"
        way = "lower" if self.lines > 0 else "higher"
        amount = value_text(abs(self.lines), self.lines_error)
        return f"The picture sits {amount} source lines {way} than the chain puts it"

    @property
    def moved(self) -> bool:
        """True when the displacement exceeds two standard errors."""
        return abs(self.lines) > _SURE * self.lines_error

    @property
    def fields_disagree(self) -> bool:
        """True when the fields sit differently against their predictions by over 0.2 scan lines."""
        if len(self.field_lines) < 2 or self.lines == 0:
            return False
        per_scan = abs(self.scan_lines / self.lines)
        return (max(self.field_lines) - min(self.field_lines)) * per_scan > _FIELDS_TOLERANCE

    def sentences(self) -> list[str]:
        """Return the finding and which way to move, in a reviewer's words."""
        said = [self._verdict(), *self._advice()]
        if abs(self.samples) > max(_SURE * self.samples_error, 0.5):
            way, back = ("right", "left") if self.samples > 0 else ("left", "right")
            said.append(
                f"It also sits {value_text(abs(self.samples), self.samples_error)} source samples "
                f"(± {error_text(self.samples_error)}) too far {way}: move it {back}."
            )
        if abs(self.height - 1) > _SIZE_TOLERANCE:
            taller = "taller" if self.height > 1 else "lower"
            said.append(
                f"The captured picture is {abs(self.height - 1):.1%} {taller} than predicted: the position "
                "holds for its middle only, so set the size first."
            )
        if self.unseen:
            lines = "a source line" if self.unseen == 1 else f"{self.unseen} source lines, a line of the art"
            said.append(f"This chain only chooses lines, so a move of less than {lines} need not show.")
        if self.fields_disagree:
            shown = " and ".join(f"{v:+.2f}" for v in self.field_lines)
            said.append(
                f"The fields sit differently ({shown} source lines): the box places its fields otherwise "
                "than this chain does, or the capture weaves them in another order."
            )
        return said

    def _verdict(self) -> str:
        place, error = self.place, error_text(self.lines_error)
        if not self.moved:
            return f"The picture sits where the chain puts it (± {error} source lines)."
        amount = (
            f"{value_text(abs(self.lines), self.lines_error)} source lines (± {error}; "
            f"{value_text(abs(self.scan_lines), self._scan_error)} scan lines)"
        )
        way = "lower" if self.lines > 0 else "higher"
        return (
            f"The picture sits {amount} {way} than the chain puts it: {place.key} is "
            f"{value_text(place.now, place.error, sign=True)} (± {error_text(place.error)}), not "
            f"{_signed(self._told)}."
        )

    @property
    def _scan_error(self) -> float:
        return self.lines_error * self.scan_lines / self.lines if self.lines else 0.0

    @property
    def _told(self) -> float:
        return float(get_key(self.place.chain.stages, self.place.key))

    def _advice(self) -> list[str]:
        """Return the best place and the move that leads there, or why there is none."""
        place, found = self.place, self.place.found
        if found is None or place.best is None or place.move is None:
            said = [f"Where it would be best cannot be told: {place.why}."]
            if self.moved:
                back = "up" if self.lines > 0 else "down"
                said.append(f"To put it where the chain does, move it {back} by that much.")
            return said
        if not found.certainty.matters:
            low, high = (score_text(found, score) for score in (found.score, found.worst_score))
            return [
                f"Position cannot cure this: every place tried is between {low} and {high} "
                f"({count_text(found)}). Leave it where it is."
            ]
        said = [f"For this frame {place.key} {_signed(place.best)} {self._sure(found)}: {standing(found)}."]
        if place.move == 0:
            return [*said, f"It is as good where it is ({count_text(found)}): leave its position as it is."]
        way = "down" if place.move > 0 else "up"
        source = value_text(abs(place.move) * place.per_line, self.lines_error)
        back = f"{way} by {source} source lines (± {error_text(self.lines_error)}) from where it is"
        costs = self._costs()
        if found.clear or _saves(found):
            return [*said, f"{costs}Move it {back}{self._pressed()}."]
        return [
            *said,
            f"{costs}Moving it {back}{self._pressed()} may be better, but one frame cannot settle that.",
        ]

    def _sure(self, found: Findings) -> str:
        """Return how sure the best place is: another far from it may be as good."""
        if found.clear:
            return "is best"
        rival = found.rival
        if rival is not None and found.margin is not None and found.margin <= found.certainty.resolution:
            return f"scores best, and {_signed(float(rival.values[self.place.key]))} as well"
        return "scores best, but not clearly"

    def _costs(self) -> str:
        """Return what the present place costs and what the move gains, as a sentence."""
        found = self.place.found
        if found is None or found.present.score is None or found.on_present is None:
            return ""
        gain = amount(found, found.on_present.mean)
        return f"Where it is now costs {score_text(found, found.present.score)}; the move saves {gain}. "

    def _pressed(self) -> str:
        count, dial = self.place.presses, self.place.dial
        if count is None or dial is None:
            return ""
        of = f" of {dial.label}" if dial.label else ""
        plural = "press" if abs(count) == 1 else "presses"
        return f", {abs(count)} {plural}{' back' if count < 0 else ''}{of}"

    def table(self) -> Table:
        """Return the numbers with their units."""
        error, across = self.lines_error, self.samples_error
        rows = [
            (
                "lower than predicted (− is higher)",
                value_text(self.lines, error),
                error_text(error),
                "source lines",
            ),
            (
                "the same on the screen",
                value_text(self.scan_lines, self._scan_error),
                error_text(self._scan_error),
                "scan lines",
            ),
            (
                "further right (− is left)",
                value_text(self.samples, across),
                error_text(across),
                "source samples",
            ),
            *self._place_rows(),
            ("height of predicted", f"{100 * self.height:.2f}", "", "%"),
            ("detail shared with the prediction", f"{self.correlation:.2f}", "", "correlation"),
        ]
        return Table(
            "Where the captured picture sits",
            ("what", "value", "± (standard error)", "unit"),
            tuple(rows),
            ("left", "right", "right", "left"),
        )

    def _place_rows(self) -> list[tuple[str, str, str, str]]:
        place = self.place
        unit = f"lines of {place.key.removesuffix('.lines')}"
        rows = [("now", value_text(place.now, place.error), error_text(place.error), unit)]
        best = "none" if place.best is None else _signed(place.best)
        move = "none" if place.move is None else value_text(place.move, place.error, sign=True)
        moved = error_text(place.error) if place.move else ""
        rows += [("best for this frame", best, "", unit), ("move", move, moved, unit)]
        return rows

    def _why(self) -> dict[str, str]:
        """Return the reason of every None."""
        why = {}
        if self.place.found is None:
            why = dict.fromkeys(("best_lines", "move_lines", "clear", "range"), self.place.why)
        if not self.way:
            why["way"] = "moving the scaler's sampling and moving the output explain the capture alike"
        if self.place.presses is None:
            why["presses"] = self.place.why or "the chain has no dial of even steps for its position"
        return why

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        return {
            "capture": self.name,
            "chain": str(self.chain),
            "mode_out": self.mode_out,
            "lines": self.lines,
            "lines_error": self.lines_error,
            "scan_lines": self.scan_lines,
            "samples": self.samples,
            "samples_error": self.samples_error,
            "height": self.height,
            "field_lines": list(self.field_lines),
            "unseen": self.unseen,
            "way": self.way or None,
            "position_key": self.place.key,
            "now_lines": self.place.now,
            "now_lines_error": self.place.error,
            "best_lines": self.place.best,
            "move_lines": self.place.move,
            "presses": self.place.presses,
            "source_lines_per_line": self.place.per_line,
            "clear": None if self.place.found is None else self.place.found.clear,
            "range": None
            if self.place.found is None
            else [self.place.found.score, self.place.found.worst_score],
            "n": 1,
            "why": self._why(),
            "moved": self.moved,
            "fields_disagree": self.fields_disagree,
            "correlation": self.correlation,
            "gain": self.gain,
            "lift": self.lift,
        }


def _signed(value: float) -> str:
    """Return a position with its sign, nothing before 0."""
    return f"{value:+.4g}" if value else "0"


def _saves(found: Findings) -> bool:
    """Return whether the move is sure to save more than nothing, whatever other place were as good."""
    gain = found.on_present
    return gain is not None and gain.low > found.certainty.resolution

"""The answer of `position`: how far the picture sits from where the chain puts it, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scalesim.chain import Chain
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
        correlation, gain, lift : of the last registration
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
    correlation: float
    gain: float
    lift: float

    kind = "position"
    title = "Where the captured picture sits"

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
        said = [self._verdict()]
        if abs(self.samples) > max(_SURE * self.samples_error, 0.5):
            way, back = ("right", "left") if self.samples > 0 else ("left", "right")
            said.append(
                f"It also sits {abs(self.samples):.2f} source samples (± {self.samples_error:.2f}) too far "
                f"{way}: move it {back}."
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
        amount = f"{abs(self.lines):.2f} source lines ({abs(self.scan_lines):.2f} scan lines)"
        if not self.moved:
            return (
                f"The picture sits where the chain puts it, within {_SURE * self.lines_error:.2f} source "
                "lines: leave its position as it is."
            )
        way, back = ("lower", "up") if self.lines > 0 else ("higher", "down")
        return (
            f"The picture sits {amount} {way} than the chain puts it, ± {self.lines_error:.2f}: move it "
            f"{back} by that much."
        )

    def table(self) -> Table:
        """Return the numbers with their units."""
        rows = [
            (
                "lower than predicted (− higher)",
                f"{self.lines:.2f}",
                f"{self.lines_error:.2f}",
                "source lines",
            ),
            ("the same on the screen", f"{self.scan_lines:.3f}", "", "scan lines"),
            ("further right (− left)", f"{self.samples:.2f}", f"{self.samples_error:.2f}", "source samples"),
            ("height of predicted", f"{100 * self.height:.2f}", "", "%"),
            ("detail shared with the prediction", f"{self.correlation:.2f}", "", "correlation"),
        ]
        return Table(
            "Where the captured picture sits",
            ("what", "value", "± (standard error)", "unit"),
            tuple(rows),
            ("left", "right", "right", "left"),
        )

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
            "moved": self.moved,
            "fields_disagree": self.fields_disagree,
            "correlation": self.correlation,
            "gain": self.gain,
            "lift": self.lift,
        }

"""How to record: time base and memory for each question, as a `Result`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scalesim.jobs.trace.words import CAUTIONS
from scalesim.plot import Plot
from scalesim.result import Result, Table
from scalesim.signal.waveform.plan import DIVISIONS, QUESTIONS, Question, fastest_mhz, fits


@dataclass(frozen=True, eq=False)
class Planned(Result):
    """How long and how fast to record; a `Result`.

    `points` is what the oscilloscope exports, None when it was not told.
    """

    points: int | None = None

    kind = "trace"
    title = "How to record a trace"
    foot = CAUTIONS

    def sentences(self) -> list[str]:
        """Return what to set."""
        verdict = QUESTIONS[0]
        said = [
            f"To tell interlaced from progressive, record {verdict.ms:g} ms or more, which "
            f"{verdict.time_base_ms:g} ms a division shows, at {verdict.mhz:g} MS/s or more: "
            f"{verdict.points:,} points or more. Export the whole memory as CSV, not the screen."
        ]
        if self.points is None:
            return [
                *said,
                "Say --points with what your oscilloscope exports, and this says what to do with it.",
            ]
        short = [each for each in QUESTIONS if not fits(each, self.points)]
        if not short:
            return [*said, f"{self.points:,} points are enough for every question in one record each."]
        for each in short:
            said.append(self._short(each))
        return said

    def _short(self, each: Question) -> str:
        assert self.points is not None
        rate = fastest_mhz(each, self.points)
        base = f"{self.points:,} points are too few for the {each.key}"
        if each.key != "verdict":
            base_ms = f"{each.time_base_ms:g} ms a division"
            return f"{base}: {base_ms} would give {rate:.2g} MS/s; record a shorter part."
        if rate >= 1:
            less = f"{rate:.2g} MS/s at {each.time_base_ms:g} ms a division"
            return f"{base} at {each.mhz:g} MS/s, but {less} is enough."
        return (
            f"{base} in one record. Take several of about 2 ms ({usual_words(2.0, self.points)}), each "
            "with a vertical sync in it (trigger by pulse width above 15 µs, single shot, again and "
            "again), and give all files at once: when some begin at a line and others half a line off, it is "
            "interlaced. When all are alike it cannot be told, since the trigger may catch the same field "
            "every time; and the lines of a field cannot be counted."
        )

    def table(self) -> Table:
        """Return the settings for each question."""
        rows = tuple(
            (
                each.question,
                f"{each.ms:g}",
                f"{each.time_base_ms:g}",
                f"{each.mhz:g}",
                f"{each.points:,}",
                each.trigger,
            )
            for each in QUESTIONS
        )
        names = ("question", "ms at least", "ms a division", "MS/s at least", "points at least", "trigger")
        return Table("What to set", names, rows, ("left", *["right"] * 4, "left"), head=0)

    def figures(self) -> tuple[Plot, ...]:
        """Return no plot."""
        return ()

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        return {
            "plan": [
                {
                    "question": each.key,
                    "seconds": each.ms / 1000,
                    "samples_per_second": 1e6 * each.mhz,
                    "points": each.points,
                    "seconds_per_division": each.time_base_ms / 1000,
                    "fits": None if self.points is None else fits(each, self.points),
                }
                for each in QUESTIONS
            ],
            "points": self.points,
            "divisions": DIVISIONS,
        }


def usual_words(ms: float, points: int) -> str:
    """Return a length and what rate a memory gives it, in words."""
    return f"{points / (ms * 1000):.2g} MS/s"

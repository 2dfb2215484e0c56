"""How long and how fast to record for a question, as an oscilloscope is set: time base and memory."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

DIVISIONS = 10
"""Of the screen's width; an oscilloscope that has 12 or 14 shows more, never less."""
_STEPS = (1, 2, 5)


@dataclass(frozen=True)
class Question:
    """What a record is for.

    Parameters:
        key, question : its name, and what it answers
        ms : at least so long; mhz : at least so many million samples a second
        trigger : how to catch it
    """

    key: str
    question: str
    ms: float
    mhz: float
    trigger: str

    @property
    def points(self) -> int:
        """Samples it takes."""
        return ceil(self.ms * 1000 * self.mhz)

    @property
    def time_base_ms(self) -> float:
        """Least usual time base (1, 2, 5) at which ten divisions are as long."""
        return usual(self.ms / DIVISIONS)


QUESTIONS = (
    Question(
        "verdict",
        "interlaced or progressive, lines of each field",
        60.0,
        2.0,
        "any: two whole fields are in every record",
    ),
    Question(
        "widths",
        "widths of the pulses of vertical sync",
        2.0,
        5.0,
        "by pulse width, longer than 15 µs; else single shots until vertical sync is in one",
    ),
    Question(
        "levels",
        "sync, blanking, white of the levels chart, overshoot",
        1.0,
        10.0,
        "on the falling edge of sync; for white, while the patch's lines are sent",
    ),
)


def usual(ms: float) -> float:
    """Return the least time base of the row 1, 2, 5 that is not below."""
    power = 1e-6
    while True:
        for step in _STEPS:
            if step * power >= ms * (1 - 1e-9):
                return step * power
        power *= 10


def fits(question: Question, points: int) -> bool:
    """Tell whether a memory holds the question's record."""
    return points >= question.points


def fastest_mhz(question: Question, points: int) -> float:
    """Return the rate at which a memory holds the question's length, in million samples a second."""
    return points / (question.time_base_ms * DIVISIONS * 1000)

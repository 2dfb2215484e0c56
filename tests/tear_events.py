"""Tears of a buffer between two clocks, worked out with NumPy alone: nothing of the project but `Event`.

The source changes to picture j at (j + phase)/f seconds; captured picture k is read out from k/g on, its
height in a share of 1/g, the rest being blanking. A change that falls in blanking leaves no tear.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scalesim.jobs.motion.events import Event

EDGE = 2.5


@dataclass(frozen=True)
class Case:
    """Rates in Hz, how long, lines and what hides or blurs tears; `hidden` spans of seconds."""

    source: float
    output: float
    seconds: float
    lines: int
    scan: float
    noise: float = 0.0
    whole: bool = False
    hidden: tuple[tuple[float, float], ...] = ()
    astray: float = 0.0
    jumps: bool = False

    @property
    def apart(self) -> float:
        """Source pictures for each captured one, less 1."""
        return self.source / self.output - 1


def case(random: np.random.RandomState, longest: float = 60.0) -> Case:
    """Return one at random: from standing tears to ten a second, up and down, still scenes, jumps."""
    output = (50.0, 60000 / 1001, 60.0)[random.randint(3)]
    low, high = ((1e-7, 1e-5), (1e-5, 3e-4), (3e-4, 5e-3), (5e-3, 0.25))[random.randint(4)]
    apart = float(np.exp(random.uniform(np.log(low), np.log(high)))) * random.choice([-1, 1])
    seconds = min((2.0, 5.0, 20.0, 60.0)[random.randint(4)], longest)
    begins = random.uniform(0, seconds, random.randint(4))
    hidden = tuple((begin, begin + random.uniform(0, seconds / 3)) for begin in begins)
    return Case(
        output * (1 + apart),
        output,
        seconds,
        (240, 480, 720)[random.randint(3)],
        random.uniform(0.9, 1.0),
        (0.0, 0.05, 0.2, 0.5)[random.randint(4)],
        bool(random.uniform() < 0.5),
        hidden,
        (0.0, 0.02)[random.randint(2)],
        bool(random.uniform() < 0.2),
    )


def tears(random: np.random.RandomState, of: Case) -> list[Event]:
    """Return the tears that a reader of captures would find, in the order of time."""
    number = np.arange(int(of.source * of.seconds) + 2)
    at = (number + random.uniform()) / of.source
    picture = np.floor(at * of.output).astype(int)
    line = (at * of.output - picture) / of.scan * of.lines
    seen = (line < of.lines) & (picture < of.output * of.seconds)
    line = line + random.normal(0, of.noise, len(line))
    line = np.ceil(line) if of.whole else line
    seen &= (line > EDGE) & (line < of.lines - EDGE)
    for begin, end in of.hidden:
        seen &= ~((at > begin) & (at < end))
    if of.jumps:
        number = np.where(at > of.seconds / 2, number + 500 + random.randint(1000), number)
    astray = random.uniform(size=len(line)) < of.astray
    line = np.where(astray, random.uniform(EDGE, of.lines - EDGE, len(line)), line)
    found = [
        Event(
            "torn",
            int(picture[n]),
            int(picture[n]),
            None,
            picture[n] / of.output,
            source=int(number[n]) - 1,
            other=int(number[n]),
            line=float(line[n]),
        )
        for n in np.flatnonzero(seen)
    ]
    return sorted(found, key=lambda each: each.picture)

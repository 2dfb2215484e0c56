"""What a metric judged, piece by piece, as data: so that a value can show what it rests on.

A metric may state on its `Key` how its `Judged` is had (`judge`); it is made from the very arrays that the
value is made from, so the value follows from it (`Judged.value`). Whoever shows a value asks
`scalesim.metrics.judged`, and gets None for a metric that judges nothing piece by piece.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

MOST_CASES = 200
"""Cases that are told one by one, unless more are asked for."""


@dataclass(frozen=True)
class Profile:
    """What one outline is in the source and what became of it on the screen: lines in a row.

    Parameters:
        source_line, source : source line of the first entry; share of the outline's contrast, 0..1, that each
            source line holds
        landed_line, landed : landed line of the first entry; share that each landed line carries (1 is the
            full contrast, 0 the background; a ringing kernel goes beyond both)
        contrast : of the outline to its background, in code values; negative when it is dark
        needed : landed lines that the outline needs
    """

    source_line: int
    source: tuple[float, ...]
    landed_line: int
    landed: tuple[float, ...]
    contrast: float
    needed: int


@dataclass(frozen=True)
class Case:
    """One thing that was judged.

    Parameters:
        lines, samples : (begin, end) on the source, in its lines and samples; edges at integers
        landed : (begin, end) of the landed lines it shows on
        severity : how badly, 0..1; 0 is faultless
        weight : its share of all that was judged, as the metric weighs it, 0..1
        profile : the lines that show it, None where it is not a matter of one outline
    """

    lines: tuple[float, float]
    samples: tuple[float, float]
    landed: tuple[float, float]
    severity: float
    weight: float
    profile: Profile | None = None


@dataclass(frozen=True, eq=False)
class Judged:
    """All that a value rests on; place k of every array is one case.

    Parameters:
        what : what was judged, in the plural: "outlines"
        lines, samples : (cases, 2) begin and end on the source, in its lines and samples
        landed : (cases, 2) begin and end in landed lines
        severity : (cases,) how badly, 0 faultless, 1 as bad as the metric knows. Places of lost detail may
            lie outside 0..1 where the picture has more, or the contrary, of what the source has there;
            `worst` clips them
        weight : (cases,) the weight in the metric's own mean, at least 0
        says : how the mean of the severities by weight gives the value: it is the "mean"; its "root"; or
            the root of what it leaves of 1, "rest". `times` multiplies it (100 for percent)
        profile : gives the profile of case k, None where cases are no outlines
        map : (rows, samples) float32 of the landed picture, in the metric's unit, None without one
        map_lines, map_samples : (begin, end) of that map on the source
    """

    what: str
    lines: NDArray
    samples: NDArray
    landed: NDArray
    severity: NDArray
    weight: NDArray
    says: Literal["mean", "root", "rest"] = "mean"
    times: float = 1.0
    profile: Callable[[int], Profile] | None = None
    map: NDArray | None = None
    map_lines: tuple[float, float] = (0.0, 0.0)
    map_samples: tuple[float, float] = (0.0, 0.0)

    @property
    def n(self) -> int:
        """How many cases there are in all, faultless ones too."""
        return len(self.severity)

    @property
    def value(self) -> float:
        """The metric's value, from the cases alone; 0 (of "rest" 1) without any."""
        total = float(self.weight.sum())
        mean = float((self.severity * self.weight).sum()) / total if total > 0 else 0.0
        wanted = 1.0 - mean if self.says == "rest" else mean
        return self.times * (wanted if self.says == "mean" else max(wanted, 0.0) ** 0.5)

    @property
    def harm(self) -> NDArray:
        """(cases,) severity, within 0..1, times weight: what each adds to the value."""
        return np.clip(self.severity, 0, 1) * self.weight

    def worst(self, most: int = MOST_CASES, *, least: float = 0.0) -> tuple[Case, ...]:
        """Return the cases that add most to the value, worst first; equal ones from the top left on.

        Parameters:
            most : cases at most; how many there are in all is `n`
            least : severity that a case must exceed to be told
        """
        harm = self.harm
        order = np.lexsort((self.samples[:, 0], self.lines[:, 0], -np.round(harm, 12)))
        order = order[(harm[order] > 0) & (self.severity[order] > least)][:most]
        total = max(float(self.weight.sum()), 1e-30)
        return tuple(self._case(int(k), total) for k in order)

    def _case(self, k: int, total: float) -> Case:
        begin, end = (float(each) for each in self.lines[k])
        return Case(
            (begin, end),
            (float(self.samples[k, 0]), float(self.samples[k, 1])),
            (float(self.landed[k, 0]), float(self.landed[k, 1])),
            float(np.clip(self.severity[k], 0, 1)),
            float(self.weight[k]) / total,
            self.profile(k) if self.profile else None,
        )

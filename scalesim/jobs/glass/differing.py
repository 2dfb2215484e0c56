"""What differs between two photos of a tube that are laid on each other, in words with what each rests on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import sqrt

import numpy as np

from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.hypotheses import SETS
from scalesim.signal.rectify.laid import Laid
from scalesim.signal.rectify.warp import Warp

CHANGED = 0.1
"""Share by which local light must have changed at the least to be told."""

_USUAL_LINES = 240
_LEAST_CHANGED = 0.005
"""Share of what can be compared below which no change of light is told."""
_LEAST_RATIO = 0.001
"""Standard error of the ratio of lines, at the least."""


@dataclass(frozen=True, eq=False)
class Differences:
    """What two photos show, the second laid on the first; see `GlassBeside`."""

    before: GlassRead
    after: GlassRead
    warp: Warp
    laid: Laid

    @property
    def any(self) -> bool:
        """Whether sets, lines on the same glass, their width or the light of some part is told to differ.

        Lines that only one photo lets tell are no difference of the tube: its camera may have been too far.
        """
        a, b = self.before.sets, self.after.sets
        sets = a != b and "unknown" not in (a, b)
        light = sum(self._changed_shares) >= _LEAST_CHANGED
        return sets or light or self._more_lines or self._wider is True

    def words(self) -> list[str]:
        """Return the differences in words, the lines first."""
        return [*self._sets(), *self._pitch(), *self._widths(), self._changed()]

    def _sets(self) -> list[str]:
        if (self.before.found is None) != (self.after.found is None):
            without = self.before if self.before.found is None else self.after
            none, some = ("Before", "after") if without is self.before else ("After", "before")
            return [f"{none}, no scan lines can be told ({without.reason}); {some}, they can (n = 2 photos)."]
        a, b = self.before.sets, self.after.sets
        if "unknown" in (a, b):
            return ["Whether both show as many sets of lines cannot be told."]
        if a == b:
            return [f"Both photos show {SETS[a]} (n = 2 photos)."]
        return [f"Before, {SETS[a]}; after, {b} (n = 2 photos)."]

    @cached_property
    def line_ratio(self) -> tuple[float, float] | None:
        """Lines after over lines before on the same glass, and the standard error over nine places."""
        a, b = self.before.found, self.after.found
        if a is None or b is None:
            return None
        inside = self.warp.places
        ends = np.percentile(inside, [20, 50, 80], axis=0)
        ratios = []
        for x in ends[:, 0]:
            for y in ends[:, 1]:
                at = np.array([[x, y - 4 * a.period], [x, y + 4 * a.period]])
                to = self.warp.to_second(at)
                first, second = (
                    lines.phase(where[:, 0], where[:, 1])
                    for lines, where in ((a.found.lines, at), (b.found.lines, to))
                )
                ratios.append(float((second[1] - second[0]) / (first[1] - first[0])))
        return float(np.median(ratios)), float(np.std(ratios, ddof=1) / sqrt(len(ratios)))

    @property
    def _more_lines(self) -> bool:
        if self.line_ratio is None:
            return False
        ratio, error = self.line_ratio
        return abs(ratio - 1) >= max(3 * max(error, _LEAST_RATIO), 5 * _LEAST_RATIO)

    def _pitch(self) -> list[str]:
        if self.line_ratio is None:
            return []
        ratio, error = self.line_ratio
        error = max(error, _LEAST_RATIO)
        if not self._more_lines:
            said = f"{ratio:.3f} ± {error:.3f}, n = 9 places"
            return [f"The same piece of glass holds as many lines in both ({said})."]
        return [
            f"The same piece of glass holds {ratio:.3f} ± {error:.3f} times as many lines after as before "
            "(n = 9 places)."
        ]

    @property
    def _wider(self) -> bool | None:
        """Whether the widths' ranges lie apart; None where one is not known."""
        a, b = self.before.found, self.after.found
        if a is None or b is None or a.width is None or b.width is None:
            return None
        if a.width_range is None or b.width_range is None:
            return None
        return a.width_range[1] < b.width_range[0] or b.width_range[1] < a.width_range[0]

    def _widths(self) -> list[str]:
        a, b = self.before.found, self.after.found
        if a is None or b is None or a.width_range is None or b.width_range is None:
            return []
        if a.width is None or b.width is None:
            return []
        values = (
            f"{a.width:.2f} ({a.width_range[0]:.2f} to {a.width_range[1]:.2f}) before, {b.width:.2f} "
            f"({b.width_range[0]:.2f} to {b.width_range[1]:.2f}) after, of their distance, n = 2 photos"
        )
        if not self._wider:
            return [f"Whether lines became thicker or thinner cannot be told: {values}."]
        return [f"Lines are {'thicker' if b.width > a.width else 'thinner'} after: {values}."]

    @cached_property
    def _changed_shares(self) -> tuple[float, float]:
        """Shares of what can be compared that are brighter and darker after."""
        ratio = self.laid.ratio[np.isfinite(self.laid.ratio)]
        return float((ratio > 1 + self.limit).mean()), float((ratio < 1 - self.limit).mean())

    @cached_property
    def limit(self) -> float:
        """Share by which light must change to be told: a tenth, or three robust deviations."""
        ratio = self.laid.ratio[np.isfinite(self.laid.ratio)]
        return max(CHANGED, 3 * 1.4826 * float(np.median(np.abs(ratio - np.median(ratio)))))

    def _changed(self) -> str:
        seen = np.isfinite(self.laid.ratio)
        more, less = self._changed_shares
        cell = max(1, round(4 * self._period / self.laid.factor))
        count = int(seen[::cell, ::cell].sum())
        if more + less < _LEAST_CHANGED:
            return (
                f"Once matched, less than {100 * _LEAST_CHANGED:g} % of what can be compared is more than "
                f"{100 * self.limit:.0f} % brighter or darker (n = {count} places of four lines)."
            )
        return (
            f"Once matched, {100 * more:.0f} % of what can be compared is more than {100 * self.limit:.0f} % "
            f"brighter after, and {100 * less:.0f} % is darker by more than that (n = {count} places of "
            "four lines)."
        )

    @property
    def _period(self) -> float:
        found = self.before.found
        rows = self.laid.first.shape[0] * self.laid.factor
        return rows / _USUAL_LINES if found is None else found.period

"""Two photos of a tube laid on each other, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.photo import Photo, srgb_light
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.difference import difference_layer, difference_scale
from scalesim.jobs.glass.document import KEYS
from scalesim.jobs.glass.reading import read_set
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import Box, Layer, Part, Result, Table, Viewer
from scalesim.signal.rectify.laid import Laid, laid_on
from scalesim.signal.rectify.warp import Warp, register_photos

CHANGED = 0.1
"""Local light is said to have changed by more than a tenth."""

_USUAL_LINES = 240
_LEAST_CHANGED = 0.005
"""Share of what can be compared below which no change of light is told."""
_LEAST_RATIO = 0.001
"""Standard error of the ratio of lines, at the least."""
_ROUGH = 0.2
"""Lines by which two photos may miss each other and still be compared line by line."""


@dataclass(frozen=True, eq=False)
class GlassBeside(Result):
    """Two photos of a tube, the second laid on the first; a `Result`.

    Parameters:  before, after : what each shows by itself; warp, laid : the second on the first
    """

    before: GlassRead
    after: GlassRead
    warp: Warp
    laid: Laid

    kind = "glass"

    @property
    def title(self) -> str:
        """Whether anything differs that the photos can tell."""
        if self.differ:
            return "Two photos of a tube, laid on each other, differ"
        return "Two photos of a tube, laid on each other: no difference found"

    @property
    def differ(self) -> bool:
        """Whether sets, lines on the same glass, their width or the light of some part is told to differ."""
        a, b = self.before.sets, self.after.sets
        light = sum(self._changed_shares) >= _LEAST_CHANGED
        sets = (self.before.found is None) != (self.after.found is None) or (
            a != b and "unknown" not in (a, b)
        )
        return sets or light or self._more_lines or self._wider is True

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return self.before.foot

    @property
    def error_lines(self) -> float | None:
        """Deviation of places that were left out, in lines of the second; None where they are not seen."""
        found = self.after.found
        return None if found is None else self.warp.error / found.period

    @property
    def hull_share(self) -> float:
        """Share of the first photo inside the hull of the matches."""
        return float(self.laid.common.mean())

    def sentences(self) -> list[str]:
        """Return what differs, the lines first, and how it was matched."""
        return [*self.differences(), self._laid(), self._matched()]

    def differences(self) -> list[str]:
        """Return the differences in words, each with what it rests on."""
        return [*self._sets(), *self._pitch(), *self._widths(), self._changed()]

    def _sets(self) -> list[str]:
        if (self.before.found is None) != (self.after.found is None):
            none, some = ("Before", "after") if self.before.found is None else ("After", "before")
            return [f"{none}, no scan lines can be told; {some}, they can (n = 2 photos)."]
        a, b = self.before.sets, self.after.sets
        if "unknown" in (a, b):
            return ["Whether both show as many sets of lines cannot be told."]
        if a == b:
            return [f"Both photos show {a} set{'s' if a == 'two' else ''} of lines (n = 2 photos)."]
        return [f"Before, {a} set{'s' if a == 'two' else ''} of lines; after, {b} (n = 2 photos)."]

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
        return float((ratio > 1 + CHANGED).mean()), float((ratio < 1 - CHANGED).mean())

    def _changed(self) -> str:
        seen = np.isfinite(self.laid.ratio)
        more, less = self._changed_shares
        cell = max(1, round(4 * self._period / self.laid.factor))
        count = int(seen[::cell, ::cell].sum())
        if more + less < _LEAST_CHANGED:
            return f"Once matched, no part is {100 * CHANGED:.0f} % brighter or darker (n = {count} places)."
        return (
            f"Once matched, {100 * more:.0f} % of what can be compared is more than {100 * CHANGED:.0f} % "
            f"brighter after, {100 * less:.0f} % more than that darker (n = {count} places of four lines); "
            "what the lenses shade toward the corners is in it."
        )

    @property
    def _period(self) -> float:
        found = self.before.found
        rows = self.laid.first.shape[0] * self.laid.factor
        return rows / _USUAL_LINES if found is None else found.period

    def _laid(self) -> str:
        error = self.error_lines
        within = f"{self.warp.error:.2f} pixels" if error is None else f"{error:.3f} lines"
        rough = error is not None and error > _ROUGH
        return (
            f"“{self.after.name}” lies on “{self.before.name}” to {within} (what places that were left out "
            f"deviate by, n = {len(self.warp.places)}), over {100 * self.hull_share:.0f} % of the photo; "
            f"outside it nothing is claimed.{' That is too rough to compare single lines.' if rough else ''}"
        )

    def _matched(self) -> str:
        red, green, blue = self.laid.gain
        return (
            f"To match exposure and white, the light of the second was multiplied by {red:.3f} (red), "
            f"{green:.3f} "
            f"(green) and {blue:.3f} (blue), set on the {100 * self.laid.equal_share:.0f} % of the common "
            "part "
            "that is equal then; its pixels as they were shot are kept beside it."
        )

    def table(self) -> Table:
        """Return the figures of both."""
        first, second = self.before.table().rows, self.after.table().rows
        named = {str(row[0]): row for row in second}
        rows = [(row[0], row[1], named.pop(str(row[0]), (row[0], "", ""))[1], row[2]) for row in first]
        rows += [(row[0], "", row[1], row[2]) for row in named.values()]
        names, sides = ("what", "before", "after", "unit"), ("left", "right", "right", "left")
        return Table("Both photos", names, tuple(rows), sides)

    def figures(self) -> tuple[Plot, ...]:
        """Return the profiles of a line in both."""
        shown = [
            (label, read.found.profiles[0])
            for label, read in (("before", self.before), ("after", self.after))
            if read.found is not None and read.found.profiles
        ]
        if not shown:
            return ()
        series = []
        for number, (label, profile) in enumerate(shown):
            light = np.asarray(profile.light, float)
            places = (np.arange(len(light)) + 0.5) / len(light) - 0.5
            series.append(
                Series(
                    tuple(map(float, places)),
                    tuple(map(float, light / light.max())),
                    label,
                    "line",
                    number,
                )
            )
        panel = Panel(
            Axis("place across a line, in distances of two lines", -0.5, 0.5),
            Axis("light, of the line's peak", 0, 1.05, grid=True),
            tuple(series),
        )
        return (
            Plot(
                "profiles",
                "A line before and after",
                "The brightest half of the lines, folded onto one. The camera's own blur is in both.",
                (panel,),
                legend=2,
            ),
        )

    @property
    def kept_pictures(self) -> Mapping[str, Any]:
        """Both photos on one grid, the second matched, and as it was shot."""
        return {name: values for name, values in self._shown.items() if name != "difference"}

    @cached_property
    def _shown(self) -> dict[str, NDArray]:
        laid = self.laid
        first, second, matched = (np.nan_to_num(each) for each in (laid.first, laid.second, laid.matched))
        white = float(np.percentile(first[self.laid.common], 99.7)) or 1.0
        apart = 100 * (matched - first).mean(axis=2) / white
        apart[~self.laid.common] = 0
        return {
            "before": _codes(first),
            "after": _codes(matched),
            "after-as-shot": _codes(second),
            "difference": apart,
        }

    def parts(self) -> Iterator[Part]:
        """Yield the wipe, the profiles, the figures."""
        yield Part("One on the other", items=(self._viewer(),))
        yield Part("Lines", items=(*self.figures(), self.table()))

    def _viewer(self) -> Viewer:
        shown = self._shown
        rows, columns = shown["before"].shape[:2]
        place = Box(0, 0, columns, rows)
        words = {
            "before": (self.before.name, "As it was shot."),
            "after": (self.after.name, "Laid on the first, exposure and white matched."),
            "after-as-shot": (f"{self.after.name}, as shot", "Laid on the first, light as it was shot."),
        }
        layers = tuple(
            Layer(key, f"pictures/{key}", to_codes(shown[key]), label, caption, place)
            for key, (label, caption) in words.items()
        )
        white = "no difference, or outside what is claimed"
        apart = difference_layer(shown["difference"], "After less before", white, place, "after")
        scale = difference_scale("after less before", "darker after", "equal", "lighter after")
        middle = (columns / 2, rows / 2)
        pair, shown_as = ("before", "after"), "Wipe one against the other"
        return Viewer("the photos", shown_as, (), (*layers, apart), pair, middle, scale, mode="wipe")

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys: both readings, the match, the differences."""
        why = "two photos were read; see before and after"
        ratio = self.line_ratio
        same = self.before.sets == self.after.sets
        return {
            **dict.fromkeys((*KEYS, "shutter")),
            "sets": self.before.sets if same else "unknown",
            "confidence": 0.0,
            "why": dict.fromkeys((*KEYS, "shutter"), why),
            "before": self.before.to_dict(),
            "after": self.after.to_dict(),
            "registration": {
                "error_lines": self.error_lines,
                "error_pixels": self.warp.error,
                "n": len(self.warp.places),
                "hull_share": self.hull_share,
            },
            "match": {"gain": [float(each) for each in self.laid.gain], "equal_share": self.laid.equal_share},
            "line_ratio": None if ratio is None else {"value": ratio[0], "error": ratio[1]},
            "differences": self.differences(),
        }


def beside(before: Photo, after: Photo) -> GlassBeside:
    """Return two photos of one picture on one tube, the second laid on the first.

    Raises: NotIdentifiable where they do not show the same
    """
    first, second = (read_set([each], Asked()) for each in (before, after))
    periods = [None if read.found is None else read.found.period for read in (first, second)]
    warp = register_photos(
        before.light, after.light, periods=(periods[0], periods[1]), names=(before.name, after.name)
    )
    period = periods[0] or before.codes.shape[0] / _USUAL_LINES
    laid = laid_on(_light(before), _light(after), warp, period)
    return GlassBeside(first, second, warp, laid)


def _light(photo: Photo) -> NDArray[np.float32]:
    if photo.codes.dtype.kind != "u":
        return srgb_light(photo.codes)
    return srgb_light(np.linspace(0, 1, 2 ** (8 * photo.codes.dtype.itemsize)))[photo.codes]


def _codes(light: NDArray) -> NDArray[np.float32]:
    """Return sRGB code values of linear light (IEC 61966-2-1:1999, 5.2)."""
    v = np.clip(light, 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055).astype(np.float32)

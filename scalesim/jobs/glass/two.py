"""Two photos of a tube laid on each other, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.photo import Photo, srgb_light
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.difference import difference_layer, difference_scale
from scalesim.jobs.glass.differing import Differences
from scalesim.jobs.glass.document import KEYS
from scalesim.jobs.glass.reading import read_set
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import Box, Layer, Part, Result, Table, Viewer
from scalesim.signal.rectify.laid import Laid, laid_on
from scalesim.signal.rectify.warp import Warp, register_photos

_USUAL_LINES = 240
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
        if self.before.found is None or self.after.found is None:
            return "Two photos of a tube: no difference in light found, their lines cannot be compared"
        return "Two photos of a tube, laid on each other: no difference found"

    @property
    def differ(self) -> bool:
        """Whether sets, lines on the same glass, their width or the light of some part is told to differ."""
        return self.differing.any

    @cached_property
    def differing(self) -> Differences:
        """What differs."""
        return Differences(self.before, self.after, self.warp, self.laid)

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
        return self.differing.words()

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
            f"{green:.3f} (green) and {blue:.3f} (blue), set on the {100 * self.laid.equal_share:.0f} % of "
            f"the common part that is equal then, and by up to {100 * self.shading:.0f} % more or less for "
            "what the lenses shade; its pixels as they were shot are kept beside it."
        )

    @property
    def shading(self) -> float:
        """The most that lens shading was taken to change the second's light by, a share."""
        return float(np.abs(self.laid.shade[self.laid.common] - 1).max())

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
        ratio = self.differing.line_ratio
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
            "match": {
                "gain": [float(each) for each in self.laid.gain],
                "shade": float(np.abs(self.laid.shade[self.laid.common] - 1).max()),
                "equal_share": self.laid.equal_share,
            },
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

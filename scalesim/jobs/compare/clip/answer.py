"""The answer of `compare --clip`: what the clip shows, in words and figures, and a frame of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.moving import Moving
from scalesim.jobs.compare.clip.shown import Shown
from scalesim.result import (
    ClipTold,
    Links,
    Part,
    Picture,
    Result,
    Table,
    cautions,
    chains_part,
    flash_table,
    flash_words,
)

NAME = "comparison"
FILES = {f"{NAME}.mp4": "H.264, for sharing", f"{NAME}.mkv": "exact, for editing"}
"""What is written, by name."""

_HOW = {"beside": "beside each other", "stacked": "below each other", "wipe": "under a moving wipe"}


@dataclass(frozen=True, eq=False)
class ComparisonClip(Result):
    """Chains and captures in one clip.

    Parameters:  chains : label -> chain; shown : what is seen; clips : its files, once they are written
    """

    chains: Mapping[str, Chain]
    shown: Shown
    clips: tuple[ClipTold, ...] = ()

    kind = "comparison"

    @property
    def title(self) -> str:
        """Heading of its page."""
        return f"{_listed(panel.label for panel in self.shown.panels)}, {_HOW[self.shown.layout]}"

    def moving(self) -> Moving:
        """Return the pictures afresh."""
        return self.shown.moving()

    @cached_property
    def frame(self) -> NDArray:
        """The clip's first picture, (lines, samples, 3) uint8; a wipe half done."""
        return next(iter(self.shown.moving(sweeps=Fraction(1, 2)).pictures)).copy()

    def sentences(self) -> list[str]:
        """Return what is shown, what is not as it should be, and the cautions of what was written."""
        shown, rate = self.shown, self.shown.rate
        height, width = shown.places.size
        said = [
            f"{len(shown.panels)} panels {_HOW[shown.layout]} show the same part of {shown.source.name} at "
            f"{float(rate):.5g} pictures a second, {width}x{height}; {shown.foot}."
        ]
        part = shown.part
        uneven = [panel for panel in shown.panels if part.pitch(panel.raster.landed_lines).denominator != 1]
        if uneven and shown.display is None:
            said.append(
                f"Lines of {_listed(panel.label for panel in uneven)} cannot all be whole dots beside "
                f"{part.lines} lines: some are a dot taller than others."
            )
        said += [
            f"{panel.label} has {float(panel.raster.rate):.5g} pictures a second: each is held until the "
            "next is due."
            for panel in shown.panels
            if panel.raster.rate != rate
        ]
        said += [*shown.source.notes, *(text for panel in shown.panels for text in panel.words)]
        return [*said, *cautions(self.clips)]

    def table(self) -> Table:
        """Return the panels."""
        part = self.shown.part
        rows = tuple(
            (
                panel.label,
                panel.raster.describe(),
                f"{float(panel.raster.rate):.5g}",
                f"{float(part.pitch(panel.raster.landed_lines)):.4g}",
            )
            for panel in self.shown.panels
        )
        head = ("panel", "raster", "pictures a second", "dots a line")
        return Table("Panels", head, rows, ("left", "left", "right", "right"))

    def parts(self) -> Iterable[Part]:
        """Yield a frame, the chains, the files, and the flashes that were counted in them."""
        half = ", the wipe half done" if self.shown.layout == "wipe" else ""
        caption = f"The clip's first picture{half}: {self.title}; {self.shown.foot}."
        yield Part(
            "What it looks like",
            items=(
                Picture(
                    "pictures/first-picture", self.frame, "first picture", caption, caption, size=(540, 960)
                ),
            ),
        )
        yield Part("What is shown", items=(self.table(),))
        if self.chains:
            yield chains_part(self._texts)
        if not self.clips:
            return
        links = tuple((clip.file, f"{clip.file} ({FILES.get(clip.file, 'a clip')})") for clip in self.clips)
        text = "Cut with the exact file; share the other." if len(links) > 1 else ""
        yield Part("Files", items=(Links(text, links),))
        yield Part("Flashes", flash_words(self.clips), (flash_table(self.clips),))

    @property
    def _texts(self) -> dict[str, str]:
        return {label: chain.text for label, chain in self.chains.items()}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        shown, part = self.shown, self.shown.part
        return {
            "source": shown.source.name,
            "layout": shown.layout,
            "on": "raster" if shown.display is None else "glass",
            "display": None if shown.display is None else shown.display.name,
            "width": shown.places.size[1],
            "height": shown.places.size[0],
            "rate_hz": float(shown.rate),
            "dots_a_line": part.zoom,
            "slow": shown.slow,
            "fields_alone": shown.alone,
            "chains": self._texts,
            "panels": [
                {
                    "label": panel.label,
                    "chain": self.chains[panel.label].text if panel.label in self.chains else None,
                    "lines": panel.raster.landed_lines,
                    "scan": panel.raster.scan,
                    "rate_hz": float(panel.raster.rate),
                }
                for panel in shown.panels
            ],
            **({"clips": {clip.name: dict(clip.keys) for clip in self.clips}} if self.clips else {}),
        }


def _listed(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last

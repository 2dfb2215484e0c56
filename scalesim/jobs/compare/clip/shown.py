"""What a comparison clip shows, and the stream of its pictures: memory does not grow with its length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import islice, tee
from math import ceil

from scalesim.chain.resolve import Resolved
from scalesim.chain.run import run
from scalesim.core.clip import Clip
from scalesim.core.moving import Moving
from scalesim.jobs.compare.clip.compose import composed, in_step
from scalesim.jobs.compare.clip.layout import Layout, Places
from scalesim.jobs.compare.clip.panel import Dots, Panel, dots_of
from scalesim.jobs.compare.clip.part import Part
from scalesim.tube.display import Display

_HAIR = Fraction(1, 10**6)
"""Of a picture: 0.1 s, which no binary number is, are 6 pictures of 60 a second and not 7."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Shown:
    """What a comparison clip shows.

    Parameters:
        source : the clip; seconds : of it, None for all
        plans : of the panels that are chains, the first ones; panels : all of them
        part : what is seen of the screen; places : where it stands
        display : the tube, None for the raster; aspect : of the screen
        slow : times each picture is shown; alone : each field by itself
    """

    source: Clip
    seconds: float | None
    plans: tuple[Resolved, ...]
    panels: tuple[Panel, ...]
    part: Part
    places: Places
    layout: Layout
    display: Display | None
    aspect: Fraction
    slow: int
    alone: bool

    @property
    def rate(self) -> Fraction:
        """Pictures a second: those of the panel with the most."""
        return max(panel.raster.rate for panel in self.panels)

    @cached_property
    def count(self) -> int | None:
        """How many pictures there are at most, each as often as it is shown; None where the end decides."""
        if self.seconds is not None:
            return self.slow * ceil(Fraction(self.seconds) * self.rate - _HAIR)
        if self.source.length is None:
            return None
        return self.slow * ceil(self.source.length * self.rate / self.source.raster.rate)

    @property
    def foot(self) -> str:
        """The words below all panels."""
        dots = "1 dot" if self.part.zoom == 1 else f"{self.part.zoom} dots"
        where = f"on the glass ({self.display.name})" if self.display else "as raster"
        said = [where, f"{dots} to each of {self.part.lines} lines"]
        if self.slow > 1:
            said.append(f"each picture {self.slow} times")
        if self.alone:
            said.append("each field alone")
        return ", ".join(said)

    def moving(self, *, sweeps: Fraction = Fraction(0)) -> Moving:
        """Return the pictures of the clip, made as they are asked for; a wipe begins after so many sweeps."""
        wanted = None if self.count is None else self.count // self.slow
        pictures = islice(in_step(list(self._streams()), self.rate), wanted)
        frames = composed(
            pictures,
            self.places,
            self.part,
            self.layout,
            [panel.label for panel in self.panels],
            self.foot,
            self.rate,
            self.slow,
            sweeps,
        )
        return Moving(self.layout, frames, self.rate, None, self.count)

    def _streams(self) -> Iterator[Iterator[Dots]]:
        """Yield the pictures of every panel; the source is decoded once for all chains."""
        sources = iter(tee(self.source.pictures(), len(self.plans)))
        plans = iter(self.plans)
        for panel in self.panels:
            pictures = panel.captured() if panel.captured else run(next(plans), next(sources))
            yield dots_of(panel, pictures, self.part, self.aspect, self.display, alone=self.alone)

"""Two chains as a scene scrolls: what no still shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.moving import Moving
from scalesim.core.pan import panned
from scalesim.jobs.compare.clip.answer import NAME, ComparisonClip
from scalesim.jobs.compare.clip.clip import comparison_clip
from scalesim.result import Beside, ClipTold

SCENE = "kettle_crew"
CHAINS = ("drop-720p", "average")
SECONDS = 2.0
LINES_PER_S = 30
"""Of 720: a third of a scan line every other picture."""

CROP = (150, 390, 440, 590)
"""A balcony and a railing, with lines one and two source lines thick."""

Film = Callable[[Callable[[], Moving], Path], ClipTold]
"""Writes a clip, guarded, to a path, and the counts of its flashes beside it."""

FILE = f"{NAME}.mp4"
"""The file that is kept: the exact one is some ten times as large."""


@dataclass(frozen=True, eq=False)
class Filmed(ComparisonClip):
    """The comparison clip of the demonstration, which is written when it is saved."""

    film: Film = field(kw_only=True)

    def sentences(self) -> list[str]:
        """Return what is shown, and what to look at."""
        return [
            *super().sentences(),
            "Watch the balcony and the railing: where lines are dropped, a thin line is there or not, as it "
            "happens to fall; where they are averaged, it grows soft and stays.",
        ]

    def beside(self, folder: Path) -> Beside:
        """Write the clip, and the counts of its flashes."""
        told = self.film(self.moving, folder / FILE)
        files = {"mp4-clip": FILE, "mp4-clip-flashes": f"{FILE}.flashes.json"}
        return Beside(files, answer=replace(self, clips=(told,)))


def film_chains(clip: Clip, chains: Mapping[str, Chain], film: Film) -> Filmed:
    """Return the clip of two chains beside each other, written when it is saved.

    Parameters:  clip : the scene, a still; chains : key -> chain of the demonstration
    """
    scrolled = panned(clip, samples=0, lines=LINES_PER_S, seconds=SECONDS)
    found = comparison_clip({chains[key].name: chains[key] for key in CHAINS}, scrolled, crop=CROP)
    return Filmed(found.chains, found.shown, film=film)

"""Two chains as a scene scrolls: what no still shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.moving import Moving
from scalesim.core.pan import panned
from scalesim.jobs.compare.clip.answer import FILES, NAME, ComparisonClip
from scalesim.jobs.compare.clip.clip import comparison_clip

SCENE = "kettle_crew"
CHAINS = ("drop-720p", "average")
SECONDS = 2.0
LINES_PER_S = 30
"""Of 720: a third of a scan line every other picture."""

CROP = (150, 390, 440, 590)
"""A balcony and a railing, with lines one and two source lines thick."""

Film = Callable[[Callable[[], Moving], str], None]
"""Writes a clip, guarded, to a path, and the counts of its flashes beside it."""


@dataclass(frozen=True, eq=False)
class Filmed(ComparisonClip):
    """The comparison clip of the demonstration, of which the file for sharing is kept."""

    film: Film

    @property
    def clip_files(self) -> Mapping[str, str]:
        """The exact file is some ten times as large."""
        return {f"{NAME}.mp4": FILES[f"{NAME}.mp4"]}

    def sentences(self) -> list[str]:
        """Return what is shown, and what to look at."""
        return [
            *super().sentences(),
            "Watch the balcony and the railing: where lines are dropped, a thin line is there or not, as it "
            "happens to fall; where they are averaged, it grows soft and stays.",
        ]

    def streamed(self) -> Mapping[str, tuple[str, Callable[[str], None]]]:
        """Return the clip, and the counts that are written with it."""
        (name,) = self.clip_files
        return {
            "mp4-clip": (name, partial(self.film, self.moving)),
            "mp4-clip-flashes": (f"{name}.flashes.json", lambda _: None),
        }


def film_chains(clip: Clip, chains: Mapping[str, Chain], film: Film) -> Filmed:
    """Return the clip of two chains beside each other, written when it is saved.

    Parameters:  clip : the scene, a still; chains : key -> chain of the demonstration
    """
    scrolled = panned(clip, samples=0, lines=LINES_PER_S, seconds=SECONDS)
    found = comparison_clip({chains[key].name: chains[key] for key in CHAINS}, scrolled, crop=CROP)
    return Filmed(found.chains, found.shown, film)

"""Low-resolution art in the frames: can the chain's ratio give it back line by line, and where?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.errors import ScalesimError
from scalesim.signal.art_grid import ArtGrid, ArtMatch, art_grid, art_match

_LEAST = 32


@dataclass(frozen=True)
class ArtFound:
    """The grid of one frame's art, and how the chain meets it."""

    frame: str
    grid: ArtGrid
    match: ArtMatch

    def sentence(self) -> str:
        """Return what was found, in words."""
        lines = self.grid.lines
        grid = f"{self.frame} is art scaled {lines.pitch} to 1, its grid {lines.offset} lines down"
        return f"{grid}: {self.match.sentence}"

    def to_dict(self) -> dict[str, Any]:
        """Return grid and match by name."""
        lines, samples = self.grid.lines, self.grid.samples
        return {
            "frame": self.frame,
            "lines": {"pitch": lines.pitch, "offset": lines.offset, "confidence": lines.confidence},
            "samples": {"pitch": samples.pitch, "offset": samples.offset, "confidence": samples.confidence},
            "exact_possible": self.match.exact_possible,
            "exact_positions": list(self.match.exact_positions),
        }


def art_of(chain: Chain, clips: Iterable[tuple[str, Clip]]) -> list[ArtFound]:
    """Return the art of the frames that are art, in order; other frames are left out.

    Positions are those of a `position` ahead of the chain, in source lines, with the chain as it is.
    """
    found = []
    for name, clip in clips:
        if clip.frame is None or min(clip.frame.shape[:2]) < _LEAST:
            continue
        grid = art_grid(clip.frame)
        if not grid.lines:
            continue
        try:
            plan = chain.resolve(clip.raster)
        except ScalesimError:
            continue
        spans = plan.geometry.landed_blocks(plan.output)
        found.append(ArtFound(name, grid, art_match(grid.lines, spans.scale, spans.offset)))
    return found

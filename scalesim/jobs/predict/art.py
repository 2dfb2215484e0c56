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
_MOST_NAMED = 3


@dataclass(frozen=True)
class ArtFound:
    """The grid of one frame's art, and how the chain meets it."""

    frame: str
    grid: ArtGrid
    match: ArtMatch

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


def art_sentences(found: Iterable[ArtFound]) -> list[str]:
    """Return what was found in words, frames of one grid together."""
    alike: dict[str, list[str]] = {}
    for each in found:
        lines = each.grid.lines
        down = "1 line" if lines.offset == 1 else f"{lines.offset} lines"
        grid = f"art enlarged {lines.pitch} times, its grid {down} down. {each.match.sentence}"
        alike.setdefault(grid, []).append(each.frame)
    return [f"{_named(names)} {'is' if len(names) == 1 else 'are'} {grid}" for grid, names in alike.items()]


def _named(names: list[str]) -> str:
    if len(names) <= _MOST_NAMED:
        return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))
    return f"{names[0]} and {len(names) - 1} more"


def art_of(chain: Chain, clips: Iterable[tuple[str, Clip]]) -> list[ArtFound]:
    """Return the art of the frames that are art, in order; other frames are left out.

    Positions are those of a `position` ahead of the chain, in source lines, from where the
    chain has the picture.
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

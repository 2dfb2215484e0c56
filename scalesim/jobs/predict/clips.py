"""What the page and the document of a prediction tell of the clips beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from scalesim.result import ClipTold, Links, Part, flash_table, flash_words


def clip_part(clips: Sequence[ClipTold], lost: Mapping[str, str]) -> Part:
    """Return the clips that were written, the flashes in them, and which could not be, and why."""
    said = [f"The {view} clip was not written: {why}." for view, why in lost.items()]
    links = tuple((clip.file, clip.file) for clip in clips)
    items = (Links("", links), flash_table(clips)) if clips else ()
    return Part("Clips", (*said, *flash_words(clips)), items)


def clip_keys(clips: Sequence[ClipTold], lost: Mapping[str, str]) -> dict[str, Any]:
    """Return the document's `clips`: view -> what was written, or why not; {} when none was asked for."""
    found: dict[str, Any] = {clip.name: dict(clip.keys) for clip in clips}
    found |= {view: {"failed": why} for view, why in lost.items()}
    return {"clips": found} if found else {}

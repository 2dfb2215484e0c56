"""The clips that ``scalesim predict --clip`` writes, and what a free-running clock does to them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial as partial_of
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scalesim.cli.predict_options import number, pan_of
from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.chain import Chain
    from scalesim.core.clip import Clip
    from scalesim.core.moving import Moving
    from scalesim.io.clips.guarded import SavedClip
    from scalesim.jobs.predict.slips import Slips
    from scalesim.result import ClipTold

STILL_S = 4.0
"""Seconds of a clip of a still, which has no end of its own."""
SLIPS = "slip.csv"


class Clips:
    """The clips of the views: what was written, and what was not and why."""

    def __init__(self) -> None:
        self.saved: dict[str, SavedClip] = {}
        self.failed: dict[str, str] = {}
        self.slips: Slips | None = None

    def follow(self, found: Slips | None, folder: Path) -> None:
        """Keep what a free-running clock does, with every event as CSV."""
        self.slips = found
        if found is not None:
            (folder / SLIPS).write_text(found.csv(), encoding="utf-8", newline="\n")

    def write(
        self, movies: dict[str, Callable[[], Moving]], folder: Path, ending: str, *, card: bool
    ) -> None:
        """Write a clip of each view; one that fails does not lose the others."""
        from scalesim.errors import ScalesimError
        from scalesim.io.clips.guarded import save_clip

        counts = {name: make().count for name, make in movies.items()}
        for name, make in movies.items():
            if why := no_room(name, make, ending):
                self.failed[name] = why
                continue
            path = folder / f"{name}.{ending}"
            with Progress(counts[name] or 0) as progress:
                try:
                    self.saved[name] = save_clip(make, path, partial_of(progress, f"{name} clip"), card=card)
                except ScalesimError as error:
                    self.failed[name] = str(error)

    def files(self) -> dict[str, str]:
        """Return name -> file name."""
        from scalesim.io.clips.guarded import clip_files

        return clip_files(self.saved) | ({"slip": SLIPS} if self.slips is not None else {})

    def told(self) -> tuple[ClipTold, ...]:
        """Return the clips as the page tells them."""
        return tuple(saved.told(name) for name, saved in self.saved.items())

    def keys(self) -> dict[str, Any]:
        """Return the keys of the result document that are not the answer's own."""
        return {"slip": self.slips.to_dict()} if self.slips is not None else {}

    def sentences(self) -> list[str]:
        """Return what to know of every clip."""
        said = [text for saved in self.saved.values() for text in saved.sentences()]
        said += [self.slips.sentence()] if self.slips is not None else []
        return [*said, *(f"the {name} clip was not written: {why}" for name, why in self.failed.items())]


def no_room(name: str, make: Callable[[], Moving], ending: str) -> str:
    """Return why a clip cannot be as long as asked for, "" when it can."""
    from scalesim.errors import ParameterError
    from scalesim.io.clips.encoder import KINDS
    from scalesim.io.clips.write import check_room

    if KINDS[f".{ending}"].flat:
        return ""
    moving = make()
    first = next(iter(moving.pictures), None)
    if first is None or not moving.count:
        return ""
    try:
        check_room(Path(f"{name}.{ending}"), first.shape[0], first.shape[1], moving.count)
    except ParameterError as error:
        return str(error)
    return ""


def slips_of(source: Clip, chain: Chain, seconds: str | None, pan: str | None) -> Slips | None:
    """Return what the chain's free-running clock does to the clip that is written."""
    from scalesim.jobs.predict.slips import slips

    clip, length = moved(source, seconds, pan)
    rate = chain.resolve(clip.raster).output.rate
    pictures = None if length is None else round(float(rate) * length)
    with Progress(pictures or 0) as progress:
        return slips(clip, chain, pictures=pictures, advance=progress)


def moved(source: Clip, seconds: str | None, pan: str | None) -> tuple[Clip, float | None]:
    """Return the clip as it moves, and how many seconds of it are wanted."""
    from scalesim.core.pan import panned

    length = None if seconds is None else float(number("--seconds", seconds, "4"))
    if length is None and source.is_still:
        length = STILL_S
    if pan is None:
        return source, length
    samples, lines = pan_of(pan)
    return panned(source, samples=samples, lines=lines, seconds=length or STILL_S), length

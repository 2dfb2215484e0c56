"""Saving a clip, guarded: its flashes are counted as it is written, and a caution goes before dangerous ones.

Only when a whole clip has been seen is it known whether it needs the caution, and the caution comes
first: such a clip is made a second time.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.ahead import ahead
from scalesim.core.codes import to_codes
from scalesim.core.moving import Moving
from scalesim.errors import ScalesimError
from scalesim.io.clips.card import MOST_S, card_seconds, caution_card
from scalesim.io.clips.write import ClipFile, write_clips
from scalesim.result import CAUTION, ClipTold, FlashCount
from scalesim.signal.flashes.limits import FLASH_LIMIT, FlashReport
from scalesim.signal.flashes.meter import FlashMeter

MEASURED = ".flashes.json"


@dataclass(frozen=True)
class SavedClip:
    """A clip that was written, and what its flashes come to.

    Parameters:
        file : the clip; beside : the file with the counts; report : the counts
        card_s : seconds of caution in front, 0 when it needs none or has none
        why_no_card : why a clip that needs the caution has none in front, "" otherwise
    """

    file: ClipFile
    beside: Path
    report: FlashReport
    card_s: float
    why_no_card: str = ""

    @property
    def caution(self) -> str:
        """What to know of a clip that flashes beyond the limits, "" for another."""
        if self.report.passes:
            return ""
        if self.card_s:
            return f"A caution of {self.card_s:g} s goes before {self.file.path.name}. {CAUTION}"
        return f"No caution goes before {self.file.path.name} ({self.why_no_card}). {CAUTION}"

    def sentences(self) -> list[str]:
        """Return what was written and the verdict on its flashes."""
        clip = self.file
        rate = float(clip.frames / clip.seconds)
        pictures = "1 picture" if clip.frames == 1 else f"{clip.frames} pictures"
        said = [
            f"{clip.path.name}: {pictures} of {clip.width}x{clip.height}, {rate:.3f} a second.",
            *self.report.sentences(),
        ]
        if self.caution:
            said.append(self.caution)
        return [*said, *clip.notes]

    def told(self, name: str) -> ClipTold:
        """Return the clip as a page tells it; `name` is what the document calls it."""
        report = self.report
        counts = tuple(
            FlashCount(
                each.standard,
                each.field,
                each.general_flashes_per_s,
                each.red_flashes_per_s,
                FLASH_LIMIT,
                each.passes,
            )
            for each in (report.wcag, report.broadcast)
        )
        return ClipTold(
            name,
            self.file.path.name,
            counts,
            self.card_s,
            self.why_no_card,
            tuple(report.remarks()),
            self.to_dict(),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the clip's keys of the result document."""
        clip = self.file
        return {
            "frames": clip.frames,
            "seconds": float(clip.seconds),
            "rate_hz": float(clip.frames / clip.seconds),
            "width": clip.width,
            "height": clip.height,
            "caution_s": self.card_s,
            "caution": self.caution,
            "flashes": self.report.to_dict(),
            "notes": list(clip.notes),
        }


def save_clip(
    make: Callable[[], Moving],
    path: str | os.PathLike[str],
    step: Callable[[], None] | None = None,
    *,
    card: bool = True,
) -> SavedClip:
    """Write a clip and, beside it, its flash counts and caution (`<name>.flashes.json`).

    Parameters:
        make : gives the pictures afresh each time
        path : .mp4, .mkv, .apng or .webp
        step : called after each picture
        card : put the caution before a clip that exceeds a limit; without it the caution is told in words
            and beside only, and so it is when the clip can be written and its card cannot
    Raises: what `write_clip` and the pictures raise; nothing half-written is left
    """
    return save_clips(make, [path], step, card=card)[0]


def save_clips(
    make: Callable[[], Moving],
    paths: Sequence[str | os.PathLike[str]],
    step: Callable[[], None] | None = None,
    *,
    card: bool = True,
) -> list[SavedClip]:
    """Write the same clip to several files as `save_clip` does; its pictures are made and counted once."""
    first = make()
    meter = FlashMeter(first.rate)
    clips = write_clips(paths, _watched(first, meter), first.rate, field_order=first.first_field, step=step)
    report, card_s, why = meter.report(), 0.0, ""
    if not report.passes and not card:
        why = "left out as asked for"
    elif not report.passes:
        card_s = card_seconds(float(clips[0].seconds))
        try:
            clips = _with_card(make(), paths, report, card_s)
        except ScalesimError as error:
            card_s, why = 0.0, f"it could not be put there: {error}"
    saved = [
        SavedClip(clip, clip.path.with_name(clip.path.name + MEASURED), report, card_s, why) for clip in clips
    ]
    for each in saved:
        counts = {**report.to_dict(), "caution_s": card_s, "caution": each.caution}
        text = json.dumps(counts, indent=2, allow_nan=False) + "\n"
        each.beside.write_text(text, encoding="utf-8", newline="\n")
    return saved


def _with_card(
    again: Moving, paths: Sequence[str | os.PathLike[str]], report: FlashReport, seconds: float
) -> list[ClipFile]:
    """Write the clip once more, the card in front."""
    pictures = ahead(_coded(again))
    first = next(pictures)
    card = caution_card(report.sentences(), first.shape[:2], short=seconds < MOST_S)
    before = (card, ceil(seconds * again.rate))
    return write_clips(
        paths, chain([first], pictures), again.rate, field_order=again.first_field, before=before
    )


def clip_files(clips: Mapping[str, SavedClip]) -> dict[str, str]:
    """Return name -> file name of clips and their counts, for the result document."""
    files = {}
    for name, saved in clips.items():
        files[f"{name}-clip"] = saved.file.path.name
        files[f"{name}-clip-flashes"] = saved.beside.name
    return files


def _coded(moving: Moving) -> Iterator[NDArray[np.uint8]]:
    for picture in moving.pictures:
        yield picture if picture.dtype == np.uint8 else to_codes(picture)


def _watched(moving: Moving, meter: FlashMeter) -> Iterator[NDArray[np.uint8]]:
    """Yield the coded pictures, each counted; while one is written the next is counted, and one more made."""

    def counted() -> Iterator[NDArray[np.uint8]]:
        for codes in ahead(_coded(moving)):
            meter.add(codes)
            yield codes

    yield from ahead(counted())

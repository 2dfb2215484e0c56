"""Saving a clip, guarded: its flashes are counted as it is written, and a caution goes before dangerous ones.

Only when a whole clip has been seen is it known whether it needs the caution, and the caution comes
first: such a clip is made a second time.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.moving import Moving
from scalesim.io.clips.card import SECONDS, card_pictures
from scalesim.io.clips.write import ClipFile, write_clip
from scalesim.signal.flashes.limits import FlashReport
from scalesim.signal.flashes.meter import FlashMeter

MEASURED = ".flashes.json"


@dataclass(frozen=True)
class SavedClip:
    """A clip that was written, and what its flashes come to.

    Parameters:
        file : the clip; beside : the file with the counts; report : the counts
        card_s : seconds of caution in front, 0 when it needs none
    """

    file: ClipFile
    beside: Path
    report: FlashReport
    card_s: float

    def sentences(self) -> list[str]:
        """Return what was written and the verdict on its flashes."""
        clip = self.file
        rate = float(clip.frames / clip.seconds)
        said = [
            f"{clip.path.name}: {clip.frames} pictures of {clip.width}x{clip.height}, {rate:.3f} a second.",
            *self.report.sentences(),
        ]
        if self.card_s:
            said.append(f"A caution of {self.card_s:g} s goes before it. Take care whom you show it to.")
        return [*said, *clip.notes]

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
            "flashes": self.report.to_dict(),
            "notes": list(clip.notes),
        }


def save_clip(make: Callable[[], Moving], path: Path, step: Callable[[], None] | None = None) -> SavedClip:
    """Write a clip and its flash counts (`<name>.flashes.json`).

    Parameters:
        make : gives the pictures afresh each time
        path : .mp4, .mkv, .apng or .webp
        step : called after each picture
    Raises: what `write_clip` and the pictures raise; nothing half-written is left
    """
    first = make()
    meter = FlashMeter(first.rate)
    clip = write_clip(path, _watched(first, meter), first.rate, field_order=first.first_field, step=step)
    report, card_s = meter.report(), 0.0
    if not report.passes:
        again = make()
        card = card_pictures(report.sentences(), (clip.height, clip.width), again.rate)
        pictures = chain(card, _fitted(_coded(again), clip.height, clip.width))
        clip, card_s = write_clip(path, pictures, again.rate, field_order=again.first_field), float(SECONDS)
    beside = path.with_name(path.name + MEASURED)
    beside.write_text(json.dumps(report.to_dict(), indent=2, allow_nan=False) + "\n", encoding="utf-8")
    return SavedClip(clip, beside, report, card_s)


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
    """Yield the coded pictures, each counted; they are made while the one before is being written."""
    made = _coded(moving)

    def make() -> NDArray[np.uint8] | None:
        codes = next(made, None)
        if codes is not None:
            meter.add(codes)
        return codes

    with ThreadPoolExecutor(1, thread_name_prefix="clip") as maker:
        ahead = maker.submit(make)
        while (codes := ahead.result()) is not None:
            ahead = maker.submit(make)
            yield codes


def _fitted(pictures: Iterator[NDArray[np.uint8]], height: int, width: int) -> Iterator[NDArray[np.uint8]]:
    """Yield the pictures as large as they were stored the first time: their last line and sample repeated."""
    for codes in pictures:
        more = ((0, height - codes.shape[0]), (0, width - codes.shape[1]), (0, 0))
        yield codes if more == ((0, 0),) * 3 else np.pad(codes, more, mode="edge")

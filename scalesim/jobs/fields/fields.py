"""Fields: do successive fields of a capture carry the same lines, or lines half a line apart?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.picture import split_fields
from scalesim.core.raster import TOP_FIRST, Field, Raster
from scalesim.errors import NotMeasurable, ParameterError, ShapeError
from scalesim.metrics.flicker.percent import flicker_map
from scalesim.result import Result, Table
from scalesim.signal.field_offset import MOVED, FieldOffset, field_offset

MOST_FIELDS = 24
WOVEN_LINES = ((400, 640), (1000, 1088))
"""A progressive picture of an even number of lines from the one to the other is read as two woven fields:
480, 576 or 1080 lines, some of which a capture may have cut off."""

ONE_INSTANT = 0.7
"""Share of the misfit of two instants below which that of one says that whole pictures were sent."""
_LEAST_MOVED = 0.005
"""Share of the picture that must move before its fields' instants can be told."""

NEAR = 0.25
"""Offsets nearer to 1/2 than this are half a line, nearer to 0 the same lines."""

LANDINGS = {
    "interlaced": (Fraction(0), Fraction(1, 2)),
    "field-only, pair down": (Fraction(0), Fraction(0)),
    "field-only, pair up": (Fraction(0), Fraction(1)),
}
LANDING_UNSEEN = (
    "a line-locked capture does not show where a display draws the fields; a trace of the sync, or a photo "
    "of the tube's lines, would"
)


@dataclass(frozen=True, eq=False)
class FieldsFound(Result):
    """What the fields of a capture carry; a `Result`.

    `offset` is None when nothing could be told, `reason` says why. `whole`: the two fields of a frame show
    one instant, as progressive pictures do; None where nothing moves or single fields were given. `flicker`
    maps each landing to the mean light difference of successive fields in percent of white.
    """

    capture: str
    verdict: str
    offset: FieldOffset | None
    reason: str
    confidence: float
    flicker: dict[str, float]
    noise_percent: float | None
    by_field: bool
    fields: int
    means: tuple[NDArray, ...]
    whole: bool | None = None
    notes: tuple[str, ...] = field(default=())

    kind = "fields"
    title = "What the fields carry"

    @property
    def undecided(self) -> bool:
        """True when the fields cannot be told apart."""
        return self.verdict == "unknown"

    def remarks(self) -> list[str]:
        """Return how the capture was read."""
        return list(self.notes)

    @property
    def natural_landing(self) -> str:
        """The landing that suits the content: both fields on one set of lines when they are the same."""
        return "interlaced" if self.verdict == "interlaced content" else "field-only, pair down"

    @property
    def pictures(self) -> dict[str, NDArray]:
        """The mean of the fields of each parity."""
        names = ("first", "second") if self.by_field else ("top", "bottom")
        return {f"field-{name}": mean for name, mean in zip(names, self.means, strict=False)}

    def sentences(self) -> list[str]:
        """Return the verdict in words, what it means for flicker, and what would settle the landing."""
        said = [_VERDICTS[self.verdict] if self.offset else f"Undecided: {self.reason}."]
        if self.whole:
            said = ["Whole progressive pictures: in motion both fields of a frame show one instant."]
        elif self.whole is None and self.verdict == "interlaced content" and not self.by_field:
            said.append("Nothing that moves tells them from a progressive picture of twice the lines.")
        if self.offset is not None:
            said.append(
                f"The fields look {self.offset.lines:+.3f} ± {self.offset.error:.3f} field lines apart "
                f"(0 is the same lines, 0.5 a true interlace; the lower field looks lower when positive), "
                f"and waver by {self.offset.jitter:.3f} from field to field."
            )
            if self.offset.lines < -NEAR and not self.by_field:
                said.append("The offset is negative: the fields are swapped, or woven the other way round.")
        if self.flicker:
            shown = ", ".join(f"{name} {value:.1f} %" for name, value in self.flicker.items())
            said.append(f"Mean flicker, in percent of white, on each landing: {shown}.")
        said.append(f"Where the fields land is not known: {LANDING_UNSEEN}.")
        return said

    def table(self) -> Table:
        """Return the figures with their units."""
        rows = [("verdict", self.verdict, "")]
        if self.offset is not None:
            rows += [
                ("content offset", f"{self.offset.lines:.3f} ± {self.offset.error:.3f}", "field lines"),
                ("jitter from field to field", f"{self.offset.jitter:.3f}", "field lines"),
                ("picture that stood still", f"{100 * self.offset.still:.0f}", "%"),
            ]
        rows += [(f"flicker, {name}", f"{value:.2f}", "% of white") for name, value in self.flicker.items()]
        rows += [("fields read", str(self.fields), ""), ("confidence", f"{self.confidence:.2f}", "0…1")]
        return Table(
            "What the fields carry", ("what", "value", "unit"), tuple(rows), ("left", "right", "left")
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        found = self.offset
        why = {"landing_offset": LANDING_UNSEEN}
        if found is None:
            why |= dict.fromkeys(("content_offset", "content_error", "jitter_lines"), self.reason)
        if not self.flicker:
            why["flicker_percent"] = self.reason
        return {
            "capture": self.capture,
            "verdict": self.verdict,
            "content_offset": found.lines if found else None,
            "content_error": found.error if found else None,
            "landing_offset": None,
            "flicker_percent": self.flicker.get(self.natural_landing),
            "flicker_landing": self.natural_landing if self.flicker else None,
            "flicker_by_landing": dict(self.flicker),
            "noise_percent": self.noise_percent,
            "jitter_lines": found.jitter if found else None,
            "one_instant": self.whole,
            "still_percent": 100 * found.still if found else None,
            "fields_read": self.fields,
            "confidence": self.confidence,
            "why": why,
            "notes": list(self.notes),
        }


_VERDICTS = {
    "interlaced content": "The fields carry lines half a line apart: interlaced content.",
    "progressive": "Both fields carry the same lines: a progressive picture, sent twice.",
    "unknown": "The offset is neither that of one picture sent twice nor that of an interlace.",
}


def fields(captures: Clip | Sequence[Clip], *, most: int = MOST_FIELDS) -> FieldsFound:
    """Return what the fields of a capture carry.

    Parameters:
        captures : a clip, or pictures in the order of time. Interlaced modes, and progressive pictures of an
            even number of 400 to 640 or 1000 to 1088 lines, are woven frames; others are one field each
        most : at most so many fields are read
    The confidence is the chance that the offset lies on this side of the nearest limit, 1/4 or 3/4 line, its
    error being normal: (1 + erf(t / sqrt 2)) / 2 of t = distance / error; 0 when undecided. In whole
    progressive pictures it is 1 less the share of the misfit that one instant leaves against two.
    Raises: ShapeError when the pictures differ in size or are too few; ParameterError for what is no clip
    """
    clips = [captures] if isinstance(captures, Clip) else list(captures)
    for number, clip in enumerate(clips, start=1):
        if not isinstance(clip, Clip):
            raise ParameterError(
                f"capture {number} is {type(clip).__name__}; give clips made by read() or still_clip()"
            )
    if not clips:
        raise ShapeError("no capture was given; give a clip, or pictures in the order of time")
    found, parities, by_field = _read(clips, most)
    gray = [luma(values) for values in found]
    notes = tuple(dict.fromkeys(text for clip in clips for text in clip.notes))
    means, split = _means(found, parities), _split(gray, parities)
    raster = Raster(found[0].shape[0], found[0].shape[1])
    flicker, noise = _flicker(means, split, parities[0], raster)
    offset, reason = _offset(gray, parities)
    verdict, confidence = ("unknown", 0.0) if offset is None else _verdict(offset)
    apart = None if by_field or clips[0].raster.period == 2 else instants(gray)
    whole = None if apart is None else apart < ONE_INSTANT
    if whole and apart is not None:
        verdict, confidence = "progressive", 1 - apart
    return FieldsFound(
        clips[0].name,
        verdict,
        offset,
        reason,
        confidence,
        flicker,
        noise,
        by_field,
        len(found),
        means,
        whole,
        notes,
    )


def instants(gray: Sequence[NDArray]) -> float | None:
    """Return how much better the lines between follow from their own frame than from two frames, in motion.

    The lower field of a frame against its own upper field, over the same against the mean of that and the
    next frame's: squares, where the upper fields change. Well below 1 for whole pictures, above 1 for fields
    of two instants. None where too little moves.

    Parameters:  gray : (lines, samples) luma of the fields, upper and lower in turn
    """
    one = two = moved = 0.0
    for upper, lower, after in zip(gray[0::2], gray[1::2], gray[2::2], strict=False):
        own, later = _between(upper), _between(after)
        change = np.abs(later - own) > 3 * MOVED
        moved += float(change.mean())
        one += float(np.sum((lower - own)[change] ** 2))
        two += float(np.sum((lower - (own + later) / 2)[change] ** 2))
    count = len(gray[2::2])
    return one / two if count and two > 0 and moved / count > _LEAST_MOVED else None


def _between(field: NDArray) -> NDArray:
    """Return what lies half a line below each line."""
    return np.asarray((field + np.concatenate([field[1:], field[-1:]])) / 2)


def _offset(gray: list[NDArray], parities: list[int]) -> tuple[FieldOffset | None, str]:
    try:
        found = field_offset(gray, parities)
    except NotMeasurable as reason:
        return None, str(reason)
    if not isfinite(found.error) or found.error > NEAR / 2:
        return None, f"the offset is only known to ± {found.error:.2f} line: too little vertical detail"
    return found, ""


def _verdict(offset: FieldOffset) -> tuple[str, float]:
    from math import erf, sqrt

    apart = abs(offset.lines)
    distance = min(abs(apart - NEAR), abs(apart - 3 * NEAR))
    confidence = (1 + erf(distance / offset.error / sqrt(2))) / 2
    if apart < NEAR:
        return "progressive", confidence
    return ("interlaced content", confidence) if apart < 3 * NEAR else ("unknown", confidence)


def _read(clips: list[Clip], most: int) -> tuple[list[NDArray], list[int], bool]:
    """Return the fields in the order of time, their parities, and whether each picture was one field."""
    raster = clips[0].raster
    for clip in clips[1:]:
        if clip.raster != raster:
            raise ShapeError(
                f"{clip.name}: has {clip.raster.describe()}, {clips[0].name} {raster.describe()}; "
                "all pictures of a capture must have one size and mode"
            )
    woven = raster.period == 1 and raster.lines % 2 == 0 and _as_woven(raster.lines)
    by_field = raster.period == 1 and not woven
    pictures = [values for clip in clips for values in _pictures(clip, most)][:most]
    if woven:
        two = Raster(raster.lines // 2, raster.samples, fields=TOP_FIRST)
        pictures = [part for frame in pictures for part in split_fields(frame, two)][:most]
    if len(pictures) < 2:
        raise ShapeError(f"{clips[0].name}: holds one field; two or more in the order of time are needed")
    first = 0 if by_field or woven else raster.fields[0].parity
    return pictures, [(first + k) % 2 for k in range(len(pictures))], by_field


def _as_woven(lines: int) -> bool:
    return any(low <= lines <= high for low, high in WOVEN_LINES)


def _pictures(clip: Clip, most: int) -> list[NDArray]:
    count = clip.raster.period if clip.is_still else most
    return [picture.values for picture in islice(clip.pictures(), count)]


def _means(pictures: list[NDArray], parities: list[int]) -> tuple[NDArray, ...]:
    of_parity = ([v for v, p in zip(pictures, parities, strict=True) if p == parity] for parity in (0, 1))
    return tuple(np.asarray(np.mean(own, axis=0, dtype=np.float32)) for own in of_parity)


def _split(gray: list[NDArray], parities: list[int]) -> tuple[NDArray, NDArray] | None:
    """Return the means of two halves of the fields of one parity, to tell noise; None for too few."""
    same = [v for v, p in zip(gray, parities, strict=True) if p == parities[0]]
    if len(same) < 2:
        return None
    return np.mean(same[0::2], axis=0), np.mean(same[1::2], axis=0)


def _flicker(
    means: tuple[NDArray, ...], split: tuple[NDArray, NDArray] | None, first: int, raster: Raster
) -> tuple[dict[str, float], float | None]:
    """Return the mean flicker on each landing, noise taken off in squares, and that noise in percent."""
    order = (means[first], means[1 - first])
    noise = None
    if split is not None:
        grey = tuple(np.repeat(half[..., None], 3, axis=2).astype(np.float32) for half in split)
        flat = raster.with_(fields=(Field(0), Field(1)))
        # the halves hold a half of the fields each, the means all of them
        noise = float(flicker_map(grey, flat).mean()) / 2**0.5
    found = {}
    for name, landings in LANDINGS.items():
        own = raster.with_(fields=tuple(Field(p, landings[p]) for p in (first, 1 - first)))
        mean = float(flicker_map(order, own).mean())
        found[name] = float(np.sqrt(max(0.0, mean**2 - (noise or 0.0) ** 2)))
    return found, noise

"""Fields: do successive fields of a capture carry the same lines, or lines half a line apart?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import islice
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.picture import split_fields
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.errors import NotMeasurable, ParameterError, ShapeError
from scalesim.jobs.fields.flicker import FieldFlicker, fields_flicker
from scalesim.jobs.fields.words import EACH_ITS_OWN, ERRORS, apart, verdict_text
from scalesim.result import Result, Table
from scalesim.signal.field_instants import ONE_INSTANT, TWO_INSTANTS, instants
from scalesim.signal.field_offset import FieldOffset, field_offset

MOST_FIELDS = 24
WOVEN_LINES = ((400, 640), (1000, 1088))
"""A progressive picture of an even number of lines from the one to the other is read as two woven fields:
480, 576 or 1080 lines, some of which a capture may have cut off."""

NEAR = 0.25
"""Offsets nearer to 1/2 than this are half a line, nearer to 0 the same lines."""
_SURE = 0.02
"""An error up to which an offset at a limit is known well: another capture would tell the same."""
_STILL = 0.9
"""Share that must stand still where motion could be of fields or of whole pictures."""
_WOULD_TELL = "capture a textured picture that stands still"

LANDING_UNSEEN = (
    "a line-locked capture does not show where a display draws the fields; a trace of the sync, or a photo "
    "of the tube's lines, would"
)


@dataclass(frozen=True, eq=False)
class FieldsFound(Result):
    """What the fields of a capture carry; a `Result`.

    `offset` is None when nothing could be told, `reason` says why. `whole`: the two fields of a frame show
    one instant, as progressive pictures do; None where nothing moves that tells, or single fields were given.
    """

    capture: str
    verdict: str
    offset: FieldOffset | None
    reason: str
    confidence: float
    flicker: FieldFlicker
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
    def natural_landing(self) -> str | None:
        """The landing that suits the content: one set of lines for the same lines; None when undecided."""
        return _LANDING_OF.get(self.verdict)

    @property
    def pictures(self) -> dict[str, NDArray]:
        """The mean of the fields of each parity."""
        names = ("first", "second") if self.by_field else ("top", "bottom")
        return {f"field-{name}": mean for name, mean in zip(names, self.means, strict=False)}

    def sentences(self) -> list[str]:
        """Return the verdict in words, what it means for flicker, and what would settle the landing."""
        said = [
            f"Undecided: {self.reason}."
            if self.undecided
            else verdict_text(self.verdict, self.offset, whole=self.whole)
        ]
        if self.verdict == "progressive" and self.whole is False:
            said = [EACH_ITS_OWN]
        if self.whole:
            said = ["Whole progressive pictures: in motion both fields of a frame show one instant."]
        elif self.whole is None and self.verdict == "interlaced content" and not self.by_field:
            said.append("Nothing moves, so a progressive picture with twice the lines cannot be ruled out.")
        if self.offset is not None:
            said.append(
                f"The fields look {self.offset.lines:+.3f} ± {self.offset.error:.3f} field lines apart "
                f"(0 is the same lines, 0.5 a true interlace; the bottom field looks lower when positive), "
                f"and waver by {self.offset.jitter:.3f} from field to field."
            )
            if not self.undecided:
                said += apart(self.offset)
            if self.offset.lines < -NEAR and not self.by_field:
                said.append(
                    "The offset is negative: the fields are swapped, or were woven the other way round."
                )
        said += self.flicker.sentences()
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
        rows += [
            (f"flicker, {name}", f"{value:.2f}", "% of white") for name, value in self.flicker.percent.items()
        ]
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
        landing = self.natural_landing
        if landing is None:
            why |= dict.fromkeys(("flicker_percent", "flicker_landing"), _NO_LANDING)
        return {
            "capture": self.capture,
            "verdict": self.verdict,
            "content_offset": found.lines if found else None,
            "content_error": found.error if found else None,
            "landing_offset": None,
            "flicker_percent": self.flicker.percent[landing] if landing else None,
            "flicker_landing": landing,
            "flicker_by_landing": dict(self.flicker.percent),
            "flicker_moved_percent": 100 * self.flicker.moved,
            "noise_percent": self.flicker.noise,
            "jitter_lines": found.jitter if found else None,
            "one_instant": self.whole,
            "still_percent": 100 * found.still if found else None,
            "fields_read": self.fields,
            "confidence": self.confidence,
            "why": why,
            "notes": list(self.notes),
        }


_LANDING_OF = {"interlaced content": "interlaced", "progressive": "field-only, pair down"}
_NO_LANDING = "what the fields carry was not told, so no landing suits it; see flicker_by_landing"
_ONE_INSTANT = (
    "both fields of a frame show one instant; what moves between frames hides how far apart their lines look"
)
_EITHER_MOTION = (
    "what moves could be whole pictures or fields, and too little stands still to tell by; " + _WOULD_TELL
)


def fields(captures: Clip | Sequence[Clip], *, most: int = MOST_FIELDS) -> FieldsFound:
    """Return what the fields of a capture carry.

    Parameters:
        captures : a clip, or pictures in the order of time. Interlaced modes, and progressive pictures of an
            even number of 400 to 640 or 1000 to 1088 lines, are woven frames; others are one field each
        most : at most so many fields are read
    The confidence is the chance that the offset lies on this side of the nearest limit, 1/4 or 3/4 line, its
    error being normal: (1 + erf(t / sqrt 2)) / 2 of t = distance / error; 0 when undecided, as it is when t
    is below 2. In whole progressive pictures it is 1 less the share of the misfit that one instant leaves
    against two; the offset is None there.
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
    means = _means(found, parities)
    told = None if by_field or clips[0].raster.period == 2 else instants(gray)
    whole = _whole(told)
    offset, reason = _offset(gray, parities)
    if whole and told is not None:
        offset, reason, verdict, confidence = None, _ONE_INSTANT, "progressive", 1 - max(told)
    else:
        if offset is not None and told is not None and whole is None and offset.still < _STILL:
            offset, reason = None, _EITHER_MOTION
        verdict, confidence, reason = ("unknown", 0.0, reason) if offset is None else _verdict(offset)
    return FieldsFound(
        clips[0].name,
        verdict,
        offset,
        reason,
        confidence,
        fields_flicker(found, means, parities),
        by_field,
        len(found),
        means,
        whole,
        notes,
    )


def _whole(told: tuple[float, float] | None) -> bool | None:
    """Return whether the fields of a frame show one instant; None where that cannot be told."""
    if told is None or (max(told) >= ONE_INSTANT and told[0] <= TWO_INSTANTS):
        return None
    return max(told) < ONE_INSTANT


def _offset(gray: list[NDArray], parities: list[int]) -> tuple[FieldOffset | None, str]:
    try:
        found = field_offset(gray, parities)
    except NotMeasurable as reason:
        return None, str(reason)
    if not isfinite(found.error) or found.error > NEAR / 2:
        known = f"± {found.error:.2f} line" if found.error < 1 else "more than a line"
        return None, (
            f"the offset is only known to {known}: too little vertical detail stood still; {_WOULD_TELL}"
        )
    return found, ""


def _verdict(offset: FieldOffset) -> tuple[str, float, str]:
    """Return the verdict, its confidence and, when undecided, the reason."""
    from math import erf, sqrt

    apart = abs(offset.lines)
    distance = min(abs(apart - NEAR), abs(apart - 3 * NEAR)) / offset.error
    if distance < ERRORS and offset.error <= _SURE:
        known = f"{offset.lines:+.3f} ± {offset.error:.3f} line"
        return (
            "unknown",
            0.0,
            f"an offset of {known} is neither that of the same lines nor that of an interlace",
        )
    if distance < ERRORS:
        return (
            "unknown",
            0.0,
            (
                f"an offset of {offset.lines:+.2f} ± {offset.error:.2f} line could lie on either side of "
                f"1/4 or 3/4 line; {_WOULD_TELL}"
            ),
        )
    confidence = (1 + erf(distance / sqrt(2))) / 2
    if apart < NEAR:
        return "progressive", confidence, ""
    if apart < 3 * NEAR:
        return "interlaced content", confidence, ""
    return "unknown", 0.0, "the offset is neither that of the same lines nor that of an interlace"


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

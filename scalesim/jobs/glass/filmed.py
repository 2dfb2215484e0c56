"""A film of a tube: lines of its clear frames, where fields land by its timing, its aligned mean."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from scalesim.core.film_curves import Curve
from scalesim.core.photo import Film
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.curved import Still, grey_codes, without_light
from scalesim.jobs.glass.options import shutter_of, view_of_corners
from scalesim.jobs.glass.rates import timed_at
from scalesim.jobs.glass.read import Filmed, FilmPart
from scalesim.jobs.glass.steady import Looked, Part, looked_through
from scalesim.signal.glass.exposure import Landing, unknown
from scalesim.signal.glass.field_jitter import FieldJitter, field_jitter
from scalesim.signal.glass.film_jitter import jitter_over_time
from scalesim.signal.glass.timing import Timed

NO_FIELD = (
    "how long the shutter of the film was open is not known; give --shutter, or film at 50 a second or more"
)
NO_LINES = "too few lines are as bright as their neighbours; show a plain picture"
NO_BEZEL = (
    "a field's place is told against the tube; keep a piece of the bezel in view and name it by --bezel"
)
NO_TEXTURE = (
    "the bezel that was named shows too little to be registered by; name a part with letters or edges"
)


def read_film(film: Film, asked: Asked) -> GlassRead:
    """Return what a film shows; an answer that cannot tell carries the reason."""
    rect = None if asked.corners is None else view_of_corners(asked.corners, (film.rows, film.columns))
    shutter = None if asked.shutter is None else shutter_of(asked.shutter)
    notes = film.notes
    if not film.curve.plain:
        notes += (
            f"It is tagged {film.curve.name}, whose curve was undone; its pictures are shown with their "
            "brightest parts white.",
        )
    looked = looked_through(film, asked, rect)
    if not looked.parts:
        black = np.zeros((film.rows, film.columns, 3), np.uint8)
        first = black if looked.first is None else looked.first.picture
        return GlassRead(film.name, None, looked.reason, notes, first, 1, rect)
    told = [timed_at(part, asked.field_rate, shutter) for part in looked.parts]
    number = _chosen(looked.parts, told)
    part, own = looked.parts[number], told[number]
    filmed = _filmed(looked, told, number, film.curve, named=asked.bezel is not None)
    landing = _together(told, own.landing)
    found = replace(part.measured, landing=landing, **_stillness(part, own, shutter, looked.still))
    if filmed.doubt:
        found = without_light(found, filmed.doubt)
    return GlassRead(film.name, found, "", notes, part.shown.picture, 1, rect, filmed)


def _chosen(parts: list[Part], told: list[Timed]) -> int:
    """Return the part whose figures are told: the longest that decides, else the longest."""
    decided = [each.landing.sets != "unknown" for each in told]
    return max(range(len(parts)), key=lambda k: (decided[k], parts[k].frames))


def _together(told: list[Timed], own: Landing) -> Landing:
    """Return what the parts say: the chosen one's landing, unknown where another part says otherwise."""
    if len({each.landing.sets for each in told} - {"unknown"}) < 2:
        return own
    return unknown(
        "parts of the film show different tubes or pictures, one set of lines in some and two in others; "
        "cut the film and give one part at a time"
    )


def _stillness(part: Part, own: Timed, shutter: float | None, still: bool) -> dict[str, Any]:
    """Return what a measured frame says otherwise of a film: jitter of its lines, fields in a frame."""
    why = {key: reason for key, reason in part.measured.why.items() if key != "jitter_lines"}
    jitter = jitter_over_time(part.stills, part.turns)
    if jitter is None:
        why["jitter_lines"] = NO_LINES if still else NO_FIELD
    return {
        "jitter": jitter,
        "why": why,
        "fields": None if shutter is None else shutter * own.rate,
    }


def _filmed(looked: Looked, told: list[Timed], number: int, curve: Curve, *, named: bool) -> Filmed:
    part, own = looked.parts[number], told[number]
    strays: FieldJitter | None = None
    why = ""
    if not named:
        why = NO_BEZEL
    elif own.landing.sets == "unknown":
        why = "which field a frame shows is not known: one set or two cannot be told"
    else:
        strays = field_jitter(part.rows, own.signs, part.measured.period)
        why = NO_TEXTURE if strays is None else ""
    mean = (
        None
        if part.total is None
        else Still(grey_codes(part.total / np.float32(part.frames), part.shown.gain), part.shown.gain).picture
    )
    return Filmed(
        own,
        part.frames,
        part.rate,
        np.array(part.times),
        np.angle(np.array(part.turns)) / (2 * np.pi),
        np.array(part.scenes),
        mean,
        looked.read,
        looked.ended,
        tuple(looked.cuts),
        tuple(_part(each, said) for each, said in zip(looked.parts, told, strict=True)),
        number,
        strays,
        why,
        len(part.stills),
        curve,
        part.doubt,
    )


def _part(part: Part, own: Timed) -> FilmPart:
    return FilmPart(part.times[0], part.times[-1], part.frames, part.measured.period, own.landing)

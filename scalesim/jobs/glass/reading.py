"""Photos of one set-up, or a film, and what was asked, to the answer."""

from __future__ import annotations

import numpy as np

from scalesim.core.photo import Film, Photo
from scalesim.errors import NotMeasurable, ParameterError
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.filmed import read_film
from scalesim.jobs.glass.measured import Measured, focal_of, measure
from scalesim.jobs.glass.options import bezel_of, shutter_of, view_of_corners
from scalesim.signal.glass.sharpened import LEAST, harmonics

MOST_PHOTOS = 64


def read_set(photos: list[Photo | Film], asked: Asked) -> GlassRead:
    """Return what the photos or the film show; an answer that cannot tell carries the reason.

    Raises: ParameterError for what does not fit together
    """
    films = [each for each in photos if isinstance(each, Film)]
    if films and len(photos) > 1:
        raise ParameterError(
            f"glass: {len(photos)} files with a film among them; give one film, or photos of one set-up"
        )
    if films:
        return read_film(films[0], asked)
    return _photos([each for each in photos if isinstance(each, Photo)], asked)


def _photos(photos: list[Photo], asked: Asked) -> GlassRead:
    if len(photos) > MOST_PHOTOS:
        raise ParameterError(f"glass: {len(photos)} photos; give at most {MOST_PHOTOS} of one set-up")
    first = photos[0]
    for each in photos[1:]:
        if each.codes.shape != first.codes.shape:
            raise ParameterError(
                f"glass: {each.name} is {_size(each)}, {first.name} {_size(first)}; photos of one set-up "
                "have one size (two of different ones are laid side by side by --before and --after)"
            )
    rect = asked.view if asked.corners is None else view_of_corners(asked.corners, first.codes.shape[:2])
    name = first.name if len(photos) == 1 else f"{len(photos)} photos"
    notes = tuple(dict.fromkeys(note for each in photos for note in each.notes))
    if any(each.shot.merged for each in photos):
        notes += (
            "the camera says that it merged several exposures into one; where fields lie cannot be told "
            "from it, switch night and HDR modes off",
        )
    exposure = first.shot.exposure_s if asked.shutter is None else shutter_of(asked.shutter)
    try:
        found = measure(
            first.light,
            [each.light for each in photos[1:]],
            rect=rect,
            expected=asked.lines,
            fields=None if exposure is None else exposure * asked.field_rate,
            bezel=None if asked.bezel is None else bezel_of(asked.bezel),
            tripod=asked.tripod,
            focal=focal_of(first),
        )
    except NotMeasurable as reason:
        return GlassRead(name, None, str(reason), notes, _preview(first), len(photos), rect)
    return GlassRead(name, found, "", notes + _sharpened(found), _preview(first), len(photos), rect)


def _sharpened(found: Measured) -> tuple[str, ...]:
    """Return a note where the lines of a photo fall off faster than beams do."""
    shape = harmonics(found.profiles)
    if shape is None or shape.ratio >= LEAST:
        return ()
    return (
        f"its lines fall off faster than beams do (their second harmonic is {shape.ratio:.2f} of a beam's, "
        f"n = {shape.pixels} pixels): the camera sharpened it, or fields lie up to a quarter line apart; "
        "widths then read too thin and gaps too deep",
    )


def _size(photo: Photo) -> str:
    return f"{photo.codes.shape[1]}x{photo.codes.shape[0]}"


def _preview(photo: Photo) -> np.ndarray:
    """Return the photo as 8-bit codes, for showing."""
    codes = photo.codes
    return codes if codes.dtype == np.uint8 else (codes >> 8).astype(np.uint8)

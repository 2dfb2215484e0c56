"""Glass: what photos or a film of a tube show. Which question is asked decides who answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from scalesim.chain import Chain
from scalesim.core.camera import Camera
from scalesim.core.clip import Clip
from scalesim.core.photo import Film, Photo
from scalesim.errors import NotIdentifiable, ParameterError
from scalesim.jobs.glass.against import Explained, explain
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.explained import GlassExplained
from scalesim.jobs.glass.measured import Measured
from scalesim.jobs.glass.options import shutter_of, view_of_corners
from scalesim.jobs.glass.plan import DEFAULT_DISPLAY, planned
from scalesim.jobs.glass.reading import read_set
from scalesim.jobs.glass.straighten import by_chart, by_source, placed
from scalesim.jobs.glass.two import beside
from scalesim.result import Result
from scalesim.signal.rectify.view import View
from scalesim.tube.display import Display, display_named

_T = TypeVar("_T")


def glass(
    photos: Sequence[Photo | Film] = (),
    *,
    before: Photo | None = None,
    after: Photo | None = None,
    source: Any = None,
    chain: Sequence[Chain] = (),
    plan: bool = False,
    camera: Camera | None = None,
    display: Display | None = None,
    corners: str | None = None,
    lines: int | None = None,
    field_rate: float = 59.94,
    shutter: str | None = None,
    bezel: str | None = None,
    tripod: bool = False,
    chart: str | None = None,
    whole: bool = False,
) -> Result:
    """Return what photos or a film of a tube show.

    Raises: ParameterError for keys that do not fit each other
    """
    if plan:
        return planned(display, camera, lines=lines, field_rate=field_rate)
    if before is not None or after is not None:
        return _two(photos, before, after)
    if not photos:
        raise ParameterError("glass: no photo was given; name a photo or a film, or ask for --plan")
    asked = Asked(corners, lines, field_rate, shutter, bezel, tripod, whole)
    if source is None and chain:
        raise ParameterError("glass: --chain without the frame it was fed; give --source FRAME")
    if source is None and chart is None:
        return read_set(list(photos), asked)
    if len(photos) != 1 or not isinstance(photos[0], Photo):
        raise ParameterError("glass: --source and --chart take one photo, no film and no burst; give one")
    if chart is not None:
        return _straightened(photos[0], asked, by_chart(photos[0], chart))
    return _against(photos[0], source, chain, display or display_named(DEFAULT_DISPLAY), asked)


def _two(photos: Sequence[Any], before: Photo | Film | None, after: Photo | Film | None) -> Result:
    """Return two photos beside each other."""
    if photos or before is None or after is None:
        raise ParameterError(
            "glass: two photos are laid on each other by --before and --after; give both, alone"
        )
    if not (isinstance(before, Photo) and isinstance(after, Photo)):
        raise ParameterError("glass: --before and --after take photos, no films; take a still of each first")
    return beside(before, after)


def _against(photo: Photo, source: Clip, chain: Sequence[Chain], tube: Display, asked: Asked) -> Result:
    """Return a photo against its predictions; without a chain, a photo straightened by the frame."""
    aspect = float(tube.aspect)
    if not chain:
        view = _sized(photo, asked, lambda period: by_source(photo, source, aspect, period))
        return _straightened(photo, asked, view)
    made = explained_by(photo, source, chain, aspect, asked)
    if asked.corners is None:
        asked = replace(asked, view=made.view)
    return GlassExplained(photo.name, made, read_set([photo], asked), tube)


def _straightened(photo: Photo, asked: Asked, view: View) -> Result:
    """Return a reading that also says where the picture lies, for other photos from the same place."""
    found = read_set([photo], replace(asked, view=view))
    return replace(found, notes=(*found.notes, placed(view)))


def explained_by(
    photo: Photo, source: Clip, chain: Sequence[Chain], aspect: float, asked: Asked
) -> Explained:
    """Return how chains explain a photo of the whole picture, or a part whose size its lines tell."""
    corners = None if asked.corners is None else view_of_corners(asked.corners, photo.codes.shape[:2])
    exposure = photo.shot.exposure_s if asked.shutter is None else shutter_of(asked.shutter)
    fields = None if exposure is None else exposure * asked.field_rate
    return _sized(
        photo,
        asked,
        lambda period: explain(
            photo, source, chain, corners=corners, period=period, fields=fields, aspect=aspect
        ),
    )


def _sized(photo: Photo, asked: Asked, register: Callable[[float | None], _T]) -> _T:
    """Return what `register` makes of the whole picture; else of a part, whose size its lines tell."""
    try:
        return register(None)
    except NotIdentifiable:
        found = read_set([photo], asked).found
        if found is None:
            raise
        return register(field_period(found))


def field_period(found: Measured) -> float:
    """Return the pixels from line to line of a field: two sets of lines lie at half of it."""
    return found.period * (2 if found.landing.sets == "two" else 1)

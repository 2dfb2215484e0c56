"""Glass: what photos or a film of a tube show. Which question is asked decides who answers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scalesim.chain import Chain
from scalesim.core.camera import Camera
from scalesim.core.photo import Film, Photo
from scalesim.errors import ParameterError
from scalesim.jobs.glass.plan import planned
from scalesim.jobs.glass.reading import Asked, read_set
from scalesim.result import Result
from scalesim.tube.display import Display


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
) -> Result:
    """Return what photos or a film of a tube show.

    Raises: ParameterError for keys that do not fit each other
    """
    if plan:
        return planned(display, camera, lines=lines, field_rate=field_rate)
    if not photos:
        raise ParameterError("glass: no photo was given; name a photo or a film, or ask for --plan")
    asked = Asked(corners, lines, field_rate, shutter, bezel, tripod)
    return read_set(list(photos), asked)

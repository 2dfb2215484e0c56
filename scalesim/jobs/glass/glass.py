"""Glass: what photos or a film of a tube show. Which question is asked decides who answers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scalesim.core.photo import Film, Photo
from scalesim.errors import ParameterError
from scalesim.result import Result


def glass(
    photos: Sequence[Photo | Film] = (),
    *,
    before: Photo | None = None,
    after: Photo | None = None,
    source: Any = None,
    chain: Any = None,
    plan: bool = False,
    camera: str | None = None,
    display: str | None = None,
    corners: str | None = None,
    lines: int | None = None,
    field_rate: float = 59.94,
    shutter: str | None = None,
    bezel: str | None = None,
) -> Result:
    """Return what photos or a film of a tube show.

    Raises: ParameterError for keys that do not fit each other
    """
    if not photos:
        raise ParameterError("glass: no photo was given; name a photo or a film, or ask for --plan")
    raise ParameterError("glass: photos are not read yet")

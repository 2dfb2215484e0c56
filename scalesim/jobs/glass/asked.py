"""What was said of the photos."""

from __future__ import annotations

from dataclasses import dataclass

from scalesim.signal.rectify.view import View


@dataclass(frozen=True)
class Asked:
    """What was said of the photos, as it was given; see the job's keys. `view` : where the picture lies."""

    corners: str | None = None
    lines: int | None = None
    field_rate: float = 59.94
    shutter: str | None = None
    bezel: str | None = None
    tripod: bool = False
    whole: bool = False
    view: View | None = None

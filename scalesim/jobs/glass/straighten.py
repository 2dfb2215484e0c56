"""Where the picture lies in a photo: by the geometry chart it shows, or by the frame that was sent."""

from __future__ import annotations

import numpy as np

from scalesim.charts.geometry import geometry_chart
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.photo import Photo
from scalesim.signal.rectify.by_frame import view_by_frame
from scalesim.signal.rectify.discs import view_by_discs
from scalesim.signal.rectify.view import View


def by_chart(photo: Photo, mode: str) -> View:
    """Return the view of a photo of the geometry chart of a mode.

    Parameters:  mode : as the chart was made for, and after a colon its shape where it was asked for, such
        as "720p" or "720p:4:3"
    Raises: ParameterError for an unknown mode; NotIdentifiable where the chart is not found
    """
    name, _, aspect = mode.partition(":")
    chart = geometry_chart(name.strip(), aspect=aspect.strip() or None)
    return view_by_discs(photo.light, chart.truth["marks"], chart.frame.shape[:2])


def by_source(photo: Photo, source: Clip, aspect: float, period: float | None = None) -> View:
    """Return the view of a photo that shows a frame over the face of a tube.

    Parameters:  period : pixels from line to line where the photo shows a part; None takes it for the whole

    Raises: NotIdentifiable where it does not
    """
    frame = source.still_at(0).frame
    assert frame is not None
    return view_by_frame(photo.light, luma(frame), aspect=aspect, period=period, name=photo.name)


def placed(view: View) -> str:
    """Return where a picture lies in a photo, as the option takes it that places it in others."""
    at = view.to_photo(np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]))
    corners = " ".join(f"{x:.0f},{y:.0f}" for x, y in at)
    return (
        f"The picture was found by {view.how} (n = {view.points} places, {view.residual or 0:.1f} pixels "
        f'off). Other photos from the same place take --corners "{corners}".'
    )

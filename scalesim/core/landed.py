"""The picture on the screen's lines, and the frame as a file holds it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.picture import weave
from scalesim.core.raster import Raster


def woven(pictures: Sequence[NDArray], raster: Raster) -> NDArray:
    """Return the frame: a progressive picture as it is, or two fields by the parity of their content.

    Parameters:  pictures : (lines, samples, 3) each, at least `raster.period`, in the order of time
    Returns:     (frame_lines, samples, 3), same dtype, code values
    """
    if raster.period == 1:
        return pictures[0]
    return weave(list(pictures[:2]), [field.parity for field in raster.fields])


def landed(pictures: Sequence[NDArray], raster: Raster) -> NDArray:
    """Return the picture as its lines land on the screen, over one cycle of a still.

    - progressive: the picture; when a still gives alternating pictures, their mean in light;
    - interlaced: each field's lines where they land, between the other's;
    - field-only: the mean in light of both fields on one set of scan lines. With landings a line
      apart the first scan line gets one field only (half its light), and the line of the other field
      that falls below the last scan line is not shown.

    Returns:  (landed_lines, samples, 3), same dtype, code values
    """
    if raster.scan == "interlaced":
        return _interleaved(pictures, raster)
    if len(pictures) == 1:
        return pictures[0]
    light = sum(
        _moved_down(code_to_light(values), int(raster.fields[k % raster.period].landing))
        for k, values in enumerate(pictures)
    )
    return light_to_code(np.asarray(light) / pictures[0].dtype.type(len(pictures)))


def _interleaved(pictures: Sequence[NDArray], raster: Raster) -> NDArray:
    rows = [int(2 * field.landing) for field in raster.fields]
    top = min(rows)
    return weave(list(pictures[:2]), [row - top for row in rows])


def _moved_down(light: NDArray, lines: int) -> NDArray:
    if lines == 0:
        return light
    out = np.zeros_like(light)
    out[lines:] = light[:-lines]
    return out

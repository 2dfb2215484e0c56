"""The view of a photo by what the tube shows: the frame that was sent, or what a chain makes of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.match import match
from scalesim.signal.rectify.patches import patch_shifts
from scalesim.signal.rectify.sampled import local_contrast, reduced, sampled
from scalesim.signal.rectify.view import View, fit_view, height_error

ROWS = 600
"""Rows of the picture while it is registered: 2.5 for each of 240 lines."""

_BLUR = 1.6
_ROUNDS = 3
_FEWEST = 12


def view_by_frame(
    light: NDArray,
    picture: NDArray,
    *,
    aspect: float = 4 / 3,
    period: float | None = None,
    name: str = "photo",
    start: View | None = None,
) -> View:
    """Return the view of a photo that shows a picture.

    Parameters:
        light : (rows, columns) linear light of the photo
        picture : (lines, samples) luma code values 0..1 of what the tube shows, edge to edge
        aspect : width over height of the picture on the tube
        period : pixels from scan line to scan line where that is known; else the picture is taken to fill
            most of the photo
        start : a view that is right to some lines, such as the one of corners; None looks for it
    Raises: NotIdentifiable where the photo does not show that picture
    """
    size = light.shape
    # scan lines 2.5 pixels apart, or the photo as high as the picture
    factor = max(1, round((period / 2.5) if period else size[0] / ROWS))
    small = reduced(light, factor)
    photo = local_contrast(_blurred(small, _BLUR) ** (1 / 2.2), 60)
    flat = local_contrast(_blurred(sampled_picture(picture, ROWS, aspect), _BLUR), 60)
    if start is None:
        found = match(flat, photo, ("the frame", name))
        shape = np.array([flat.shape[1], flat.shape[0]])
        view = fit_view((found.first + 0.5) / shape, found.second, small.shape, terms=1)
    else:
        view = start.reduced(factor)
    view = _refined(view, photo, flat, name)
    return view.reduced(1 / factor) if factor > 1 else view


def sampled_picture(picture: NDArray, rows: int, aspect: float) -> NDArray[np.float32]:
    """Return a picture at another size by area: (rows, rows * aspect) float32."""
    from skimage.transform import resize

    shape = (rows, round(rows * aspect))
    return resize(picture, shape, order=1, anti_aliasing=True).astype(np.float32)


def _refined(view: View, photo: NDArray, flat: NDArray, name: str) -> View:
    """Return the view by patches that are alike; NotIdentifiable where too few are."""
    shape = np.array([flat.shape[1], flat.shape[0]])
    rows, columns = np.indices(flat.shape)
    grid = (np.stack([columns.ravel(), rows.ravel()], axis=1) + 0.5) / shape
    for _ in range(_ROUNDS):
        seen = sampled(photo, view.to_photo(grid)).reshape(flat.shape)
        places, shifts = patch_shifts(flat, seen)
        if len(places) < _FEWEST:
            raise NotIdentifiable(
                f"{name}: it looks like the frame in {len(places)} places only ({_FEWEST} are needed): "
                "another picture, or too blurred; give --corners"
            )
        uv, found = (places + 0.5) / shape, view.to_photo((places + shifts + 0.5) / shape)
        view = fit_view(uv, found, view.size, terms=1, how="the frame that was sent")
    return replace(view, height_error=height_error(uv, found, view.size))


def _blurred(values: NDArray, sigma: float) -> NDArray:
    from scipy import ndimage

    return np.asarray(ndimage.gaussian_filter(values, sigma))

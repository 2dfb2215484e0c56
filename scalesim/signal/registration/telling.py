"""What a picture can tell of its place: what is refused, and how far a fit may be believed.

Stated errors are those of the fit, a floor for what codecs and kernels move a picture by without any
scatter, and more where the picture hardly tells its motions apart: noise then leans on the fit alike
everywhere, which no scatter shows. Measured on 320 simulated moves of eight pictures (condition number 1.5
to 3.6, noise 0 to 3 codes): all places and scales within 3 stated errors. A single box in noise (condition
number 3 to 60) keeps its place within them, but its size may be off by 0.3 %, more than is stated.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable, ShapeError
from scalesim.signal.registration.align import Fit, detail, reduced
from scalesim.signal.registration.coarse import capture_blocks

MOST_CONDITION = 50.0
"""Above this thin or small boxes were misplaced by up to 16 lines."""
_LEANS, _LEANS_SCALE = 4.0, 2.0
"""Condition numbers from which errors of places and of scales grow with it."""
_FLOOR = 0.008
"""Share of a value of the fit's grid that codecs and kernels move a picture by without any scatter."""
_LEAST_SLOPE = 0.05 / 255
_LEAST_AGREEMENT = 0.4
"""Below this what varies along an axis is mostly noise: poor captures of pictures reach 0.98."""
_LEAST_DETAIL = 1.5 / 255


def checked(values: NDArray, name: str) -> NDArray:
    """Return luma as float32 in memory order; raise ShapeError or NotIdentifiable for what cannot serve."""
    if values.ndim != 2 or min(values.shape) < 32:
        raise ShapeError(
            f"{name}: shape is {values.shape}; it must be (lines, samples) of luma, at least 32 of each"
        )
    picture = np.ascontiguousarray(values, np.float32)
    if not np.all(np.isfinite(picture)):
        raise ShapeError(f"{name}: holds values that are not finite; give code values 0..1")
    blocks = capture_blocks((picture.shape[0], picture.shape[1]))
    if float(np.std(detail(reduced(picture, *blocks)))) < _LEAST_DETAIL:
        raise NotIdentifiable(
            f"{name}: is almost flat (detail below {_LEAST_DETAIL * 255:g} codes); there is nothing to "
            "register by: capture a picture with outlines or texture"
        )
    for axis, way in enumerate(("down the picture", "along the lines")):
        if float(np.std(np.diff(reduced(picture, *blocks), axis=axis))) < _LEAST_SLOPE:
            raise NotIdentifiable(
                f"{name}: nothing varies {way}, so the place that way cannot be told: "
                "capture a picture with outlines both ways"
            )
    return picture


def check_telling(best: Fit, name: str) -> None:
    """Raise NotIdentifiable where what varies along an axis is noise, or the motions cannot be told apart."""
    for agreement, way in zip(best.agreement, ("down the picture", "along the lines"), strict=True):
        if agreement < _LEAST_AGREEMENT:
            raise NotIdentifiable(
                f"{name}: what varies {way} correlates by {max(0.0, agreement):.2f} with the source, "
                f"at least {_LEAST_AGREEMENT:g} is needed to tell the place that way: "
                "capture a picture with outlines both ways"
            )
    if best.condition > MOST_CONDITION:
        raise NotIdentifiable(
            f"{name}: moves and sizes cannot be told apart (condition number {best.condition:.0f}, at most "
            f"{MOST_CONDITION:g}): too few outlines, or all in one place; "
            "capture a picture with outlines all over"
        )


def stated_errors(best: Fit, blocks: tuple[int, int], size: tuple[int, int]) -> tuple[float, ...]:
    """Return standard errors of lines and samples at the middle, and of both scales, in source units.

    Parameters:  blocks : capture lines and samples of a value of the fit's grid; size : of the capture
    """
    floors = (_FLOOR * blocks[0] * best.lines.scale, _FLOOR * blocks[1] * best.samples.scale)
    leans = max(1.0, best.condition / _LEANS), max(1.0, best.condition / _LEANS_SCALE)
    middles = [float(np.hypot(e, f)) * leans[0] for e, f in zip(best.errors[[0, 2]], floors, strict=True)]
    scales = [
        float(np.hypot(e, f * 4 / count)) * leans[1]
        for e, f, count in zip(best.errors[[1, 3]], floors, size, strict=True)
    ]
    return (*middles, *scales)

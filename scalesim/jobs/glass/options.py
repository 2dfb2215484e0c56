"""What is asked in words: corners, shutter, a part of the photo."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError
from scalesim.signal.rectify.view import View, fit_view

_LEAST_SIDE = 64
"""Pixels: in less no scan line is told from the next."""


def view_of_corners(text: str, size: tuple[int, int]) -> View:
    """Return the view of the picture's corners, left top, right top, right bottom, left bottom.

    Parameters:  text : "x,y x,y x,y x,y" in pixels; size : (rows, columns) of the photo
    Raises: ParameterError for anything else, corners that do not go round a picture, or one that is too small
    """
    at = _numbers(text, 8, "corners", 'give four points as "x,y x,y x,y x,y"').reshape(4, 2)
    sides = np.roll(at, -1, axis=0) - at
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    if (turns <= 0.001 * np.hypot(*sides.T) * np.hypot(*after.T)).any():
        raise ParameterError(
            "corners: they do not go round a picture; give left top, right top, right bottom and left bottom"
        )
    if (shortest := float(np.hypot(*sides.T).min())) < _LEAST_SIDE:
        raise ParameterError(
            f"corners: a side of the picture is {shortest:.1f} pixels long and must be {_LEAST_SIDE} at "
            "least; give the corners in pixels of the photo"
        )
    places = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    return fit_view(places, at, size, terms=0, how="the corners that were given")


def bezel_of(text: str) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom of "left,top,right,bottom"."""
    left, top, right, bottom = (
        int(v) for v in _numbers(text, 4, "bezel", "give left,top,right,bottom in pixels")
    )
    if right - left < 40 or bottom - top < 64:
        raise ParameterError(
            f"bezel: {text} (left,top,right,bottom) is {right - left} pixels wide and {bottom - top} high; "
            "at least 40 wide and 64 high are needed"
        )
    return left, top, right, bottom


def shutter_of(text: str) -> float:
    """Return seconds of "1/60" or "0.0167"."""
    try:
        found = float(Fraction(text.strip().removesuffix("s").strip()))
    except (ValueError, ZeroDivisionError):
        found = 0.0
    if not 1e-5 <= found <= 60:
        raise ParameterError(f"shutter: {text[:40]!r} is no time from 1/100000 to 60 s; give it as 1/60")
    return found


def _numbers(text: str, count: int, name: str, remedy: str) -> NDArray[np.float64]:
    words = text.replace(",", " ").replace(";", " ").split()
    try:
        found = np.array([float(word) for word in words])
    except ValueError:
        raise ParameterError(f"{name}: {text[:60]!r} holds what is no number; {remedy}") from None
    if len(found) != count or not np.isfinite(found).all():
        raise ParameterError(f"{name}: {len(found)} numbers were given, {count} are needed; {remedy}")
    return found

"""Clips that flash, and what the guard says of them."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import numpy as np

from scalesim.signal.flashes.limits import FlashReport
from scalesim.signal.flashes.meter import FlashMeter

SIZE = (72, 96)


def srgb_code(light: float) -> float:
    """Code value of a relative luminance (IEC 61966-2-1, inverse, above its straight part)."""
    return 1.055 * light ** (1 / 2.4) - 0.055


def tube_code(light: float) -> float:
    """Code value of a share of white on a screen of BT.1886."""
    return light ** (1 / 2.4)


def grey(code: float, size: tuple[int, int] = SIZE) -> np.ndarray:
    return np.full((*size, 3), code, np.float32)


def measured(clip: Iterable[np.ndarray], rate: Fraction = Fraction(60), **viewing: object) -> FlashReport:
    meter = FlashMeter(rate, **viewing)
    for picture in clip:
        meter.add(picture)
    return meter.report()


def flashing(
    dark: np.ndarray, bright: np.ndarray, flashes: float, every: int = 8, rest: int = 3
) -> list[np.ndarray]:
    """Return a clip of dark pictures with some flashes `every` pictures, at 60 a second; .5 ends bright."""
    clip = [dark] * 2
    changes = round(2 * flashes)
    for change in range(changes):
        clip += [bright if change % 2 == 0 else dark] * (every // 2)
    return clip + [clip[-1]] * rest

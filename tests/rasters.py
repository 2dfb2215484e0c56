"""Rasters the laws are tried on: few samples, so that a thousand checks stay quick."""

from __future__ import annotations

from fractions import Fraction

from scalesim.core.raster import BOTTOM_FIRST, TOP_FIRST, Raster

SAMPLES = 24

PROGRESSIVE_720 = Raster(720, SAMPLES)
PROGRESSIVE_480 = Raster(480, SAMPLES, Fraction(60000, 1001), aspect=Fraction(4, 3))
ODD_481 = Raster(481, SAMPLES)
INTERLACED_540 = Raster(540, SAMPLES, Fraction(60), TOP_FIRST)
BOTTOM_FIRST_540 = Raster(540, SAMPLES, Fraction(60), BOTTOM_FIRST)
INTERLACED_240 = Raster(240, SAMPLES, Fraction(60000, 1001), TOP_FIRST, Fraction(4, 3))

ALL = {
    "720p": PROGRESSIVE_720,
    "480p": PROGRESSIVE_480,
    "481 lines": ODD_481,
    "1080i": INTERLACED_540,
    "1080i bottom first": BOTTOM_FIRST_540,
}

WITH_FIELDS = {
    "480i": INTERLACED_240,
    "480p": PROGRESSIVE_480,
    "1080i": INTERLACED_540,
    "1080i bottom first": BOTTOM_FIRST_540,
}
"""Where fields come in or, from frames, may go out."""

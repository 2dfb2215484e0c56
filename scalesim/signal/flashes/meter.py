"""A guard against flashes that can set off a seizure: counts them in a clip as it is shown.

Two sets of limits are applied, each with its own light:

- WCAG 2.x, success criterion 2.3.1, on relative luminance (sRGB): no more than three general flashes
  and no more than three red flashes in any one second over more than a quarter of any 10-degree
  field, here WCAG's own estimate of one, 341 x 256 pixels of 1024 x 768: 10 x 7.5 degrees. A general
  flash is a pair of opposing changes of 10 % of white or more, the darker state below 0.80.
- ITU-R BT.1702-3 (2023), guideline 1, on screen light (BT.1886): no more than three flashes (six
  changes) in any one second over more than a quarter of the screen; a change is 20 cd/m2 or more
  where the darker state is below 160 cd/m2, or any to or from a saturated red. Flashing for more than
  5 seconds is a risk even if it is allowed; it is told, not failed.

Both standards ask for the area of flashes that occur concurrently; what that is, `at_once` says. Half a
flash counts: seven changes in a second are 3.5 flashes. What flashes count is in `changes`.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma
from scalesim.errors import NotMeasurable, ParameterError, ShapeError
from scalesim.signal.flashes.at_once import Watch
from scalesim.signal.flashes.changes import Cells, LightChanges, RedChanges
from scalesim.signal.flashes.limits import (
    DARKER_CD_M2,
    DARKER_SHARE,
    SDR_WHITE_CD_M2,
    STEP_CD_M2,
    STEP_SHARE,
    FlashReport,
    Verdict,
)

FIELD_DEGREES = (10.0, 7.5)
"""Width and height of the part of the screen that stands for a 10-degree field."""

MOST_RATE = 240


class FlashMeter:
    """Counts flashes picture by picture; keeps one second of changes, whatever the length of the clip.

    Parameters:
        rate : pictures per second as shown, above 0 and at most 240
        degrees : (width, height) the screen subtends for its viewer; 30 x 22.5 is what WCAG's estimate
            takes for 1024 x 768. Larger angles (nearer viewers) make 10 degrees less of the picture
        white_cd_m2 : luminance of white for the limits of BT.1702-3, at most 200, its figure for a
            standard-range screen (its limits for more are others)
    Raises: ParameterError for values outside these ranges
    """

    def __init__(
        self,
        rate: Fraction,
        degrees: tuple[float, float] = (30.0, 22.5),
        white_cd_m2: float = SDR_WHITE_CD_M2,
    ) -> None:
        if not 0 < rate <= MOST_RATE:
            raise ParameterError(
                f"rate is {rate}; it must be above 0 and at most {MOST_RATE} pictures a second"
            )
        if len(degrees) != 2 or not all(0 < angle <= 180 for angle in degrees):
            raise ParameterError(f"degrees is {degrees}; give the screen's width and height, each up to 180")
        if not 0 < white_cd_m2 <= SDR_WHITE_CD_M2:
            raise ParameterError(
                f"white_cd_m2 is {white_cd_m2}; it must be above 0 and at most {SDR_WHITE_CD_M2:g} "
                "(take 200 for any brighter standard-range screen)"
            )
        self._rate, self._degrees, self._white = Fraction(rate), degrees, float(white_cd_m2)
        self._pictures = 0

    def add(self, codes: NDArray) -> None:
        """Take the next picture as it is shown.

        Parameters:  codes : (lines, samples, 3) uint8, or float code values of which 0..1 is shown
        Raises: ShapeError for a wrong shape or dtype, or a size other than the first picture's;
            ParameterError for values that are NaN or infinite
        """
        codes = np.asarray(codes)
        if self._pictures == 0:
            self._begin(codes)
        else:
            srgb, tube = self._cells.light(codes)
            red = self._red.add(srgb)
            general = self._general.add(luma(srgb))
            bright = self._bright.add(luma(tube))
            for watch, changes in zip(self._watches, (general, red, bright, red), strict=True):
                watch.add(*changes)
        self._pictures += 1

    def _begin(self, codes: NDArray) -> None:
        if codes.ndim != 3 or codes.shape[2] != 3 or 0 in codes.shape:
            raise ShapeError(f"picture has shape {codes.shape}; it must be (lines, samples, 3)")
        cells = Cells(codes.shape[0], codes.shape[1], self._degrees)
        srgb, tube = cells.light(codes)
        self._cells = cells
        self._general = LightChanges(luma(srgb), STEP_SHARE, DARKER_SHARE)
        self._red = RedChanges(srgb)
        self._bright = LightChanges(luma(tube), STEP_CD_M2 / self._white, DARKER_CD_M2 / self._white)
        pairs = zip(cells.shape, FIELD_DEGREES[::-1], self._degrees[::-1], strict=True)
        block = tuple(min(size, max(1, round(size * part / whole))) for size, part, whole in pairs)
        # changes at both ends of exactly one second are not within one second
        window = ceil(self._rate)
        self._watches = [
            Watch(cells.shape, area, window) for area in (block, block, cells.shape, cells.shape)
        ]

    def report(self) -> FlashReport:
        """Return the verdicts on all pictures so far.

        Raises: NotMeasurable before the first picture
        """
        if self._pictures == 0:
            raise NotMeasurable("flashes: no picture was added; add the pictures in the order they are shown")
        general, red, bright, red_screen = self._watches
        longest = max(bright.longest, red_screen.longest)
        return FlashReport(
            wcag=_verdict("WCAG 2.x SC 2.3.1", "a 10-degree field", general, red),
            broadcast=_verdict("ITU-R BT.1702-3", "the screen", bright, red_screen),
            flashing_s=float(longest / self._rate),
            pictures=self._pictures,
            seconds=float(self._pictures / self._rate),
            degrees=self._degrees,
            white_cd_m2=self._white,
        )


def _verdict(standard: str, field: str, light: Watch, red: Watch) -> Verdict:
    return Verdict(standard, field, light.most / 2, red.most / 2, 100 * max(light.share, red.share))

"""Flicker in decibels, weighted for the eye at the frequency it has.

The pictures of a cycle are painted as for `flicker_percent`. Light that is a in one picture and b in
the next alternates at half the picture rate, f = rate / 2. A tube gives it as pulses much shorter
than a picture, whose Fourier series holds, about the mean (a + b) / 2, a first component of amplitude
|a - b|: one field alone lit gives twice its mean. (Light held for the whole picture would give
2/pi |a - b|, 3.9 dB less.) With F the map of |a - b| in light and M the mean light of the picture,
both inside the visible window,

    flicker_db = 20 log10( rms(F) / M ) + 20 log10( S(f) / S_peak )

where S is the eye's temporal sensitivity in the model named in `scalesim.metrics.flicker.eye`. White fields
against black ones read +6 dB at the frequency the eye sees best and -10 dB at 29.97 Hz; the model's
least visible flicker is -20 log10(S_peak) = -44.8 dB at any frequency.

Why the root mean square and not the mean light: an eye too far away to tell lines apart sees only how
much the *whole* light alternates, and there single lines of opposite fields cancel. What a flicker
filter is for is the twitter of lines seen from near. The model is for a large uniform field, and the
eye averages over small areas, so the figure is an upper bound: it takes every place as if all around
it alternated in step with it. It falls where the twitter does, which is what comparing chains needs.
"""

from __future__ import annotations

from math import log10, sqrt

import numpy as np

from scalesim.core.encoding import luminance
from scalesim.core.raster import visible_slices
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.flicker.eye import weight_db
from scalesim.metrics.flicker.percent import whole_map
from scalesim.metrics.key import Key

_ROUNDING = 1e-6
"""Light, as a share of white, below which float32 pictures are the same."""


@metric(
    Key(
        "flicker_db",
        "dB",
        "lower",
        "flicker as the eye weighs it",
        reading="alternating light against mean light, weighted for the eye at the rate of a frame "
        "by the model of "
        "Watson and Ahumada (IDMS 10.6); other models differ by 10 dB and more, so compare only among "
        "themselves",
        family="flicker",
        improves="steadier",
    )
)
def flicker_db(evidence: Evidence) -> tuple[float]:
    """Weighted flicker of the visible picture (see the module's text); from about -100 to +6 dB.

    Raises: NotMeasurable for a black picture and for one in which nothing alternates
    """
    mean = float(np.mean(luminance(np.asarray(evidence.landed)[evidence.window]), dtype=np.float64))
    if mean < _ROUNDING:
        raise NotMeasurable("the picture is black: there is no light to compare the flicker with")
    alternating = _rms(evidence) if len(evidence.pictures) > 1 else 0.0
    if alternating < _ROUNDING:
        raise NotMeasurable("nothing alternates: the picture is steady (minus infinity dB)")
    return (20 * log10(alternating / mean) + weight_db(float(evidence.raster.rate) / 2),)


def _rms(evidence: Evidence) -> float:
    """Return the root mean square of the visible flicker map, 1 for white against black everywhere."""
    full = whole_map(evidence)
    if full.shape[0] == 0:
        raise NotMeasurable("the fields have no line in common: there are too few lines")
    visible = full[visible_slices(evidence.raster, *full.shape)]
    return sqrt(float(np.mean(np.square(visible), dtype=np.float64))) / 100.0

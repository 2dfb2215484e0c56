"""The luma of a clip's frames, whatever the clip is made of."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from scalesim.core.clip import Clip
from scalesim.core.codes import to_codes
from scalesim.core.encoding import luma
from scalesim.core.landed import woven
from scalesim.core.luma import Luma


def lumas_of(clip: Clip) -> Iterator[Luma]:
    """Yield the luma of a clip's whole frames, from the file where that is one; a still gives one."""
    if clip.lumas is not None:
        yield from clip.lumas()
        return
    period, rate = clip.raster.period, clip.raster.rate
    pictures = clip.pictures()
    count = 0
    while len(taken := [picture.values for picture in islice(pictures, period)]) == period:
        yield Luma(to_codes(luma(woven(taken, clip.raster))), count * period / float(rate))
        count += 1
        if clip.is_still:
            return

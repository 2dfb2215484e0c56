"""A frame read as progressive that is combed: the caution that it may be two woven fields."""

from __future__ import annotations

import numpy as np

from scalesim.core.clip import Clip
from scalesim.metrics.flicker.combing import looks_woven


def woven_notes(still: Clip) -> tuple[str, ...]:
    """Return a caution for a progressive frame that looks like two fields of different times, else none."""
    if not still.is_still or still.raster.period == 2:
        return ()
    if "looks woven" not in still.found:
        still.found["looks woven"] = looks_woven(np.ascontiguousarray(still.luma[:, ::4]))
    if not still.found["looks woven"]:
        return ()
    return (
        f"{still.name}: looks like two woven fields of different times but is read as progressive; if it is, "
        "give --mode 1080i60 or 480i60.",
    )

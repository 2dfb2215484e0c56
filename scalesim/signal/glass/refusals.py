"""Why a photo shows no scan lines, in words, and what would help."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.candidates import CROP, CROPS, SHORTEST, sampled_peaks
from scalesim.signal.glass.consensus import patterns
from scalesim.signal.glass.impostors import Impostor

WHITE, MUCH_WHITE = 0.98, 0.1
"""Of full white: where a sensor is at its end; and the share of a photo that is worth telling."""
UPRIGHT = 0.75
"""Share of tiles that must agree on lines from top to bottom before they are told."""


def no_lines(light: NDArray[np.float32], told: list[Impostor], weak: bool) -> str:
    """Return why no lines were told.

    Parameters:
        light : (rows, columns) relative luminance; told : patterns that are something else
        weak : whether a pattern was there that did not hold
    """
    return cause_of(told, weak) + _burnt(light) + ("" if told else _sideways(light))


def _burnt(light: NDArray[np.float32]) -> str:
    """Return the words for a photo that is white in a large part, "" for others."""
    share = float((light[::4, ::4] > WHITE).mean())
    if share < MUCH_WHITE:
        return ""
    return (
        f"; {100 * share:.0f} % of the photo is white all over: switch the flash off, darken the room, or "
        "expose less"
    )


def _sideways(light: NDArray[np.float32]) -> str:
    """Return the words for a photo whose lines run from top to bottom, "" for others; looked at in parts."""
    level = max(1, min(light.shape) // (CROPS * CROP))
    found = sampled_peaks(np.ascontiguousarray(light.T), 1 if level < 2 else level // 2)
    best = max(patterns(found), key=lambda each: each.share, default=None)
    if best is None or best.share < UPRIGHT:
        return ""
    return (
        "; even lines run from top to bottom: if they are the scan lines, turn the photo by a quarter first"
    )


def cause_of(told: list[Impostor], weak: bool) -> str:
    """Return the words for what was found instead."""
    if told:
        return told[0].words
    if weak:
        return (
            "a pattern is there, but it does not run through the photo as lines do; show a picture with few "
            "dark parts, stand square to the glass, focus on it, and take 6 to 10 pixels a line"
        )
    return (
        f"no scan lines are resolved; come closer until a line is 6 to 10 pixels high (below {SHORTEST:g} "
        "nothing can be told), and focus on the glass"
    )

"""Whether the curve that a film names can be the one it was written by: log and flat styles name another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.core.film_curves import Curve, bt709_codes
from scalesim.jobs.glass.measured import Measured
from scalesim.signal.glass.profile import Profile

DARKEST, BRIGHTEST = 0.05, 0.85
"""Luma, 0 black and 1 white, of the darkest half percent and the brightest thousandth: a film that reaches
neither is written as log and flat styles are, or shows nothing dark in a lit room."""
FLAT_TOP = -0.012
"""Second harmonic of a folded line, of its mean, below which no beams drew it: a sum of beams has none below
0. On simulated films log curves read -0.02 to -0.05, standard ones above -0.003 (limits of this project)."""
REMEDY = "film in a standard, HLG or PQ style, with something black in view, and expose less"


@dataclass(frozen=True, eq=False)
class Still:
    """A frame to be shown: (rows, columns) uint8 luma, and by how much its light was raised."""

    codes: NDArray[np.uint8]
    gain: float

    @staticmethod
    def of(light: NDArray[np.float32], curve: Curve) -> Still:
        """Return a frame; one of a curve beyond standard range with its brightest thousandth at white."""
        top = 1.0 if curve.plain else float(np.percentile(light[::2, ::2], 99.9))
        gain = 1 / max(top, 1e-6)
        return Still(grey_codes(light, gain), gain)

    @property
    def picture(self) -> NDArray[np.uint8]:
        """(rows, columns, 3) uint8."""
        return np.repeat(self.codes[..., None], 3, axis=2)


def grey_codes(light: NDArray[np.float32], gain: float) -> NDArray[np.uint8]:
    """Return 8-bit luma of a display's light that is raised `gain` times, by BT.1886."""
    out = np.empty(light.shape, np.uint8)
    for top in range(0, len(light), 128):
        band = np.clip(np.float32(gain) * light[top : top + 128], 0, 1)
        out[top : top + 128] = 255 * band ** np.float32(1 / 2.4) + 0.5
    return out


def doubt(curve: Curve, light: NDArray[np.float32], profiles: Sequence[Profile]) -> str:
    """Return why a film's light cannot be told from its codes, "" where nothing speaks against its curve.

    Parameters:  light : (rows, columns) of the scene, by `curve`; profiles : of its lines, the brighter half
        first
    """
    if not curve.plain:
        return ""
    low, high = (float(v) for v in bt709_codes(np.percentile(light[::2, ::2], (0.5, 99.9))))
    second = _second(profiles)
    if low >= DARKEST and high <= BRIGHTEST:
        said = (
            f"its codes only go from {100 * low:.0f} to {100 * high:.0f} % of the way from black to white, "
            "as log and flat picture styles leave them, and dim pictures without black"
        )
    elif second is not None and second <= FLAT_TOP:
        said = (
            f"its lines have flatter tops than any beam draws (second harmonic {second:.2f} of their mean), "
            "as log picture styles and too much exposure leave them"
        )
    else:
        return ""
    named = f"the file names that of {curve.name}" if curve.named else "the file names none"
    return f"they rest on the curve the film was written by; {named}, but {said}: {REMEDY}"


def _second(profiles: Sequence[Profile]) -> float | None:
    """Return the second harmonic about the middle of a line, of its mean: below 0 where gaps are the
    sharper."""
    if not profiles:
        return None
    light = np.asarray(profiles[0].light)
    place = (np.arange(len(light)) + 0.5) / len(light)  # a line's middle is at 1/2
    return float(2 * np.mean(light * np.cos(4 * np.pi * (place - 0.5))) / np.mean(light))


def without_light(found: Measured, reason: str) -> Measured:
    """Return what was measured without what needs light: width, depth, profile."""
    return replace(
        found,
        profiles=(),
        width=None,
        width_range=None,
        depth=None,
        grows=None,
        why={**found.why, **dict.fromkeys(("line_width", "gap_depth", "beam_grows"), reason)},
    )

"""How still single lines stand in a film: what changes from frame to frame, freed from what stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.jitter import LineJitter

FEWEST_LINES = 24
"""Lines that two frames must share to be compared."""


def jitter_over_time(stills: Sequence[tuple[int, LineJitter]], turns: Sequence[complex]) -> LineJitter | None:
    """Return the jitter of single lines over several frames of a film; None without frames.

    jitter^2 = mean of the frames' squares - static^2. static^2 is the mean, over pairs of frames that show
    the same lines, of the covariance of where these lines lie: jitter is new in every field and cancels
    there, what the picture, the mask and the lens do to a line is in both. Definition of this project.

    Parameters:
        stills : (number of the frame, its jitter)
        turns : of every frame, the carrier against the first's phase
    """
    if not stills:
        return None
    found = [each for _, each in stills]
    squares = np.array([each.rms**2 for each in found])
    static = _static(stills, np.asarray(turns))
    square = max(float(squares.mean()) - static, 0.0)
    rms = float(np.sqrt(square))
    own = np.array([2 * each.rms * each.error for each in found])
    error_square = float(np.sqrt(np.mean(own**2) / len(found)))
    error = error_square / (2 * rms) if square > error_square else float(np.sqrt(error_square))
    return replace(found[0], rms=rms, error=error, lines=sum(each.lines for each in found))


def _static(stills: Sequence[tuple[int, LineJitter]], turns: NDArray[np.complex128]) -> float:
    """Return the covariance of the lines' places between frames, pitches squared; 0 without pairs."""
    phase = np.angle(turns) / (2 * np.pi)
    # half a pitch is the other field: twice the phase runs on over the whole film
    steady = np.unwrap(2 * np.angle(turns)) / (4 * np.pi)
    shared = []
    for (a, one), (b, two) in combinations(stills, 2):
        off = (steady[a] - phase[a]) - (steady[b] - phase[b])
        whole = round(off)
        if abs(off - whole) > 0.25:
            continue  # the other field's lines
        _, first, second = np.intersect1d(one.places + whole, two.places, return_indices=True)
        if len(first) >= FEWEST_LINES:
            shared.append(float(np.mean(one.offsets[first] * two.offsets[second])))
    return max(float(np.mean(shared)), 0.0) if shared else 0.0

"""What a reading found, as data: what its words, its document and its page are made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.film_curves import Curve
from scalesim.jobs.glass.measured import Measured
from scalesim.signal.glass.exposure import Landing
from scalesim.signal.glass.field_jitter import FieldJitter
from scalesim.signal.glass.timing import Timed
from scalesim.signal.rectify.view import View


@dataclass(frozen=True)
class FilmPart:
    """What frames without a cut show; begins, ends : s; period : pixels from line to line."""

    begins: float
    ends: float
    frames: int
    period: float
    landing: Landing


@dataclass(frozen=True, eq=False)
class Filmed:
    """What a film's frames say together.

    Parameters:
        timed : landing and phases of the frames by which it was told; frames : of the part that is told
        rate : frames a second
        times, phases : (frames,) s, and where each frame's lines lie against the first, pitches
        light : (frames,) mean light
        mean : (rows, columns, 3) uint8, the frames laid on each other's lines; None where it was not kept
        read : frames that were looked at; ended : whether that was the whole film; cuts : s
        parts : without cuts, in order; number : of the one that is told
        strays : how far whole fields stray from their place; why_strays : why that is not known
        stills : frames whose single lines were measured
        curve : by which its codes were taken to light; doubt : why they cannot be, "" where they can
    """

    timed: Timed
    frames: int
    rate: float
    times: NDArray[np.float64]
    phases: NDArray[np.float64]
    light: NDArray[np.float64]
    mean: NDArray[np.uint8] | None
    read: int
    ended: bool
    cuts: tuple[float, ...]
    parts: tuple[FilmPart, ...]
    number: int
    strays: FieldJitter | None
    why_strays: str
    stills: int
    curve: Curve
    doubt: str

    @property
    def drift(self) -> float:
        """Lines' slow motion in the frame, camera and tube together, pitches a second, half a pitch
        folded."""
        if len(self.times) < 3:
            return 0.0
        even = np.unwrap(4 * np.pi * self.phases) / (4 * np.pi)
        return float(np.polyfit(self.times, even, 1)[0])

    @property
    def ripple_percent(self) -> float | None:
        """How far the frames' mean light goes up and down, 5th to 95th percentile, percent of its mean.

        None where light cannot be told.
        """
        if self.doubt:
            return None
        return float(100 * np.subtract(*np.percentile(self.light, (95, 5))) / self.light.mean())


@dataclass(frozen=True, eq=False)
class Read:
    """What photos or a film of one set-up show.

    Parameters:
        name : of the photo; found : what was measured, None when no lines can be told; reason : why not
        photo : (rows, columns, 3) uint8 codes of the first; count : photos; rect : of the picture's corners
        film : what its timing says, when it is one
    """

    name: str
    found: Measured | None
    reason: str
    notes: tuple[str, ...]
    photo: NDArray[np.uint8]
    count: int
    rect: View | None = None
    film: Filmed | None = None

    @property
    def sets(self) -> str:
        """ "one", "two" or "unknown"."""
        return "unknown" if self.found is None else self.found.landing.sets

"""What a shot of a tube can be: how large a line must be for what, which shutters and films tell fields.

The limits are measured on simulated photos of this project's tests, none on a real tube.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

from scalesim.core.camera import Camera
from scalesim.tube.display import Display

NEEDS = (
    (2.3, "the lines can be told from the sensor's own grid"),
    (3.0, "lines can be counted, their direction and distance measured"),
    (5.0, "one set of lines or two, from a long exposure"),
    (8.0, "how thick a line is"),
    (12.0, "how dark the gaps between lines are"),
)
"""From how many pixels a line on something can be read."""

LEAST, BEST, FOR_WIDTH, FOR_DEPTH = 2.3, (6.0, 10.0), 8.0, 12.0
_LOCKED, _SLOW = 0.05, 0.2
"""Fields a film's picture lasts from an even number: nearer, every picture shows the same parity; between
the two, the parity drifts so slowly that a film must last."""


@dataclass(frozen=True)
class Framing:
    """A distance, and what it gives: pixels a line, and the share of the picture that a photo holds."""

    distance_mm: float
    pixels_a_line: float
    shown: float
    sharp: bool


def framing(camera: Camera, line_mm: float, lines: float, aspect: float, distance_mm: float) -> Framing:
    """Return what a camera sees from a distance.

    Parameters:  line_mm : from line to line on the glass; lines : over the picture's height
    """
    pitch = camera.pixels(line_mm, distance_mm)
    high, wide = camera.rows / (pitch * lines), camera.columns / (pitch * lines * aspect)
    return Framing(distance_mm, pitch, min(1.0, high) * min(1.0, wide), distance_mm >= camera.nearest_mm)


def filming(camera: Camera) -> Camera:
    """Return the camera as it films: the same field of view in fewer, larger pixels."""
    larger = camera.rows / camera.film_rows
    return replace(
        camera,
        pixel_um=camera.pixel_um * larger,
        rows=camera.film_rows,
        columns=round(camera.columns / larger),
    )


def long_exposures(camera: Camera, field_rate: float) -> list[tuple[int, float]]:
    """Return (fields, seconds) of exposures of an even number of whole fields that the camera can make."""
    found = [(n, n / field_rate) for n in (2, 4)]
    return [each for each in found if camera.fastest_s <= each[1] <= camera.slowest_s * 1.001]


def film_use(rate: float, field_rate: float) -> str:
    """Return "good", "slow" or "never": whether films of a rate show both parities of field."""
    fields = field_rate / rate
    if fields < 1.5:
        return "good"
    off = abs(fields - 2 * round(fields / 2))
    return "never" if off < _LOCKED else "slow" if off < _SLOW else "good"


def lines_of_mask(display: Display, line_mm: float) -> float | None:
    """Return how many scan lines lie between two rows of the mask's openings; None without rows.

    Every second column of slots stands half a pitch lower, so that rows repeat at half of it.
    """
    return display.mask_pitch_mm / 2 / line_mm if display.mask == "slots" else None


def beat(period: float, other: float = 1.0) -> float:
    """Return the longest beat of a period with the harmonics of another, in the units of both.

    1 / |1/p - k/q| over the k at which it is longest; infinite where they agree.
    """
    k = max(1, round(other / period))
    apart = abs(1 / period - k / other)
    return inf if apart < 1e-12 else 1 / apart

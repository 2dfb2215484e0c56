"""One shot of a tube: which camera looks at which tube, from where, and what it gets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from scalesim.core.camera import Camera
from scalesim.jobs.glass.shots import FOR_WIDTH, Framing, film_use, framing, long_exposures
from scalesim.tube.display import Display

USUAL_LINES = 240


@dataclass(frozen=True, eq=False)
class Shot:
    """A camera before a tube.

    Parameters:  lines : of one field over the height of the picture; field_rate : fields a second
    """

    display: Display
    camera: Camera
    lines: int = USUAL_LINES
    field_rate: float = 59.94

    @cached_property
    def line_mm(self) -> float:
        """From line to line on the glass, millimetres: what the tube hides is off it."""
        return self.display.height_mm / self.shown_lines

    @property
    def shown_lines(self) -> float:
        """Lines over the glass."""
        return self.lines * (1 - self.display.overscan_percent / 100)

    def at(self, distance_mm: float) -> Framing:
        """Return what the camera sees from a distance."""
        return framing(self.camera, self.line_mm, self.shown_lines, float(self.display.aspect), distance_mm)

    def distance(self, pixels_a_line: float) -> float:
        """Return the distance for so many pixels a line, mm."""
        return self.camera.distance_for(self.line_mm, pixels_a_line)

    @cached_property
    def stands(self) -> Framing:
        """Where the camera stands; where that is not told, for 8 pixels a line, or as near as it can."""
        told = self.camera.distance_mm
        return self.at(told or max(self.distance(FOR_WIDTH), self.camera.nearest_mm))

    @property
    def exposures(self) -> list[tuple[int, float]]:
        """Long exposures, (fields, seconds)."""
        return long_exposures(self.camera, self.field_rate)

    def films(self, use: str) -> list[float]:
        """Return the camera's film rates of one use, "good", "slow" or "never"."""
        return [rate for rate in self.camera.film_rates if film_use(rate, self.field_rate) == use]

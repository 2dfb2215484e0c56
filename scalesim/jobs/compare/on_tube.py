"""On the tube: what a display paints of every contestant, the same parts at the same scale, held still.

A part of the glass is painted in just the dots it is shown in, so that the beam of every scan line is there
to be seen; the linked pictures hold the whole glass at one dot a unit of the face. The light is the mean over
a whole cycle, as the eye sees a picture that holds still. Each glass is darker than it is, at the share of
its light at which white just does not clip: the same for all contestants.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.views import Zoom
from scalesim.figure import View, Window
from scalesim.jobs.compare.look import Face
from scalesim.jobs.predict.outcome import TUBES, Outcome
from scalesim.jobs.predict.views import Contestant, shape_of
from scalesim.result import Box
from scalesim.tube.cut import Cut, shown_window
from scalesim.tube.display import Display
from scalesim.tube.screen import Screen

ROWS_A_LINE = 4
"""Dot rows to a line of the source in a picture for stills: 12 to a scan line of 240 made of 720."""
_ABOUT = 1.6
"""A picture for stills is so much larger than the part that it is of: a still may have room for more."""


@dataclass(frozen=True, eq=False)
class Painted:
    """A part of the glass: uint8 codes (dot rows, dots, 3), and the percentages shown and clipped.

    Parameters:  shown_at : share of its light at which it is shown; clipped : share of the dots above white
    """

    codes: NDArray
    shown_at: float
    clipped: float


def paint(outcome: Outcome, display: Display, tube: str, cut: Cut) -> Painted:
    """Return a part of the glass, black outside of what the display shows.

    Parameters:  cut : lines in field-line pitches and samples of the outcome's raster, and the dots
    """
    raster = outcome.raster
    screen = Screen(raster, display, tube=TUBES[tube], cut=cut)
    screen = screen.exposed(screen.white_exposure)
    light = screen.period(outcome.cycle)
    window = shown_window(raster, display)
    down = _inside(cut.lines, cut.height, window.top * raster.lines, window.bottom * raster.lines)
    along = _inside(cut.samples, cut.width, window.left * raster.samples, window.right * raster.samples)
    light[~down] = 0
    light[:, ~along] = 0
    return Painted(screen.codes(light), 100 * screen.exposure, screen.clipped_percent(light))


def _inside(ends: tuple[float, float], dots: int, first: float, last: float) -> NDArray:
    """Return which dots between two ends have their middle between two places."""
    middles = ends[0] + (np.arange(dots) + 0.5) * (ends[1] - ends[0]) / dots
    return np.asarray((middles >= first) & (middles <= last))


def part_of_glass(outcome: Outcome, display: Display, tube: str, window: Window, zoom: Zoom) -> Painted:
    """Return the window of the source as it is on the glass, at the scale of the other close looks."""
    top, left, height, width = window
    dots = round(height * zoom.dots), round(width * zoom.wide)
    cut = _cut(outcome, (top, top + dots[0] / zoom.dots), (left, left + width), dots)
    return paint(outcome, display, tube, cut)


def _cut(
    outcome: Outcome, lines: tuple[float, float], samples: tuple[float, float], dots: tuple[int, int]
) -> Cut:
    """Return where lines and samples of the source lie on the raster, for so many dots."""
    raster = outcome.raster
    down, along = outcome.geometry.landed_blocks(raster).inverse(), outcome.geometry.samples.inverse()
    pitch = raster.lines / raster.landed_lines
    return Cut(
        (down(lines[0]) * pitch, down(lines[1]) * pitch), (along(samples[0]), along(samples[1])), *dots
    )


def glass_place(outcome: Outcome, display: Display, face: Face) -> Box:
    """Return where what the glass shows lies on the face, on whole units."""
    window = shown_window(outcome.raster, display)
    top, bottom = round(window.top * face.height), round(window.bottom * face.height)
    left, right = round(window.left * face.width), round(window.right * face.width)
    return Box(left, top, right - left, bottom - top)


def whole_glass(outcome: Outcome, display: Display, tube: str, face: Face) -> Painted:
    """Return what the glass shows, one dot a unit of the face."""
    raster, place = outcome.raster, glass_place(outcome, display, face)
    down, along = raster.lines / face.height, raster.samples / face.width
    lines = (place.y * down, (place.y + place.height) * down)
    samples = (place.x * along, (place.x + place.width) * along)
    return paint(outcome, display, tube, Cut(lines, samples, int(place.height), int(place.width)))


def glass_view(each: Contestant, display: Display, tube: str, window: Window, size: tuple[int, int]) -> View:
    """Return a contestant's glass about a window as a view for an annotated figure.

    Parameters:  size : lines and samples of the source
    """
    lines, samples = _about(window[0], window[2], size[0]), _about(window[1], window[3], size[1])
    tall = round((lines[1] - lines[0]) * ROWS_A_LINE)
    wide = round((samples[1] - samples[0]) * ROWS_A_LINE * shape_of(each.placed, tube))
    found = paint(each.outcome, display, tube, _cut(each.placed, lines, samples, (tall, wide)))
    along = ((samples[1] - samples[0]) / wide, samples[0])
    said = f"the glass, {light_words([found])}"
    return View(each.label, found.codes, (1 / ROWS_A_LINE, lines[0]), along, said, "row of the glass")


def _about(begin: float, length: float, size: int) -> tuple[float, float]:
    """Return the ends of a larger stretch about one, whole and on the source."""
    more = length * (_ABOUT - 1) / 2
    return max(0.0, float(np.floor(begin - more))), min(float(size), float(np.ceil(begin + length + more)))


def light_words(painted: Sequence[Painted]) -> str:
    """Return at what share of its light a display is shown, and what clips all the same."""
    shares = sorted({round(each.shown_at) for each in painted})
    said = f"{shares[0]}" if len(shares) == 1 else f"{shares[0]} to {shares[-1]}"
    most = max(each.clipped for each in painted)
    clipped = f"; at most {most:.1f} % of the dots would be brighter than white" if most >= 0.05 else ""
    return f"at {said} % of its light{clipped}"

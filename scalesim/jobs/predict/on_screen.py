"""On the screen: what a tube shows of a chain's output, as pictures that hold still."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import cycle as for_ever
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import light_to_code
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.tube.afterglow import exposure, lit_times
from scalesim.tube.display import Display, display_named
from scalesim.tube.macro import macro
from scalesim.tube.screen import Screen

DEFAULT_DISPLAY = "livingroom-68cm-350"
MACRO_LINES = 24
HEIGHT, CLIP_HEIGHT = 1080, 720
"""Dot rows of a still, and of a clip: three of each of 240 lines, and quick enough to wait for."""
MOST_SHUTTER_S = 4.0
_SETTLED = 4
"""Fields painted before a shutter opens: what was lit earlier has gone out."""


@dataclass(frozen=True)
class Glass:
    """How to look at the tube.

    Parameters:
        display : a `Display`, or the key of a shipped one
        height : dot rows of the whole screen; None takes 1080 for stills, 720 for clips
        macro_line : field line at the top of a close look, from 0; None for none
        coloured : give each field of the close look a colour of its own
        shutter_s : seconds a camera's shutter is open; None for no photo
    """

    display: Display | str = DEFAULT_DISPLAY
    height: int | None = None
    macro_line: int | None = None
    coloured: bool = False
    shutter_s: float | None = None

    @property
    def tube(self) -> Display:
        """The display itself. Raises: ParameterError for an unknown key"""
        return self.display if isinstance(self.display, Display) else display_named(self.display)


@dataclass(frozen=True, eq=False)
class OnScreen:
    """Pictures of the glass, code values in the encoding of the source, and what they stand for.

    - `screen`: the mean light of one cycle, as the eye sees a picture that holds still;
    - `screen-top`, `screen-bottom`: the light of each field alone; `screen-difference`: theirs, mid grey
      where they agree;
    - `screen-macro`: a close look with a ruler; `screen-photo`: what a shutter of a stated time sees.
    """

    display: Display
    pictures: Mapping[str, NDArray]
    facts: Mapping[str, Any]

    def sentence(self) -> str:
        """Return what the screen picture shows, in words."""
        facts = self.facts
        return (
            f"On the glass ({self.display.name}): mean light {facts['mean_light_percent']:.1f} % of white; "
            f"{facts['clipped_percent']:.1f} % of the dots are brighter than a file's white and are clipped."
        )


def on_screen(
    glass: Glass, cycle: Sequence[NDArray], raster: Raster, stream: Iterator[NDArray] | None = None
) -> OnScreen:
    """Return the pictures of the glass.

    Parameters:
        cycle : (raster.lines, raster.samples, 3) code values of one cycle, in the order of time
        stream : the pictures a camera sees, when they move; None repeats the cycle
    Raises: ParameterError for a display, line or time out of range
    """
    display = glass.tube
    screen = Screen(raster, display, height=HEIGHT if glass.height is None else glass.height)
    light = screen.period(cycle)
    pictures = {"screen": screen.code(light)}
    if len(cycle) == 2:
        pictures |= _fields(screen, cycle, raster)
    if glass.macro_line is not None:
        pictures["screen-macro"] = _close(screen, cycle, glass)
    facts = {
        "display": display.name,
        "height": screen.height,
        "width": screen.width,
        "mean_light_percent": 100 * float(light.mean(dtype=np.float64)),
        "clipped_percent": screen.clipped_percent(light),
        "white_cd_m2": display.white_cd_m2,
        "black_cd_m2": display.black_cd_m2,
        "tv_lines": display.tv_lines,
    }
    if glass.shutter_s is not None:
        pictures["screen-photo"] = _photo(screen, stream or for_ever(cycle), glass.shutter_s)
        facts["shutter_s"] = glass.shutter_s
    return OnScreen(display, pictures, facts)


def _fields(screen: Screen, cycle: Sequence[NDArray], raster: Raster) -> dict[str, NDArray]:
    names = ["first", "second"]
    if raster.period == 2:
        names = ["top" if own.parity == 0 else "bottom" for own in raster.fields]
    found = {
        f"screen-{n}": screen.code(screen.field(v, k))
        for k, (n, v) in enumerate(zip(names, cycle, strict=True))
    }
    # half the code range each way, on the scale the eye is even on
    apart = light_to_code(screen.difference(cycle))
    found["screen-difference"] = np.clip(0.5 + 0.5 * apart, 0, 1)
    return found


def _close(screen: Screen, cycle: Sequence[NDArray], glass: Glass) -> NDArray:
    lines = min(MACRO_LINES, screen.raster.lines)
    first = glass.macro_line
    assert first is not None
    if not 0 <= first <= screen.raster.lines - lines:
        raise ParameterError(
            f"macro: line {first}; the close look shows {lines} of {screen.raster.lines} lines, so it begins "
            f"at 0 to {screen.raster.lines - lines}"
        )
    coloured = glass.coloured and screen.raster.period == 2
    return macro(screen, cycle, first_line=first, lines=lines, coloured=coloured)


def _photo(screen: Screen, pictures: Iterator[NDArray], seconds: float) -> NDArray:
    if not 0 < seconds <= MOST_SHUTTER_S:
        raise ParameterError(
            f"exposure is {seconds:g} s; it must be above 0 and at most {MOST_SHUTTER_S:g} "
            "(1/30 shows two fields)"
        )
    rate = screen.raster.rate
    fields = (screen.field(values, k) for k, values in enumerate(pictures))
    light = exposure(
        fields, rate, seconds, screen.display.decay_ms, start_s=float(_SETTLED / rate), lit=lit_times(screen)
    )
    return screen.code(light)

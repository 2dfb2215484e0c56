"""On the screen: what a tube shows of a chain's output, as pictures that hold still.

A tube's lines are brighter than its mean, and a file has nothing above white. So the glass is shown
darker, all pictures alike: at the share of its light at which a white field of that display just does
not clip, and at less where code values above white, or a shutter that sees some lines twice, would
still clip more than 0.5 % of the dots of a picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import cycle as for_ever
from math import floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.tube.afterglow import exposure, lit_times
from scalesim.tube.cut import glass_in_whole_rows, rows_of_line
from scalesim.tube.display import Display, display_named
from scalesim.tube.macro import close_screen, macro
from scalesim.tube.screen import Screen

DEFAULT_DISPLAY = "livingroom-68cm-350"
MACRO_LINES = 24
HEIGHT, CLIP_HEIGHT = 1080, 720
"""Dot rows a still, and a clip, comes near to with whole rows a line; a clip is quick to make."""
MOST_CLIPPED_PERCENT = 0.5
MOST_SHUTTER_S = 4.0
_SETTLED = 4
"""Fields painted before a shutter opens: what was lit earlier has gone out."""


@dataclass(frozen=True)
class Glass:
    """How to look at the tube.

    Parameters:
        display : a `Display`, or the key of a shipped one
        height : dot rows of the whole screen; None takes those nearest to 1080 for stills, 720 for
            clips, that give every line the same whole number of rows
        macro_line : field line at the top of a close look, from 0; None for none
        macro_sample : sample at the left of the close look, from 0; None for the middle of the picture
        coloured : give each field of the close look a colour of its own
        shutter_s : seconds a camera's shutter is open; None for no photo
        shown_at : share of its light at which the glass is shown; None dims it until next to nothing clips
    """

    display: Display | str = DEFAULT_DISPLAY
    height: int | None = None
    macro_line: int | None = None
    macro_sample: float | None = None
    coloured: bool = False
    shutter_s: float | None = None
    shown_at: float | None = None

    def screen(self, raster: Raster, near: int, exposure: float | None = None) -> Screen:
        """Return the whole glass, at the height asked for or near another, and at an exposure.

        Parameters:  exposure : None takes `shown_at`, or where that is None too the display's own white
        """
        display = self.tube
        cut = None
        if self.height is None:
            cut = glass_in_whole_rows(raster, display, display.aspect, near)
        exposure = exposure or self.shown_at
        found = Screen(raster, display, height=self.height or near, cut=cut, exposure=exposure or 1.0)
        return found if exposure else found.exposed(found.white_exposure)

    @property
    def tube(self) -> Display:
        """The display itself. Raises: ParameterError for an unknown key"""
        return self.display if isinstance(self.display, Display) else display_named(self.display)


@dataclass(frozen=True, eq=False)
class OnScreen:
    """Pictures of the glass, code values in the encoding of the source, and what they stand for.

    - `screen`: the mean light of one cycle, as the eye sees a picture that holds still;
    - `screen-top`, `screen-bottom`: the light of each field alone;
    - `screen-macro`: a close look with a ruler; `screen-photo`: what a shutter of a stated time sees.
    """

    display: Display
    pictures: Mapping[str, NDArray]
    facts: Mapping[str, Any]

    def sentence(self) -> str:
        """Return what the screen pictures show, in words."""
        facts = self.facts
        rows = ""
        if not float(facts["rows_a_line"]).is_integer():
            rows = (
                f" A line takes {facts['rows_a_line']:.4g} dot rows: lines fall differently on the rows, a "
                "pattern the tube does not have; leave the height out for whole rows."
            )
        return (
            f"On the glass ({self.display.name}), shown at {facts['shown_at_percent']:g} % of its light: "
            f"the file's mean light is {facts['mean_light_percent']:.1f} % of its white, the tube's "
            f"{facts['tube_mean_light_percent']:.1f} %; {_clipped(facts['clipped_percent'])}.{rows}"
        )


def _clipped(percent: float) -> str:
    if percent == 0:
        return "no dot is clipped"
    return f"{percent:.2g} % of the dots are brighter than the file's white and are clipped"


def on_screen(
    glass: Glass, cycle: Sequence[NDArray], raster: Raster, stream: Iterator[NDArray] | None = None
) -> OnScreen:
    """Return the pictures of the glass, all at one exposure.

    Parameters:
        cycle : (raster.lines, raster.samples, 3) code values of one cycle, in the order of time
        stream : the pictures a camera sees, when they move; None repeats the cycle
    Raises: ParameterError for a display, line, sample or time out of range
    """
    screen = glass.screen(raster, HEIGHT)
    lights = {"screen": screen.period(cycle)}
    if len(cycle) == 2:
        names = _field_names(raster)
        lights |= {
            f"screen-{n}": screen.field(v, k) for k, (n, v) in enumerate(zip(names, cycle, strict=True))
        }
    if glass.shutter_s is not None:
        lights["screen-photo"] = _photo(screen, stream or for_ever(cycle), glass.shutter_s)
    close = None if glass.macro_line is None else _close_place(screen, glass)
    near = {} if close is None else {"screen-macro": close_screen(screen, **close).period(cycle)}
    if glass.shown_at is None:
        masks = screen if close is None else close_screen(screen, **close)
        exposure = _dimmed(
            min(screen.white_exposure, masks.white_exposure), [*lights.values(), *near.values()]
        )
        screen = screen.exposed(exposure)
    pictures = {name: screen.code(light) for name, light in lights.items()}
    if close is not None:
        coloured = glass.coloured and raster.period == 2
        pictures["screen-macro"] = macro(screen, cycle, coloured=coloured, exposure=screen.exposure, **close)
    clipped = max(screen.clipped_percent(light) for light in [*lights.values(), *near.values()])
    return OnScreen(glass.tube, pictures, _facts(glass, screen, lights["screen"], clipped))


def _facts(glass: Glass, screen: Screen, light: NDArray, clipped: float) -> dict[str, Any]:
    display = screen.display
    shown = code_to_light(screen.code(light))
    facts = {
        "display": display.name,
        "height": screen.height,
        "width": screen.width,
        "rows_a_line": rows_of_line(screen.cut, screen.raster),
        "shown_at_percent": round(100 * screen.exposure, 6),
        "mean_light_percent": 100 * float(shown.mean(dtype=np.float64)),
        "tube_mean_light_percent": 100 * float(light.mean(dtype=np.float64)),
        "clipped_percent": clipped,
        "white_cd_m2": display.white_cd_m2,
        "black_cd_m2": display.black_cd_m2,
        "tv_lines": display.tv_lines,
    }
    if glass.shutter_s is not None:
        facts["shutter_s"] = glass.shutter_s
    return facts


def _dimmed(exposure: float, lights: Iterable[NDArray]) -> float:
    """Return the exposure, in whole percent, at which at most 0.5 % of the dots of each picture clip."""
    for light in lights:
        brightest = light.max(axis=-1)
        if np.mean(brightest * exposure > 1) > MOST_CLIPPED_PERCENT / 100:
            bright = float(np.quantile(brightest, 1 - MOST_CLIPPED_PERCENT / 100))
            exposure = min(exposure, max(1, floor(100 / bright)) / 100)
    return exposure


def _field_names(raster: Raster) -> list[str]:
    if raster.period == 2:
        return ["top" if own.parity == 0 else "bottom" for own in raster.fields]
    return ["first", "second"]


def _close_place(screen: Screen, glass: Glass) -> dict[str, Any]:
    """Return where the close look is, keys of `macro`; ParameterError for a place it cannot show."""
    raster = screen.raster
    lines = min(MACRO_LINES, raster.lines)
    first = glass.macro_line
    assert first is not None
    if not 0 <= first <= raster.lines - lines:
        raise ParameterError(
            f"macro: line {first}; the close look shows {lines} of {raster.lines} lines, so it begins "
            f"at 0 to {raster.lines - lines}"
        )
    place: dict[str, Any] = {"first_line": first, "lines": lines, "first_sample": glass.macro_sample}
    if glass.macro_sample is None:
        return place
    left, right = close_screen(screen, **place).cut.samples
    most = max(0, floor(raster.samples - (right - left)))
    if not 0 <= glass.macro_sample <= most:
        raise ParameterError(
            f"macro: sample {glass.macro_sample:g}; the close look shows {right - left:.0f} of "
            f"{raster.samples} samples, so it begins at 0 to {most}"
        )
    return place


def _photo(screen: Screen, pictures: Iterator[NDArray], seconds: float) -> NDArray:
    """Return the light a shutter lets in, that of one field's time where it is open for less.

    So a short shutter shows the lines it sees as bright as the field itself, and nothing of the others.
    """
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
    return light * np.float32(min(1.0, seconds * float(rate)))

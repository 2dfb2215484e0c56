"""A panel of a comparison clip: the pictures of one chain or capture, cut and enlarged, at their times.

On the *raster* every line is a whole number of dots, and along the line each dot is the mean in light of what
it covers. On the *glass* it is what the tube paints there. Either shows at each moment the newest fields that
make a picture, as `scalesim predict --clip` does, so nothing alternates unless the source does; or each field
alone, the lines of the other dark, which flickers as a tube does.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import average_lines
from scalesim.core.codes import to_codes
from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.landed import landed, places
from scalesim.core.operator import Operator
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.jobs.compare.clip.part import Part
from scalesim.tube.cut import Cut
from scalesim.tube.display import Display
from scalesim.tube.screen import Screen

On = Literal["raster", "glass"]


@dataclass(frozen=True)
class Dots:
    """One picture of a panel: when it is shown, and its (lines, dots, 3) uint8 codes."""

    time: Fraction
    codes: NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Panel:
    """Who is shown in a panel.

    Parameters:
        label : as it is called
        raster : of the pictures
        cycle : pictures that are seen together
        down, across : maps from the common ground to the panel's own raster, in shares of height and width
        words : what to know of it
        captured : gives the pictures of a capture afresh; None for a chain
    """

    label: str
    raster: Raster
    cycle: int
    down: Affine = IDENTITY
    across: Affine = IDENTITY
    words: tuple[str, ...] = ()
    captured: Callable[[], Iterator[Picture]] | None = None


def dots_of(
    panel: Panel,
    pictures: Iterable[Picture],
    part: Part,
    aspect: Fraction,
    display: Display | None,
    *,
    alone: bool,
) -> Iterator[Dots]:
    """Yield what a panel shows.

    Parameters:
        pictures : of the panel, from its first; part : what is seen of the screen, whose shape is `aspect`
        display : the tube whose glass is shown; None shows the raster
        alone : show each field by itself
    """
    together = 1 if alone else panel.cycle
    runs = _runs(pictures, together)
    return _on_raster(panel, runs, part) if display is None else _on_glass(panel, runs, part, aspect, display)


@dataclass(frozen=True)
class _Run:
    """Pictures that are seen together, by their numbers, and when the newest of them is."""

    first: int
    values: tuple[NDArray, ...]
    time: Fraction


def _runs(pictures: Iterable[Picture], together: int) -> Iterator[_Run]:
    newest: deque[NDArray] = deque(maxlen=together)
    for index, picture in enumerate(pictures):
        newest.append(picture.values)
        if len(newest) == together:
            yield _Run(index - together + 1, tuple(newest), picture.time)


def _on_raster(panel: Panel, runs: Iterable[_Run], part: Part) -> Iterator[Dots]:
    raster, box = panel.raster, part.box
    rows = (box.top + np.arange(box.height) + 0.5) / part.whole[0]
    lines = np.floor(panel.down(rows) * raster.landed_lines + 1e-9).astype(np.int64)
    inside = (lines >= 0) & (lines < raster.landed_lines)
    shown, back = np.unique(lines[inside], return_inverse=True)
    along = _along(panel, part)
    for run in runs:
        turned = raster.with_(
            fields=tuple(raster.fields[(run.first + k) % raster.period] for k in range(raster.period))
        )
        whole = landed(run.values, turned) if len(run.values) > 1 else _alone(run.values[0], turned)
        codes = np.zeros((box.height, box.width, 3), np.uint8)
        codes[inside] = to_codes(light_to_code(along(code_to_light(np.clip(whole[shown], 0, 1)))))[back]
        yield Dots(run.time, codes)


def _alone(values: NDArray, raster: Raster) -> NDArray:
    """Return a field by itself where it lands, black between its lines; a progressive picture as it is."""
    if raster.landed_rows == 1 and raster.period == 1:
        return values
    out = np.zeros((raster.landed_lines, *values.shape[1:]), values.dtype)
    for rows, lines, _ in places(raster, 0):
        out[rows] = values[lines]
    return out


def _along(panel: Panel, part: Part) -> Operator:
    """Return what makes the samples of a line the dots that are shown: means over what each covers."""
    samples = panel.raster.samples
    step = panel.across.scale * samples / part.whole[1]
    begin = panel.across(part.box.left / part.whole[1]) * samples
    return Operator(
        samples=average_lines(samples, part.box.width, step, begin, edge="black"), encoding="code"
    )


def _on_glass(
    panel: Panel, runs: Iterable[_Run], part: Part, aspect: Fraction, display: Display
) -> Iterator[Dots]:
    screen = screen_of(panel, part, aspect, display)
    lit: dict[int, NDArray] = {}
    for run in runs:
        # each field is lit once, though it is seen in several means
        fields = {run.first + k: values for k, values in enumerate(run.values)}
        lit = {k: lit[k] if k in lit else screen.lit(values) for k, values in fields.items()}
        yield Dots(run.time, screen.mean_bytes([(lines, k) for k, lines in lit.items()]))


def screen_of(panel: Panel, part: Part, aspect: Fraction, display: Display) -> Screen:
    """Return the tube in a panel, at the display's own exposure."""
    window, raster = part.window, panel.raster
    lines = tuple(panel.down(edge) * raster.lines for edge in (window.top, window.bottom))
    samples = tuple(panel.across(edge) * raster.samples for edge in (window.left, window.right))
    cut = Cut((lines[0], lines[1]), (samples[0], samples[1]), part.box.height, part.box.width)
    screen = Screen(raster, display, tube=aspect, cut=cut)
    return screen.exposed(screen.white_exposure)

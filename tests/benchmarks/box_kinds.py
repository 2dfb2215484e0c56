"""What kinds of scaler there are to draw boxes from, and the ways libraries offer to build each.

`DRAWS` maps a kind to its draw: steps, the names of its stages, the fields' relation, and whether a
dictionary of named methods should hold it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce

import box_steps as use
import cv2
import numpy as np
from box_steps import Step
from PIL.Image import Resampling

MODE_LINES = {"720p60": 720, "1080p60": 1080, "480p59.94": 480, "720p50": 720, "576p50": 576}
FIRST_STAGES = ("box", "triangle", "cubic", "lanczos3", "blend", "drop")
NAMES = {
    "drop": "line-drop",
    "box": "line-average",
    "blend": "resample linear antialias=off",
    "triangle": "resample linear",
    "cubic": "resample cubic",
    "lanczos3": "resample lanczos3",
}


@dataclass(frozen=True)
class Geometry:
    """Where the output looks: `window` source lines from `top` become `lines` of a field or a whole frame."""

    mode: str
    lines: int
    window: int
    top: float
    bars: tuple[int, int]

    @property
    def lines_in(self) -> int:
        """Lines of the source."""
        return MODE_LINES[self.mode]


def random_geometry(rng: np.random.RandomState, modes: str = "any") -> Geometry:
    """Draw a mode, a line count, a window and a position; `modes` "high" leaves out 480p and 576p."""
    high, shares = ["720p60", "1080p60", "720p50"], [0.65, 0.25, 0.1]
    every, all_shares = [*high, "480p59.94", "576p50"], [0.5, 0.2, 0.1, 0.1, 0.1]
    mode = str(rng.choice(high, p=shares) if modes == "high" else rng.choice(every, p=all_shares))
    raster = 288 if mode.endswith("50") else 240
    lines_in, lines, bars = MODE_LINES[mode], raster, (0, 0)
    window = lines_in
    shape = rng.uniform()
    if shape < 0.2:  # the whole picture in fewer lines, black above and below
        spare = int(rng.choice([8, 16]))
        lines, above = raster - spare, int(rng.randint(0, spare + 1))
        bars = (above, spare - above)
    elif shape < 0.35:  # a part of the picture on all lines
        window = round(lines_in * rng.uniform(0.9, 0.97))
    top = (lines_in - window) / 2 + float(rng.uniform(-1.5, 1.5))
    return Geometry(mode, lines, window, top, bars)


def scaled(
    kind: str, lines: int, place: Geometry, rng: np.random.RandomState, *, anywhere: bool = False
) -> list[Step]:
    """Return one of the ways the libraries offer to scale the window to `lines` by a kind of kernel.

    `anywhere` leaves out those whose window begins on a whole line.
    """
    top, span = place.top, place.window
    pitch = span / lines
    cut = use.window(round(top), span)
    first = top + pitch / 2 - 0.5
    ways: dict[str, list[list[Step]]] = {
        "drop": [
            [cut, use.opencv(lines, cv2.INTER_NEAREST)],
            [cut, use.opencv(lines, cv2.INTER_NEAREST_EXACT)],
            [cut, use.ffmpeg_scale(lines, "neighbor")],
            [use.pillow(lines, Resampling.NEAREST, top, span)],
            [use.opencv_at(lines, pitch, top - 0.5, cv2.INTER_NEAREST)],
        ],
        "box": [
            [cut, use.opencv(lines, cv2.INTER_AREA)],
            [use.opencv_area_at(lines, round(4 * top), 4 * span, 4)],
            [use.opencv_area_at(lines, round(4 * top), 4 * span, 4)],
            [cut, use.ffmpeg_scale(lines, "area")],
        ],
        "blend": [
            [cut, use.opencv(lines, cv2.INTER_LINEAR)],
            [use.opencv_at(lines, pitch, first, cv2.INTER_LINEAR)],
            [use.opencv_at(lines, pitch, first, cv2.INTER_LINEAR)],
        ],
        "triangle": [
            [use.pillow(lines, Resampling.BILINEAR, top, span)],
            [use.pillow(lines, Resampling.BILINEAR, top, span)],
            [cut, use.ffmpeg_scale(lines, "bilinear")],
        ],
        "cubic": [[use.pillow(lines, Resampling.BICUBIC, top, span)]],
        "lanczos3": [[use.pillow(lines, Resampling.LANCZOS, top, span)]],
        "cubic -0.6": [[cut, use.ffmpeg_scale(lines, "bicubic")]],
        "cubic -0.75 antialias=off": [
            [cut, use.opencv(lines, cv2.INTER_CUBIC)],
            [use.opencv_at(lines, pitch, first, cv2.INTER_CUBIC)],
        ],
    }
    if span % lines == 0:
        whole = span // lines
        ways["drop"].append([cut, use.rows(int(rng.randint(whole)), whole)])
        ways["box"].append([cut, use.pillow(lines, Resampling.BOX, 0, span)])
    choice = [way for way in ways[kind] if not (anywhere and way[0] is cut)]
    steps = choice[rng.randint(len(choice))]
    return [step for step in steps if step.name != f"window 0+{place.lines_in}"]


def _first(place: Geometry, rng: np.random.RandomState) -> tuple[str, list[Step]]:
    """Scale to twice the lines, or only cut the window where it has as many."""
    kind = str(rng.choice(FIRST_STAGES))
    if place.window == 2 * place.lines:
        return "", [use.window(round(place.top), place.window)]
    return NAMES[kind], scaled(kind, 2 * place.lines, place, rng)


Drawn = tuple[list[Step], tuple[str, ...], str, bool | None]
"""Steps, names of the stages, relation of the fields, known."""


def _single(kind: str) -> Callable[[Geometry, np.random.RandomState], Drawn]:
    def draw(place: Geometry, rng: np.random.RandomState) -> Drawn:
        known = True if kind in NAMES else None
        return _shown(scaled(kind, place.lines, place, rng), (NAMES.get(kind, kind),), place, rng, known)

    return draw


def _shown(
    steps: list[Step],
    stages: tuple[str, ...],
    place: Geometry,
    rng: np.random.RandomState,
    known: bool | None,
) -> Drawn:
    """A progressive picture: captured as such, or by a device that weaves two equal fields."""
    if rng.uniform() < 0.5:
        return steps, stages, "progressive", known
    return [*steps, use.same_in_both(place.lines)], stages, "same", known


def _window(place: Geometry, rng: np.random.RandomState) -> Drawn:
    """The mean of a few lines, then a choice among them."""
    count = int(rng.choice([2, 4] if place.window / place.lines < 4 else [2, 3, 4]))
    steps = [use.taps([1] * count, int(rng.randint(count))), *scaled("drop", place.lines, place, rng)]
    return _shown(steps, (f"mean of {count}", "line-drop"), place, rng, None)


def _series(place: Geometry, rng: np.random.RandomState) -> Drawn:
    """To twice the lines, then every second one or the mean of two."""
    name, steps = _first(place, rng)
    if rng.uniform() < 0.5:
        steps, last = [*steps, use.rows(int(rng.randint(2)), 2)], "line-drop"
    else:
        steps, last = [*steps, use.opencv(place.lines, cv2.INTER_AREA)], "line-average"
    return _shown(steps, tuple(n for n in (name, last) if n), place, rng, True)


FILTERS: dict[str, list[list[Step]]] = {
    "": [[], [use.ffmpeg_interlace("interlace=scan=tff:lowpass=off")]],
    "1/2/1": [
        [use.taps([1, 2, 1])],
        [use.ffmpeg_interlace("interlace=scan=tff:lowpass=linear")],
        [use.ffmpeg_interlace("tinterlace=mode=interleave_top:flags=vlpf")],
    ],
    "-1/2/6/2/-1": [
        [use.taps([-1, 2, 6, 2, -1])],
        [use.ffmpeg_interlace("interlace=scan=tff:lowpass=complex")],
    ],
    "1/1/1": [[use.taps([1, 1, 1])]],
}
"""Flicker filters by their taps, and the ways to have each."""


def _interlaced(place: Geometry, rng: np.random.RandomState) -> Drawn:
    """To a frame of twice the lines, through a flicker filter, then into fields."""
    name, steps = _first(place, rng)
    key = str(rng.choice(list(FILTERS)))
    steps = [*steps, *FILTERS[key][rng.randint(len(FILTERS[key]))]]
    stages = (name, f"flicker-filter {key}" if key else "", "interlace")
    return steps, tuple(n for n in stages if n), "half-line", True


def _fieldwise(place: Geometry, rng: np.random.RandomState) -> Drawn:
    """Each field scaled from the frame by itself, the bottom one half a field line lower."""
    kind, pitch = str(rng.choice(FIRST_STAGES)), place.window / place.lines
    state = rng.get_state()
    fields = []
    for shift in (0.0, pitch / 2):
        rng.set_state(state)  # both fields by the same library
        moved = Geometry(place.mode, place.lines, place.window, place.top + shift, place.bars)
        one = scaled(kind, place.lines, moved, rng, anywhere=True)
        fields.append(reduce(_after, one))
    # kernels that do not widen are the same for each field as for the frame and then fields
    stages = (NAMES[kind], "interlace") if kind in ("drop", "blend") else (NAMES[kind],)
    return [use.woven(*fields)], stages, "half-line", True


def _after(one: Step, two: Step) -> Step:
    return Step(f"{one.name}, {two.name}", lambda picture: two.run(one.run(picture)))


def _paired(place: Geometry, rng: np.random.RandomState) -> Drawn:
    """To twice the lines, then the mean of each two of them into both fields."""
    name, steps = _first(place, rng)
    steps = [*steps, use.opencv(place.lines, cv2.INTER_AREA), use.same_in_both(place.lines)]
    return steps, tuple(n for n in (name, "line-average") if n), "same", True


def _foreign(place: Geometry, rng: np.random.RandomState) -> Drawn:
    """A kernel of no usual name: window, bell, box with a filter after it, or a lopsided one."""
    pitch = place.window / place.lines
    drop = scaled("drop", place.lines, place, rng)
    box = scaled("box", place.lines, place, rng)
    choice = rng.randint(5)
    steps, name = [
        ([use.taps(use.hann(round(3.4 * pitch))), *drop], "raised cosine"),
        ([use.gaussian(float(rng.uniform(0.65, 0.8)) * pitch), *drop], "bell"),
        ([*box, use.taps([1, 2, 1])], "box, blurred"),
        ([*box, use.taps([-1, 5, -1])], "box, sharpened"),
        ([use.taps([1, 0, 0, 3, 5, 4]), *drop], "lopsided"),
    ][choice]
    return _shown(steps, (name,), place, rng, False)


DRAWS: dict[str, tuple[Callable[[Geometry, np.random.RandomState], Drawn], str]] = {
    **{kind: (_single(kind), "any") for kind in NAMES},
    "cubic -0.6": (_single("cubic -0.6"), "any"),
    "cubic -0.75": (_single("cubic -0.75 antialias=off"), "any"),
    "window": (_window, "any"),
    "series": (_series, "high"),
    "interlaced": (_interlaced, "any"),
    "fieldwise": (_fieldwise, "high"),
    "paired": (_paired, "any"),
    "foreign": (_foreign, "high"),
}
"""Each kind's draw, and the modes it makes sense for."""

ROUND = (
    *("drop", "interlaced", "box", "series", "blend", "interlaced", "triangle", "paired"),
    *("cubic", "interlaced", "fieldwise", "lanczos3", "series", "window", "interlaced", "box"),
    *("cubic -0.6", "fieldwise", "blend", "cubic -0.75"),
)
"""The kinds of twenty boxes in a row: interlacing as often as anything else."""

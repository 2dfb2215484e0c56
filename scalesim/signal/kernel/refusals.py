"""What is no capture of the kernel chart: refused with the reason, before anything is measured."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.layout import GREY, Layout, layout
from scalesim.core.encoding import luma
from scalesim.core.mode import MODES
from scalesim.errors import NotIdentifiable, ShapeError
from scalesim.signal.kernel.along_line import AlongLine, Steps, bars_likeness, moved_bars

LIKE = 0.62
"""Least likeness of bars that are the chart's."""
SURE = 0.85
_LEAST_LINES, _LEAST_SAMPLES = 96, 160
_MOST_LINES = 640
_SLOPES = tuple(
    sign * slope for slope in (0.015, 0.03, 0.06, 0.09, 0.13, 0.18, 0.25, 0.34) for sign in (-1, 1)
)
_BLACK = 0.03
_MOST_CLIPPED = 0.7
_MOST_SHEAR = 0.003
"""Share of the width by which bars may wander from the top band to the bottom one."""


def checked(captures: Sequence[NDArray]) -> list[NDArray]:
    if not len(captures):
        raise ShapeError("no capture was given; give at least one frame of (lines, samples, 3) code values")
    frames = [np.asarray(capture) for capture in captures]
    for number, frame in enumerate(frames, start=1):
        if frame.ndim != 3 or frame.shape[2] != 3 or frame.dtype.kind != "f":
            raise ShapeError(
                f"capture {number}: shape {frame.shape}, {frame.dtype}; it must be (lines, samples, 3) float "
                "code values 0…1"
            )
        if frame.shape != frames[0].shape:
            size, first = (f"{f.shape[1]}x{f.shape[0]}" for f in (frame, frames[0]))
            raise ShapeError(
                f"capture {number} is {size}, the first is {first}; capture all frames at one size"
            )
    lines, samples = frames[0].shape[:2]
    if lines < _LEAST_LINES or samples < _LEAST_SAMPLES:
        raise ShapeError(
            f"the capture is {samples}x{lines}; it must be at least {_LEAST_SAMPLES}x{_LEAST_LINES} "
            "(capture the whole picture, unscaled)"
        )
    if not all(np.all(np.isfinite(frame)) for frame in frames):
        raise ShapeError("the capture holds NaN or infinite values; every code value must be finite")
    return [frame.astype(np.float32, copy=False) for frame in frames]


def undoubled(frames: list[NDArray]) -> tuple[list[NDArray], int]:
    """Return the frames with repeated lines taken once, when a tall capture merely repeats them."""
    lines = frames[0].shape[0]
    if lines <= _MOST_LINES:
        return frames, 1
    profile = luma(frames[0])[:, ::4]
    change = np.sqrt(np.mean(np.diff(profile, axis=0) ** 2, axis=1))
    for times in (2, 3, 4, 5):
        if lines % times:
            continue
        across = [float(np.median(change[k::times])) for k in range(times)]
        edge = int(np.argmax(across))
        others = [c for k, c in enumerate(across) if k != edge]
        if across[edge] > 0.05 and max(others) < 0.15 * across[edge]:
            first = (edge + 1) % times
            middle = (first + times // 2) % times
            return [frame[middle::times] for frame in frames], times
    raise NotIdentifiable(
        f"the capture has {lines} lines, more than any 15 kHz picture, and does not repeat whole lines: it "
        "was scaled on the way, which cannot be told from the box; capture 240, 288, 480 or 576 lines"
    )


def refuse_blank(mean: NDArray) -> None:
    low, high = (float(v) for v in np.percentile(mean, (1, 99)))
    if high - low < _BLACK:
        state = "black" if high < 0.12 else "one flat tone"
        raise NotIdentifiable(
            f"the capture is {state} ({255 * low:.0f} to {255 * high:.0f} of 255); check that the chart is "
            "playing and that the capture shows it"
        )
    clipped = float(np.mean((mean <= low + 0.004) | (mean >= high - 0.004)))
    ends = float(np.mean((mean <= 0.004) | (mean >= 0.996)))
    if ends > _MOST_CLIPPED and clipped > _MOST_CLIPPED:
        raise NotIdentifiable(
            f"{100 * ends:.0f} % of the capture is clipped to black or white; lower the capture's gain until "
            "the ramps show all 16 steps"
        )


def refuse_chart(fields_first: NDArray, mean: NDArray, plan: Layout) -> None:
    """Raise the reason why the bars were not found: another mode's chart, a turned picture, no chart."""
    for other in _other_layouts(plan):
        if bars_likeness(fields_first, Steps(other.bar_edges, other.bar_levels(), GREY)) > SURE:
            raise NotIdentifiable(
                f"the capture shows the kernel chart of {_described(other)}, not that of {_described(plan)}; "
                f"give {_described(other)}, or play the other chart"
            )
    bars = Steps(plan.bar_edges, plan.bar_levels(), GREY)
    if seen_aslant(mean, bars, SURE):
        raise turned()
    raise NotIdentifiable(
        f"no bars of the {plan.mode.name} kernel chart were found in the capture; capture the box's signal "
        "while the chart is playing (a photo of a screen will not do)"
    )


def _other_layouts(plan: Layout) -> list[Layout]:
    seen: dict[int, Layout] = {}
    for mode in MODES.values():
        for aspect in ("full", "4:3"):
            for page in ("luma", "colour"):
                other = layout(mode, page=page, aspect=aspect)
                seen.setdefault(other.seed, other)
    return [other for seed, other in seen.items() if seed != plan.seed]


def _described(plan: Layout) -> str:
    extra = [word for word, on in (("4:3", plan.aspect == "4:3"), ("colour", plan.page == "colour")) if on]
    return " ".join([plan.mode.name, *extra])


def seen_aslant(mean: NDArray, bars: Steps, least: float) -> bool:
    """True when lines read along some slope resemble the bars by more than `least`."""
    return any(bars_likeness(_slanted(mean, slope), bars) > least for slope in _SLOPES)


def _slanted(picture: NDArray, slope: float) -> NDArray:
    """Return lines read along a slope, in picture heights across the width; edges replicate."""
    lines, samples = picture.shape
    drop = np.round(slope * lines * (np.arange(samples) / samples - 0.5)).astype(int)
    rows = np.clip(np.arange(lines)[:, None] + drop, 0, lines - 1)
    return picture[rows, np.arange(samples)]


def turned() -> NotIdentifiable:
    return NotIdentifiable(
        "the chart is turned or seen at an angle in the capture; capture the signal itself, not a screen"
    )


def refuse_turned(mean: NDArray, like: NDArray, bars: Steps, along: AlongLine, woven: bool) -> None:
    """Raise when the bands' bars lie at different places along the line: a slant or a perspective."""
    lines = mean.shape[0]
    order = np.concatenate([np.arange(k, lines, 2) for k in range(2)]) if woven else np.arange(lines)
    places = order[like > 0.85 * like.max()]
    if not len(places):
        return
    shifts = []
    for part in range(3):
        members = places[(places >= part * lines / 3) & (places < (part + 1) * lines / 3)]
        if len(members):
            found = moved_bars(mean[members], bars, along)
            if found.likeness > LIKE:
                shifts.append(found.shift + 0.5 * found.scale)
    if shifts and max(shifts) - min(shifts) > _MOST_SHEAR:
        raise turned()

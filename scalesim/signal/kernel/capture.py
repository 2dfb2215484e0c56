"""From captured frames to cell levels per field, or to the reason why that cannot be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.layout import COLOUR_SWING, GREY, HIGH, LOW, RAMP, Layout, layout
from scalesim.core.encoding import luma
from scalesim.core.mode import MODES
from scalesim.errors import NotIdentifiable, ShapeError
from scalesim.signal.kernel.along_line import (
    AlongLine,
    Steps,
    bars_likeness,
    likenesses,
    moved_bars,
    register_bars,
)
from scalesim.signal.kernel.cells import Stack, cell_weights, stack
from scalesim.signal.kernel.field_identity import usable_lines
from scalesim.signal.kernel.field_lines import FieldLines
from scalesim.signal.kernel.ramps import Tone, fit_tone

WOVEN_FROM = 400
_LEAST_LINES, _LEAST_SAMPLES = 96, 160
_MOST_LINES = 640
_LIKE = 0.62
_RAMP_LIKE = 0.9
_SURE = 0.85
_CLEAN = 0.93
"""Likeness of the bars that even poor captures reach when they are level."""
_SLOPES = tuple(
    sign * slope for slope in (0.015, 0.03, 0.06, 0.09, 0.13, 0.18, 0.25, 0.34) for sign in (-1, 1)
)
_BLACK = 0.03
_MOST_CLIPPED = 0.7
_MOST_SHEAR = 0.003
"""Share of the width by which bars may wander from the top band to the bottom one."""


@dataclass(frozen=True)
class Capture:
    """What a capture tells before any method is tried.

    Parameters:
        fields : the captured lines per field
        woven : whether the frames hold two fields
        along, tone, frames : registration along the line, tone, and which frames were used
        notes : what was assumed or left out, in sentences
    """

    fields: tuple[FieldLines, ...]
    woven: bool
    along: AlongLine
    tone: Tone
    frames: Stack
    notes: tuple[str, ...]


def read_capture(captures: Sequence[NDArray], plan: Layout, woven: bool | None) -> Capture:
    """Return the fields of a capture of the chart `plan`.

    Raises: ShapeError, NotIdentifiable, as `identify` says
    """
    frames = _checked(captures)
    notes: list[str] = []
    frames, repeats = _undoubled(frames)
    if repeats > 1:
        notes.append(f"every line was captured {repeats} times; one of each was used")
    two = frames[0].shape[0] >= WOVEN_FROM if woven is None else woven
    grey = [luma(frame) for frame in frames]
    mean = np.mean(grey, axis=0)
    _refuse_blank(mean)
    parts = [mean[k::2] for k in range(2)] if two else [mean]
    fields_first = np.concatenate(parts)
    bars = Steps(plan.bar_edges, plan.bar_levels(), GREY)
    along = register_bars(fields_first, bars)
    if along.likeness < _LIKE or (along.mirrored and along.likeness <= _SURE):
        _refuse_chart(fields_first, mean, plan)
    if along.mirrored and along.likeness > _SURE:
        raise NotIdentifiable(
            "the capture is mirrored, left and right exchanged; switch the mirroring off and capture again"
        )
    if along.likeness < _CLEAN and _seen_aslant(mean, bars, bars_likeness(mean, bars) + 0.02):
        raise _turned()
    like_bars = likenesses(fields_first, bars, along)
    _refuse_turned(mean, like_bars, bars, along, two)
    like_ramp = likenesses(fields_first, Steps(plan.ramp_edges(), np.asarray(RAMP), GREY), along)
    tone = _tone(fields_first, like_ramp, plan, along, notes)
    stacked, seen = _cells(frames, grey, plan, along, two)
    _note_frames(stacked, notes)
    fields = _fields(stacked, seen, plan, tone, usable_lines(like_bars, like_ramp), two)
    return Capture(fields, two, along, tone, stacked, tuple(notes))


def _checked(captures: Sequence[NDArray]) -> list[NDArray]:
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


def _undoubled(frames: list[NDArray]) -> tuple[list[NDArray], int]:
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


def _refuse_blank(mean: NDArray) -> None:
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


def _refuse_chart(fields_first: NDArray, mean: NDArray, plan: Layout) -> None:
    """Raise the reason why the bars were not found: another mode's chart, a turned picture, no chart."""
    for other in _other_layouts(plan):
        if bars_likeness(fields_first, Steps(other.bar_edges, other.bar_levels(), GREY)) > _SURE:
            raise NotIdentifiable(
                f"the capture shows the kernel chart of {_described(other)}, not that of {_described(plan)}; "
                f"give {_described(other)}, or play the other chart"
            )
    bars = Steps(plan.bar_edges, plan.bar_levels(), GREY)
    if _seen_aslant(mean, bars, _SURE):
        raise _turned()
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


def _seen_aslant(mean: NDArray, bars: Steps, least: float) -> bool:
    """True when lines read along some slope resemble the bars by more than `least`."""
    return any(bars_likeness(_slanted(mean, slope), bars) > least for slope in _SLOPES)


def _slanted(picture: NDArray, slope: float) -> NDArray:
    """Return lines read along a slope, in picture heights across the width; edges replicate."""
    lines, samples = picture.shape
    drop = np.round(slope * lines * (np.arange(samples) / samples - 0.5)).astype(int)
    rows = np.clip(np.arange(lines)[:, None] + drop, 0, lines - 1)
    return picture[rows, np.arange(samples)]


def _turned() -> NotIdentifiable:
    return NotIdentifiable(
        "the chart is turned or seen at an angle in the capture; capture the signal itself, not a screen"
    )


def _refuse_turned(mean: NDArray, like: NDArray, bars: Steps, along: AlongLine, woven: bool) -> None:
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
            if found.likeness > _LIKE:
                shifts.append(found.shift + 0.5 * found.scale)
    if shifts and max(shifts) - min(shifts) > _MOST_SHEAR:
        raise _turned()


def _tone(fields_first: NDArray, like: NDArray, plan: Layout, along: AlongLine, notes: list[str]) -> Tone:
    """Return the tone of the ramps' lines, all bands together."""
    clear = like > max(_RAMP_LIKE, float(like.max()) - 0.012)
    weights, seen = cell_weights(plan.ramp_edges(), along, fields_first.shape[1])
    if clear.sum() >= 2:
        steps = np.median(fields_first[clear] @ weights, axis=0)
        low, high = (float(v) for v in np.percentile(fields_first, (0.05, 99.95)))
        tone = fit_tone(np.asarray(RAMP), np.where(seen, steps, np.nan), low, high)
        if np.isfinite(tone.residual):
            mistake = tone.range_mistake()
            if mistake is not None:
                notes.append(
                    f"levels look like {mistake} range (gain {tone.gain:.3f}, black at "
                    f"{255 * tone.lift:.0f} of 255)"
                )
            return tone
    notes.append("no grey ramp could be read; levels were taken from the codes alone, gamma as 1")
    low, high = (float(v) for v in np.percentile(fields_first, (2, 98)))
    gain = (high - low) / (HIGH - LOW)
    return Tone(lift=low - gain * LOW, gain=gain)


def _cells(
    frames: list[NDArray], grey: list[NDArray], plan: Layout, along: AlongLine, woven: bool
) -> tuple[Stack, NDArray]:
    weights, seen = cell_weights(plan.cell_edges, along, frames[0].shape[1])
    if seen.sum() < 8:
        raise NotIdentifiable(
            f"only {int(seen.sum())} of {len(seen)} cells of the chart are in the capture; show at least 8 "
            "(less crop or zoom)"
        )
    values = [frame[..., 2] - frame[..., 1] for frame in frames] if plan.page == "colour" else grey
    means = np.stack([value @ weights[:, seen] for value in values]).astype(np.float64)
    return stack(means, 2 if woven else 1), seen


def _note_frames(stacked: Stack, notes: list[str]) -> None:
    if stacked.unstable:
        names = ", ".join(str(k + 1) for k in stacked.unstable)
        notes.append(f"left out because they differ from the others: capture {names}")
    if stacked.moved:
        names = ", ".join(str(k + 1) for k in stacked.moved)
        notes.append(f"moved back because they had jumped by whole lines: capture {names}")


def _fields(
    stacked: Stack, seen: NDArray, plan: Layout, tone: Tone, usable: NDArray, woven: bool
) -> tuple[FieldLines, ...]:
    if stacked.alternating is not None and not woven:
        parts = list(stacked.alternating)
        lit = [usable, usable]
    elif woven:
        parts = [stacked.mean[k::2] for k in range(2)]
        half = len(parts[0])
        lit = [usable[:half], usable[half:]]
    else:
        parts, lit = [stacked.mean], [usable]
    codes = plan.codes()[:, seen].astype(np.float64)
    return tuple(_field(p, u, codes, plan, tone) for p, u in zip(parts, lit, strict=True))


def _field(part: NDArray, usable: NDArray, codes: NDArray, plan: Layout, tone: Tone) -> FieldLines:
    if plan.page == "colour":
        # a difference of two codes: gain alone acts on it, and the fit's own gain takes the rest
        swing = COLOUR_SWING * 1.08
        return FieldLines(
            0.5 + part / (4 * tone.gain), usable, codes, plan.coded_lines(), 0.5 - swing / 4, 0.5 + swing / 4
        )
    limits = tone.level(np.array([tone.floor, tone.ceiling]))
    floor = max(float(limits[0]), 0.0) if np.isfinite(tone.floor) else 0.0
    ceiling = min(float(limits[1]), 1.0) if np.isfinite(tone.ceiling) else 1.0
    return FieldLines(tone.level(part), usable, codes, plan.coded_lines(), LOW, HIGH, floor, ceiling)

"""From captured frames to cell levels per field, or to the reason why that cannot be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.layout import COLOUR_SWING, GREY, HIGH, LOW, RAMP, Layout
from scalesim.core.encoding import luma
from scalesim.errors import NotIdentifiable
from scalesim.signal.kernel.along_line import AlongLine, Steps, bars_likeness, likenesses, register_bars
from scalesim.signal.kernel.cells import Stack, cell_weights, stack
from scalesim.signal.kernel.field_identity import usable_lines
from scalesim.signal.kernel.field_lines import FieldLines
from scalesim.signal.kernel.ramps import Tone, fit_tone
from scalesim.signal.kernel.refusals import (
    LIKE,
    SURE,
    checked,
    refuse_blank,
    refuse_chart,
    refuse_turned,
    seen_aslant,
    turned,
    undoubled,
)

WOVEN_FROM = 400
_RAMP_LIKE = 0.9
_CLEAN = 0.93
"""Likeness of the bars that even poor captures reach when they are level."""


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
    frames = checked(captures)
    notes: list[str] = []
    frames, repeats = undoubled(frames)
    if repeats > 1:
        notes.append(f"every line was captured {repeats} times; one of each was used")
    two = frames[0].shape[0] >= WOVEN_FROM if woven is None else woven
    grey = [luma(frame) for frame in frames]
    mean = np.mean(grey, axis=0)
    refuse_blank(mean)
    parts = [mean[k::2] for k in range(2)] if two else [mean]
    fields_first = np.concatenate(parts)
    bars = Steps(plan.bar_edges, plan.bar_levels(), GREY)
    along = register_bars(fields_first, bars)
    if along.likeness < LIKE or (along.mirrored and along.likeness <= SURE):
        refuse_chart(fields_first, mean, plan)
    if along.mirrored and along.likeness > SURE:
        raise NotIdentifiable(
            "the capture is mirrored, left and right exchanged; switch the mirroring off and capture again"
        )
    if along.likeness < _CLEAN and seen_aslant(mean, bars, bars_likeness(mean, bars) + 0.02):
        raise turned()
    like_bars = likenesses(fields_first, bars, along)
    refuse_turned(mean, like_bars, bars, along, two)
    like_ramp = likenesses(fields_first, Steps(plan.ramp_edges, np.asarray(RAMP), GREY), along)
    tone = _tone(fields_first, like_ramp, plan, along, notes)
    stacked, seen = _cells(frames, grey, plan, along, two)
    _note_frames(stacked, notes)
    fields = _fields(stacked, seen, plan, tone, usable_lines(like_bars, like_ramp), two)
    return Capture(fields, two, along, tone, stacked, tuple(notes))


def _tone(fields_first: NDArray, like: NDArray, plan: Layout, along: AlongLine, notes: list[str]) -> Tone:
    """Return the tone of the ramps' lines, all bands together."""
    clear = like > max(_RAMP_LIKE, float(like.max()) - 0.012)
    weights, seen = cell_weights(plan.ramp_edges, along, fields_first.shape[1])
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

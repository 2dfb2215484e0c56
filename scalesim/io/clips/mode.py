"""From a stream's size, rate and fields to the raster it is on, and the mode's name."""

from __future__ import annotations

from fractions import Fraction

from scalesim.core.mode import MODES, Mode, mode_named
from scalesim.core.raster import BOTTOM_FIRST, PROGRESSIVE, TOP_FIRST, Field, Raster
from scalesim.core.source import CUSTOM, SourceMode
from scalesim.errors import ParameterError
from scalesim.io.clips.timing import shown_rate

_NEAR = Fraction(1, 100)
_TOLD = Fraction(1, 2000)
"""A mode's rate further off than this is said; 59.94 and 60 are 1/1000 apart."""


def clip_mode(
    frame_lines: int,
    samples: int,
    frame_rate: Fraction,
    order: str | None,
    mode: str | None,
    sample_aspect: Fraction | None = None,
) -> SourceMode:
    """Return the raster of a stream; its rate is the stream's own, twice that of the frames with fields.

    Parameters:
        frame_lines, samples : of a stored frame
        frame_rate : stored frames per second, exact
        order : "top" or "bottom", the earlier field, as the stream says; None when it says progressive
        mode : a mode's name, "custom", or None to guess it from size, fields and rate
        sample_aspect : width over height of a sample as the stream says, for sizes that are no mode's
    Raises: ParameterError for an unknown mode, or one whose active lines are not the stream's
    """
    if mode is None:
        return _guessed(frame_lines, samples, frame_rate, order, sample_aspect)
    if mode.strip().lower() == CUSTOM:
        return _custom(frame_lines, samples, frame_rate, order, sample_aspect)
    named = mode_named(mode)
    if named.frame_lines != frame_lines:
        raise ParameterError(
            f"mode {named.name}: the clip has {frame_lines} lines; this mode has {named.frame_lines} "
            "(give the mode of the clip, or --mode custom)"
        )
    notes = []
    if named.interlaced and order is None:
        order = "top"
        notes.append(f"The stream is not marked interlaced; as {named.name} its top field is taken as first.")
    elif order and not named.interlaced:
        order = None
        notes.append(f"The stream is marked interlaced; as {named.name} its frames were taken whole.")
    if named.samples != samples:
        notes.append(f"{samples} samples a line taken for the {named.samples} of {named.name}")
    return _on_mode(named, samples, frame_rate, order, tuple(notes))


def _guessed(
    frame_lines: int, samples: int, frame_rate: Fraction, order: str | None, sample_aspect: Fraction | None
) -> SourceMode:
    sized = [
        known
        for known in MODES.values()
        if known.frame_lines == frame_lines
        and samples in (known.samples, known.samples * known.repeat)
        and known.interlaced == (order is not None)
    ]
    rate = frame_rate * (2 if order else 1)
    if not sized:
        custom = _custom(frame_lines, samples, frame_rate, order, sample_aspect)
        note = f"{samples}x{frame_lines} is no broadcast mode: taken as a custom raster"
        return SourceMode(custom.raster, custom.name, (note,))
    best = min(sized, key=lambda known: abs(known.rate - rate))
    if abs(best.rate / rate - 1) > _NEAR:
        return _off_rate(sized, samples, frame_rate, order)
    note = f"mode guessed from size and rate: {best.name}; --mode says otherwise"
    return _on_mode(best, samples, frame_rate, order, (note,))


def _off_rate(sized: list[Mode], samples: int, frame_rate: Fraction, order: str | None) -> SourceMode:
    raster = _raster(sized[0].lines, samples, frame_rate, order, sized[0].aspect)
    rate = shown_rate(raster.rate)
    note = f"{rate} pictures per second is no rate of {sized[0].family}: taken as a custom raster"
    if any(abs(2 * raster.rate / known.rate - 1) < _NEAR for known in sized):
        note += "; it is half of one: frames woven of two fields, or every second picture is missing"
    return SourceMode(raster, CUSTOM, (note,))


def _on_mode(
    mode: Mode, samples: int, frame_rate: Fraction, order: str | None, notes: tuple[str, ...]
) -> SourceMode:
    raster = _raster(mode.lines, samples, frame_rate, order, mode.aspect)
    if abs(raster.rate / mode.rate - 1) > _TOLD:
        told = f"The clip's {shown_rate(raster.rate)} pictures per second were kept; {mode.name} has "
        notes = (*notes, told + shown_rate(mode.rate))
    return SourceMode(raster, mode.name, notes)


def _custom(
    frame_lines: int, samples: int, frame_rate: Fraction, order: str | None, sample_aspect: Fraction | None
) -> SourceMode:
    aspect = Fraction(samples, frame_lines) * (sample_aspect or 1)
    lines = frame_lines // 2 if order else frame_lines
    return SourceMode(_raster(lines, samples, frame_rate, order, aspect), CUSTOM)


def _raster(lines: int, samples: int, frame_rate: Fraction, order: str | None, aspect: Fraction) -> Raster:
    fields: tuple[Field, ...] = PROGRESSIVE
    if order:
        fields = TOP_FIRST if order == "top" else BOTTOM_FIRST
    return Raster(lines, samples, frame_rate * len(fields), fields, aspect)

"""From a picture's size (and a mode's name) to the raster it is on."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from scalesim.core.mode import Mode, guess_mode, mode_named
from scalesim.core.raster import PROGRESSIVE, TOP_FIRST, Raster
from scalesim.errors import ParameterError

CUSTOM = "custom"
_FIFTY_HERTZ_LINES = (288, 576)


@dataclass(frozen=True)
class SourceMode:
    """The raster of a source frame, the name of its mode, and what was assumed, in sentences."""

    raster: Raster
    name: str
    notes: tuple[str, ...] = ()


def source_mode(frame_lines: int, samples: int, mode: str | None = None) -> SourceMode:
    """Return the raster of a source frame of this size.

    With `mode` None the mode is guessed from height and width (progressive, 60 Hz class; 50 Hz for
    576 and 288 lines) and the guess is said; any size that is no mode's becomes "custom".

    Raises: ParameterError for an unknown mode, or one whose active lines are not the picture's
    """
    if mode is None:
        guess = guess_mode(frame_lines, samples)
        if guess is not None:
            return SourceMode(
                _raster(guess, samples),
                guess.name,
                (f"mode guessed from the size: {guess.name}; --mode says otherwise",),
            )
        size = f"{samples}x{frame_lines}"
        note = f"{size} is no broadcast mode: taken as a custom progressive raster with square samples"
        return SourceMode(_custom(frame_lines, samples), CUSTOM, (note,))
    if isinstance(mode, str) and mode.strip().lower() == CUSTOM:
        return SourceMode(_custom(frame_lines, samples), CUSTOM)
    named = mode_named(mode)
    if named.frame_lines != frame_lines:
        raise ParameterError(
            f"mode {named.name}: the picture has {frame_lines} lines; this mode has {named.frame_lines} "
            "(give the mode of the picture, or --mode custom)"
        )
    notes = (
        ()
        if named.samples == samples
        else (f"{samples} samples a line taken for the {named.samples} of {named.name}",)
    )
    return SourceMode(_raster(named, samples), named.name, notes)


def _raster(mode: Mode, samples: int) -> Raster:
    fields = TOP_FIRST if mode.interlaced else PROGRESSIVE
    return Raster(mode.lines, samples, mode.rate, fields, mode.aspect)


def _custom(frame_lines: int, samples: int) -> Raster:
    rate = Fraction(50 if frame_lines in _FIFTY_HERTZ_LINES else 60)
    return Raster(frame_lines, samples, rate, PROGRESSIVE, Fraction(samples, frame_lines))

"""Captured: a real box's picture, registered to the frame that was sent, measured like a prediction."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.chain.resolve import Resolved
from scalesim.core.affine import Affine
from scalesim.core.build import resample_lines
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.framing import framing_notes
from scalesim.core.geometry import Geometry
from scalesim.core.operator import Operator
from scalesim.core.picture import split_fields
from scalesim.core.raster import PROGRESSIVE, TOP_FIRST, Field, Raster
from scalesim.errors import NotIdentifiable, NotMeasurable, ShapeError
from scalesim.jobs.compare.capture_checks import check_enlarged, enlarged_notes, geometry_notes
from scalesim.jobs.frames import whole_frames
from scalesim.jobs.predict.outcome import Outcome
from scalesim.metrics import check_metrics
from scalesim.signal.field_offset import field_offset
from scalesim.signal.registration.register import Registration, register

FIELD_LINES = (480, 486, 576)
"""A capture of so many lines is two woven fields: 15 kHz displays take no progressive picture of them."""

_SAME = 0.25
"""Fields whose content lies nearer than this, in field lines, are one content sent twice."""


@dataclass(frozen=True)
class Capture:
    """A captured box, read when its turn comes.

    Parameters:
        label : name of the box, for tables
        load : gives the captured frames of one picture, as clips or stills of one size
    """

    label: str
    load: Callable[[], Iterable[Clip]]

    @property
    def shown(self) -> str:
        """The label as tables and pictures have it, marked as captured."""
        return f"{self.label}, captured"

    def mean(self) -> NDArray:
        """Return the mean of the frames, (lines, samples, 3) float32, woven as they were captured.

        Raises: ShapeError for frames of different sizes, or none
        """
        return self.picture().values

    def picture(self) -> MeanPicture:
        """Return the mean of the frames with its noise; raise ShapeError as `mean` does."""
        clips = list(self.load())
        frames = [frame for clip in clips for frame in whole_frames(clip)]
        if not frames:
            raise ShapeError(f"{self.label}: the capture holds no whole frame")
        sizes = {frame.shape for frame in frames}
        if len(sizes) > 1:
            shown = ", ".join(sorted(f"{s[1]}x{s[0]}" for s in sizes))
            raise ShapeError(f"{self.label}: its frames have different sizes ({shown}); capture all at one")
        mean = np.asarray(np.mean(frames, axis=0, dtype=np.float32))
        notes = dict.fromkeys(note for clip in clips for note in framing_notes(clip.notes))
        return MeanPicture(mean, _noise(frames), len(frames), tuple(notes))


@dataclass(frozen=True, eq=False)
class MeanPicture:
    """The mean of a capture's frames.

    Parameters:
        values : (lines, samples, 3) float32 code values
        noise : standard deviation of the mean's noise by how the frames differ, None of one frame
        frames : how many there are; notes : what was taken off them
    """

    values: NDArray
    noise: float | None
    frames: int
    notes: tuple[str, ...] = ()


def _noise(frames: list[NDArray]) -> float | None:
    """Return the noise of a mean of frames; frames that are one file twice tell nothing."""
    if len(frames) < 2:
        return None
    total = np.zeros(frames[0].shape, np.float64)
    squares = np.zeros(frames[0].shape, np.float64)
    for frame in frames:
        total += frame
        squares += np.square(frame, dtype=np.float64)
    count = len(frames)
    variance = np.maximum(squares / count - (total / count) ** 2, 0).mean() * count / (count - 1)
    return float(np.sqrt(variance / count)) or None


@dataclass(frozen=True, eq=False)
class CapturedPicture:
    """A captured picture, and how it lies on the source."""

    outcome: Outcome
    registration: Registration


def captured(
    label: str,
    frame: NDArray,
    source: Clip,
    *,
    metrics: Iterable[str] | None = None,
    reference: str | NDArray = "ideal",
    tube: str = "4:3",
    woven: bool = True,
) -> CapturedPicture:
    """Return a captured frame measured against the frame that was sent.

    Parameters:
        frame : (lines, samples, 3) float32 code values, the mean of several frames if there are
        source : the still that was sent
        woven : it can hold two fields; one of a clip with 50 frames a second or more cannot
    What lies on the source where is taken from the picture alone (`register`). Levels are compared as
    captured. 480, 486 and 576 lines are two fields: interlaced when their contents lie half a line apart,
    else on one set of lines.
    Raises: ShapeError, NotIdentifiable when the capture does not show this frame
    """
    assert source.frame is not None
    check_enlarged(label, frame, woven=woven)
    found = register(luma(frame), luma(source.frame), name=label, source_name=source.name)
    if found.mirrored:
        raise NotIdentifiable(
            f"{label}: is mirrored ({found.mirrored}) against the source; turn it back first"
        )
    output = _raster(frame, source.raster, woven=woven)
    names = check_metrics(metrics)
    shown = Outcome(
        source=source,
        raster=output,
        geometry=_geometry(found, output, source.raster),
        cycle=tuple(split_fields(frame, output)),
        tube=tube,
        notes=(
            *_notes(label, found, output),
            *enlarged_notes(label, frame),
            *geometry_notes(label, found, output, source.raster),
        ),
    )
    return CapturedPicture(shown.measured(names, reference), found)


def reference_on(picture: NDArray, resolved: Resolved, found: Registration) -> NDArray:
    """Return a registered capture as a reference for a chain: drawn on its raster, at the source's levels.

    Parameters:
        picture : (lines, samples, 3) code values, woven when it has fields
        resolved : the chain on the source's raster
        found : of the picture to the source (`register_picture`)
    Returns: (landed lines, samples, 3) float32; linear between the capture's lines and samples
    """
    output, geometry = resolved.output, resolved.geometry
    values = (np.asarray(picture, np.float32) - np.float32(found.lift)) / np.float32(found.gain)
    lines = geometry.landed(output).after(found.lines.inverse())
    samples = geometry.samples.after(found.samples.inverse())
    on_lines = resample_lines(picture.shape[0], output.landed_lines, lines.scale, lines.offset)
    on_samples = resample_lines(picture.shape[1], output.samples, samples.scale, samples.offset)
    drawn = Operator(on_lines, on_samples, "code")(values)
    return np.clip(drawn, 0, 1)


def register_picture(label: str, picture: NDArray, source: Clip) -> Registration:
    """Return where a captured picture lies on the frame that was sent.

    Raises: NotIdentifiable when it shows another frame, or is mirrored
    """
    assert source.frame is not None
    found = register(
        luma(np.asarray(picture, np.float32)), luma(source.frame), name=label, source_name=source.name
    )
    if found.mirrored:
        raise NotIdentifiable(
            f"{label}: is mirrored ({found.mirrored}) against the source; turn it back first"
        )
    return found


def _raster(frame: NDArray, source: Raster, *, woven: bool) -> Raster:
    lines, samples = frame.shape[:2]
    rate = source.rate
    if not woven or lines not in FIELD_LINES:
        return Raster(lines, samples, rate, PROGRESSIVE, source.aspect)
    two = Raster(lines // 2, samples, rate, TOP_FIRST, source.aspect)
    fields = [luma(values) for values in split_fields(frame, two)]
    try:
        same = abs(field_offset(fields, [0, 1]).lines) < _SAME
    except NotMeasurable:
        same = False
    return two.with_(fields=(Field(0), Field(1))) if same else two


def _geometry(found: Registration, output: Raster, source: Raster) -> Geometry:
    """Return where each field of the capture looks on the source frame."""
    lines = tuple(_woven_of_picture(output, phase).after(found.lines) for phase in range(output.period))
    spans = [sorted((m(0.0), m(float(output.lines)))) for m in lines]
    across = sorted((found.samples(0.0), found.samples(float(output.samples))))
    return Geometry(
        lines,
        found.samples,
        lines,
        (max(0.0, max(s[0] for s in spans)), min(float(source.frame_lines), min(s[1] for s in spans))),
        (max(0.0, across[0]), min(float(source.samples), across[1])),
    )


def _woven_of_picture(output: Raster, phase: int) -> Affine:
    """Return the map from a field's lines to the woven capture's: line i of parity q is line 2 i + q.

    Fields with one content show it on the same lines: both then lie where the pair of lines does.
    """
    if output.period == 1:
        return Affine()
    return Affine(2.0, 0.0) if output.scan == "field-only" else Affine(2.0, output.fields[phase].parity - 0.5)


def _notes(label: str, found: Registration, output: Raster) -> tuple[str, ...]:
    one = output.period == 1
    fields = "" if one else f", {output.scan}"
    seen = "" if one else " Where fields land is taken from their content, not seen."
    return (
        f"{label}: registered with a likeness of {found.correlation:.2f}; {found.lines.scale:.4f} source "
        f"lines a line{fields}; against the source its gain is {found.gain:.3f}, its black "
        f"{255 * found.lift:+.1f} of 255.{seen}",
    )

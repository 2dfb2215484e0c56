"""Where does the picture sit now, and where should it? A capture against the chain's own prediction.

The capture is registered to what the chain is predicted to give; how far it must be moved tells how far
the picture sits from where the chain puts it. Then the source is moved by that much, the chain is run
again, and what is left is added: a prediction a line off splits outlines otherwise, which would pull at
the estimate. Fields are looked at one by one wherever the capture holds both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain, as_chain
from scalesim.core.affine import Affine
from scalesim.core.clip import Clip, still_clip
from scalesim.core.encoding import luma
from scalesim.errors import NotIdentifiable, ScalesimError, ShapeError
from scalesim.jobs.position.answer import CapturePosition
from scalesim.jobs.position.place import best_place
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.prediction import Prediction
from scalesim.signal.art_grid import art_grid
from scalesim.signal.registration.register import Registration, register
from scalesim.stages import Stage
from scalesim.stages.geometry import Position

_ROUNDS = 2


@dataclass(frozen=True, eq=False)
class _View:
    """One picture within the capture and its registration to the same picture of the prediction."""

    capture: NDArray
    found: Registration
    predicted: tuple[int, ...]

    @property
    def down(self) -> float:
        """Predicted lines the captured middle sits lower than the predicted one."""
        return self._moved(0, self.found.lines)

    @property
    def right(self) -> float:
        """Predicted samples the captured middle sits further right."""
        return self._moved(1, self.found.samples)

    @property
    def height(self) -> float:
        """Height of the captured picture over the predicted one's."""
        return self.predicted[0] / (self.capture.shape[0] * self.found.lines.scale)

    @property
    def nominal(self) -> tuple[Affine, Affine]:
        """Return where a capture of the same size that sits as predicted would look on the prediction."""
        lines, samples = self.found.lines, self.found.samples
        return (
            Affine(lines.scale, lines.offset + self.down),
            Affine(samples.scale, samples.offset + self.right),
        )

    def _moved(self, axis: int, look: Affine) -> float:
        return self.predicted[axis] / 2 - look(self.capture.shape[axis] / 2)


def capture_position(
    capture: NDArray,
    source: Clip | NDArray,
    chain: Chain | str | Stage | Sequence[Stage],
    *,
    mode: str | None = None,
    name: str = "capture",
    vary: Any = None,
    by: str = "line_doubling",
) -> CapturePosition:
    """Return how far a captured picture sits from where the chain puts it, and the move to its best place.

    Parameters:
        capture : (lines, samples, 3) code values 0..1: woven when it has fields, or any picture of the
            whole output raster (a progressive capture, an upscaled one)
        source : the frame that was sent, a still `Clip` or (lines, samples, 3)
        chain : what is believed to stand between the two
        mode : of a source given as an array; None guesses it
        name : of the capture, for messages
        vary : places to try, such as "position.lines=-4:4:1/8"; None tries what the chain's dial can reach,
            else every quarter of a line within one repeat about where the picture is
        by : metric keys that decide which place is best, as in `tune`
    Raises: ParameterError for `vary` or `by` that cannot be; ShapeError for a wrong shape;
        NotIdentifiable when the capture cannot be registered (another frame, a mirrored or turned
            picture, no detail)
    """
    if getattr(capture, "ndim", 0) != 3 or capture.shape[2] != 3:
        shape = getattr(capture, "shape", type(capture).__name__)
        raise ShapeError(f"{name}: shape is {shape}; it must be (lines, samples, 3) code values")
    clip = source if isinstance(source, Clip) else still_clip(source, mode=mode)
    written = as_chain(chain)
    values = luma(np.asarray(capture, np.float32))
    first = predict(clip, written, metrics=())
    per_line, per_sample = _source_per_output(first)
    per_view: NDArray = np.zeros(1)
    right = 0.0
    views: list[_View] = []
    for turn in range(_ROUNDS + 1):
        middle = float(per_view.mean())
        now = first if turn == 0 else predict(clip, _moved_source(written, clip, middle, right), metrics=())
        pairs = _pairs(values, now)
        starts = [v.nominal for v in views] if views else [None] * len(pairs)
        views = [_registered(*pair, at, name) for pair, at in zip(pairs, starts, strict=True)]
        scale = per_line * now.raster.landed_lines / np.array([v.predicted[0] for v in views])
        per_view = middle + np.array([v.down for v in views]) * scale
        right += float(np.mean([v.right for v in views])) * per_sample
        if abs(per_view.mean() - middle) < 0.02:
            break
    return _result(name, first, views, per_view, right, (vary, by))


def _source_per_output(outcome: Outcome) -> tuple[float, float]:
    """Return source frame lines per landed line and source samples per output sample."""
    return outcome.geometry.landed(outcome.raster).scale, outcome.geometry.samples.scale


def _moved_source(chain: Chain, clip: Clip, lines: float, samples: float) -> Chain:
    """Return the chain with its source moved down by frame lines and to the right by samples."""
    period = clip.raster.period
    return Chain(Position(lines=lines / period, samples=samples), *chain.stages, name=chain.name)


def _pairs(capture: NDArray, outcome: Outcome) -> list[tuple[NDArray, NDArray]]:
    """Return (captured luma, predicted luma) of each picture the capture holds.

    A capture of twice a picture's lines holds two pictures: both fields, or one progressive picture
    twice. Anything else is taken for the whole landed picture.
    """
    raster = outcome.raster
    if capture.shape[0] != 2 * raster.lines:
        return [(capture, luma(outcome.landed))]
    if raster.period == 1:
        shown = luma(outcome.landed)
        return [(capture[0::2], shown), (capture[1::2], shown)]
    pairs = []
    for values, own in zip(outcome.cycle, raster.fields, strict=False):
        pairs.append((capture[own.parity :: 2], luma(values)))
    return pairs


def _registered(
    capture: NDArray, predicted: NDArray, start: tuple[Affine, Affine] | None, name: str
) -> _View:
    found = register(capture, predicted, start=start, name=name, source_name="the prediction")
    if found.mirrored:
        which = {"samples": "left to right", "lines": "upside down", "both": "by half a turn"}
        raise NotIdentifiable(
            f"{name}: is mirrored {which[found.mirrored]}; it must be upright "
            "(switch the mirroring off and capture again)"
        )
    return _View(capture, found, predicted.shape)


def _result(
    name: str,
    first: Prediction,
    views: list[_View],
    lines: NDArray,
    right: float,
    tried: tuple[Any, str],
) -> CapturePosition:
    per_line, per_sample = _source_per_output(first)
    last = views[0].found
    scale = per_line * first.raster.landed_lines / views[0].predicted[0]
    error = float(np.sqrt(np.mean([v.found.error_lines**2 for v in views]) / len(views))) * scale
    across = float(np.mean([v.found.error_samples for v in views])) * per_sample
    down = float(lines.mean())
    unseen = _unseen(first)
    # anywhere within what does not show is equally likely
    doubt = float(np.hypot(error, unseen / np.sqrt(12)))
    return CapturePosition(
        name=name,
        chain=first.chain,
        mode_out=first.mode_out,
        lines=down,
        lines_error=doubt,
        scan_lines=down / per_line * first.raster.landed_pitch,
        samples=right,
        samples_error=across,
        height=float(np.mean([v.height for v in views])),
        field_lines=tuple(float(v) for v in lines) if len(views) > 1 else (),
        unseen=unseen,
        correlation=float(np.mean([v.found.correlation for v in views])),
        gain=last.gain,
        lift=last.lift,
        place=best_place(first.chain, first.source, down, doubt, *tried),
    )


def _unseen(prediction: Prediction) -> int:
    """Return how many source lines the picture can move by without a change; 0 when the chain mixes lines."""
    try:
        operator = prediction.resolved.operator()
    except ScalesimError:
        return 0
    rows = [phase.lines for phase in operator.phases]
    if any(lines is not None and np.any(np.diff(lines.indptr) > 1) for lines in rows):
        return 0
    assert prediction.source.frame is not None
    frame = prediction.source.frame
    return art_grid(frame).lines.pitch if min(frame.shape[:2]) >= 32 else 1

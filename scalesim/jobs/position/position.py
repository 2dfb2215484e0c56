"""Where does the picture sit now, and where should it? A capture against the chain's own prediction.

The position that explains the capture best is found by predicting the chain at many (see
`scalesim.jobs.settings.synthesis`). Fields are looked at one by one wherever the capture holds both.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain, as_chain
from scalesim.core.clip import Clip, still_clip
from scalesim.core.encoding import luma
from scalesim.errors import ScalesimError, ShapeError
from scalesim.jobs.position.answer import CapturePosition
from scalesim.jobs.position.place import best_place, with_position
from scalesim.jobs.predict.prediction import Prediction
from scalesim.jobs.settings.sits import Sits, sits, source_per_output
from scalesim.signal.art_grid import art_grid
from scalesim.stages import Stage


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
    with_it, key = with_position(written, vary)
    found = sits(luma(np.asarray(capture, np.float32)), clip, written, with_it, key, name)
    return _result(name, found, (vary, by))


def _result(name: str, found: Sits, tried: tuple[Any, str]) -> CapturePosition:
    first = found.predicted
    per_line = source_per_output(first)[0]
    views = found.views
    unseen = _unseen(first)
    # anywhere within what does not show is equally likely; so it is when the chain only chooses lines and
    # the box seems to mix them, as then it is not this chain
    hidden = unseen if found.now.width > 0 or found.now.way == "output" else 0
    doubt = float(np.hypot(found.lines_error, max(0.0, hidden - found.now.width) / np.sqrt(12)))
    field_lines = tuple((value - found.told) * found.per_line for value in found.now.views)
    return CapturePosition(
        name=name,
        chain=first.chain,
        mode_out=first.mode_out,
        lines=found.lines,
        lines_error=doubt,
        scan_lines=found.lines / per_line * first.raster.landed_pitch,
        samples=found.right,
        samples_error=found.right_error,
        height=found.height,
        field_lines=field_lines if len(views) > 1 else (),
        unseen=unseen,
        way=found.now.way,
        correlation=float(np.mean([v.found.correlation for v in views])),
        gain=views[0].found.gain,
        lift=views[0].found.lift,
        place=best_place(found, doubt, *tried),
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

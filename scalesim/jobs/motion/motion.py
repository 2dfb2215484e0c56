"""Motion: which source picture every line of a capture shows; what was torn, repeated, dropped or mixed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.luma import Luma
from scalesim.core.lumas import lumas_of
from scalesim.errors import ParameterError
from scalesim.jobs.motion.answer import MotionFound
from scalesim.jobs.motion.fields import told_apart
from scalesim.jobs.motion.timeline import Timeline
from scalesim.signal.counter.stream import CounterReader, Scan

Advance = Callable[[str], None]


def motion(
    capture: Clip,
    *,
    source: Clip | None = None,
    chain: Chain | None = None,
    advance: Advance = lambda _: None,
) -> MotionFound:
    """Return what a capture shows of the source's pictures.

    Parameters:
        capture : a clip of the counter chart after a box, or of anything whose source clip is given
        source : what was played, when it was not the counter chart
        chain : between the source and the capture, so that they can be compared; only with `source`
        advance : called for every frame of the capture
    Raises: ParameterError for a still, a chain without a source, or a source that does not fit
    """
    if capture.is_still:
        raise ParameterError(f"{capture.name}: is one picture; motion takes a clip of the counter chart")
    if chain is not None and source is None:
        raise ParameterError("chain: is what lies between a source clip and the capture; give the source too")
    marked = _marked(capture)
    reader = CounterReader(marked)
    timeline = Timeline()
    frames = _counted(lumas_of(capture), timeline, advance)
    for shown, woven in told_apart(reader(frames)):
        timeline.add(shown, woven=woven)
    if reader.scan in ("top", "bottom"):
        timeline.lines //= 2
    fields = 2 if reader.scan in ("top", "bottom") else 1
    frame_rate = Fraction(capture.raster.rate) / capture.raster.period
    return MotionFound(
        capture=capture.name,
        timeline=timeline,
        rate=float(frame_rate * fields),
        scan=reader.scan or "progressive",
        marked=marked is not None,
        found=reader.found,
        turned=reader.turned,
        notes=capture.notes,
    )


def _marked(capture: Clip) -> Scan | None:
    """Return the earlier field of a capture that is read as fields, None for whole frames."""
    if capture.raster.period == 1:
        return None
    return "top" if capture.raster.fields[0].parity == 0 else "bottom"


def _counted(frames: Iterable[Luma], timeline: Timeline, advance: Advance) -> Iterable[Luma]:
    for frame in frames:
        timeline.lines = frame.values.shape[0]
        advance("reading the capture")
        yield frame

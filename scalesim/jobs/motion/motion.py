"""Motion: which source picture every line of a capture shows; what was torn, repeated, dropped or mixed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction

from scalesim.chain import Chain
from scalesim.chain.run import run
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.luma import Luma
from scalesim.core.lumas import lumas_of
from scalesim.errors import ParameterError
from scalesim.jobs.motion.answer import MotionFound
from scalesim.jobs.motion.fields import told_apart
from scalesim.jobs.motion.timeline import Timeline
from scalesim.signal.counter.stream import CounterReader, Scan
from scalesim.signal.played.follow import Follower
from scalesim.signal.played.reduced import Small, small_of

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
    if source is not None:
        return _by_source(capture, source, chain, advance)
    marked = _marked(capture)
    reader = CounterReader(marked, float(1 / _frame_rate(capture)))
    timeline = Timeline()
    frames = _counted(lumas_of(capture), timeline, advance)
    for shown, woven in told_apart(reader(frames)):
        timeline.add(shown, woven=woven)
    woven = reader.scan in ("top", "bottom")
    timeline.lines //= 2 if woven else 1
    pictures = 2 if timeline.by_field else 1  # of a frame: fields that cannot be told apart are one picture
    return MotionFound(
        capture=capture.name,
        timeline=timeline,
        rate=float(_frame_rate(capture) * pictures),
        scan=reader.scan or "progressive",
        marked=marked is not None,
        found=reader.found,
        turned=reader.turned,
        swapped=marked is not None and reader.scan != marked,
        notes=_notes(capture),
    )


def _by_source(capture: Clip, source: Clip, chain: Chain | None, advance: Advance) -> MotionFound:
    """Return what a capture shows of a source clip."""
    if source.is_still:
        raise ParameterError(f"{source.name}: is one picture; give the clip that was played")
    if capture.raster.period > 1:
        raise ParameterError(
            f"{capture.name}: is interlaced; against a source clip whole frames are read: give a progressive "
            "capture, or play the counter chart"
        )
    timeline = Timeline(wraps=0)
    lines = capture.raster.lines
    follower = Follower(lambda: _smalls(source, chain, lines), lambda: advance("looking through the source"))
    frames = _counted(lumas_of(capture), timeline, advance)
    for shown in follower(frames):
        timeline.add(shown)
    timeline.between = follower.between
    return MotionFound(
        capture=capture.name,
        timeline=timeline,
        rate=float(_frame_rate(capture)),
        scan="progressive",
        marked=False,
        found=follower.found,
        source=source.name,
        kinds=bytes(follower.kinds),
        notes=_notes(capture),
    )


def _smalls(source: Clip, chain: Chain | None, lines: int) -> Iterator[Small]:
    """Yield the source's pictures as the capture should show them, made small."""
    if chain is None:
        yield from (small_of(frame.values, lines) for frame in lumas_of(source))
        return
    plan = chain.resolve(source.raster)
    if plan.output.period > 1:
        raise ParameterError("chain: ends in fields; against a source clip whole frames are read")
    for picture in run(plan, source.pictures()):
        yield small_of(255 * luma(picture.values), lines)


def _frame_rate(clip: Clip) -> Fraction:
    return Fraction(clip.raster.rate) / clip.raster.period


def _notes(clip: Clip) -> tuple[str, ...]:
    """Return the notes on a clip that matter to its luma alone."""
    return tuple(note for note in clip.notes if not any(words in note for words in _OF_COLOURS))


_OF_COLOURS = ("colour matrix", "Chroma has", "name its range")
"""Words of notes on how colours and levels were read."""


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

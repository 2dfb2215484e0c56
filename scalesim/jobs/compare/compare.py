"""Compare: frames times chains, every metric, and a ranking with reasons.

Frames are taken one at a time and only numbers are kept, so memory does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import TypeVar

from numpy.typing import NDArray

from scalesim.chain import Chain, as_chain
from scalesim.chain.resolve import Resolved
from scalesim.core.clip import Clip
from scalesim.core.picture import check_reference
from scalesim.errors import ParameterError, ScalesimError, nearest
from scalesim.jobs.compare.asked import StillAsked, known_crops, known_stills, noted
from scalesim.jobs.compare.captured import Capture, reference_on, register_picture
from scalesim.jobs.compare.captured_rows import CapturedRows, labelled
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.crops import Asked
from scalesim.jobs.compare.ranking import DEFAULT_BY, rank
from scalesim.jobs.compare.rows import Row, row_of
from scalesim.jobs.compare.told import Told
from scalesim.jobs.frames import FrameSource, named_apart, still_of
from scalesim.jobs.predict.outcome import Outcome, check_tube
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.woven import woven_notes
from scalesim.metrics import check_metrics, key_of
from scalesim.texts import echoed
from scalesim.tube.display import Display, display_named

T = TypeVar("T")
_AT_ONCE = 2
"""Chains that are measured at once: most of the work leaves Python's lock free."""
REFERENCES = ("ideal", "source")
NOT_NOTED = "not noted"


def compare(
    chains: Mapping[str, Chain | str],
    frames: Iterable[Clip | FrameSource],
    *,
    reference: str | NDArray = "ideal",
    by: Iterable[str] = DEFAULT_BY,
    metrics: Iterable[str] | None = None,
    group_by: str | None = None,
    captures: Iterable[Capture] = (),
    crop: Asked | None = None,
    tube: str = "4:3",
    stills: Iterable[StillAsked | str] = (),
    displays: Iterable[Display | str] = (),
    headline: str = "",
    author: str = "",
    date: str = "",
    advance: Callable[[str], None] = lambda _: None,
) -> Comparison:
    """Return every frame through every chain, measured and ranked.

    Parameters:
        chains : label -> chain or its text
        frames : still clips, or `FrameSource`s that are read one at a time; of several of one name those
            after the first are numbered: "frame (2)"
        reference : what SSIM and its kin compare with: "ideal", "source", or a (lines, samples, 3)
            picture: one of the output raster's size as it is, another as a capture to be registered
        by : metric keys the ranking goes by, all of equal weight
        metrics : keys to measure; None measures all (those of `by` are always measured)
        group_by : key of the frames' notes; frames whose notes differ in it are ranked apart
        captures : captured boxes; each is registered to the frames it shows and measured beside them
        crop, tube, stills, headline, author, date : of its page, see `Comparison`; a still may be the
            name of a frame
        displays : tubes, or keys of shipped ones, on which the page shows the pictures besides
        advance : called with what is worked on next, once per frame and chain
    Raises: ParameterError for no frames, no chains, unknown keys or a note's key no frame has. What a
        frame or a pair cannot do is reported in `failed`, the rest is done
    """
    named = reference if isinstance(reference, str) else "a picture"
    if isinstance(reference, str) and reference not in REFERENCES:
        raise ParameterError(f"reference is '{reference}'; {nearest(reference, REFERENCES)}, or a picture")
    check_tube(tube)
    tubes = (each if isinstance(each, Display) else display_named(each) for each in displays)
    check_reference(reference)
    boxes = labelled(captures)
    parsed = _parsed(chains, boxes)
    names = _names(metrics, by)
    sources = named_apart(_as_source(frame) for frame in frames)
    if not sources:
        raise ParameterError("no frames to compare; name at least one picture")
    _check_group(group_by, sources)
    rows: list[Row] = []
    failed: dict[str, str] = {}
    pictures = {label: box.picture() for label, box in boxes.items()}
    seen = CapturedRows(pictures, names, check_metrics(by), reference)
    told = Told()
    for source in sources:
        rows += _measured(source, parsed, names, reference, failed, advance, seen, told)
    failed.update(seen.never_shown())
    read = tuple(source for source in sources if source.name not in failed)
    keys = check_metrics(by)
    ranking = rank(
        [*rows, *seen.matched],
        keys,
        group=lambda row: _group(row, named, group_by, apart=bool(boxes and parsed)),
        kinds={source.name: source.kind for source in read},
        captured=boxes,
    )
    return Comparison(
        parsed,
        read,
        tuple(rows),
        ranking.places,
        ranking.verdicts,
        keys,
        named,
        failed,
        (*_warnings(read, rows), *told.sentences(tube), *dict.fromkeys(seen.notes)),
        boxes,
        known_crops(crop, sources),
        tube,
        known_stills(stills, sources, read, (*parsed, *boxes)),
        tuple(seen.matched),
        ranking.contests,
        tuple(dict.fromkeys(tubes)),
        headline,
        author or noted(read, "author"),
        date or noted(read, "date"),
    )


def _measured(
    source: FrameSource,
    chains: Mapping[str, Chain],
    names: tuple[str, ...],
    reference: str | NDArray,
    failed: dict[str, str],
    advance: Callable[[str], None],
    seen: CapturedRows,
    told: Told,
) -> list[Row]:
    """Return the rows of one frame; what cannot be done is added to `failed`. The frame is let go after."""
    rows: list[Row] = []
    try:
        clip = still_of(source)
    except ScalesimError as error:
        failed[source.name] = str(error)
        return rows
    seen.notes += woven_notes(clip)
    told.frame(source, clip)
    pictures: dict[str, Outcome] = {}

    def measure(label: str) -> Outcome | ScalesimError:
        try:
            resolved = chains[label].resolve(clip.raster)
            against = _against(reference, clip, resolved)
            return predict(clip, chains[label], metrics=names, reference=against, resolved=resolved)
        except ScalesimError as error:
            return error

    with ThreadPoolExecutor(_AT_ONCE) as pool:
        for label, found in _in_order(measure, list(chains), pool):
            advance(f"{source.name}: {label}")
            outcome = found()
            if isinstance(outcome, ScalesimError):
                failed[f"{source.name} / {label}"] = str(outcome)
                continue
            rows.append(row_of(source, label, outcome))
            told.chain(label, clip, outcome)
            if seen.any:
                pictures[label] = outcome
    return rows + seen.rows(source, clip, pictures)


def _in_order(
    work: Callable[[str], T], labels: Sequence[str], pool: ThreadPoolExecutor
) -> Iterator[tuple[str, Callable[[], T]]]:
    """Yield each label with what gives its result: the first alone, as it finds what all share, then more."""
    if not labels:
        return
    yield labels[0], partial(work, labels[0])
    for label, waiting in [(label, pool.submit(work, label)) for label in labels[1:]]:
        yield label, waiting.result


def _against(reference: str | NDArray, clip: Clip, resolved: Resolved) -> str | NDArray:
    """Return the reference for a chain: a picture of another size than its output is taken as a capture."""
    if isinstance(reference, str):
        return reference
    output = resolved.output
    if reference.shape[:2] == (output.landed_lines, output.samples):
        return reference
    if "reference" not in clip.found:
        clip.found["reference"] = register_picture("reference", reference, clip)
    return reference_on(reference, resolved, clip.found["reference"])


def _group(row: Row, reference: str, group_by: str | None, *, apart: bool) -> str:
    """Return with whom a row is ranked: its screen (any, against the source), and its note's value.

    Where predictions and captures stand side by side they are ranked apart: the path of a capture moves
    every measure.
    """
    screen = "all screens" if reference == "source" and row.kind != "matched" else row.raster
    if apart and row.kind != "matched":
        screen += f", {row.kind}"
    return screen if group_by is None else f"{screen}, {group_by} {row.settings.get(group_by, NOT_NOTED)}"


def _check_group(group_by: str | None, sources: Sequence[FrameSource]) -> None:
    noted = sorted({key for source in sources for key in source.settings})
    if group_by is not None and group_by not in noted:
        known = nearest(group_by, noted) if noted else "no frame has a note"
        raise ParameterError(f"group_by is '{group_by}', which no frame's note has; {known}")


def _parsed(chains: Mapping[str, Chain | str], boxes: Mapping[str, Capture]) -> dict[str, Chain]:
    if not chains and not boxes:
        raise ParameterError("no chains to compare; give at least one, such as 'line-drop lines=240'")
    for label in chains:
        if not isinstance(label, str) or not label.strip():
            raise ParameterError(f"chain label is {echoed(label)}; it must be a text that is not empty")
        if label in boxes:
            raise ParameterError(
                f"chain '{echoed(label)}' has the name of a capture; give one of them another name"
            )
    return {label: as_chain(chain) for label, chain in chains.items()}


def _names(metrics: Iterable[str] | None, by: Iterable[str]) -> tuple[str, ...]:
    ranked = check_metrics(by)
    if not ranked:
        raise ParameterError("by is empty; name at least one metric to rank by")
    for name in ranked:
        if key_of(name).better == "neither":
            raise ParameterError(f"by: {name} has no better or worse; rank by another metric")
    asked = check_metrics(metrics)
    return tuple(dict.fromkeys([*asked, *ranked]))


def _as_source(frame: Clip | FrameSource) -> FrameSource:
    if isinstance(frame, FrameSource):
        return frame
    if not isinstance(frame, Clip):
        raise ParameterError(f"frame is {type(frame).__name__}; give a clip made by read() or still_clip()")
    return FrameSource(frame.name, lambda: frame)


def _warnings(frames: Sequence[FrameSource], rows: Sequence[Row]) -> list[str]:
    """Return what differs between frames that a comparison would rather have alike."""
    found = []
    modes = sorted({row.mode_in for row in rows})
    if len(modes) > 1:
        found.append(f"The frames are of different modes ({', '.join(modes)}).")
    keys = sorted({key for frame in frames for key in frame.settings})
    for key in keys:
        values = sorted({str(frame.settings.get(key, NOT_NOTED)) for frame in frames})
        if len(values) > 1:
            found.append(f"The notes differ in {key}: {', '.join(values)}.")
    return found

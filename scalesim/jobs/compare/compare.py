"""Compare: frames times chains, every metric, and a ranking with reasons.

Frames are taken one at a time and only numbers are kept, so memory does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.picture import check_reference
from scalesim.errors import ParameterError, ScalesimError
from scalesim.jobs.compare.asked import StillAsked, known_crops, known_stills, noted
from scalesim.jobs.compare.captured import Capture
from scalesim.jobs.compare.captured_rows import CapturedRows, labelled
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.crops import Asked
from scalesim.jobs.compare.measured import in_order, measured_on
from scalesim.jobs.compare.photographed import PhotoGiven, photographed
from scalesim.jobs.compare.ranking import DEFAULT_BY, rank
from scalesim.jobs.compare.rows import Row, row_of
from scalesim.jobs.compare.settled import (
    as_source,
    check_group,
    check_named,
    group_of,
    parsed_chains,
    settled_names,
    warnings_of,
)
from scalesim.jobs.compare.study.contestants import settings_of
from scalesim.jobs.compare.study.spread import Workers
from scalesim.jobs.compare.study.study import Page, study
from scalesim.jobs.compare.told import Told
from scalesim.jobs.frames import FrameSource, named_apart, still_of
from scalesim.jobs.predict.landing import on_display
from scalesim.jobs.predict.outcome import Outcome, check_tube
from scalesim.jobs.predict.prediction import Prediction
from scalesim.jobs.predict.woven import woven_notes
from scalesim.metrics import check_metrics
from scalesim.sampled import Footage
from scalesim.tube.display import Display, as_aspect, display_named

_AT_ONCE = 2
"""Chains that are measured at once: most of the work leaves Python's lock free."""
_MAKES_FIELDS = ("interlace", "resync")


def compare(
    chains: Mapping[str, Chain | str],
    frames: Iterable[Clip | FrameSource | Footage],
    *,
    reference: str | NDArray = "ideal",
    by: Iterable[str] = DEFAULT_BY,
    metrics: Iterable[str] | None = None,
    group_by: str | None = None,
    captures: Iterable[Capture] = (),
    photos: Iterable[PhotoGiven] = (),
    crop: Asked | None = None,
    tube: str = "4:3",
    stills: Iterable[StillAsked | str] = (),
    displays: Iterable[Display | str] = (),
    headline: str = "",
    author: str = "",
    date: str = "",
    vary: Iterable[str] = (),
    workers: int | Workers | None = None,
    executor: Executor | None = None,
    rows: str | Path = "",
    sampling: str = "",
    advance: Callable[[str], None] = lambda _: None,
) -> Comparison:
    """Return every frame through every chain, measured and ranked.

    Parameters:
        chains : label -> chain or its text
        frames : still clips, or `FrameSource`s that are read one at a time; of several of one name those
            after the first are numbered: "frame (2)". With `Footage` (`scalesim.io.footage.footage`) it is
            a study of clips, see `study`, and so it is with `workers`, `executor` or `rows`
        reference : what SSIM and its kin compare with: "ideal", "source", or a (lines, samples, 3)
            picture: one of the output raster's size as it is, another as a capture to be registered
        by : metric keys the ranking goes by, all of equal weight
        metrics : keys to measure; None measures all (those of `by` are always measured)
        group_by : key of the frames' notes; frames whose notes differ in it are ranked apart
        captures : captured boxes; each is registered to the frames it shows and measured beside them
        photos : photos of the tube; each is straightened by the frames it shows and stands beside them
        crop, tube, stills, headline, author, date : of its page, see `Comparison`; a still may be the
            name of a frame
        displays : tubes, or keys of shipped ones, on which the page shows the pictures besides
        vary : settings of dials, each tried as a chain of its own: "line-drop.phase=0:1:0.5"
        workers, executor, rows, sampling : of a study, see there: how many processes measure, or any executor
            instead; the file in which its rows are kept; how frames were chosen
        advance : called with what is worked on next, once per frame and chain
    Raises: ParameterError for no frames, no chains, unknown keys or a note's key no frame has. What a
        frame or a pair cannot do is reported in `failed`, the rest is done
    """
    check_named(reference)
    check_tube(tube)
    tubes = [each if isinstance(each, Display) else display_named(each) for each in displays]
    check_reference(reference)
    boxes = labelled(captures)
    settings = settings_of(_on_displays(parsed_chains(chains, boxes), tubes), vary)
    names, keys = settled_names(metrics, by), check_metrics(by)
    given = list(frames)
    if workers or executor or str(rows) or any(isinstance(frame, Footage) for frame in given):
        photos = list(photos)
        if boxes or photos:
            raise ParameterError(
                "captures and photos are compared frame by frame: leave out workers, rows and footage"
            )
        page = Page(crop, tube, tuple(stills), tuple(dict.fromkeys(tubes)), headline, author, date)
        return study(
            settings,
            [frame if isinstance(frame, Footage) else as_source(frame) for frame in given],
            names,
            keys,
            reference,
            group_by,
            page,
            workers=workers,
            executor=executor,
            place=rows,
            sampling=sampling,
            advance=advance,
        )
    parsed = {label: each.chain for label, each in settings.items()}
    sources = named_apart(as_source(frame) for frame in given if not isinstance(frame, Footage))
    if not sources:
        raise ParameterError("no frames to compare; name at least one picture")
    check_group(group_by, sources)
    found: list[Row] = []
    failed: dict[str, str] = {}
    pictures = {label: box.picture() for label, box in boxes.items()}
    seen = CapturedRows(pictures, names, keys, reference)
    told = Told()
    for source in sources:
        found += _measured(source, parsed, names, reference, failed, advance, seen, told)
    failed.update(seen.never_shown())
    shown = photographed(photos, sources, parsed, float(as_aspect("tube", tube)), failed)
    read = tuple(source for source in sources if source.name not in failed)
    named = reference if isinstance(reference, str) else "a picture"
    ranking = rank(
        [*found, *seen.matched],
        keys,
        group=lambda row: group_of(row, named, group_by, apart=bool(boxes and parsed)),
        kinds={source.name: source.kind for source in read},
        captured=boxes,
    )
    return Comparison(
        parsed,
        read,
        tuple(found),
        ranking.places,
        ranking.verdicts,
        keys,
        named,
        failed,
        (*warnings_of(read, found), *told.sentences(tube), *dict.fromkeys(seen.notes)),
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
        told.landings,
        shown,
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

    def measure(label: str) -> Prediction | ScalesimError:
        return measured_on(clip, chains[label], names, reference)

    with ThreadPoolExecutor(_AT_ONCE) as pool:
        for label, found in in_order(measure, list(chains), pool, _AT_ONCE):
            advance(f"{source.name}: {label}")
            outcome = found()
            if isinstance(outcome, ScalesimError):
                failed[f"{source.name} / {label}"] = str(outcome)
                continue
            rows.append(row_of(source, label, outcome))
            told.chain(label, chains[label], clip)
            if seen.any:
                pictures[label] = outcome
    return rows + seen.rows(source, clip, pictures)


def _on_displays(chains: Mapping[str, Chain], tubes: Sequence[Display]) -> dict[str, Chain]:
    """Return the chains on the displays whose vertical circuits land their fields.

    With several of these a chain that makes fields is there once for each: they may draw it differently.
    """
    landing = [tube for tube in tubes if tube.vertical is not None] or list(tubes[:1])
    if not landing:
        return dict(chains)
    found = {}
    for label, chain in chains.items():
        apart = len(landing) > 1 and any(stage.kind in _MAKES_FIELDS for stage in chain.stages)
        for tube in landing if apart else landing[:1]:
            found[f"{label} on {tube.name}" if apart else label] = on_display(chain, tube)
    return found

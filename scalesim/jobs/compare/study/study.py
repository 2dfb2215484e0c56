"""A comparison over clips: tasks over workers, rows kept as they come, a ranking that stays small.

Consecutive frames of a clip show nearly the same, and would count one moment many times. So the ranking
goes by one frame of every quarter of a second (fewer in long studies); curves, distributions and the worst
moments by all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.errors import ParameterError, WorkerError
from scalesim.jobs.compare.asked import StillAsked, known_crops, known_stills, noted
from scalesim.jobs.compare.crops import Asked as CropAsked
from scalesim.jobs.compare.crops import crops_of
from scalesim.jobs.compare.ranking import rank
from scalesim.jobs.compare.settled import check_group, group_of, warnings_of
from scalesim.jobs.compare.study.answer import Study
from scalesim.jobs.compare.study.contestants import Setting, contestants_of
from scalesim.jobs.compare.study.kept import Kept
from scalesim.jobs.compare.study.moments import Shown, ranked_rows, shown_frames
from scalesim.jobs.compare.study.spread import Workers, given, processes, spread
from scalesim.jobs.compare.study.tasks import evened, frame_of, held, parts_of, tasks_of
from scalesim.jobs.compare.study.work import OF_DISPLAYS, Asked, Work
from scalesim.jobs.compare.told import Told
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.woven import woven_notes
from scalesim.rows.layout import Source
from scalesim.rows.rows import Rows
from scalesim.sampled import Footage
from scalesim.tube.display import Display
from scalesim.version import __version__

_AT_ONCE = 2
"""Chains of a frame that are measured at once where no workers share the machine."""

MOST_WORKERS = 1024

_MANY = 300
"""Frames from which on it is worth finding compiled loops: to 480i by two processes it takes half of them."""


_Task = tuple[int, Sequence[int], tuple[int, ...]]
"""A source's number, frames, and the contestants that are still to be measured on them."""


@dataclass(frozen=True)
class Page:
    """What is asked of its page, see `Comparison`; displays are also measured on."""

    crop: CropAsked | None = None
    tube: str = "4:3"
    stills: tuple[StillAsked | str, ...] = ()
    displays: tuple[Display, ...] = ()
    headline: str = ""
    author: str = ""
    date: str = ""


def study(
    settings: Mapping[str, Setting],
    frames: Sequence[Footage | FrameSource],
    names: tuple[str, ...],
    by: tuple[str, ...],
    reference: str | NDArray,
    group_by: str | None,
    page: Page,
    *,
    workers: int | Workers | None = None,
    executor: Executor | None = None,
    place: str | Path = "",
    sampling: str = "",
    advance: Callable[[str], None] = lambda _: None,
) -> Study:
    """Return every taken frame through every chain, measured, kept and ranked.

    Every frame is decoded once for all chains. What an earlier run kept at `place` is not done again.

    Parameters:
        settings : label -> chain at a setting
        frames : footage, or frames of this process
        names, by : metrics to measure, and to rank by
        workers : how many processes measure; None or 1 measures here
        executor : whoever measures instead; tasks and answers are plain data
        place : of the database; "" keeps it in a temporary file
        sampling : how frames were chosen, in words: with others what was kept cannot be gone on with
        advance : called once per frame and contestant
    Raises: as of `compare`; WorkerError when those who measure are gone; WriteError when rows cannot be kept
    """
    footage = _named_apart(held(each) if isinstance(each, FrameSource) else each for each in frames)
    if not footage:
        raise ParameterError("no frames to compare; name at least one picture or clip")
    first = [frame_of(each, each.frames[0]) for each in footage]
    check_group(group_by, first)
    team = _team(workers, executor)
    if team is not None and team.own and any(isinstance(each, FrameSource) for each in frames):
        raise ParameterError(
            "workers: processes cannot be given frames of this one; give footage() of files, or an executor "
            "of threads"
        )
    if page.displays:  # what they change is measured
        names = tuple(dict.fromkeys([*names, *OF_DISPLAYS]))
    asked = Asked(
        tuple(each.chain for each in settings.values()),
        page.displays,
        names,
        reference,
        _AT_ONCE if team is None else 1,
        sum(len(each.frames) for each in footage) >= _MANY,
    )
    rows = Rows(place, names, __version__)
    named = reference if isinstance(reference, str) else "a picture"
    rows.settle("frames", sampling, "was measured on other frames of the clips")
    rows.settle("reference", named, "was measured with another reference")
    contestants = contestants_of(settings, page.displays)
    rows.take_up(map(_source, footage), contestants)
    _measure(rows, footage, asked, team, len(contestants), advance)
    kept = Kept(rows, tuple(footage), tuple(contestants), len(page.displays))
    chosen = ranked_rows(kept)
    if not chosen:
        why = next((each.why for each in rows.not_done()), "no frame was there")
        raise ParameterError(f"nothing could be compared: {why}")
    ranking = rank(
        chosen,
        by,
        group=lambda row: group_of(row, named, group_by, apart=False),
        kinds={row.frame: kept.kind_of(row.frame) for row in chosen},
    )
    spreads = kept.spreads(by)
    shown = shown_frames(kept, ranking, chosen, spreads, tuple(settings), _asked_for(page))
    told = _told(footage, shown, {label: each.chain for label, each in settings.items()})
    return Study(
        {label: each.chain for label, each in settings.items()},
        tuple(each.frame for each in shown),
        tuple(row for each in shown for row in each.rows),
        ranking.places,
        ranking.verdicts,
        by,
        named,
        kept.failed(),
        (*warnings_of(first, chosen), *told.sentences(page.tube)),
        crop=known_crops(page.crop, [each.frame for each in shown]),
        tube=page.tube,
        stills=known_stills(
            page.stills, [each.frame for each in shown], [each.frame for each in shown], list(settings)
        ),
        contests=ranking.contests,
        displays=page.displays,
        headline=page.headline,
        author=page.author or noted(first, "author"),
        date=page.date or noted(first, "date"),
        kept=kept,
        chosen=tuple(chosen),
        spreads=spreads,
        shown_moments=tuple(shown),
    )


def _source(footage: Footage) -> Source:
    rate = "" if footage.rate is None else str(footage.rate)
    return Source(footage.name, footage.mark, rate, dict(footage.settings), footage.damage)


def _named_apart(footage: Iterable[Footage]) -> list[Footage]:
    """Return footage, each with a name and a mark of its own."""
    from dataclasses import replace

    found: dict[str, Footage] = {}
    marks: dict[str, int] = {}
    for each in footage:
        name, number = each.name, 1
        while name in found:
            number += 1
            name = f"{each.name} ({number})"
        marks[each.mark] = marks.get(each.mark, 0) + 1
        again = f" again {marks[each.mark]}" if marks[each.mark] > 1 else ""
        found[name] = replace(each, name=name, mark=f"{each.mark}{again}")
    return list(found.values())


def _team(workers: int | Workers | None, executor: Executor | None) -> Workers | None:
    """Return who measures, None for this process alone."""
    if executor is not None:
        return given(executor, workers if isinstance(workers, int) else None)
    if isinstance(workers, Workers) or workers is None:
        return workers
    if not 1 <= workers <= MOST_WORKERS:
        raise ParameterError(f"workers is {workers}; it must be 1 to {MOST_WORKERS}, the cores there are")
    return None if workers == 1 else processes(workers)


def _measure(
    rows: Rows,
    footage: Sequence[Footage],
    asked: Asked,
    team: Workers | None,
    contestants: int,
    advance: Callable[[str], None],
) -> None:
    """Do what is still to be done, and keep it as it comes."""

    def tasks() -> Iterator[_Task]:
        for source, each in enumerate(footage):
            for numbers in tasks_of(each):
                frames, own = rows.missing(source, numbers)
                _counted(advance, each.name, (len(numbers) - len(frames)) * contestants)
                if frames:
                    yield source, frames, tuple(own)

    def divided(task: _Task, parts: int) -> Iterator[_Task]:
        source, frames, own = task
        for part in parts_of(frames, 1 if footage[source].whole else parts):
            yield source, part, own

    works = (
        Work(source, footage[source].part(frames), own, asked, len(frames))
        for source, frames, own in evened(tasks(), team.count if team else 1, divided)
    )
    for done in spread(works, team):
        if done.version != __version__:
            raise WorkerError(
                f"a worker runs version {done.version}, this is {__version__}: install the same everywhere"
            )
        rows.add(done.measured, done.not_done)
        _counted(advance, footage[done.source].name, done.frames * contestants)


def _counted(advance: Callable[[str], None], words: str, times: int) -> None:
    for _ in range(times):
        advance(words)


def _asked_for(page: Page) -> list[str]:
    """Return the names of frames that are asked to be shown."""
    stills = [each if isinstance(each, str) else each.frame for each in page.stills]
    return [*stills, *filter(None, crops_of(page.crop))]


def _told(footage: Sequence[Footage], shown: Sequence[Shown], chains: Mapping[str, Chain]) -> Told:
    told = Told()
    for each in footage:
        told.notes(each.notes)
    for moment in shown:
        clip = moment.frame.load()
        told.frame(moment.frame, clip)
        told.notes(woven_notes(clip))
        for label, chain in chains.items():
            told.chain(label, chain, clip)
    return told

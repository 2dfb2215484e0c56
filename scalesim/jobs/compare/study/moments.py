"""Which frames of a study are ranked, and which are shown: the telling one, those asked for, the worst."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from scalesim.jobs.compare.cover import telling_frame
from scalesim.jobs.compare.headline import contestants_that_matter, main_verdict
from scalesim.jobs.compare.place import Ranking
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.study.kept import Kept
from scalesim.jobs.compare.study.tasks import frame_of
from scalesim.jobs.frames import FrameSource
from scalesim.metrics import key_of
from scalesim.metrics.key import Key
from scalesim.rows.ask import Spread

MOST_RANKED = 600
"""Frames of clips that are ranked: one of each quarter second, or of so many seconds that it is no more."""

APART = Fraction(1, 4)
"""Seconds: frames that lie closer show nearly the same."""

MOST_SHOWN = 6
"""Frames whose pictures the page shows, besides those that are asked for."""

_APART_S = 1.0
"""Moments that are shown lie so far apart at least."""


Spreads = Mapping[str, Mapping[str, Spread]]
"""Metric -> chain -> how it is spread over all frames."""


@dataclass(frozen=True)
class Worst:
    """A moment at which a chain does worst by a measure."""

    key: str
    chain: str
    value: float


@dataclass(frozen=True)
class Shown:
    """A frame that is shown: where it is, its rows, and what it is the worst of."""

    source: int
    number: int
    frame: FrameSource
    rows: tuple[Row, ...]
    worst: tuple[Worst, ...] = ()


def seconds_a_frame(kept: Kept) -> Fraction:
    """Return how many seconds of a clip stand behind each frame that is ranked: a quarter, or whole ones."""
    spans = [(each.frames[-1] - each.frames[0] + 1) / each.rate for each in kept.footage if each.rate]
    shortest = sum(spans, Fraction(0)) / MOST_RANKED
    return APART if shortest <= APART else Fraction(ceil(shortest))


def ranked_rows(kept: Kept) -> list[Row]:
    """Return the rows that are ranked: of stills, and of the first measured frame in every quarter second."""
    seconds, found = seconds_a_frame(kept), []
    for source, each in enumerate(kept.footage):
        width = 1 if each.rate is None else max(1, round(seconds * each.rate))
        found += list(kept.first_of_each(source, width))
    return found


def shown_frames(
    kept: Kept,
    ranking: Ranking,
    chosen: Sequence[Row],
    spreads: Spreads,
    labels: Sequence[str],
    asked: Iterable[str] = (),
) -> list[Shown]:
    """Return the frames that are shown, in the order of the clips."""
    places: dict[tuple[int, int], list[Worst]] = {}
    for name in (_telling(ranking, chosen, labels), *asked):
        found_at = kept.find(name)
        if found_at is not None:
            places.setdefault(found_at, [])
    for source, frame, worst in _worst(kept, spreads):
        at = source, frame
        if at in places:
            places[at].append(worst)
        elif len(places) < MOST_SHOWN and not any(own and _near(kept, at, k) for k, own in places.items()):
            places[at] = [worst]
    found = []
    for (source, frame), worst_of in sorted(places.items()):
        rows = tuple(kept.rows_of(source, frame))
        found.append(Shown(source, frame, frame_of(kept.footage[source], frame), rows, tuple(worst_of)))
    return [each for each in found if each.rows]


def _telling(ranking: Ranking, chosen: Sequence[Row], labels: Sequence[str]) -> str:
    """Return the frame that shows most of the finding, as `Covers.telling` chooses it."""
    groups = [place.raster for place in ranking.places]
    main = main_verdict(ranking.verdicts, {group: groups.count(group) for group in groups})
    pair = contestants_that_matter(main, ranking.places, labels)
    own = [each.frames for each in ranking.contests if main is not None and each.name == main.raster]
    return telling_frame(
        chosen, main, pair, own[0] if own else list(dict.fromkeys(row.frame for row in chosen))
    )


def _worst(kept: Kept, spreads: Spreads) -> Iterator[tuple[int, int, Worst]]:
    """Yield the moment at which a chain falls furthest behind its median by each measure, then the second."""
    columns = []
    for name, own in spreads.items():
        far = {label: ties_behind(key_of(name), found.worst, found.median) for label, found in own.items()}
        order = sorted((label for label in own if far[label] > 1), key=lambda label: -far[label])
        columns.append([(own[label], Worst(name, label, own[label].worst)) for label in order])
    for rank in range(max(map(len, columns), default=0)):
        for column in columns:
            if rank < len(column):
                found, worst = column[rank]
                yield found.source, found.frame, worst


def ties_behind(key: Key, value: float, median: float) -> float:
    """Return how much worse a value is than a median, in what the measure resolves."""
    least, share = key.difference_parts()
    behind = key.merit(median) - key.merit(value)
    behind = behind if key.better == "higher" else -behind
    return behind / max(least, share * max(abs(value), abs(median)), 1e-12)


def _near(kept: Kept, one: tuple[int, int], other: tuple[int, int]) -> bool:
    if one[0] != other[0]:
        return False
    rate = kept.footage[one[0]].rate
    return rate is None or abs(one[1] - other[1]) < _APART_S * rate

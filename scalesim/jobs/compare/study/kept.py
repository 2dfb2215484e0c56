"""The kept rows of a study as a comparison takes them, and what the whole of them says."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

from scalesim.jobs.compare.rows import Row
from scalesim.metrics import key_of
from scalesim.rows import ask
from scalesim.rows.ask import Spread
from scalesim.rows.layout import FRAME_ITSELF, Contestant
from scalesim.rows.rows import Measured, NotDone, Rows
from scalesim.sampled import Footage

MOST_POINTS = 240
"""Points of a curve over a clip: as many as a plot can show."""


@dataclass(frozen=True, eq=False)
class Kept:
    """What a study kept.

    Parameters:
        rows : in the database; footage, contestants : whose numbers they have
        displays : how many tubes each chain was measured on besides
    """

    rows: Rows
    footage: tuple[Footage, ...]
    contestants: tuple[Contestant, ...]
    displays: int

    @property
    def labels(self) -> list[str]:
        """The chains' labels, in their order."""
        return [each.label for each in self.contestants[:: self._group]]

    @property
    def _group(self) -> int:
        return 1 + self.displays

    def row(self, found: Measured) -> Row:
        """Return a kept row as a comparison has it."""
        footage, who = self.footage[found.source], self.contestants[found.contestant]
        place: dict[str, object] = {"clip": footage.name, "number": found.frame}
        if footage.rate is not None:
            place["time_s"] = round(float(found.frame / footage.rate), 4)
        place |= {"setting": who.setting} if any(c.setting for c in self.contestants) else {}
        place |= {"display": who.display} if self.displays else {}
        n, how, why = found.beside
        kind, raster, mode_in, mode_out = found.texts
        values = found.values, why, how, n, footage.settings, place
        return Row(footage.frame_name(found.frame), who.label, kind, raster, mode_in, mode_out, *values)

    def all_rows(self) -> Iterator[Row]:
        """Yield every row, one at a time."""
        return map(self.row, self.rows.rows())

    def rows_of(self, source: int, frame: int) -> list[Row]:
        """Return the rows of a frame, on no display."""
        return [self.row(found) for found in ask.rows_of(self.rows, self._group, source, frame)]

    def first_of_each(self, source: int, width: int) -> Iterator[Row]:
        """Yield the rows of the first frame in every run of so many, on no display."""
        for frame in ask.first_of_each(self.rows, source, width):
            yield from self.rows_of(source, frame)

    @cached_property
    def counts(self) -> list[int]:
        """How many frames of each source were measured."""
        found = ask.counts(self.rows)
        return [found.get(source, 0) for source in range(len(self.footage))]

    @cached_property
    def modes(self) -> list[str]:
        """The mode of each source, "" where nothing of it was measured."""
        found = ask.modes(self.rows)
        return [found.get(source, "") for source in range(len(self.footage))]

    def spreads(self, names: Iterable[str]) -> dict[str, dict[str, Spread]]:
        """Return metric -> label -> how it is spread over all frames, of those that were ever had."""
        found = {}
        for name in names:
            higher = key_of(name).better == "higher"
            own = {
                label: ask.spread(self.rows, self._group, k, name, higher=higher)
                for k, label in enumerate(self.labels)
            }
            known = {label: spread for label, spread in own.items() if spread is not None}
            if known:
                found[name] = known
        return found

    def curve(self, source: int, chain: int, key: str) -> tuple[list[float], list[float], int]:
        """Return times in seconds and means of a measure, and over how many frames each mean is."""
        footage = self.footage[source]
        width = max(1, -(-(footage.frames[-1] - footage.frames[0] + 1) // MOST_POINTS))
        points = ask.curve(self.rows, self._group, source, chain, key, width)
        return [x / float(footage.rate or 1) for x, _ in points], [y for _, y in points], width

    def kind_of(self, frame: str) -> str:
        """Return what a frame is a frame of, by its name."""
        longest = sorted(self.footage, key=lambda each: -len(each.name))
        return next((each.kind for each in longest if frame.startswith(each.name)), "")

    def find(self, name: str) -> tuple[int, int] | None:
        """Return source and number of a frame by its name, None for none that is taken."""
        for source, each in enumerate(self.footage):
            if each.rate is None and name == each.name:
                return source, 0
            head, at, rest = name.rpartition(" at ")
            if at and head == each.name and each.rate is not None:
                seconds = rest.removesuffix(" s")
                near = round(float(seconds) * float(each.rate)) if _is_number(seconds) else -1
                if near in each.frames:
                    return source, near
        return None

    def failed(self) -> dict[str, str]:
        """Return what could not be done, runs of frames told together: name -> why."""
        found = {
            each.name: f"as far as its file tells, {', '.join(each.damage)}"
            for each in self.footage
            if each.damage
        }
        alike = sorted(self.rows.not_done(), key=lambda n: (n.source, n.contestant, n.why))
        for (source, contestant, why), own in groupby(alike, lambda n: (n.source, n.contestant, n.why)):
            for run in _runs(self.footage[source].frames, sorted(own, key=lambda n: n.frame)):
                name = self._run_name(self.footage[source], run)
                if contestant != FRAME_ITSELF:
                    name = f"{name} / {self.contestants[contestant].label}"
                found[name] = why
        return found

    def _run_name(self, footage: Footage, run: Sequence[NotDone]) -> str:
        if len(run) == 1:
            return footage.frame_name(run[0].frame)
        if len(run) == len(footage.frames):
            return footage.name
        ends = [footage.frame_name(each.frame) for each in (run[0], run[-1])]
        return f"{ends[0]} to {ends[1].rpartition(' at ')[2]} ({len(run)} frames)"


def _runs(taken: Sequence[int], lost: Sequence[NotDone]) -> Iterator[list[NotDone]]:
    """Yield runs of frames that follow each other among those that were taken."""
    run: list[NotDone] = []
    for each in lost:
        if run and taken.index(each.frame) != taken.index(run[-1].frame) + 1:
            yield run
            run = []
        run.append(each)
    if run:
        yield run


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()

"""`Study`: the answer of `compare` over clips: a comparison of the ranked frames, and what all frames say."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.figures import plots_of
from scalesim.jobs.compare.files import columns_of, csv_pieces, json_pieces
from scalesim.jobs.compare.medians import frames_word
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.study.figures import curves, distributions
from scalesim.jobs.compare.study.kept import Kept
from scalesim.jobs.compare.study.moments import APART, Shown, Spreads, seconds_a_frame
from scalesim.jobs.compare.study.worst import source_table, worst_part
from scalesim.jobs.compare.tables import listed
from scalesim.jobs.compare.verdict_words import comparison_sentences, kinds_sentence
from scalesim.jobs.compare.words import title_of
from scalesim.metrics import key_of
from scalesim.plot import Plot
from scalesim.result import File, Part
from scalesim.rows.ask import Spread

MOST_DOTS = 60
"""Ranked frames that a plot shows one by one; of more it shows how they are spread."""


@dataclass(frozen=True)
class Study(Comparison):
    """A comparison over clips; a `Result`.

    `frames` are those that are shown and `rows` theirs; `contests`, ranking and verdicts are of `chosen`.

    Parameters:
        kept : all rows
        chosen : the rows that are ranked: of stills, and of one frame of every quarter of a second of clips
        spreads : metric -> chain -> how it is spread over all frames
        shown_moments : the frames that are shown, each with what it is the worst of
    """

    kept: Kept = field(kw_only=True)
    chosen: tuple[Row, ...] = field(kw_only=True)
    spreads: Spreads = field(kw_only=True)
    shown_moments: tuple[Shown, ...] = field(kw_only=True)

    @cached_property
    def measured(self) -> int:
        """How many frames were measured."""
        return sum(self.kept.counts)

    @cached_property
    def ranked(self) -> list[str]:
        """Names of the frames that are ranked."""
        return list(dict.fromkeys(row.frame for row in self.chosen))

    @property
    def title(self) -> str:
        """The finding, or what it was asked to be; without one how many chains on how many frames."""
        return self.headline or self._covers.finding or title_of(len(self.chains), self.measured, False)

    def sentences(self) -> list[str]:
        """Return the verdict, and on how much of what was measured it rests."""
        kinds = {name: self.kept.kind_of(name) for name in self.ranked}
        of_kinds = kinds_sentence(self.ranked, kinds)
        warnings = (*self._rests_on(), *self.warnings)
        return comparison_sentences(self.verdicts, of_kinds, warnings, self.failed)

    def _rests_on(self) -> Iterator[str]:
        if len(self.ranked) < self.measured:
            seconds = seconds_a_frame(self.kept)
            span = (
                "quarter of a second"
                if seconds == APART
                else "second"
                if seconds == 1
                else f"{seconds} seconds"
            )
            yield (
                f"{self.measured} frames were measured. The ranking goes by {len(self.ranked)} of them, one "
                f"in every {span} of clip, because frames that follow each other show nearly the same; "
                "curves, spreads and worst moments are of all."
            )

    @property
    def opening(self) -> tuple[str, ...]:
        """What was compared on what, and by what."""
        clips = sum(each.rate is not None for each in self.kept.footage)
        stills = len(self.kept.footage) - clips
        of = [f"{n} {what}{'' if n == 1 else 's'}" for n, what in ((clips, "clip"), (stills, "picture")) if n]
        measures = listed(key_of(key).label for key in self.by)
        modes = listed(dict.fromkeys(filter(None, self.kept.modes)))
        return (
            f"Compared: {listed(self.chains)}; on {frames_word(self.measured)} of {listed(of)} ({modes}). "
            f"Ranked by {measures}, all of equal weight: the chains are ranked on every frame that counts by "
            "each of these measures, and a chain's score is the mean of its ranks.",
        )

    def figures(self) -> tuple[Plot, ...]:
        """Return what detail costs, the measures over time, and how they are spread."""
        found = plots_of(self.contests)
        if len(self.ranked) > MOST_DOTS or self.measured > len(self.ranked):
            found = tuple(plot for plot in found if not plot.name.startswith("dots-"))
            found = (*found, *distributions(self.spreads))
        order = [place.chain for place in self.ranking]
        return (*found, *curves(self.kept, self.by, order))

    def files(self) -> dict[str, File]:
        """Return none: its tables are too long to hold, see `streamed`."""
        return {}

    def every_row(self) -> Iterable[Row]:
        """Yield every row that was measured, one held at a time."""
        return self.kept.all_rows()

    def columns(self) -> list[str]:
        """Return the columns of all rows."""
        return self._columns

    @cached_property
    def _columns(self) -> list[str]:
        return columns_of(self.every_row())

    def streamed(self) -> Mapping[str, tuple[str, Callable[[str], None]]]:
        """Return every row as CSV and as JSON, and the database itself."""

        def written(pieces: Callable[[], Iterable[str]]) -> Callable[[str], None]:
            def write(path: str) -> None:
                with open(path, "w", encoding="utf-8", newline="\n") as file:
                    file.writelines(pieces())

            return write

        return {
            "csv": ("rows.csv", written(lambda: csv_pieces(self.kept.all_rows(), self._columns))),
            "json": ("rows.json", written(lambda: json_pieces(self.kept.all_rows()))),
            "rows": ("rows.sqlite", self.kept.rows.close_into),
        }

    def parts(self) -> Iterable[Part]:
        """Yield the parts of a comparison; before the ranking the worst moments and what was looked at."""
        for part in super().parts():
            if part.anchor == "ranking":
                yield worst_part(self.shown_moments, self.spreads, self.kept, self._shown_picture)
                yield Part("What was looked at", items=(source_table(self.kept),), anchor="sources")
            if part.anchor == "figures":
                said = f"Of the frames that are shown; rows.csv has all {self.measured}."
                part = replace(part, text=(said, *part.text))
            yield part
            del part  # and its pictures, before the next is made

    def _shown_picture(self, moment: Shown, label: str) -> Any:
        """Return what a chain makes of a shown frame, at the shape of the tube."""
        return self.shown(label, moment.frame.load(), self.tube).seen

    def to_dict(self) -> dict[str, Any]:
        """Return the keys of a comparison; `rows` are those that are ranked, `spreads` are of all frames."""
        return {
            **super().to_dict(),
            "frames": self.ranked,
            "rows": [row.to_dict() for row in self.chosen],
            "measured_frames": self.measured,
            "sources": self._sources(),
            "spreads": {
                name: {label: self._spread(spread) for label, spread in own.items()}
                for name, own in self.spreads.items()
            },
            "shown": [
                {
                    "frame": each.frame.name,
                    "worst": [{"metric": w.key, "chain": w.chain, "value": w.value} for w in each.worst],
                }
                for each in self.shown_moments
            ],
        }

    def _sources(self) -> list[dict[str, Any]]:
        return [
            {
                "name": each.name,
                "rate_hz": None if each.rate is None else float(each.rate),
                "taken": len(each.frames),
                "measured": measured,
                "damage": list(each.damage),
            }
            for each, measured in zip(self.kept.footage, self.kept.counts, strict=True)
        ]

    def _spread(self, spread: Spread) -> dict[str, Any]:
        names = ("p5", "p25", "median", "p75", "p95")
        worst = {"worst": spread.worst, "worst_frame": self._name(spread)}
        return {"n": spread.n, **dict(zip(names, spread.quantiles, strict=True)), **worst}

    def _name(self, spread: Spread) -> str:
        return self.kept.footage[spread.source].frame_name(spread.frame)

"""`Comparison`: the answer of `compare`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.figure import Figure
from scalesim.jobs.compare.asked import StillAsked
from scalesim.jobs.compare.captured import Capture, captured
from scalesim.jobs.compare.contest import Contest
from scalesim.jobs.compare.cover import Covers
from scalesim.jobs.compare.crops import Asked
from scalesim.jobs.compare.evidence import Openings, Opens
from scalesim.jobs.compare.figures import left_out, plots_of
from scalesim.jobs.compare.files import columns_of, flat, frame_of_rows, rows_csv, rows_json
from scalesim.jobs.compare.photographed import Photographed, photo_part
from scalesim.jobs.compare.pictures import frame_part, look_of, parts_of
from scalesim.jobs.compare.place import Place, Verdict
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.summary import summary_table
from scalesim.jobs.compare.table_parts import appendix_parts, chains_parts, measured_parts, ranked_part
from scalesim.jobs.compare.tables import place_number
from scalesim.jobs.compare.tube_part import tube_part
from scalesim.jobs.compare.verdict_words import comparison_sentences, kinds_sentence
from scalesim.jobs.compare.weighing import weighing
from scalesim.jobs.compare.words import CAUTIONS, figures_of, modelled, opening, title_of
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.views import InTurn
from scalesim.metrics import METRICS, key_of
from scalesim.plot import Plot
from scalesim.result import Cell, File, Part, Result, Table
from scalesim.texts import capital
from scalesim.tube.display import Display


@dataclass(frozen=True)
class Comparison(Result):
    """All rows and the ranking; a `Result`.

    Parameters:
        chains : label -> chain, in the order given
        frames : the frames that could be read, in order
        rows : one per frame and chain that fit
        ranking : places per output raster, best first
        verdicts : what may be said of each of these rankings
        by : the metric keys the ranking goes by
        reference : "ideal", "source" or the name of a reference picture
        failed : frame or "frame / chain" -> why it is missing
        warnings : what a reader should know before trusting the table
        captures : label as shown -> captured box
        crop : (top, left, height, width) in source lines and samples to look at closely; several, or those
            of frames by name, see `crops.Asked`; None finds, frame by frame, what shows what was judged
        tube : shape of the tube, "4:3" or "16:9"
        stills : stills that are asked for besides the figure that opens the page
        matched : rows of predictions as a capture's path would show them, and of the capture less its noise
        contests : those ranked together, in the order of the verdicts
        displays : tubes on which the pictures are shown besides
        headline, author, date : the title in place of the finding, who made it and when; "" for none
        photos : photos of the tube on the frames they show
        landings : label -> where the vertical circuit of its display lands the fields, and what else it may
            do
    """

    chains: Mapping[str, Chain]
    frames: tuple[FrameSource, ...]
    rows: tuple[Row, ...]
    ranking: tuple[Place, ...]
    verdicts: tuple[Verdict, ...]
    by: tuple[str, ...]
    reference: str
    failed: Mapping[str, str]
    warnings: tuple[str, ...]
    captures: Mapping[str, Capture] = field(default_factory=dict)
    crop: Asked | None = None
    tube: str = "4:3"
    stills: tuple[StillAsked, ...] = ()
    matched: tuple[Row, ...] = ()
    contests: tuple[Contest, ...] = ()
    displays: tuple[Display, ...] = ()
    headline: str = ""
    author: str = ""
    date: str = ""
    landings: Mapping[str, Any] = field(default_factory=dict)
    photos: tuple[Photographed, ...] = ()

    kind = "compare"

    @property
    def contestants(self) -> tuple[str, ...]:
        """Labels of all that is compared: chains, then captured boxes."""
        return (*self.chains, *self.captures)

    def shown(self, label: str, clip: Clip, tube: str = "4:3") -> Outcome:
        """Return the picture of a contestant, predicted or captured, without metrics."""
        if label in self.captures:
            return captured(label, self.captures[label].mean(), clip, metrics=[], tube=tube).outcome
        return predict(clip, self.chains[label], metrics=[], tube=tube)

    def sentences(self) -> list[str]:
        """Return the verdict in a reviewer's words."""
        kinds = {frame.name: frame.kind for frame in self.frames}
        of_kinds = kinds_sentence([frame.name for frame in self.frames], kinds)
        return comparison_sentences(self.verdicts, of_kinds, self.warnings, self.failed)

    def table(self) -> Table:
        """Return the ranking."""
        rows, above = [], ""
        for p in self.ranking:
            rows.append(("" if p.raster == above else p.raster, place_number(p), p.chain, p.reason))
            above = p.raster
        names = ("screen", "place", "chain", "why")
        align = ("left", "right", "left", "left")
        return Table("Ranking by " + ", ".join(self.by), names, tuple(rows), align)

    def to_dict(self) -> dict[str, Any]:
        """Return rows, ranking and settings."""
        return {
            "chains": {label: str(chain.text) for label, chain in self.chains.items()},
            "captures": list(self.captures),
            "frames": [frame.name for frame in self.frames],
            "reference": self.reference,
            "by": list(self.by),
            "rows": [row.to_dict() for row in self.rows],
            "matched": [row.to_dict() for row in self.matched],
            "ranking": [place.to_dict() for place in self.ranking],
            "verdicts": [verdict.to_dict() for verdict in self.verdicts],
            "displays": [display.name for display in self.displays],
            **({"landing": dict(self.landings)} if self.landings else {}),
            **({"photos": [each.to_dict() for each in self.photos]} if self.photos else {}),
            "failed": dict(self.failed),
            "warnings": list(self.warnings),
            "units": {name: key_of(name).unit for name in METRICS},
            "counts": {name: key_of(name).counts for name in METRICS if key_of(name).counts},
        }

    @property
    def _covers(self) -> Covers:
        told = self.rows, self.verdicts, self.contests, self.ranking
        return Covers(*told, self.contestants, self.crop, self.tube, self._openings)

    @property
    def title(self) -> str:
        """The finding, or what it was asked to be; without one how many chains on how many frames."""
        plain = title_of(len(self.contestants), len(self.frames), bool(self.captures))
        return self.headline or self._covers.finding or plain

    @property
    def byline(self) -> tuple[str, ...]:
        """Author and date, as they were told."""
        return tuple(filter(None, (self.author, self.date)))

    def cover(self) -> Figure | None:
        """Return the source and the two contestants that matter, on the frame that shows most of it."""
        name = self._covers.telling
        frame = next((each for each in self.frames if each.name == name), None)
        if frame is None:
            return None
        return self._figure(StillAsked(frame.name), frame.load(), "figures/still", self.title)

    def _figure(self, asked: StillAsked, clip: Clip, name: str, title: str = "") -> Figure:
        return self._covers.figure(asked, lambda label: self.shown(label, clip, self.tube), name, title)

    @property
    def opening(self) -> tuple[str, ...]:
        """What was compared and by what."""
        return opening(self.contestants, [frame.name for frame in self.frames], self.rows, self.by)

    @property
    def plot_folder(self) -> str:
        """A folder of their own: there are many."""
        return "figures/"

    @property
    def markdown_name(self) -> str:
        """The text for an article."""
        return "comparison.md"

    @property
    def foot(self) -> tuple[str, ...]:
        """None: the cautions have a part of their own."""
        return ()

    def figures(self) -> tuple[Plot, ...]:
        """Return the plots that the rows have values for."""
        return plots_of(self.contests)

    def files(self) -> dict[str, File]:
        """Return every figure, as CSV and as JSON."""
        return {
            "csv": File("rows.csv", rows_csv(self.rows)),
            "json": File("rows.json", rows_json(self.rows)),
        }

    def frame(self) -> Any:
        """Return the rows as a pandas `DataFrame`, where pandas is installed; see `frame_of_rows`."""
        return frame_of_rows(self.every_row(), self.columns())

    def every_row(self) -> Iterable[Row]:
        """Yield every row that was measured."""
        return self.rows

    def columns(self) -> list[str]:
        """Return the columns of all rows, each as one level of values."""
        return columns_of(self.every_row())

    def records(self) -> Iterable[dict[str, Any]]:
        """Yield every row as one level of values."""
        return map(flat, self.every_row())

    def parts(self) -> Iterable[Part]:
        """Yield summary, plots, ranking, pictures frame by frame, figures, chains, and what to keep in mind.

        Pictures are predicted again and let go one frame at a time, so that memory does not grow.
        """
        summary = self._summary()
        if summary is not None:
            yield summary
        plots = self.figures()
        if plots:
            yield Part("Plots", left_out(self.contests), plots, "plots", quiet_text=True)
        yield ranked_part(self.ranking, self.verdicts)
        for number, frame in enumerate(self.frames):
            yield from self._frame(number, frame)
        yield from measured_parts(self.rows, self.matched, self._openings)
        yield from chains_parts(
            {label: chain.text for label, chain in self.chains.items()}, self.captures, self.frames
        )
        yield Part("What is modelled, and what is not", modelled(self.displays), anchor="model")
        yield Part("Cautions", CAUTIONS, anchor="cautions")
        yield from appendix_parts(self.rows, self.reference, self.failed)

    def _summary(self) -> Part | None:
        """Return what every chain reaches by every measure of the ranking."""
        table = summary_table(self.contests, self._opening)
        if table is None:
            return None
        said = (
            "The best mean rank first on each screen. Bold is the best on its screen, compared as printed, "
            "of those whose medians rest on the same frames. The figures of every frame stand further down."
        )
        weighings = (found for own in self.contests if (found := weighing(own)) is not None)
        return Part("Summary", (said,), (table, *weighings), "summary", quiet_text=True)

    @property
    def _openings(self) -> Openings:
        return Openings([frame.name for frame in self.frames], self.contestants)

    def _opening(self, frame: str, chain: str, key: str) -> str:
        """Return what opens the evidence of one value, see `Cell`."""
        rows = (row for row in self.rows if (row.frame, row.chain) == (frame, chain))
        return next((self._openings(row, key) for row in rows), "")

    def _frame(self, number: int, frame: FrameSource) -> Iterable[Part]:
        """Yield the pictures of a frame, with the stills that are asked for; none when no chain fits it."""
        done = {row.chain: row for row in self.rows if row.frame == frame.name}
        labels = [(k, label) for k, label in enumerate(self.contestants) if label in done]
        if not labels:
            return
        clip = frame.load()
        in_turn = InTurn(lambda label: self.shown(label, clip, self.tube))
        # registered once, which is slow; what chains make is made anew when it is looked at
        captures = {label: in_turn(label) for _, label in labels if label in self.captures}
        outcomes = [(k, label, captures.get(label) or partial(in_turn, label)) for k, label in labels]
        captions = {label: _figures(row, self._openings) for label, row in done.items()}
        look = look_of(frame.name, outcomes, {}, self.tube)
        parts = parts_of(look, self._covers.parts(frame.name))
        asked = [
            still if still.crop or len(parts) < 2 else replace(still, crop=part.crop)
            for still in self.stills
            if still.frame == frame.name
            for part in (parts if still.crop is None else parts[:1])
        ]
        figures = [
            self._figure(still, clip, f"figures/still-{number + 1:02d}{f'-{k + 1}' if k else ''}")
            for k, still in enumerate(asked)
        ]
        pair = self._covers.pair
        yield frame_part(number, look, captions, parts, figures, pair)
        if self.displays:
            shown = [still.labels or tuple(pair) for still in asked]
            shown += [tuple(pair)] if frame.name == self._covers.telling else []
            yield tube_part(number, look, self.displays, parts, pair, shown)
        photos = [each for each in self.photos if each.frame == frame.name]
        if photos:
            yield photo_part(number, look, photos)


def _figures(row: Row, opens: Opens) -> tuple[Cell, ...]:
    """Return what a caption says of a row, as a sentence begins."""
    figures = figures_of(row, opens=opens)
    return tuple(replace(cell, text=capital(cell.text)) for cell in figures[:1]) + figures[1:]

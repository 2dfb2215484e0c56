"""A write-up put together: the author's sections, then sources, chains, methods, changes, and stills."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scalesim.figure import Figure, View
from scalesim.jobs.report.article import Article
from scalesim.jobs.report.dots import codes
from scalesim.jobs.report.editions import Edition, Record, edition_of, records
from scalesim.jobs.report.ending import cautions, ending, sources
from scalesim.jobs.report.exhibits import STILLS, Placed, placed
from scalesim.jobs.report.faults import looks_of
from scalesim.plot import Plot
from scalesim.result import Exhibit, File, Part, Picture, Plate, Prose, Result, Sheet, Table

MOST_VIEWS = 4


@dataclass(frozen=True, eq=False)
class Report(Result):
    """A write-up; a `Result`. `shown` is what it places, in order; `answers` are by their places."""

    article: Article
    answers: Mapping[str, Result]
    shown: tuple[Placed, ...]
    edition: Edition
    records: Sequence[Record]
    words: Record

    kind = "report"

    @property
    def title(self) -> str:
        """The author's."""
        return str(self.article.head["title"])

    @property
    def byline(self) -> tuple[str, ...]:
        """Author, date, and the edition after the first."""
        head = self.article.head
        number = f"edition {self.edition.number}" if self.edition.number > 1 else ""
        return tuple(filter(None, (head["author"], str(head["date"] or ""), number)))

    def sentences(self) -> list[str]:
        """Return the author's summary."""
        return list(filter(None, (self.article.head["summary"],)))

    def table(self) -> Table:
        """Return where every figure comes from."""
        return sources(self.shown, self.answers)

    def parts(self) -> Iterator[Part]:
        """Yield the sections, and what ends the write-up."""
        places = iter(self.shown)
        for section in self.article.sections:
            items: list[Any] = []
            for block in section.blocks:
                if isinstance(block, Prose):
                    items.append(block)
                else:
                    each = next(places)
                    items += [each.exhibit] if each.exhibit else each.items
            yield Part(section.title, items=tuple(items), anchor=section.anchor, listed=bool(section.title))
        yield from ending(self.answers, self.shown)
        yield from self.edition.parts()
        stills = tuple(still for each in self.shown for still in _stills(each))
        if self.answers:
            yield Part("Sources", items=(self.table(),), anchor="sources")
        if stills:
            said = "Each figure with its caption inside, for a video edit; covers have theirs beside them."
            yield Part("Stills", (said,), stills, anchor="stills")

    @property
    def kept_pictures(self) -> dict[str, Callable[[], Any]]:
        """Name -> what reads it: the stills that covers were made with."""
        found: dict[str, Callable[[], Any]] = {}
        for each in self.shown:
            if each.exhibit and any(isinstance(item, Plate) for item in each.exhibit.items):
                own = self.answers[each.asked.place].kept_pictures
                names = {f"{each.exhibit.anchor}-{tall}": own.get(f"still-{tall}") for tall, _ in STILLS}
                found |= {name: read for name, read in names.items() if read}
        return found

    def picture_file(self, name: str) -> str:
        """Return the file name of a still."""
        return f"stills/{name}.png"

    @property
    def plot_folder(self) -> str:
        """Plots lie among the figures."""
        return "figures/"

    @property
    def foot(self) -> tuple[str, ...]:
        """The cautions of all that is shown."""
        return cautions(self.answers.values())

    def files(self) -> Mapping[str, File]:
        """Return the captions, to be pasted under stills and into a video's description."""
        said = [f"{e.name}. {e.caption} {e.origin}" for each in self.shown if (e := each.exhibit)]
        return {"captions": File("captions.txt", "\n\n".join(said) + "\n")} if said else {}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        return {
            "title": self.title,
            "edition": self.edition.number,
            "references": list(self.records),
            "words": self.words,
            "changes": [list(change) for change in self.edition.changes],
            "superseded": [exhibit.name for exhibit in self.edition.kept],
        }


def report(article: Article, answers: Mapping[str, Result], earlier: Result | None = None) -> Report:
    """Return a write-up.

    Parameters:
        article : read from its text
        answers : place as the article writes it -> the saved answer there
        earlier : the saved edition before this one, None for the first
    Raises: ParameterError, with the line, for what an answer does not have; for `earlier` that is no report
    """
    shown = placed(article, answers)
    found, words = records(article, shown)
    return Report(article, answers, shown, edition_of(found, words, earlier), found, words)


def _stills(each: Placed) -> Iterator[Figure | Sheet]:
    """Yield an exhibit as stills: of pictures four at a time; linked pictures and covers have none here."""
    exhibit = each.exhibit
    if exhibit is None:
        return
    title, rest = _headed(exhibit)
    pictures = [item for item in exhibit.items if isinstance(item, Picture)]
    name = f"stills/{exhibit.anchor}"
    for begin in range(0, len(pictures), MOST_VIEWS):
        more = f"-{begin // MOST_VIEWS + 1}" if len(pictures) > MOST_VIEWS else ""
        yield _figure(name + more, title, rest, each, pictures[begin : begin + MOST_VIEWS])
    for item in exhibit.items:
        if isinstance(item, Plot | Table):
            yield Sheet(name, title, rest, exhibit.origin, item)


def _headed(exhibit: Exhibit) -> tuple[str, str]:
    """Return an exhibit's name with the first sentence of its caption, and the others."""
    first, stop, rest = exhibit.caption.partition(". ")
    return f"{exhibit.name}. {first}{stop.strip()}", rest


def _figure(name: str, title: str, caption: str, placed: Placed, pictures: list[Picture]) -> Figure:
    """Return pictures as a figure whose ground is the first of them.

    They are shown whole where a still can, but for those that the author did not crop and of which it is
    known where outlines were judged worst.
    """
    assert placed.exhibit is not None
    dots = [codes(each.values) for each in pictures]
    lines, samples = dots[0].shape[:2]
    size = pictures[0].size
    views = tuple(
        View(
            each.label,
            values,
            lines=(lines / values.shape[0], 0.0),
            samples=(samples / values.shape[1], 0.0),
            said=", ".join(map(str, each.figures)),
            line_word="",
        )
        for each, values in zip(pictures, dots, strict=True)
    )
    looks = looks_of(pictures, (lines, samples), placed.faults)
    return Figure(
        name,
        title,
        caption,
        views,
        (0.0, 0.0, lines, samples),
        foot=placed.exhibit.origin,
        fixed=True,
        choose=looks.choose if looks.faults and not placed.asked.crop else None,
        told=looks.told,
        shape=1.0 if size is None else (size[1] / samples) / (size[0] / lines),
    )

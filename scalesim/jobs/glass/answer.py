"""The answer of a reading, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from scalesim.jobs.glass import figures as plots
from scalesim.jobs.glass import words
from scalesim.jobs.glass.document import document, lines_csv, main_table
from scalesim.jobs.glass.read import Read
from scalesim.jobs.glass.shown import marked, rectified
from scalesim.plot import Plot
from scalesim.result import FOOT, File, Part, Picture, Result, Table


@dataclass(frozen=True, eq=False)
class GlassRead(Read, Result):
    """What photos or a film of one set-up show; a `Result`. Its fields are those of `Read`."""

    kind = "glass"

    @property
    def title(self) -> str:
        """The finding."""
        return words.title(self)

    @property
    def undecided(self) -> bool:
        """True when one set of lines cannot be told from two."""
        return self.sets == "unknown"

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return (words.CAUTION, *FOOT)

    def sentences(self) -> list[str]:
        """Return what was found, the verdict first."""
        return words.sentences(self)

    def remarks(self) -> list[str]:
        """Return how the photos were read."""
        return list(self.notes)

    def table(self) -> Table:
        """Return the main figures."""
        return main_table(self)

    def figures(self) -> tuple[Plot, ...]:
        """Return the plots."""
        return plots.figures(self)

    @property
    def kept_pictures(self) -> Mapping[str, Any]:
        """The photo set upright with its lines marked, and the same without marks."""
        made: dict[str, Any] = {"rectified": lambda: rectified(self.photo, self.found, self.rect)}
        if (found := self.found) is not None:
            made["lines"] = lambda: marked(self.photo, found)
        if self.film is not None and self.film.mean is not None:
            made["mean"] = self.film.mean
        return made

    def parts(self) -> Iterator[Part]:
        """Yield what the page shows, the rectified photo first."""
        shown = "rectified" if self.found is None else "lines"
        make = self.kept_pictures[shown]
        yield Part(
            "The photo" if self.film is None else "A frame of the film",
            items=(
                Picture(
                    shown,
                    make,
                    label=self.name,
                    alt="what was read, set upright, with ticks where its lines lie",
                    caption=words.photo_caption(self),
                ),
                self.table(),
            ),
        )
        if self.film is not None and self.film.mean is not None:
            yield Part(
                "The mean of the film",
                items=(
                    Picture(
                        "mean",
                        self.film.mean,
                        alt="the mean of the film's frames",
                        caption=f"The mean light of {self.film.frames} frames, laid on each other's lines.",
                    ),
                ),
            )
        if self.found is not None:
            for title, text, made in plots.sections(self, self.found):
                yield Part(title, (text,) if text else (), made)

    def files(self) -> Mapping[str, File]:
        """The lines and the profile as a table."""
        return {} if self.found is None else {"csv": File("lines.csv", lines_csv(self))}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        return document(self)

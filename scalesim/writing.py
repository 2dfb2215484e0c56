"""A write-up made from an article's file: the one place where its words meet the folders that they name."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from scalesim.core.files import read_text, shown
from scalesim.core.limits import TEXT_MEGABYTES
from scalesim.io.article_folders import read_places, told_place
from scalesim.io.saved import read_saved
from scalesim.jobs.report.article import Section, article
from scalesim.jobs.report.reference import Reference
from scalesim.jobs.report.report import Report, report

Place = str | os.PathLike[str]


def write_up(path: Place, *, after: Place | None = None, allowed: Sequence[Place] = ()) -> Report:
    """Return the write-up of an article; `save` writes it.

    Parameters:
        path : of the article, CommonMark with a head in TOML; the folders it names lie below its own
        after : folder of the edition before this one
        allowed : other folders whose results may be placed
    Raises: ReadError for a file or folder that is missing, outside, changed or another version's;
        ParameterError, with the line, for what cannot be placed
    """
    text = read_text(path, "Markdown", TEXT_MEGABYTES)
    return written(text, Path(path).name, Path(path).parent, after=after, allowed=allowed)


def written(
    text: str, name: str, folder: Path, *, after: Place | None = None, allowed: Sequence[Place] = ()
) -> Report:
    """Return the write-up of an article's text, as `write_up` does; what it places lies in the folder."""
    read = article(text, shown(name))
    places = [(each.place, f"{read.name} line {each.line}") for each in read.references]
    homes = [Path(each) for each in allowed]
    answers = read_places(places, folder, allowed=homes, versions=read.head["versions"])
    told = {place: told_place(place, folder, homes) for place in answers}
    read = replace(read, sections=tuple(_told(section, told) for section in read.sections))
    answers = {told[place]: answer for place, answer in answers.items()}
    return report(read, answers, None if after is None else read_saved(Path(after)))


def _told(section: Section, told: Mapping[str, str]) -> Section:
    """Return a section whose places are named as its page tells them."""
    blocks = (
        replace(block, place=told[block.place]) if isinstance(block, Reference) else block
        for block in section.blocks
    )
    return replace(section, blocks=tuple(blocks))

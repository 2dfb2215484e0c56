"""``scalesim report``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import rich_click as click

from scalesim.cli.options import folder_for, output_options

if TYPE_CHECKING:
    from scalesim.jobs.report.report import Report


def write_up(
    text: str, name: str, folder: Path, *, after: Path | None = None, allowed: Sequence[Path] = ()
) -> Report:
    """Return the write-up of an article.

    Parameters:
        text, name, folder : of the article; what it places lies in the folder
        after : folder of the edition before; allowed : other folders whose results may be placed
    """
    from scalesim.core.files import shown
    from scalesim.io.article_folders import read_places
    from scalesim.io.saved import read_saved
    from scalesim.jobs.report.article import article
    from scalesim.jobs.report.report import report

    read = article(text, shown(name))
    places = [(each.place, f"{read.name} line {each.line}") for each in read.references]
    answers = read_places(places, folder, allowed=allowed, versions=read.head["versions"])
    return report(read, answers, None if after is None else read_saved(after))


@click.command("report")
@click.argument("article", type=click.Path(path_type=Path), metavar="ARTICLE.md")
@click.option(
    "--after",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="The edition before this one: what changed since is listed, and what it showed is kept.",
)
@click.option(
    "--from",
    "allowed",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="A folder outside the article's own whose results may be shown (repeatable).",
)
@click.option(
    "--one-file", is_flag=True, help="Put every picture into the page itself, however large it gets."
)
@output_options
def command(
    article: Path,
    after: Path | None,
    allowed: tuple[Path, ...],
    one_file: bool,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Join your own words with the results of other commands into one page: ARTICLE.md is CommonMark.

    Example: scalesim report article.md

    The article begins with a head in TOML between two lines +++, of which title is the one key it needs. A
    picture names a result folder beside it and what of it, and gets a number:
    ![caption](outputs/compare-fair#look=moss_tower). What can be placed: cover, look=FRAME, viewer=FRAME,
    picture=NAME, plot=NAME, table=NAME, said, chains; with &zoom=3, &crop=top,left,height,width and
    &of=name,name for pictures. Writes the page, which prints well, the text in Markdown with its pictures,
    stills at 1080 and 2160 lines with their captions in them, and the captions as text. A folder that is
    missing, of another version, or changed since it was written is an error.
    """
    from scalesim.cli.build import show
    from scalesim.core.files import read_text
    from scalesim.core.limits import TEXT_MEGABYTES
    from scalesim.io.picture_store import INLINE_LIMIT, ONE_FILE

    folder = folder_for("report", article.stem, out, force=force)
    text = read_text(article, "Markdown", TEXT_MEGABYTES)
    found = write_up(text, article.name, article.parent, after=after, allowed=allowed)
    return show(
        found, folder, force=force, as_json=as_json, inline_limit=ONE_FILE if one_file else INLINE_LIMIT
    )

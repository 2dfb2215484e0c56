"""``scalesim report``."""

from __future__ import annotations

from pathlib import Path

import rich_click as click

from scalesim.cli.options import folder_for, output_options


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
    from scalesim.errors import ParameterError
    from scalesim.io.picture_store import INLINE_LIMIT, ONE_FILE
    from scalesim.writing import write_up

    folder = folder_for("report", article.stem, out, force=force)
    found = write_up(article, after=after, allowed=allowed)
    for each in found.article.references:
        placed = getattr(found.answers[each.place], "folder", None)
        if placed is not None and placed.resolve() == folder.resolve():
            raise ParameterError(
                f"{found.article.name} line {each.line}: places {each.place}, the very folder that this run "
                "is to replace; give another --out"
            )
    return show(
        found, folder, force=force, as_json=as_json, inline_limit=ONE_FILE if one_file else INLINE_LIMIT
    )

"""``scalesim demo``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import rich_click as click

from scalesim.cli.options import folder_for, output_options
from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.core.moving import Moving
    from scalesim.result import ClipTold, Result

PARTS = 35
"""Parts of all its pages, about."""


@click.command("demo")
@click.option("--draw-only", is_flag=True, help="Only write the drawn frames and the chain files.")
@output_options
def command(draw_only: bool, out: Path | None, force: bool, as_json: bool) -> None:
    """Show the whole thing on sample frames: draw them, predict them, score them, write a page.

    Example: scalesim demo

    Everything is drawn by the program itself; open index.html in the folder it names. It ends with a
    comparison of six chains, a tuning, a box identified from a simulated capture, a trace of its sync,
    where the club's sets land fields, a log of lag, a clip of two chains as a scene scrolls, and the
    write-up that article.md makes of them.
    """
    from scalesim.cli.show import say_page, show_json
    from scalesim.jobs.demo import demo
    from scalesim.jobs.demo.steps import count_of_steps
    from scalesim.saving import save

    folder = folder_for("demo", "", out, force=force)
    with Progress(None if draw_only else count_of_steps() + PARTS) as progress:
        made = demo.Drawn() if draw_only else demo.demonstrate(progress, written=_write_up, film=_film)
        written = save(made, folder, force=force, advance=progress)
    if as_json:
        show_json(written)
    else:
        say_page(folder)


def _film(make: Callable[[], Moving], path: Path) -> ClipTold:
    from scalesim.io.clips.guarded import save_clip

    return save_clip(make, path).told(path.suffix[1:])


def _write_up(folder: str) -> Result:
    from scalesim.jobs.demo.article import ARTICLE, article_text
    from scalesim.writing import written

    return written(article_text(), ARTICLE, Path(folder))

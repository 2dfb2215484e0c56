"""``scalesim lab``."""

from __future__ import annotations

from pathlib import Path

import rich_click as click

from scalesim.cli.frames import as_shells_do
from scalesim.cli.options import read_chain


@click.command("lab")
@click.argument("frames", nargs=-1, type=click.Path(path_type=Path), metavar="[FRAME...]")
@click.option("--chain", "chains", multiple=True, metavar="TEXT or FILE.toml", help="A chain to begin with.")
@click.option("--mode", metavar="NAME", help="Mode of the frames, such as 480i (default: by size).")
@click.option(
    "--watch",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Show each new picture that is saved there.",
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="Port to serve on (default: a free one)."
)
@click.option("--no-browser", is_flag=True, help="Print the address and open no browser.")
def command(
    frames: tuple[Path, ...],
    chains: tuple[str, ...],
    mode: str | None,
    watch: Path | None,
    port: int,
    no_browser: bool,
) -> int:
    """Drag the dials of a chain and look, on a page in your browser that your own machine serves.

    Example: scalesim lab frame.png --chain "line-average lines=480, position lines=0, interlace"

    The page is served to this machine alone and asks nothing of any other. With --watch, each picture that a
    capture program saves in FOLDER is shown at once, and where it sits. What is exported lies under outputs/,
    as the other commands write it. Ctrl-C ends it.
    """
    import tempfile

    from scalesim.interrupt import Interrupted
    from scalesim.lab.begin import bench_of, watching
    from scalesim.lab.serve import bound, serve

    listening = bound(port)
    bench = None
    try:
        with tempfile.TemporaryDirectory(prefix="scalesim-lab-", ignore_cleanup_errors=True) as store:
            given = {text: read_chain(text) for text in chains}
            bench = bench_of(as_shells_do(frames), given, Path(store), watch, mode)
            with watching(bench, watch):
                serve(bench, listening, browser=not no_browser, told=click.echo)
    except (KeyboardInterrupt, Interrupted):
        pass
    finally:
        listening.close()
    folders = bench.answers.folders() if bench else []
    click.echo(f"Exports: {', '.join(map(str, folders))}" if folders else "Nothing was exported.")
    return 0

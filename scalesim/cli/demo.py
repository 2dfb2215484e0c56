"""``scalesim demo``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import rich_click as click

from scalesim.cli.options import output_options
from scalesim.cli.progress import Progress

if TYPE_CHECKING:
    from scalesim.jobs.demo.demo import Demonstration


@click.command("demo")
@click.option("--draw-only", is_flag=True, help="Only write the drawn frames and the chain files.")
@output_options
def command(draw_only: bool, out: Path | None, force: bool, as_json: bool) -> None:
    """Show the whole thing on sample frames: draw them, predict them, score them, write a page.

    Example: scalesim demo

    Everything is drawn by the program itself; open index.html in the folder it names. It ends with a
    comparison of six chains, a tuning, and a box identified from a simulated capture.
    """
    from scalesim.cli.show import show_json
    from scalesim.io.folder import check_folder, default_folder, output_folder
    from scalesim.io.save import document, save_document, with_absolute_paths

    folder = out or default_folder("demo", "")
    check_folder(folder, force=force)
    with output_folder(folder, force=force) as partial:
        demonstration, files = _draw(partial) if draw_only else _show(partial)
        written = save_document(document(demonstration, files), partial)
    if as_json:
        show_json(with_absolute_paths(written, folder))
    else:
        click.echo(f"Frames and chain files: {folder}" if draw_only else f"Open {folder / files['page']}")


def _draw(folder: Path) -> tuple[Demonstration, dict[str, str]]:
    from scalesim.demo.bench import SCENES, chain_files
    from scalesim.io.pictures.write import write_png
    from scalesim.jobs.demo.demo import Demonstration, draw_scene

    files = {}
    for name in ("frames", "chains"):
        (folder / name).mkdir()
    with Progress(len(SCENES)) as progress:
        for scene in SCENES:
            progress(f"drawing {scene.title}")
            files[scene.key] = f"frames/{scene.key}.png"
            write_png(folder / files[scene.key], draw_scene(scene))
    for key, text in chain_files().items():
        files[key] = f"chains/{key}.toml"
        (folder / files[key]).write_text(text, encoding="utf-8", newline="\n")
    return Demonstration(()), files


def _show(folder: Path) -> tuple[Demonstration, dict[str, str]]:
    from scalesim.demo.bench import SCENES
    from scalesim.jobs.demo import demo
    from scalesim.page.compare import write_comparison
    from scalesim.page.demo import write_demo_page
    from scalesim.page.save_identification import write_identification
    from scalesim.page.save_tuning import write_tuning

    steps = demo.steps_in_demo() + 1 + demo.steps_in_comparison() + demo.STEPS_AT_END
    with Progress(steps) as progress:
        demonstration = demo.Demonstration(tuple(demo.run_scene(scene, progress) for scene in SCENES))
        progress("writing pictures and page")
        files = write_demo_page(demonstration, folder)
        compared = demo.compare_scenes(progress)
        (folder / "comparison").mkdir()
        own = write_comparison(compared, folder / "comparison", advance=progress)
        files |= _placed("comparison", own)
        tuning, frames = demo.tune_scenes(progress)
        (folder / "tuning").mkdir()
        files |= _placed("tuning", write_tuning(tuning, frames, folder / "tuning")[0])
        found, check = demo.identify_box(progress)
        (folder / "identified").mkdir()
        files |= _placed("identified", write_identification(found, check, folder / "identified"))
        return demonstration, files


def _placed(folder: str, files: dict[str, str]) -> dict[str, str]:
    return {f"{folder}-{name}": f"{folder}/{file}" for name, file in files.items()}

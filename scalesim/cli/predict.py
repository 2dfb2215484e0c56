"""``scalesim predict``."""

from __future__ import annotations

from pathlib import Path

import rich_click as click

from scalesim.cli.options import output_options, read_chain, words

VIEWS = ("raster", "seen")


@click.command("predict")
@click.argument("frame", type=click.Path(path_type=Path))
@click.option("--chain", required=True, metavar="TEXT or FILE.toml", help="The boxes in series.")
@click.option(
    "--mode", metavar="NAME", help="Mode of the frame, such as 720p60 or 1080i60 (default: by its size)."
)
@click.option(
    "--range",
    "code_range",
    type=click.Choice(["full", "limited"]),
    default="full",
    help="Code range of the file: full 0-255, limited 16-235.",
)
@click.option("--view", metavar="LIST", help="Pictures to write: raster,seen (default both).")
@click.option(
    "--tube",
    type=click.Choice(["4:3", "16:9"]),
    default="4:3",
    help="Shape of the tube for the seen picture.",
)
@click.option("--metrics", metavar="LIST", help="Metric keys to measure, comma between (default all).")
@output_options
def command(
    frame: Path,
    chain: str,
    mode: str | None,
    code_range: str,
    view: str | None,
    tube: str,
    metrics: str | None,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Predict what FRAME looks like after a chain, and measure it.

    Example: scalesim predict frame.png --chain "line-average lines=480, line-drop lines=240 phase=1"

    Writes the raster pixel by pixel, each field, the woven frame, the picture at the shape of the tube
    (nearest neighbour), and result.json.
    """
    from scalesim.cli.show import note, show_json, show_result
    from scalesim.io.folder import check_folder, default_folder, output_folder
    from scalesim.io.read import read
    from scalesim.io.save import document, save_document, save_pictures, with_absolute_paths
    from scalesim.jobs.predict import predict

    wanted = _views(view)
    folder = out or default_folder("predict", frame.stem)
    check_folder(folder, force=force)
    parsed = read_chain(chain)
    clip = read(frame, mode=mode, limited=code_range == "limited")
    result = predict(clip, parsed, tube=tube, metrics=words(metrics))
    with output_folder(folder, force=force) as partial:
        files = save_pictures(result, partial, wanted)
        written = save_document(document(result, files), partial)
    note(result.notes)
    if as_json:
        show_json(with_absolute_paths(written, folder))
    else:
        show_result(result, folder)


def _views(view: str | None) -> set[str] | None:
    from scalesim.errors import ParameterError, nearest

    asked = words(view)
    if asked is None:
        return None
    for name in asked:
        if name not in VIEWS:
            raise ParameterError(f"--view: unknown picture '{name}'; {nearest(name, VIEWS)}")
    # the raster of fields comes with its fields and their weave
    return {*asked, *(("field-top", "field-bottom", "woven") if "raster" in asked else ())}

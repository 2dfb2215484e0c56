"""``scalesim fields``."""

from __future__ import annotations

from pathlib import Path

import rich_click as click

from scalesim.cli.options import output_options, range_option


@click.command("fields")
@click.argument("capture", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--mode", metavar="NAME", help="Mode of the capture, such as 480i or 240p (default: by its size)."
)
@range_option
@output_options
def command(
    capture: tuple[Path, ...],
    mode: str | None,
    code_range: str,
    out: Path | None,
    force: bool,
    as_json: bool,
) -> int:
    """Tell true interlace from one picture sent twice, from a CAPTURE of a box's fields.

    Example: scalesim fields capture.mkv

    CAPTURE is a clip, or pictures in the order of time: woven frames (480, 576 or 1080 lines), or one
    field each (240, 288). Textured, still pictures tell most. Writes the mean field of each parity and
    result.json. Where a display draws the fields cannot be seen in a capture, so landing_offset is
    null. confidence is erf(t / sqrt 2), t the distance of the offset to the nearest limit (1/4 and 3/4
    line) in units of three standard errors. Ends with 1 when the fields cannot be told apart.
    """
    from scalesim.cli.show import note, show_json, show_result
    from scalesim.io.folder import check_folder, default_folder, output_folder
    from scalesim.io.read import read
    from scalesim.io.save import document, save_document, save_pictures, with_absolute_paths
    from scalesim.jobs.fields.fields import fields

    folder = out or default_folder("fields", capture[0].stem)
    check_folder(folder, force=force)
    clips = [read(path, mode=mode, limited=code_range == "limited") for path in capture]
    result = fields(clips)
    with output_folder(folder, force=force) as partial:
        files = save_pictures(result, partial)
        written = save_document(document(result, files), partial)
    note(result.notes)
    if as_json:
        show_json(with_absolute_paths(written, folder))
    else:
        show_result(result, folder)
    return 1 if result.verdict == "unknown" else 0

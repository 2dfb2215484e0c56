"""Saving what a box was found to do: its operator, a chain to predict it with, pictures, and a page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from scalesim.chain import Chain
from scalesim.io.folder import output_folder
from scalesim.io.pictures.write import write_png
from scalesim.io.save import document, save_document, with_absolute_paths
from scalesim.jobs.identify.check import AMPLIFIED, IdentifyCheck
from scalesim.jobs.identify.identification import Identification
from scalesim.jobs.identify.operator import operator_file
from scalesim.page.article import Article, Part, Picture, Plot, render_article
from scalesim.page.operator_picture import LINES, operator_picture
from scalesim.page.plots.kernel import kernel_plot
from scalesim.page.plots.svg import ON_PAPER, coloured
from scalesim.stages.measured import Measured

OPERATOR = "operator.json"


def save_identification(
    found: Identification, check: IdentifyCheck, out: str | Path, *, force: bool = False
) -> dict[str, Any]:
    """Write an identification to a folder; return its document with absolute paths.

    The chain of a box without a name is `measured` with the operator file written here.
    Raises: WriteError
    """
    with output_folder(Path(out), force=force) as partial:
        files = write_identification(found, check, partial)
        whole = {**document(found, files), "check": check.to_dict()}
        written = save_document(whole, partial)
    return with_absolute_paths(written, Path(out))


def with_operator(found: Identification, out: Path) -> Identification:
    """Return an answer whose chain, when no name fits, reads the operator file that `out` will hold."""
    if found.method != "unknown":
        return found
    return replace(found, chain=Chain(Measured(file=(out / OPERATOR).as_posix())).text)


def write_identification(found: Identification, check: IdentifyCheck, folder: Path) -> dict[str, str]:
    """Write operator, chain, pictures and page into a folder; return name -> file name."""
    files = {"operator": OPERATOR, "chain": "box.toml", "plot": "kernel.svg", "matrix": "matrix.png"}
    (folder / OPERATOR).write_text(operator_file(found).to_json(), encoding="utf-8", newline="\n")
    chain = Chain(Measured(file=OPERATOR)) if found.method == "unknown" else Chain(found.chain)
    (folder / files["chain"]).write_text(chain.to_toml(), encoding="utf-8", newline="\n")
    svg, caption = kernel_plot(found)
    (folder / files["plot"]).write_text(coloured(svg, ON_PAPER), encoding="utf-8")
    matrix, corner = operator_picture(found.rows[0])
    write_png(folder / files["matrix"], matrix / np.float32(255))
    for name, values in check.pictures.items():
        files[name] = f"{name}.png"
        write_png(folder / files[name], values)
    files["page"] = "index.html"
    page = render_article(_article(found, check, Plot(svg, caption), _matrix(matrix.shape, corner)))
    (folder / files["page"]).write_text(page, encoding="utf-8")
    return files


def _matrix(shape: tuple[int, ...], corner: tuple[int, int]) -> Picture:
    caption = (
        f"Output lines {corner[0]} to {corner[0] + LINES - 1} down, source lines from {corner[1]} across. "
        "Every square is a weight: violet adds, orange takes away, white is nothing."
    )
    return Picture(
        "The operator, its middle", "matrix.png", "Weights as squares", caption, (shape[0], shape[1])
    )


def _article(found: Identification, check: IdentifyCheck, plot: Plot, matrix: Picture) -> Article:
    said = found.sentences()
    size = check.captured.shape[:2]
    captions = {
        "captured": "The mean of the captured frames, one dot for a sample.",
        "predicted": "The chart through the answer and the capture's own levels and place.",
        "residual": f"Captured less predicted, {AMPLIFIED} times, about mid grey. Even grey is agreement; a "
        "pattern says what the answer does not explain.",
    }
    pictures = tuple(
        Picture(name, f"{name}.png", f"The chart, {name}", said_of, (size[0], size[1]))
        for name, said_of in captions.items()
    )
    parts = (
        Part("What a line is made of", plots=(plot,), pictures=(matrix,)),
        Part("The chain that reproduces it", _reproduce(found), code=found.chain),
        Part("Measured", tables=(found.table(),)),
        Part("Predicted against captured", tuple(check.sentences()), pictures=pictures),
    )
    return Article("What the box does", tuple(said), parts)


def _reproduce(found: Identification) -> tuple[str, ...]:
    if found.method == "unknown":
        return ("No name fits, so the chain uses the weights as they were measured, in operator.json.",)
    return ("The same box by its name; operator.json holds the weights line by line.",)

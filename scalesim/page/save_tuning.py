"""Saving a tuning: the curve, the best chain, close looks before and after, and a page."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from scalesim.io.folder import output_folder
from scalesim.io.pictures.write import write_png
from scalesim.io.save import document, save_document, with_absolute_paths
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.tune.art import ArtFound, art_of
from scalesim.jobs.tune.tuning import Tuning, plain_values
from scalesim.page.article import Article, Part, Picture, Plot, render_article
from scalesim.page.plots.svg import ON_PAPER, coloured
from scalesim.page.plots.tune import tune_plot
from scalesim.page.tune_looks import TuneLook, looks_of
from scalesim.result import Table

MOST_ROWS = 60


def save_tuning(
    tuning: Tuning, sources: Sequence[FrameSource], out: str | Path, *, force: bool = False
) -> dict[str, Any]:
    """Write a tuning to a folder; return its document with absolute paths.

    Parameters:
        sources : the frames it was made of, read again for the close looks
        out : folder that does not exist yet; with `force` an earlier result of ours is replaced
    Raises: WriteError
    """
    with output_folder(Path(out), force=force) as partial:
        files, art = write_tuning(tuning, sources, partial)
        whole = {**document(tuning, files), "art": [each.to_dict() for each in art]}
        written = save_document(whole, partial)
    return with_absolute_paths(written, Path(out))


def write_tuning(
    tuning: Tuning, sources: Sequence[FrameSource], folder: Path
) -> tuple[dict[str, str], list[ArtFound]]:
    """Write curve, chain, looks and page into a folder; return name -> file name, and the art found."""
    clips = [(s.name, s.load()) for s in sources if s.name in tuning.frames]
    art = art_of(tuning.before, clips)
    files = {"csv": "curve.csv", "chain": "best.toml", "page": "index.html"}
    (folder / files["csv"]).write_text(curve_csv(tuning), encoding="utf-8", newline="\n")
    (folder / files["chain"]).write_text(
        tuning.chain.files_for(folder).to_toml(), encoding="utf-8", newline="\n"
    )
    svg, caption = tune_plot(tuning)
    plots: tuple[Plot, ...] = ()
    if svg:
        files["plot"] = "curve.svg"
        (folder / files["plot"]).write_text(coloured(svg, ON_PAPER), encoding="utf-8")
        plots = (Plot(svg, caption),)
    looks = looks_of(tuning, clips)
    pictures = []
    for number, look in enumerate(looks, start=1):
        for name, values in (("before", look.before), ("after", look.after)):
            files[f"{name}-{number}"] = f"{name}-{number}.png"
            write_png(folder / files[f"{name}-{number}"], values)
            pictures.append(_picture(look, name, files[f"{name}-{number}"]))
    page = render_article(_article(tuning, plots, tuple(pictures), art))
    (folder / files["page"]).write_text(page, encoding="utf-8")
    return files, art


def curve_csv(tuning: Tuning) -> str:
    """Return one row per setting: its values, the score, every metric, and every frame's score."""
    keys = [dial.key for dial in tuning.dials]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow([*keys, "score", *tuning.objective.names, *tuning.frames, "why"])
    for point in tuning.curve:
        values = plain_values(point.values)
        row = [*(values[key] for key in keys), point.score, *point.metrics.values(), *point.per_frame]
        table.writerow(["" if cell is None else cell for cell in [*row, point.why]])
    return text.getvalue()


def _picture(look: TuneLook, when: str, file: str) -> Picture:
    values = look.before if when == "before" else look.after
    said = "as it is set now" if when == "before" else "with the best setting"
    return Picture(
        f"{look.frame}, {when}",
        file,
        f"{look.frame}: a close look {said}",
        f"About source line {look.line:.0f}, {said}: whole scan lines, doubled, no beam.",
        (values.shape[0], values.shape[1]),
    )


def _article(
    tuning: Tuning, plots: tuple[Plot, ...], pictures: tuple[Picture, ...], art: Sequence[ArtFound]
) -> Article:
    names = " and ".join(dial.key for dial in tuning.dials)
    parts = [Part("Every setting", plots=plots, tables=(tuning.table(),))]
    if pictures:
        text = ("The outlines that suffer most now, and the same place with the best setting.",)
        parts.append(Part("Before and after", text, pictures=pictures))
    if art:
        parts.append(Part("Art and the chain's ratio", tuple(each.sentence() for each in art)))
    parts.append(Part("The chain with the best setting", code=tuning.chain.text))
    if len(tuning.curve) <= MOST_ROWS:
        parts.append(Part("The scores", tables=(_scores(tuning),)))
    return Article(f"Tuning {names}", tuple(tuning.sentences()), tuple(parts))


def _scores(tuning: Tuning) -> Table:
    keys = [dial.key for dial in tuning.dials]
    rows = []
    for point in tuning.curve:
        score = "none" if point.score is None else f"{point.score:.3f}"
        values = plain_values(point.values)
        rows.append((*(str(values[key]) for key in keys), score, point.why))
    columns = (*keys, "score", "why there is none")
    return Table(
        "Every setting; the same is in curve.csv",
        columns,
        tuple(rows),
        ("right",) * (len(keys) + 1) + ("left",),
    )

"""Write a comparison to be published: rows, page, stills for a video edit, and the same as Markdown.

Pictures are predicted again frame by frame and stored at once, so memory does not grow with the number
of frames. Nothing written depends on the date or the machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from scalesim.errors import ParameterError, nearest
from scalesim.jobs.compare.compare import Comparison
from scalesim.jobs.predict.outcome import TUBES
from scalesim.page.compare_look import Crop
from scalesim.page.compare_markdown import comparison_markdown
from scalesim.page.compare_pictures import FramePictures, Look, frame_pictures
from scalesim.page.compare_rows import write_csv, write_json
from scalesim.page.compare_view import inlined_viewer, render
from scalesim.page.compare_words import figures_of
from scalesim.page.picture_store import INLINE_LIMIT, PictureStore
from scalesim.page.plots.compare import Plot, plots_of
from scalesim.page.plots.svg import ON_PAPER, coloured
from scalesim.page.stills import MOST_CHAINS, Caption, write_stills

__all__ = ["inlined_viewer", "write_comparison"]

STILL_FOOT = "Predicted: lines drawn as they land, no beam or glass."


def write_comparison(
    comparison: Comparison,
    folder: Path,
    *,
    crop: Crop | None = None,
    tube: str = "4:3",
    advance: Callable[[str], None] = lambda _: None,
    stills: Sequence[str] = (),
    inline_limit: int = INLINE_LIMIT,
) -> dict[str, str]:
    """Write a comparison into a folder; return name -> file name relative to it.

    Parameters:
        crop : (top, left, height, width) in source lines and samples to look at closely; None finds, frame
            by frame, where the chains differ most
        tube : shape of the tube, "4:3" or "16:9"
        advance : called once for each frame and chain with what is worked on
        stills : names of frames that get stills besides the first
        inline_limit : bytes of picture data above which pictures are files beside the page
    Returns: at least `csv`, `json`, `page` and `markdown`
    Raises: ParameterError for a crop outside a frame, an unknown tube or frame name
    """
    if tube not in TUBES:
        raise ParameterError(f"tube is {tube!r}; {nearest(str(tube), TUBES)}")
    names = [frame.name for frame in comparison.frames]
    for name in stills:
        if name not in names:
            raise ParameterError(f"stills: no frame is named '{name}'; {nearest(name, names)}")
    write_csv(comparison.rows, folder / "rows.csv")
    write_json(comparison, folder / "rows.json")
    (folder / "figures").mkdir()
    store = PictureStore(folder, inline_limit)
    frames: list[FramePictures] = []
    written: dict[str, tuple[str, ...]] = {}
    for number, frame in enumerate(comparison.frames):
        found = frame_pictures(comparison, number, store, crop=crop, tube=tube, advance=advance)
        if found is None:
            continue
        frames.append(found[0])
        if len(frames) == 1 or frame.name in stills:
            stem = f"still-{number + 1:02d}" if written else "still"
            written[frame.name] = _stills(comparison, found[1], folder / "figures" / stem)
    plots = plots_of(comparison)
    saved = _save_plots(plots, folder)
    (folder / "index.html").write_text(
        render(comparison, frames, plots, written, store, tube), encoding="utf-8", newline="\n"
    )
    store.close()
    text = comparison_markdown(comparison, written, saved)
    (folder / "comparison.md").write_text(text, encoding="utf-8", newline="\n")
    return {
        "csv": "rows.csv",
        "json": "rows.json",
        "page": "index.html",
        "markdown": "comparison.md",
        **{Path(name).stem: name for group in written.values() for name in group},
        **{Path(name).stem: name for name, _ in saved},
    }


def _stills(comparison: Comparison, look: Look, stem: Path) -> tuple[str, ...]:
    rows = {row.chain: row for row in comparison.rows if row.frame == look.name}
    captions = {
        label: Caption(label, f"{row.raster}: {figures_of(row, shorter=True)}") for label, row in rows.items()
    }
    more = len(look.contestants) - MOST_CHAINS
    foot = f"{STILL_FOOT} {more} more on the page." if more > 0 else STILL_FOOT
    paths = write_stills(look, captions, f"{look.name}: the same part after each chain", foot, stem)
    return tuple(f"figures/{path.name}" for path in paths)


def _save_plots(plots: Sequence[Plot], folder: Path) -> tuple[tuple[str, str], ...]:
    """Write the plots in the colours of paper, for use elsewhere; return (file, words) of each."""
    saved = []
    for plot in plots:
        name = f"figures/{plot.name}.svg"
        style = "<style>svg{background:#fff;color:#1f2328}</style>"
        text = coloured(plot.svg, ON_PAPER).replace("</title>", f"</title>{style}", 1)
        (folder / name).write_text(text + "\n", encoding="utf-8", newline="\n")
        saved.append((name, plot.caption))
    return tuple(saved)

"""Saving a result: its files, pictures, plots, page and text, and its document. One way for every job."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import Any

from scalesim.io.folder import output_folder
from scalesim.io.output.place import settled
from scalesim.io.picture_store import INLINE_LIMIT, PictureStore
from scalesim.io.save import document, save_document, with_absolute_paths
from scalesim.io.saved import ANSWER, answer_text
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.crops import Asked
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.outcome import check_tube
from scalesim.jobs.tune.tuning import Tuning
from scalesim.page.html import render_page
from scalesim.page.kept import kept, kept_cover
from scalesim.page.markdown import render_markdown
from scalesim.page.plots.draw import plot_svg
from scalesim.page.plots.svg import on_paper
from scalesim.plot import Plot
from scalesim.result import Beside, Links, Part, Picture, Plate, Result, within
from scalesim.texts import readable

PAGE = "index.html"
Advance = Callable[[str], None]
Extra = Callable[[Path], Beside]


def save(
    result: Result,
    out: str | Path,
    *,
    force: bool = False,
    command: str = "",
    extra: Extra | None = None,
    advance: Advance = lambda _: None,
    inline_limit: int = INLINE_LIMIT,
) -> dict[str, Any]:
    """Write a result to a folder; return its document with absolute paths.

    Parameters:
        out : folder that does not exist yet; with `force` an earlier result of ours,
            all of it as it was written, is replaced
        command : what the document calls itself, when that is not the result's kind
        extra : writes more into the folder, before the page, in place of the result's own `beside`
        advance : called with what is written next
        inline_limit : bytes of pictures, as text, that a page holds; the others lie beside it only
    Raises: WriteError for a folder that cannot be written; nothing half-written is left
    """
    out = settled(Path(out))
    with output_folder(out, force=force) as partial:
        beside = (extra or result.beside)(partial)
        result = beside.answer or result
        files = write_result(result, partial, more=beside.files, advance=advance, inline_limit=inline_limit)
        written = save_document({**document(result, files, command), **beside.keys}, partial)
    return with_absolute_paths(written, out)


def write_result(
    result: Result,
    folder: Path,
    *,
    more: Mapping[str, str] | None = None,
    advance: Advance = lambda _: None,
    inline_limit: int = INLINE_LIMIT,
) -> dict[str, str]:
    """Write everything but the document into a folder; return name -> file name relative to it.

    Parameters:  more : name -> file name of what lies there already
    """
    store = PictureStore(folder, inline_limit)
    files: dict[str, str] = {}
    for name, values in result.kept_pictures.items():
        files[name] = result.picture_file(name)
        store.add(files[name].removesuffix(".png"), values() if callable(values) else values)
    pictures = dict(files)
    texts = result.files()
    for name, file in texts.items():
        files[name] = file.name
        text = file.content if isinstance(file.content, str) else file.content(str(folder))
        _write(folder / file.name, text)
    streamed = result.streamed()
    files |= {name: place for name, (place, _) in streamed.items()}
    cover = kept_cover(result.cover(), store)
    plots: dict[str, str] = {}

    def put_away(part: Part) -> Part:
        advance(part.title)
        for item in within(part.items):
            if isinstance(item, Plot):
                plots[item.name] = _write_plot(item, result, folder)
        return kept(part, store)

    shown = list(map(put_away, result.parts()))  # nothing holds a part's pictures while the next is made
    files = {**_covers(cover), **_pictures(shown), **_named_plots(plots), **files, **(more or {})}
    children = []
    for name, words, child in result.children():
        child = child(str(folder)) if callable(child) else child
        inner = folder / name
        inner.mkdir()
        beside = child.beside(inner)
        child = beside.answer or child
        own = write_result(child, inner, more=beside.files, advance=advance, inline_limit=inline_limit)
        save_document({**document(child, own), **beside.keys}, inner)
        files |= {f"{name}-{key}": f"{name}/{place}" for key, place in own.items()}
        children.append((f"{name}/{PAGE}", words))
    listed = {**files, "markdown": result.markdown_name}
    page = render_page(result, shown, store, cover=cover, files=listed, more=children)
    _write(folder / PAGE, page)
    _write(folder / result.markdown_name, render_markdown(result, shown, plots, cover))
    pictures |= {**_covers(cover), **_linked(shown)}
    text = answer_text(result, shown, cover=cover, pictures=pictures, files=texts, children=children)
    _write(folder / ANSWER, text)
    for place, write in streamed.values():
        advance(place)
        write(str(folder / place))
    return {"page": PAGE, **files, "markdown": result.markdown_name, "answer": ANSWER}


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(exist_ok=True)
    path.write_text(readable(text), encoding="utf-8", newline="\n")


def _write_plot(plot: Plot, result: Result, folder: Path) -> str:
    """Write a plot in the colours of paper, for use elsewhere; return its place."""
    place = f"{result.plot_folder}{plot.name}.svg"
    _write(folder / place, on_paper(plot_svg(plot)))
    return place


def _named_plots(plots: dict[str, str]) -> dict[str, str]:
    found = dict(plots)
    if len(plots) == 1:
        found = {"plot": next(iter(plots.values())), **found}
    return found


def _pictures(parts: list[Part]) -> dict[str, str]:
    """Return name -> file of the pictures of parts that are no mere filling of the page."""
    pictures = [item for part in parts for item in within(part.items) if isinstance(item, Picture)]
    names = [name for picture in pictures for name in (picture.name, picture.shown) if name]
    named = {
        name.removeprefix("figures/"): f"{name}.png" for name in names if not name.startswith("pictures/")
    }
    return {**named, **_linked(parts)}


def _covers(cover: Plate | None) -> dict[str, str]:
    """Return name -> file of the stills and the picture for links of the figure that opens a page."""
    if cover is None:
        return {}
    places = [place for place, _ in cover.stills.links] + [f"{cover.card}.png"] * bool(cover.card)
    return {PurePosixPath(place).stem: place for place in places}


def _linked(parts: list[Part]) -> dict[str, str]:
    """Return name -> file of the pictures that parts link to: stills."""
    links = [item for part in parts for item in within(part.items) if isinstance(item, Links)]
    places = [place for each in links for place, _ in each.links if place.endswith(".png")]
    return {PurePosixPath(place).stem: place for place in places}


def save_comparison(
    comparison: Comparison,
    out: str | Path,
    *,
    crop: Asked | None = None,
    tube: str = "4:3",
    force: bool = False,
    advance: Advance = lambda _: None,
) -> dict[str, Any]:
    """Write a comparison to a folder, as `save` does.

    Parameters:
        crop : (top, left, height, width) in source lines and samples; None takes the comparison's own
        tube : shape of the tube, "4:3" or "16:9"
    Raises: WriteError; ParameterError for a crop outside a frame, or a tube that is not known
    """
    shown = replace(comparison, crop=crop or comparison.crop, tube=check_tube(tube))
    return save(shown, out, force=force, advance=advance)


def save_tuning(
    tuning: Tuning, sources: list[FrameSource], out: str | Path, *, force: bool = False
) -> dict[str, Any]:
    """Write a tuning to a folder, as `save` does; `sources` are read again for the close looks."""
    return save(replace(tuning, sources=tuple(sources)), out, force=force)

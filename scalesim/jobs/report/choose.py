"""What of a saved answer is placed: found by name, or the nearest valid name is told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from scalesim.errors import ParameterError, nearest
from scalesim.jobs.report.article import slug
from scalesim.jobs.report.dots import asked_of, codes
from scalesim.jobs.report.reference import Reference
from scalesim.plot import Plot
from scalesim.result import Code, Layer, Picture, Quote, Result, Table, Viewer, within
from scalesim.texts import capital

Found = tuple[tuple[Any, ...], str]
"""The items, and what they say of themselves."""


def chosen(asked: Reference, result: Result, at: str) -> Found:
    """Return what a reference asks for.

    Parameters:  result : of the folder it names; at : its place in the article, for errors
    Raises: ParameterError for a name that the answer does not have
    """
    if asked.of and asked.select != "look":
        raise ParameterError(
            f"{at}: of= chooses among the pictures of a look; write #look= and the frame's name"
        )
    if asked.select not in ("", "look", "picture") and (asked.crop or asked.zoom != (0, 0)):
        raise ParameterError(f"{at}: only pictures are cropped or enlarged; leave zoom and crop out")
    if not asked.select:
        return _own_choice(asked, result, at)
    find = {
        "cover": _cover,
        "look": _look,
        "viewer": _viewer,
        "picture": _picture,
        "plot": _plot,
        "table": _table,
        "said": _said,
        "chains": _chains,
    }[asked.select]
    return find(asked, result, at)


def origin_of(asked: Reference, answer: Result) -> str:
    """Return where an exhibit comes from."""
    document = getattr(answer, "document", {})
    if not document:
        return f"From {asked.place}."
    said = f"From {asked.place}"
    if asked.zoom != (0, 0):
        down, across = asked.zoom
        said += f", enlarged {down} times" if down == across else f", enlarged {down} by {across} times"
    return f"{said} ({document.get('command', answer.kind)}, scalesim {document.get('version', '')})."


def _own_choice(asked: Reference, result: Result, at: str) -> Found:
    """Return what stands for a whole answer: its cover, else its first picture, else its first plot.

    Where its first picture is a wipe, both of the pictures that are wiped are taken.
    """
    if result.cover() is not None:
        return _cover(asked, result, at)
    if pair := _wiped(result):
        both = tuple(asked_of(each, asked, at) for each in pair)
        return both, "; ".join(each.label for each in pair)
    for find in (_pictures, _plots):
        named: Mapping[str, Any] = find(result)
        if named:
            item = next(iter(named.values()))
            return (asked_of(item, asked, at),), _says(item)
    raise ParameterError(f"{at}: {asked.place} has no picture; {_offer(result)}")


def _cover(asked: Reference, result: Result, at: str) -> Found:
    cover: Any = result.cover()
    if cover is None:
        raise ParameterError(f"{at}: {asked.place} has no cover; {_offer(result)}")
    if asked.zoom != (0, 0) or asked.crop or asked.of:
        raise ParameterError(
            f"{at}: a cover is placed as it was made; crop or enlarge pictures of #look instead"
        )
    return (cover,), cover.caption


def _look(asked: Reference, result: Result, at: str) -> Found:
    parts = {
        _key(part.title): part for part in result.parts() if any(isinstance(i, Picture) for i in part.items)
    }
    part = _named(asked, parts, "look", at)
    pictures = {_key(item.label or item.name): item for item in part.items if isinstance(item, Picture)}
    if asked.of:
        source = pictures.get("the-source")
        known = ({"source": source} if source else {}) | pictures
        pictures = {_key(name): _one(name, known, "of= names no picture", at) for name in asked.of}
    return tuple(asked_of(each, asked, at) for each in pictures.values()), part.title


def _viewer(asked: Reference, result: Result, at: str) -> Found:
    named = {_key(item.name): item for item in _items(result) if isinstance(item, Viewer)}
    viewer = _named(asked, named, "viewer", at)
    name = (
        capital(viewer.name) if viewer.name.startswith("the ") else viewer.name
    )  # others are names of files
    return (viewer,), f"{name}: linked pictures to move, enlarge and wipe"


def _picture(asked: Reference, result: Result, at: str) -> Found:
    picture = _named(asked, _pictures(result), "picture", at)
    return (asked_of(picture, asked, at),), _says(picture)


def _plot(asked: Reference, result: Result, at: str) -> Found:
    plot = _named(asked, _plots(result), "plot", at)
    return (plot,), _says(plot)


def _table(asked: Reference, result: Result, at: str) -> Found:
    table = _named(asked, _tables(result), "table", at)
    return (table,), _says(table)


def _said(asked: Reference, result: Result, at: str) -> Found:
    said = result.sentences()
    if not said:
        raise ParameterError(f"{at}: {asked.place} has no words of its own; {_offer(result)}")
    return (Quote(tuple(said), origin_of(asked, result)),), ""


def _chains(asked: Reference, result: Result, at: str) -> Found:
    chains = tuple(item for item in _items(result) if isinstance(item, Code))
    if not chains:
        raise ParameterError(f"{at}: {asked.place} has no chains; {_offer(result)}")
    return chains, ""


def _items(result: Result) -> Iterator[Any]:
    for part in result.parts():
        yield from within(part.items)


def _pictures(result: Result) -> dict[str, Picture]:
    """Return name -> picture: those of the parts, by their labels, then those of the answer itself."""
    found: dict[str, Picture] = {}
    for part in result.parts():
        for item in within(part.items):
            if isinstance(item, Picture):
                label = item.label or item.name.rpartition("/")[2]
                _add(found, item, label, f"{part.title}-{label}")
    layers = {layer.name.rpartition("/")[2]: layer for layer in _layers(result)}
    for name, values in result.kept_pictures.items():
        kept = Picture(name, values, label=name)
        if name in layers:  # alone it has no other beside it that says which it is
            kept = _of_layer(layers[name], values)
            kept = replace(kept, caption=f"{kept.label}. {kept.caption}".strip())
        found.setdefault(_key(name), kept)
    return found


def _layers(result: Result) -> Iterator[Layer]:
    for item in _items(result):
        if isinstance(item, Viewer):
            yield from item.layers


def _of_layer(layer: Layer, values: Any) -> Picture:
    """Return a picture of a viewer in the shape that it has there: as wide as its samples."""
    lines, samples = codes(values).shape[:2]
    height = round(samples * layer.place.height / layer.place.width)
    size = None if height == lines else (height, samples)
    return Picture(layer.name, values, layer.label, layer.label, layer.caption, size=size)


def _wiped(result: Result) -> tuple[Picture, ...]:
    """Return the two pictures of an answer that shows nothing but a wipe of them; () for another."""
    shown = [item for item in _items(result) if isinstance(item, Picture | Viewer)]
    if len(shown) != 1 or not isinstance(shown[0], Viewer) or shown[0].mode != "wipe":
        return ()
    named = {layer.id: layer for layer in shown[0].layers}
    kept = result.kept_pictures
    pair = [(named[each], kept.get(named[each].name.rpartition("/")[2])) for each in shown[0].pair]
    return tuple(_of_layer(layer, values) for layer, values in pair if values is not None)


def _plots(result: Result) -> dict[str, Plot]:
    found: dict[str, Plot] = {}
    for item in (*_items(result), *result.figures()):
        if isinstance(item, Plot):
            found.setdefault(_key(item.name), item)
    return found


def _tables(result: Result) -> dict[str, Table]:
    found: dict[str, Table] = {}
    for part in result.parts():
        for item in within(part.items):
            if isinstance(item, Table):
                _add(found, item, item.title, f"{part.anchor or part.title}-{item.title}")
    _add(found, result.table(), result.table().title)
    return found


def _add(found: dict[str, Any], item: Any, *names: str) -> None:
    """Keep an item under the first name that is free, if it is none of those kept."""
    if any(item is each for each in found.values()):
        return
    key = next((key for key in map(_key, names) if key not in found), "")
    if key:
        found[key] = item


def _named(asked: Reference, named: Mapping[str, Any], what: str, at: str) -> Any:
    """Return what a reference names; the only one there is needs no name."""
    if not named:
        raise ParameterError(f"{at}: {asked.place} has no {what}")
    if not asked.which:
        if len(named) > 1:
            raise ParameterError(f"{at}: {asked.place} has several; write {what}= and one of {_some(named)}")
        return next(iter(named.values()))
    return _one(asked.which, named, f"{asked.place} has no {what}", at)


def _one(name: str, named: Mapping[str, Any], what: str, at: str) -> Any:
    key = _key(name)
    if key in named:
        return named[key]
    raise ParameterError(f"{at}: {what} '{name[:40]}'; {_near(key, named)}")


def _near(key: str, named: Mapping[str, Any]) -> str:
    said = nearest(key, named)
    hint, _, _ = said.partition("valid: ")
    return f"{hint}valid: {_some(named)}"


def _some(names: Iterable[str], most: int = 12) -> str:
    listed = list(names)
    more = f" and {len(listed) - most} more" if len(listed) > most else ""
    return ", ".join(listed[:most]) + more


def _offer(result: Result) -> str:
    """Return what an answer has to be placed."""
    kinds: dict[str, Mapping[str, Any]] = {
        "picture": _pictures(result),
        "plot": _plots(result),
        "table": _tables(result),
    }
    said = [f"{kind}={next(iter(named))}" for kind, named in kinds.items() if named]
    return f"it has {', '.join(said)}" if said else "it has its words alone, #said"


def _says(item: Any) -> str:
    if isinstance(item, Plot):
        return item.caption
    if isinstance(item, Table):
        return item.title
    return item.said or item.label or item.name.rpartition("/")[2]


def _key(name: str) -> str:
    """Return a name as it is compared: without the ending of a picture's file."""
    return slug(name.removesuffix(".png"))

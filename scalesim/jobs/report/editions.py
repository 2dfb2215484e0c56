"""Editions: what a new one shows otherwise than the last, with what was superseded kept."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from scalesim.errors import ParameterError
from scalesim.jobs.report.article import Article
from scalesim.jobs.report.dots import codes
from scalesim.jobs.report.exhibits import Placed
from scalesim.plot import Plot
from scalesim.result import Exhibit, Part, Picture, Plate, Prose, Result, Table, Viewer

Record = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Edition:
    """Which edition it is, what changed, and what earlier ones showed instead.

    Parameters:
        number : from 1
        changes : (what, was, is), () in the first
        tables : of the changes between earlier editions, as they were told
        kept : exhibits that were superseded, under names of their own
    """

    number: int
    changes: tuple[tuple[str, str, str], ...] = ()
    tables: tuple[Table, ...] = ()
    kept: tuple[Exhibit, ...] = ()

    def parts(self) -> Iterator[Part]:
        """Yield what an edition after the first says of the earlier ones."""
        if self.number < 2:
            return
        title = f"Changed in edition {self.number}"
        text = () if self.changes else ("Nothing that is shown, and no words of a section.",)
        own = (Table(title, ("what", "was", "is"), self.changes),) if self.changes else ()
        yield Part("Changes since earlier editions", text, (*own, *self.tables), anchor="changes")
        if self.kept:
            said = "What these figures and tables showed before; nothing above rests on them."
            yield Part("Superseded", (said,), self.kept, anchor="earlier")


def records(article: Article, shown: Iterable[Placed]) -> tuple[list[Record], Record]:
    """Return what the next edition is compared with: a record a reference; section -> digest of words."""
    found = [_record(each) for each in shown]
    words = {
        section.title or "the opening": _sha(
            "".join(block.markdown for block in section.blocks if isinstance(block, Prose)).encode()
        )
        for section in article.sections
    }
    return found, words


def edition_of(
    now: Sequence[Record], words: Record, earlier: Result | None, *, name: str = "--after"
) -> Edition:
    """Return this edition, compared with the one before it.

    Parameters:  now, words : as `records` gives them; earlier : the saved edition before, None for the first
    Raises: ParameterError for a saved answer that is no report
    """
    if earlier is None:
        return Edition(1)
    document = getattr(earlier, "document", {})
    if earlier.kind != "report" or "edition" not in document:
        raise ParameterError(
            f"{name}: holds a {earlier.kind}; name the folder that an earlier edition was written to"
        )
    number = int(document["edition"])
    before = [dict(each) for each in document["references"]]
    changes: list[tuple[str, str, str]] = []
    superseded: list[str] = []
    for old, new in _matched(before, now):
        changes += _changes(old, new)
        if old is not None and (new is None or new["digest"] != old["digest"]):
            superseded.append(str(old["anchor"]))
    changes += _word_changes(document.get("words", {}), words)
    tables, kept = _carried(earlier, number, superseded)
    return Edition(number + 1, tuple(changes), tables, kept)


def _record(each: Placed) -> Record:
    exhibit = each.exhibit
    items = exhibit.items if exhibit else each.items
    rows = [[str(cell) for cell in row] for item in items if isinstance(item, Table) for row in item.rows]
    return {
        "name": exhibit.name if exhibit else f"{each.asked.select} of {each.asked.place}",
        "anchor": exhibit.anchor if exhibit else "",
        "asked": _asked(each),
        "caption": exhibit.caption if exhibit else each.asked.caption,
        "line": each.asked.line,
        "digest": _sha(*(_content(item) for item in items)),
        "columns": [str(name) for item in items if isinstance(item, Table) for name in item.columns],
        "rows": rows,
        "head": next((item.head or 0 for item in items if isinstance(item, Table)), 0),
    }


def _asked(each: Placed) -> str:
    asked = each.asked
    options = [f"of={','.join(asked.of)}"] * bool(asked.of)
    options += [f"zoom={asked.zoom[0]}x{asked.zoom[1]}"] * (asked.zoom != (0, 0))
    options += [f"crop={','.join(map(str, asked.crop))}"] * bool(asked.crop)
    sign = "&" if asked.select else "#"
    return asked.asked + (sign + "&".join(options) if options else "")


def _content(item: Any) -> bytes:
    """Return what makes an item another one: its dots, figures and words, but not its name."""
    if isinstance(item, Picture):
        dots = codes(item.values)
        return f"{item.label} {item.said} {dots.shape}".encode() + dots.tobytes()
    if isinstance(item, Plot):
        return repr(replace(item, name="")).encode()
    if isinstance(item, Viewer):
        parts = (
            f"{layer.label} {layer.caption}".encode() + codes(layer.values).tobytes() for layer in item.layers
        )
        return b"".join(parts)
    if isinstance(item, Plate):
        return item.caption.encode() + b"".join(
            panel.said.encode() + _content(panel.picture) for panel in item.panels
        )
    return repr(item).encode()


def _sha(*parts: bytes) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "big") + part)
    return digest.hexdigest()


def _matched(
    before: Sequence[Record], now: Sequence[Record]
) -> Iterator[tuple[Record | None, Record | None]]:
    """Yield (old, new) of the same question, the first with the first; None where one has none."""
    left = list(before)
    for new in now:
        old = next((each for each in left if each["asked"] == new["asked"]), None)
        if old is not None:
            left.remove(old)
        yield old, new
    for old in left:
        yield old, None


def _changes(old: Record | None, new: Record | None) -> list[tuple[str, str, str]]:
    if old is None:
        assert new is not None
        return [(_named(new), "–", f"new: {new['caption']}")]
    if new is None:
        return [(f"{_named(old)} of the edition before", str(old["caption"]), "no longer shown")]
    found = []
    if old["caption"] != new["caption"]:
        found.append((f"{_named(new)}, its caption", str(old["caption"]), str(new["caption"])))
    if old["digest"] != new["digest"]:
        cells = _cells(old, new)
        was = "see Superseded" if old["anchor"] else "–"
        found += cells or [(_named(new), was, "shows something else")]
    return found


def _named(record: Record) -> str:
    return str(record["name"])


def _cells(old: Record, new: Record) -> list[tuple[str, str, str]]:
    """Return the cells of a table that differ; () when its rows or columns are others."""
    head = new.get("head", 0)  # the column that names the rows: a ranking's rows change their order
    before = {row[head]: row for row in old["rows"]}
    names = [row[head] for row in new["rows"]]
    unlike = old["columns"] != new["columns"] or sorted(names) != sorted(row[head] for row in old["rows"])
    if unlike or not names or len(before) < len(names):
        return []
    return [
        (f"{_named(new)}, {row[head]}: {column}", was, cell)
        for row in new["rows"]
        for column, was, cell in zip(new["columns"], before[row[head]], row, strict=True)
        if was != cell
    ]


def _word_changes(before: Record, words: Record) -> list[tuple[str, str, str]]:
    found = [(f"The words of “{title}”", "–", "new") for title in words if title not in before]
    found += [(f"The words of “{title}”", "–", "left out") for title in before if title not in words]
    both = [title for title in words if title in before and words[title] != before[title]]
    return found + [(f"The words of “{title}”", "–", "changed") for title in both]


def _carried(
    earlier: Result, number: int, superseded: Sequence[str]
) -> tuple[tuple[Table, ...], tuple[Exhibit, ...]]:
    """Return the earlier tables of changes, and what is superseded now and was before."""
    tables: list[Table] = []
    kept: list[Exhibit] = []
    for part in earlier.parts():
        if part.anchor == "changes":
            tables += [item for item in part.items if isinstance(item, Table)]
        for item in part.items:
            if not isinstance(item, Exhibit):
                continue
            if part.anchor == "earlier":
                kept.append(item)
            elif item.anchor in superseded:
                kept.append(_of_edition(item, number))
    return tuple(tables), tuple(kept)


def _of_edition(exhibit: Exhibit, number: int) -> Exhibit:
    """Return an exhibit under names that say which edition showed it."""
    before = f"edition-{number}-"
    items = tuple(_renamed(item, before) for item in exhibit.items)
    word = f"Edition {number}, {exhibit.word.lower()}"
    return replace(exhibit, word=word, anchor=before + exhibit.anchor, items=items)


def _renamed(item: Any, before: str) -> Any:
    if isinstance(item, Picture):
        return replace(item, name=_with(item.name, before))
    if isinstance(item, Plot):
        return replace(item, name=before + item.name)
    if isinstance(item, Viewer):
        layers = tuple(
            replace(
                layer,
                name=_with(layer.name, before),
                fields=tuple((_renamed(picture, before), box) for picture, box in layer.fields),
            )
            for layer in item.layers
        )
        return replace(item, layers=layers)
    if isinstance(item, Plate):
        panels = tuple(replace(each, picture=_renamed(each.picture, before)) for each in item.panels)
        small = item.locator and _renamed(item.locator, before)
        return replace(item, panels=panels, locator=small, stills=replace(item.stills, text="", links=()))
    return item


def _with(name: str, before: str) -> str:
    folder, slash, stem = name.rpartition("/")
    return f"{folder}{slash}{before}{stem}"

"""An article read: its head, and its sections as the author's words and places for figures.

The text is CommonMark with tables. Every tag in it is shown as it is written: no HTML of the author's reaches
a page. A picture stands alone in its paragraph, or among other pictures; its source names a folder that a
command wrote, or a picture file.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scalesim.errors import ParameterError, nearest
from scalesim.jobs.report.head import split_head
from scalesim.jobs.report.reference import Reference, reference
from scalesim.result import Prose

if TYPE_CHECKING:
    from markdown_it.token import Token

MOST_FIGURES = 300
"""Pictures, plots and tables of one article; each may be as large as a screen."""


@dataclass(frozen=True)
class Section:
    """What stands under a heading, in its order; the one without a title comes before the first."""

    title: str
    anchor: str
    blocks: tuple[Prose | Reference, ...]


@dataclass(frozen=True)
class Article:
    """An article. `name` is its file's, `head` its keys."""

    name: str
    head: dict[str, Any]
    sections: tuple[Section, ...]

    @property
    def references(self) -> tuple[Reference, ...]:
        """What is to be placed, in the order of the text."""
        return tuple(b for section in self.sections for b in section.blocks if isinstance(b, Reference))


def article(text: str, name: str = "article") -> Article:
    """Return an article read from its text.

    Parameters:  name : of its file, for errors, which tell the line
    Raises: ParameterError for a broken head, a picture within a sentence, a link that leads nowhere
    """
    from markdown_it import MarkdownIt

    head, body, first = split_head(text, name)
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    setattr(parser, "validateLink", lambda url: True)  # noqa: B010  # each is checked here, and refused aloud
    lines = body.splitlines()
    spans = list(_spans(parser.parse(body)))
    raw = [_block(span, lines, first, name) for span in spans]
    names = _Names(raw, name)
    sections: list[tuple[str, str, list[Prose | Reference]]] = [("", "opening", [])]
    for block in raw:
        if isinstance(block, _Heading):
            sections.append((block.title, names.anchors[id(block)], []))
        elif isinstance(block, _Words):
            sections[-1][2].append(names.prose(block, parser))
        else:
            sections[-1][2].extend(block)
    whole = Article(
        name, head, tuple(Section(title, at, _joined(b)) for title, at, b in sections if title or b)
    )
    if len(whole.references) > MOST_FIGURES:
        raise ParameterError(
            f"{name}: places {len(whole.references)} figures; the limit is {MOST_FIGURES}: "
            "make two articles of it"
        )
    return whole


@dataclass(frozen=True)
class _Heading:
    title: str
    line: int


@dataclass(frozen=True)
class _Words:
    tokens: list[Token]
    source: str
    line: int


def _spans(tokens: Sequence[Token]) -> Iterable[list[Token]]:
    """Yield the tokens of each block of the text."""
    span: list[Token] = []
    for token in tokens:
        span.append(token)
        if token.level == 0 and token.nesting <= 0:
            yield span
            span = []


def _block(span: list[Token], lines: list[str], first: int, name: str) -> _Heading | _Words | list[Reference]:
    begin, end = span[0].map or (0, 0)
    line = begin + first
    inline = [token for token in span if token.type == "inline"]
    pictures = [child for token in inline for child in token.children or () if child.type == "image"]
    if span[0].type == "heading_open" and span[0].tag in ("h1", "h2") and not pictures:
        return _Heading(_plain(inline[0].children or ()), line)
    if not pictures:
        _refuse_broken_pictures("\n".join(lines[begin:end]), line, name)
        return _Words(span, "\n".join(lines[begin:end]).rstrip(), line)
    children = inline[0].children or []
    alone = all(
        child.type in ("image", "softbreak", "hardbreak") or not child.content.strip() for child in children
    )
    if span[0].type != "paragraph_open" or not alone:
        raise ParameterError(
            f"{name} line {line}: a picture stands among words; give it a paragraph of its own"
        )
    return [
        reference(
            str(child.attrs.get("src", "")),
            _plain(child.children or ()) or child.content,
            str(child.attrs.get("title", "")),
            line,
            name,
        )
        for child in pictures
    ]


def _refuse_broken_pictures(source: str, line: int, name: str) -> None:
    """Refuse what was meant as a picture and would stay text, because its source has spaces."""
    for part, code in _parts(source):
        if not code and (match := re.search(r"(?<!\\)!\[[^\[\]]*\]\(([^()<>\n]*)\)", part)):
            before = source[: source.find(match[0])].count("\n")
            raise ParameterError(
                f"{name} line {line + before}: '{_cut(match[1])}' is no source of a picture as it stands; "
                "put one with spaces in < >, before the label"
            )


def _cut(text: str) -> str:
    """Return a text as an error quotes it: where it is long, its beginning."""
    return text if len(text) <= 60 else f"{text[:59]}…"


def _plain(children: Iterable[Token]) -> str:
    """Return the words of a line without its signs."""
    return " ".join("".join(c.content if c.content else " " * ("break" in c.type) for c in children).split())


class _Names:
    """What links within an article lead to: label or anchor -> place, and the words for it."""

    def __init__(self, blocks: Sequence[_Heading | _Words | list[Reference]], name: str) -> None:
        self.article, self.anchors = name, {}
        self.called: dict[str, str] = {}
        self.targets: dict[str, str] = {}
        self.lines: dict[str, int] = {}
        counts = {"Figure": 0, "Table": 0}
        for block in blocks:
            if isinstance(block, _Heading):
                anchor = self._free(slug(block.title) or "section")
                self.anchors[id(block)] = anchor
                self._add(anchor, anchor, block.title, block.line)
            elif not isinstance(block, _Words):
                for each in block:
                    word = word_of(each)
                    if not word:
                        continue
                    counts[word] += 1
                    if each.label:
                        target = f"{word.lower()}-{counts[word]}"
                        self._add(each.label, target, f"{word} {counts[word]}", each.line)

    def _free(self, anchor: str) -> str:
        """Return an anchor that no other heading, and nothing of the page itself, has."""
        tried, number = anchor, 2
        while tried in self.targets or tried in _TAKEN or re.fullmatch(r"(figure|table|part)-\d+", tried):
            tried, number = f"{anchor}-{number}", number + 1
        return tried

    def _add(self, key: str, target: str, words: str, line: int) -> None:
        if key in self.targets:
            raise ParameterError(
                f"{self.article} line {line}: '{key}' names two things, here and on line {self.lines[key]} "
                "(a heading is called by its words); call one differently"
            )
        self.targets[key], self.called[key], self.lines[key] = target, words, line

    def prose(self, block: _Words, parser: Any) -> Prose:
        """Return a block as it is shown, its links checked, and those without words given some."""
        for token in block.tokens:
            for child in token.children or ():
                if child.type == "link_open":
                    self._check(child, block.line)
            if token.children:
                token.children = self._worded(token.children)
        html = parser.renderer.render(block.tokens, parser.options, {})
        return Prose(_as_sections(html), self._text(block.source))

    def _check(self, link: Token, line: int) -> None:
        href = str(link.attrs.get("href", ""))
        if re.match(r"(?i)(https?|mailto):", href):
            return
        key = href.removeprefix("#")
        if not href.startswith("#"):
            raise ParameterError(
                f"{self.article} line {line}: the link '{_cut(href)}' leads to a file that the page will not "
                "carry; give a full address, or #label of a figure or heading"
            )
        if key not in self.targets:
            raise ParameterError(
                f"{self.article} line {line}: no figure or heading is called '{key[:40]}'; "
                f"{nearest(key, self.targets) if self.targets else 'there are none'}"
            )
        link.attrSet("href", f"#{self.targets[key]}")

    def _worded(self, children: list[Token]) -> list[Token]:
        from markdown_it.token import Token

        found: list[Token] = []
        called = {target: self.called[key] for key, target in self.targets.items()}
        for child in children:
            if child.type == "link_close" and found and found[-1].type == "link_open":
                said = called.get(str(found[-1].attrs.get("href", "")).removeprefix("#"), "")
                found.append(Token("text", "", 0, content=said))
            found.append(child)
        return found

    def _text(self, source: str) -> str:
        """Return the source for a text that stands elsewhere: links within become words, tags lose power."""
        said = re.sub(
            r"\[([^\[\]]*)\]\(#([^()\s]*)\)",
            lambda m: m[1] or self.called.get(m[2], ""),
            source,
        )
        return "".join(part if code else _tagless(part) for part, code in _parts(said))


def word_of(each: Reference) -> str:
    """Return what a reference becomes: a table is numbered apart from figures, words and chains are not."""
    if each.select in ("chains", "said"):
        return ""
    return "Table" if each.select == "table" else "Figure"


_TAKEN = {"opening", "files", "copied", "sources", "chains", "methods", "cautions", "changes", "earlier"}
"""Anchors of what a report adds, and of the page itself."""


def slug(text: str) -> str:
    """Return a text as an anchor: small letters, digits and hyphens."""
    return re.sub(r"[^\w]+", "-", text.lower(), flags=re.ASCII).strip("-_")


def _as_sections(html: str) -> str:
    """Return markup whose headings stand below a section's."""
    return re.sub(r"<(/?)h[1-2]>", r"<\1h3>", html)


def _parts(source: str) -> Iterable[tuple[str, bool]]:
    """Yield the stretches of a Markdown source, and whether each is code."""
    at = 0
    for match in re.finditer(
        r"(?ms)^ {0,3}(```|~~~).*?(?:^ {0,3}\1|\Z)|(?<!`)(`+)(?!`).+?(?<!`)\2(?!`)", source
    ):
        yield source[at : match.start()], False
        yield match[0], True
        at = match.end()
    yield source[at:], False


def _tagless(source: str) -> str:
    """Return Markdown in which no tag means anything where HTML is let through; addresses in < > stay."""
    return re.sub(r"(?<!\\)<(?=[a-zA-Z/!?])(?!(?:https?|mailto):)", r"\\<", source)


def _joined(blocks: Sequence[Prose | Reference]) -> tuple[Prose | Reference, ...]:
    """Return blocks with words that follow each other as one."""
    found: list[Prose | Reference] = []
    for block in blocks:
        last = found[-1] if found else None
        if isinstance(block, Prose) and isinstance(last, Prose):
            found[-1] = Prose(last.html + block.html, f"{last.markdown}\n\n{block.markdown}")
        else:
            found.append(block)
    return tuple(found)

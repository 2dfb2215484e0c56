"""Every sentence the program can say, in one list generated from the code.

    python tests/sentences.py          all of it, a line each: kind, place, text
    python tests/sentences.py error    one kind only

Four sources: what metrics say of themselves, the help of every command, answers of jobs on small inputs, and
the literals of the code (Python, the page's scripts and its template), which hold what no input here brings
out. Kinds:

sentence  stands by itself on a page, in a note or on the terminal, and ends with a full stop
phrase    a label, a title, the head of a column, a part of a sentence
help      of a command or an option
error     one line without a full stop; what is inserted stands in braces
literal   any other text of the code of two words or more

The list is the same at every run; `test_sentences.py` lints it.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any, Literal

import click
from jobs.test_motion import moved
from jobs.test_ranking import ranked
from page.compared import made
from page.test_pages import identified, predicted, tuned

from scalesim.charts.sync import sync_chart
from scalesim.cli import main as cli
from scalesim.jobs.catalogue import jobs
from scalesim.jobs.chart.chart import chart
from scalesim.jobs.compare import words as compare_words
from scalesim.jobs.demo import tube
from scalesim.jobs.demo import words as demo_words
from scalesim.jobs.landing.landing import landing
from scalesim.jobs.trace.trace import trace
from scalesim.metrics import METRICS, key_of
from scalesim.result import FOOT, Code, Links, Result
from scalesim.tube.display import Display

ROOT = Path(__file__).parents[1]
Kind = Literal["sentence", "phrase", "help", "error", "literal"]

STANDS_ALONE = {"caption", "text", "note", "opening", "foot"}
"""Fields of an answer's items whose texts are whole sentences."""
NOT_SHOWN = {"name", "anchor", "id", "shown", "code", "layout", "style", "role", "align", "what", "kind"}
"""Fields that hold names, chains or settings."""
DRAWN = "demo/"
"""Folder of the drawn frames, whose words are parts of pictures."""


@dataclass(frozen=True, order=True)
class Said:
    """One text of the list: its kind, where it comes from, and itself."""

    kind: Kind
    place: str
    text: str


def everything() -> list[Said]:
    """Return the whole list, each text once for each kind and place, sorted."""
    return sorted({*of_metrics(), *of_help(), *of_answers(), *of_code(), *of_page()})


# What metrics say of themselves


def of_metrics() -> Iterator[Said]:
    """Yield what every key says, with values from nothing to more than all."""
    for name in METRICS:
        key = key_of(name)
        place = f"metric {name}"
        for text in (key.label, key.reading, key.axis, key.short, key.head, key.best, key.worst):
            yield Said("phrase", place, text)
        yield Said("phrase", place, key.improves)
        yield Said("phrase", place, key.clear_rule.words)
        for _, words in key.marks:
            yield Said("phrase", place, words)
        for value in (0.0, 0.27, 1.3) if key.share else (-3.25, 0.0, 0.5, 12.0):
            yield Said("sentence" if key.told else "phrase", place, key.sentence(value))
            yield Said("phrase", place, key.text(value))
            for shorten in range(len(key.captions)):
                yield Said("phrase", place, key.caption(value, shorten))


# Help


def of_help() -> Iterator[Said]:
    """Yield the help of every command, its paragraphs and its options'."""
    context = click.Context(cli.app)
    for name in cli.commands():
        command = cli.app.get_command(context, name)
        assert command is not None
        for paragraph in (command.help or "").split("\n\n"):
            yield Said("help", name, _flat(paragraph))
        for each in command.params:
            if isinstance(each, click.Option) and each.help:
                yield Said("help", f"{name} {each.opts[0]}", _flat(each.help))
    for job in jobs().values():
        yield from (Said("phrase", f"input of {job.name}", each.doc) for each in job.inputs)


# Answers


def of_answers() -> Iterator[Said]:
    """Yield what answers on small inputs say, and the texts that need no input."""
    names = ("kernel", "counter", "geometry", "levels", "flicker")
    charts = (chart(name, mode) for name in names for mode in _MODES)
    compared = made(frames=2), made({"one": "interlace"})
    for result in (predicted(), tuned(), identified(), *compared, *charts, *moved(), *landed()):
        yield from _of_result(result)
    for number, case in enumerate(_RANKED):
        for verdict in ranked(case, kind="one game").verdicts:
            yield from (Said("sentence", f"ranking {number}", words) for words in verdict.words)
        for place in ranked(case).places:
            yield Said("phrase", f"ranking {number}", place.reason)
    fixed = {
        "compare": (*compare_words.CAUTIONS, compare_words.FIDELITY_NOTE),
        "demo": (*demo_words.OPENING, *demo_words.CLOSING, *tube.TEXT),
        "any page": FOOT,
    }
    for place, texts in fixed.items():
        yield from (Said("sentence", place, text) for text in texts)


def landed() -> Iterator[Result]:
    """Yield landings of every kind of circuit: that pair, interlace, differ by history, and do not lock."""
    for sync in ("start=line-start", "start=0/-0.25", "equalising=drop", "polarity=positive"):
        yield landing(sync=sync, kinds="integrator,edge,half-line clock,oscillator,flywheel,strict countdown")
    record = sync_chart("480i", mhz=10.0).trace
    circuit = {"kind": "integrator", "hum_mv": 100}
    yield trace([record], [Display(**TUBE, vertical=circuit), Display(**TUBE)])


TUBE: dict[str, Any] = {
    "name": "set A",
    "diagonal_mm": 500,
    "aspect": "4:3",
    "tv_lines": 400,
    "beam_width": 0.7,
}
_MODES = ("480p59.94", "480i59.94")
_SOME = [0.1, 0.12, 0.1, None, None, None, None]
_RANKED: tuple[dict[str, dict[str, list[float | None]]], ...] = (
    {"sharp": {"flicker_percent": [1.0] * 7}, "soft": {"flicker_percent": [5.0] * 7}},
    {"sharp": {"flicker_percent": [1.0]}, "soft": {"flicker_percent": [1.0]}},
    {
        "sharp": {"flicker_percent": [1.0] * 2, "lost_lines": [0.4] * 2},
        "soft": {"flicker_percent": [5.0] * 2, "lost_lines": [0.1] * 2},
    },
    {
        "sharp": {"flicker_percent": [1.0] * 7, "lost_lines": _SOME},
        "soft": {"flicker_percent": [5.0] * 7, "lost_lines": [0.5, 0.4, *_SOME[2:]]},
    },
)
"""Cases of a ranking: a leader, a tie, a trade-off, a measure that few frames have."""


def _of_result(result: Result) -> Iterator[Said]:
    for text in (*result.opening, *result.sentences(), *result.remarks(), *result.foot):
        yield Said("sentence", result.kind, text)
    yield Said("phrase", result.kind, result.title)
    yield from _of_item(result.table(), result.kind)
    for part in result.parts():
        yield from _of_item(part, result.kind)


def _of_item(item: Any, place: str) -> Iterator[Said]:
    """Yield the texts of a part of an answer: those of its fields, and of what it holds."""
    if isinstance(item, Links):
        yield Said("phrase", place, item.text)
        yield from (Said("phrase", place, words) for _, words in item.links)
        return
    for field in fields(item):
        if field.name not in NOT_SHOWN and not (isinstance(item, Code) and field.name == "text"):
            alone = field.name in STANDS_ALONE and type(item).__name__ not in ("Cell", "Rule")
            alone = alone or field.name == "note"
            yield from _of_value(getattr(item, field.name), "sentence" if alone else "phrase", place)


def _of_value(value: Any, kind: Kind, place: str) -> Iterator[Said]:
    if isinstance(value, str):
        if value:
            yield Said(kind, place, value)
    elif isinstance(value, tuple | list):
        for each in value:
            yield from _of_value(each, kind, place)
    elif is_dataclass(value) and not isinstance(value, type):
        yield from _of_item(value, place)


# Literals of the code


def of_code() -> Iterator[Said]:
    """Yield every text of two words or more in the code, but docstrings and what pictures are drawn with."""
    for path in sorted((ROOT / "scalesim").rglob("*.py")):
        place = path.relative_to(ROOT / "scalesim").as_posix()
        if not place.startswith(DRAWN):
            yield from _of_file(ast.parse(path.read_text("utf-8")), place)


def _of_file(tree: ast.Module, place: str) -> Iterator[Said]:
    raised = {id(node) for each in ast.walk(tree) if isinstance(each, ast.Raise) for node in ast.walk(each)}
    for node in _texts(tree):
        text = _written(node)
        if _WORDS.search(text):
            yield Said("error" if id(node) in raised else "literal", place, text)


_WORDS = re.compile(r"[A-Za-z]{2,}[,;:]? (?:[a-z]{2,}|\{)|\} [a-z]{2,}")


def _texts(tree: ast.AST) -> Iterator[ast.Constant | ast.JoinedStr]:
    """Yield the outermost texts, without docstrings."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue  # a docstring
        if isinstance(node, ast.JoinedStr):
            yield node
            for each in node.values:
                if isinstance(each, ast.FormattedValue):
                    yield from _texts(each.value)
        elif isinstance(node, ast.Constant):
            if isinstance(node.value, str):
                yield node
        else:
            yield from _texts(node)


def _written(node: ast.Constant | ast.JoinedStr) -> str:
    """Return a literal with what is inserted in braces."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    return "".join(
        str(each.value) if isinstance(each, ast.Constant) else f"{{{ast.unparse(each.value)}}}"  # type: ignore[attr-defined]  # the rest are formatted values
        for each in node.values
    )


# The page's own words


def of_page() -> Iterator[Said]:
    """Yield the texts of the page's scripts, what is inserted in braces, and those of its template."""
    folder = ROOT / "scalesim" / "page"
    for path in sorted((folder / "static").rglob("*.js")):
        code = re.sub(r"^\s*(?:\*|/\*|//).*$|\s//\s.*$", "", path.read_text("utf-8"), flags=re.MULTILINE)
        for found in re.finditer(r'"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`', code):
            text = (found[1] or found[2] or "").replace("\\u00a0", " ").replace("${", "{")
            if _WORDS.search(text) and "<" not in text:
                yield Said("literal", path.relative_to(folder).as_posix(), text)
    for path in sorted((folder / "templates").rglob("*.html")):
        markup = re.sub(r"\{%.*?%\}|<(style|script).*?</\1>", "", path.read_text("utf-8"), flags=re.DOTALL)
        for text in re.split(r"<[^>]*>", markup):
            if _WORDS.search(text):
                yield Said("literal", path.relative_to(folder).as_posix(), _flat(text))


def _flat(text: str) -> str:
    return " ".join(text.replace("\b", "").split())


def listed(said: Iterable[Said]) -> str:
    """Return the list as text, a line each."""
    return "".join(f"{each.kind}\t{each.place}\t{_flat(each.text)}\n" for each in said)


if __name__ == "__main__":
    wanted = sys.argv[1:]
    sys.stdout.write(listed(each for each in everything() if not wanted or each.kind in wanted))

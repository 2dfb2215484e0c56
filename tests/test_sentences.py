"""The list of every sentence (`sentences.py`) linted: minus signs, whole values, plain words, full stops.

The rules are the trade's: a minus is U+2212 and a number and its unit stand on one line with a space between
(SI Brochure, 9th edition, 5.4.3 and 5.4.4; ISO 80000-1:2022, 7); banned are words that readers of the pages
stumbled over. The patterns here are written apart from those of `scalesim.typeset`.
"""

from __future__ import annotations

import re
from functools import cache

import pytest
from sentences import Said, everything, listed

from scalesim.metrics import METRICS
from scalesim.typeset import typeset

PRINTED = ("sentence", "phrase")
"""Kinds whose texts are set as they are shown."""

HYPHEN_MINUS = re.compile(r"(?:^|[\s(\[±])-\d")
UNIT = (
    r"%|°|dB|k?Hz|MHz|ms|mm|cm|(?:scan |field |frame |source )?lines?\b|samples?\b|frames?\b|dots?\b|codes?\b"
)
BREAKABLE = re.compile(rf"\d (?:{UNIT})(?![\w=])")
DOUBLE = re.compile(r"(?<=\S)  +(?=\S)| [,.;:!?](?:\s|$)|,,|\.\.(?:\s|$)")
INSERTED = re.compile(r"\{[^{}]*(?:\}|$)")
"""What a literal says of code that is inserted; a script's may end within it."""
BANNED = (
    "does not hold one step",
    "values are mixed",
    "light is mixed, not",
    "a drop's",
    "Light less that",
    "the colours end at",
    "the orange ends at",
    "by turns",
    "share the first place",
    "practically tied",
    "comma between",
    "says nothing",
    "say nothing",
    "not decided upon",
    "modulo",
    "utilise",
    "in order to",
    "please",
)


@cache
def said() -> tuple[Said, ...]:
    return tuple(everything())


def breaches(text: str, kind: str = "sentence") -> list[str]:
    """Return what is wrong with a text of the list."""
    shown = typeset(text) if kind in PRINTED else text
    found = [f"banned: {words}" for words in BANNED if words.lower() in text.lower()]
    if DOUBLE.search(_without_insertions(text)):
        found.append("spacing")
    if kind in PRINTED and HYPHEN_MINUS.search(shown):
        found.append("hyphen for a minus")
    if kind in PRINTED and BREAKABLE.search(shown):
        found.append("a value may be parted from its unit")
    if kind in ("sentence", "help") and not text.rstrip().endswith((".", "!", "?", ".)")):
        found.append("no full stop")
    if kind == "error" and text.rstrip().endswith("."):
        found.append("an error ends without a full stop")
    return found


def _without_insertions(text: str) -> str:
    """Return a text with "x" for whatever is inserted, braces in braces included."""
    while INSERTED.search(text):
        text = INSERTED.sub("x", text)
    return text.strip()


@pytest.mark.slow
def test_no_text_breaks_a_rule() -> None:
    """Chains, examples and file names are excused: they are copied, not read.

    The list is looked at here too, for making it takes longest.
    """
    check_list()
    wrong = [
        (each.place, each.text, found)
        for each in said()
        if not _is_copied(each) and (found := breaches(each.text, each.kind))
    ]
    assert not wrong, "\n".join(map(str, wrong[:40]))


def _is_copied(each: Said) -> bool:
    return each.kind == "help" and each.text.startswith("Example: ")


@pytest.mark.parametrize(
    ("text", "kind", "wrong"),
    [
        ("It moved by  two lines.", "sentence", "spacing"),
        ("It holds .", "sentence", "spacing"),
        ("Nothing is cut off", "sentence", "no full stop"),
        ("Metric keys to rank by", "help", "no full stop"),
        ("no frames; name at least one.", "error", "an error ends"),
        ("Code values are mixed, not light.", "sentence", "banned"),
        ("It does not hold one step away.", "sentence", "banned"),
        ("27 % of a drop's", "phrase", "banned"),
    ],
)
def test_a_breach_is_found(text: str, kind: str, wrong: str) -> None:
    assert any(each.startswith(wrong) for each in breaches(text, kind))


def test_breaks_and_hyphens_are_found_where_nothing_was_set() -> None:
    """Guard: the patterns themselves, on texts that were not set."""
    assert BREAKABLE.search("12 % of white") and BREAKABLE.search("0.64 scan lines tall")
    assert not BREAKABLE.search("12\N{NO-BREAK SPACE}% of white") and not BREAKABLE.search(
        "resample 240 lines=2"
    )
    assert HYPHEN_MINUS.search("from -3 dB") and HYPHEN_MINUS.search("(-0.5)")
    assert not HYPHEN_MINUS.search("lines=-1, taps=-1/2/6/2/-1") and not HYPHEN_MINUS.search(
        "\N{MINUS SIGN}3 dB"
    )


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("-3 dB at 0.21 cycles a sample", "\u22123\u00a0dB at 0.21\u00a0cycles a sample"),
        ("moved by -1.5.", "moved by \u22121.5."),
        ("1.00 (-0.5), n = 6 frames", "1.00 (\u22120.5), n\u00a0=\u00a06\u00a0frames"),
        ("position lines=-1, taps -1/2/6/2/-1", "position lines=-1, taps -1/2/6/2/-1"),
        ("--vary position.lines=-4:4:0.125", "--vary position.lines=-4:4:0.125"),
        ("resample lines=240 samples=720", "resample lines=240 samples=720"),
        ("shot -2.png, 480i-like, 4:3", "shot -2.png, 480i-like, 4:3"),
    ],
)
def test_what_is_typed_is_printed(typed: str, printed: str) -> None:
    """By hand: U+2212 before numbers in prose, U+00A0 before units, and chains and options as they are."""
    assert typeset(typed) == printed


def check_list() -> None:
    """The list holds texts of every kind, of every metric, and of the page's scripts."""
    places = {each.place for each in said()}
    assert {f"metric {name}" for name in METRICS} <= places
    assert {"compare", "tune", "identify", "predict", "demo", "compare --by", "any page"} <= places
    assert any(place.endswith(".js") for place in places) and "templates/page.html" in places
    assert {each.kind for each in said()} == {"sentence", "phrase", "help", "error", "literal"}
    assert listed(said()) == listed(everything())

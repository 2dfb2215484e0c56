"""Prose as it is printed: true minus signs, and a number kept on one line with its unit.

Answers hold plain texts, as they are typed. Whoever prints them to be read (pages, Markdown, plots, the
terminal) sets them; chains, options, CSV and JSON, which are copied, are left as they are.
"""

from __future__ import annotations

import re

MINUS = "\N{MINUS SIGN}"
NO_BREAK = "\N{NO-BREAK SPACE}"

_UNITS = (
    r"%|°|dB|[kM]?Hz|GHz|[mµn]?s|[mc]?m|m?V|[kM]B|cd/m[2²]|codes?|cycles?|dots?|fields?|frames?|lines?|outlines?|"
    r"pictures?|places?|points?|presse[sd]?|press|samples?|seconds?|settings?|steps?|stages?|times|TV|windows?|"
    r"scan|source|field|art|capture|degrees|megapixels|chains?"
)
# a minus stands where a word begins, and its number ends there: `1/2/1`, `-4:4:1/8`, `key=-1` are no prose
_BEFORE_NUMBER = re.compile(r"(?<![^\s(\[±])-(?=\.?\d[\d.,]*(?<![.,])(?:$|[\s)\]%;,]|[.:,](?:\s|$)))")
# what is followed by = is the key of a chain: `lines=240 samples=720`
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?![\w=]))")
_SIGNED = re.compile(r"(?<=±) (?=[\d.])|(?<=\bn) (?==? ?\d)|(?<=\bn =) (?=\d)")
_MARKUP = re.compile(r"<(script|style|pre|code)\b.*?</\1\s*>|<[^>]*>|([^<]+)", re.DOTALL)


def typeset(text: str) -> str:
    """Return a text with true minus signs, and no-break spaces between a number and its unit."""
    text = _BEFORE_NUMBER.sub(MINUS, text)
    return _SIGNED.sub(NO_BREAK, _BEFORE_UNIT.sub(NO_BREAK, text))


def typeset_markup(markup: str) -> str:
    """Return HTML or SVG whose texts are set; tags, scripts, styles and code stay as they are."""
    return _MARKUP.sub(lambda found: typeset(found[2]) if found[2] else found[0], markup)

"""Texts that came from outside (names of files, refused words, notes) made fit to be shown.

A name of a file need not be text at all: Python keeps bytes it cannot read as lone surrogates, which no
terminal and no UTF-8 file takes. Control characters of a name would be obeyed by a terminal.
"""

from __future__ import annotations

from unicodedata import category

MOST_ECHOED = 80
"""Characters of a refused word that an error repeats: enough to find it by, and one line stays one line."""


def exact(text: str) -> str:
    """Return a text with its bytes read as UTF-8 where they are; what is none stays a lone surrogate.

    A program that was started with an ASCII locale has every é of a name as two such surrogates.
    """
    if text.isascii():
        return text
    try:
        return text.encode("utf-8", "surrogateescape").decode("utf-8", "surrogateescape")
    except UnicodeEncodeError:  # a surrogate that stands for no byte
        return text


def readable(text: str) -> str:
    r"""Return a text that UTF-8 can hold: bytes that are none are written as ``\udce9``."""
    return exact(text).encode("utf-8", "backslashreplace").decode("utf-8")


def plain(text: str) -> str:
    r"""Return a text for a terminal: readable, with escapes (``\x1b``) for what is no sign; lines stay.

    No sign are control characters, those that turn the direction of a text, and pictographs, whose
    width terminals do not agree on.
    """
    text = readable(text)
    if text.isascii() and text.isprintable():
        return text
    return "".join(c if _is_sign(c) or c == "\n" else c.encode("unicode_escape").decode() for c in text)


def _is_sign(c: str) -> bool:
    kind = category(c)
    return kind[0] != "C" and kind not in ("Zl", "Zp") and not (kind == "So" and ord(c) >= 0x1F000)


def echoed(word: object) -> str:
    """Return a refused word for an error: on one line, and cut after `MOST_ECHOED` characters."""
    text = plain(str(word)).replace("\n", r"\n")
    return text if len(text) <= MOST_ECHOED else text[: MOST_ECHOED - 1] + "…"


def spreadsheet_cell(value: object) -> object:
    """Return a cell of a CSV file that no spreadsheet takes for a formula.

    A text that begins with = + - @, a tab or a return gets an apostrophe in front; numbers stay as they are.
    Source of the list of characters: OWASP, "CSV Injection" (from memory).
    """
    if not isinstance(value, str) or not value.startswith(("=", "+", "-", "@", "\t", "\r")):
        return value
    try:
        float(value)
    except ValueError:
        return "'" + value
    return value

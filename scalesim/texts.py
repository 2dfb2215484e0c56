"""Texts that came from outside (names of files, refused words, notes) made fit to be shown.

A name of a file need not be text at all: Python keeps bytes it cannot read as lone surrogates, which no
terminal and no UTF-8 file takes. Control characters of a name would be obeyed by a terminal.
"""

from __future__ import annotations

import os
import re
from unicodedata import category

MOST_ECHOED = 80
"""Characters of a refused word that an error repeats: enough to find it by, and one line stays one line."""

_PICTOGRAPHS = 0x1F000
_QUOTED = re.compile(r"""(?<!\w)(['"])([^'"/\\]*)\1(?!\w)""")
_LONG = re.compile(rf"[^\s'\"]{{{MOST_ECHOED + 1},}}")


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


def one_line(text: str) -> str:
    r"""Return a text on one line: readable, and escapes (``\x1b``) for control characters.

    So are those that turn the direction of a text, since what follows would read backwards.
    """
    text = readable(text)
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escaped(c) if category(c)[0] == "C" or category(c) in ("Zl", "Zp") else c for c in text)


def capital(text: str) -> str:
    """Return a text that begins a sentence: its first letter large, all else as it is."""
    return text[:1].upper() + text[1:]


def plain(text: str) -> str:
    """Return a text for a terminal, its lines kept.

    Pictographs become escapes too: terminals do not agree on their width.
    """
    lines = [one_line(line) for line in text.split("\n")]
    return "\n".join(
        "".join(_escaped(c) if ord(c) >= _PICTOGRAPHS and category(c) == "So" else c for c in line)
        for line in lines
    )


def _escaped(c: str) -> str:
    return c.encode("unicode_escape").decode()


def echoed(word: object) -> str:
    """Return a refused word for an error: on one line, and cut after `MOST_ECHOED` characters."""
    text = one_line(str(word))
    return text if len(text) <= MOST_ECHOED else text[: MOST_ECHOED - 1] + "…"


def shortened(message: str) -> str:
    """Return a message whose refused words, in quotes or without spaces, are cut as `echoed` cuts them.

    Names of files stay whole, since by them the file is found: what has a slash of either kind, and what is
    there.
    """
    message = _QUOTED.sub(lambda found: f"{found[1]}{echoed(found[2])}{found[1]}", message)
    return _LONG.sub(lambda found: found[0] if _is_file(found[0]) else echoed(found[0]), message)


def _is_file(word: str) -> bool:
    if "/" in word or "\\" in word:
        return True
    try:
        return os.path.lexists(word.rstrip(":;,"))
    except (OSError, ValueError):
        return False


def spreadsheet_cell(value: object) -> object:
    """Return a cell of a CSV file that no spreadsheet takes for a formula.

    A text that begins with = + - @ gets an apostrophe in front, and control characters become escapes, for a
    tab or a return in front is passed over; numbers stay as they are.
    Source of the list of characters: OWASP, "CSV Injection" (from memory).
    """
    if not isinstance(value, str):
        return value
    text = one_line(value)
    if not text.startswith(("=", "+", "-", "@")):
        return text
    try:
        float(text)
    except ValueError:
        return "'" + text
    return text

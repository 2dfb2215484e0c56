"""Files looked at before they are read: only plain ones, and only as large as their kind can be."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from unicodedata import normalize

from scalesim.core.limits import PICTURE_MEGABYTES
from scalesim.errors import ReadError
from scalesim.texts import echoed, one_line

_MEGA = 10**6
_asked_for: dict[str, str] = {}
"""Working folder -> the folder that it becomes, as its user named it."""


def shown(path: str | os.PathLike[str]) -> str:
    """Return the path as it was given, on one line whatever characters it holds.

    What is written in a working folder has the name that it will have: the other is nobody's to look for.
    """
    text = os.fspath(path)
    for working, asked in list(_asked_for.items()):  # several threads write at once in the lab
        if text == working or text.startswith(working + os.sep):
            text = asked + text[len(working) :]
    return one_line(text)


@contextmanager
def written_in(working: str | os.PathLike[str], asked: str | os.PathLike[str]) -> Iterator[None]:
    """Let `shown` name what lies in a working folder as it will be named; `working` is absolute."""
    place = os.fspath(working)
    _asked_for[place] = os.fspath(asked)
    try:
        yield
    finally:
        del _asked_for[place]


def alike(name: str) -> str:
    """Return a name as this system compares names: Windows without regard to case, macOS to how é is made."""
    return os.path.normcase(normalize("NFC", name) if sys.platform == "darwin" else name)


def spellings(pattern: str) -> list[str]:
    """Return the patterns by which all spellings of a name are found: macOS takes é, and e with ´, as one."""
    if sys.platform != "darwin":
        return [pattern]
    return list(dict.fromkeys(normalize(form, pattern) for form in ("NFC", "NFD")))


def check_file(
    path: str | os.PathLike[str],
    what: str = "picture",
    megabytes: float = PICTURE_MEGABYTES,
    *,
    too_large: str = "give a smaller one",
    missing: str = "check the name and the folder",
) -> None:
    """Raise `ReadError` unless `path` is a plain, non-empty file within a limit of its kind.

    Nothing is opened: a pipe that nobody writes to would never open.

    Parameters:
        what : the file ought to be; megabytes : it has at most
        too_large, missing : the remedies
    """
    name = shown(path)
    try:
        facts = os.stat(path)
    except FileNotFoundError:
        kind = "there is no such" if "picture" in what or what == "clip" else f"no such {what}"
        raise ReadError(f"{name}: {kind} file: {missing}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ReadError(f"{name}: cannot be reached ({reason}): check the name and the permissions") from None
    if stat.S_ISDIR(facts.st_mode):
        raise ReadError(f"{name}: this is a folder: name a {what} file in it")
    if not stat.S_ISREG(facts.st_mode):
        raise ReadError(f"{name}: this is a device or pipe: save the {what} to a file first")
    if facts.st_size == 0:
        raise ReadError(f"{name}: the file is empty (0 bytes): copy or export it again")
    if facts.st_size > megabytes * _MEGA:
        size = facts.st_size / _MEGA
        raise ReadError(f"{name}: {size:.0f} MB; the limit is {megabytes:g} MB: {too_large}")


def read_text(path: str | os.PathLike[str], what: str, megabytes: float, missing: str = "") -> str:
    """Return the text of a file in UTF-8.

    Parameters:
        what : the file ought to be, such as "chain"; megabytes : it has at most
        missing : the remedy for a file that is not there
    Raises: ReadError for what is no plain file, too large, or no text in UTF-8
    """
    check_file(path, what, megabytes, missing=missing or "check the name and the folder")
    try:
        with open(path, encoding="utf-8-sig") as file:  # some editors of Windows mark UTF-8 at its front
            text = file.read()
    except UnicodeDecodeError as error:
        raise ReadError(
            f"{shown(path)}: is no text in UTF-8 (byte {error.start} is {error.object[error.start]:#04x}): "
            f"save the {what} file as UTF-8"
        ) from None
    except (OSError, ValueError) as error:
        raise ReadError(
            f"{shown(path)}: cannot be read ({echoed(getattr(error, 'strerror', None) or error)}): "
            "check the permissions"
        ) from None
    if (first := text.find("\0")) >= 0:
        raise ReadError(
            f"{shown(path)}: character {first} is a zero, as in a text in UTF-16: save the {what} file as "
            "UTF-8"
        )
    return text

"""Showing results on a terminal."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from scalesim.cli.table import shown_in, table_lines, wrapped
from scalesim.result import Result
from scalesim.texts import exact, plain, shortened


def show_json(document: dict[str, Any]) -> None:
    r"""Print one document on standard output: UTF-8 whatever the locale is.

    Bytes of a name that are no text are written as ``\udce9``, by which Python finds the file again.
    """
    text = exact(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)) + "\n"
    packed = text.encode("utf-8", "backslashreplace")
    sys.stdout.flush()
    binary = getattr(sys.stdout, "buffer", None)
    if binary is None:  # a stream of texts only, as notebooks have
        sys.stdout.write(packed.decode("utf-8"))
    else:
        binary.write(packed)
        binary.flush()


def note(messages: Iterable[str]) -> None:
    """Print notes on standard error, each on a line of its own where no terminal shows it: for logs."""
    width = shutil.get_terminal_size().columns
    for message in messages:
        text = f"note: {shortened(message)}"
        for line in wrapped(text, width, later="      ") if sys.stderr.isatty() else [text]:
            print(shown_in(line, sys.stderr.encoding), file=sys.stderr)


def show_result(result: Result, out: Path) -> None:
    """Print the sentences, the table, and the page to open."""
    width = shutil.get_terminal_size().columns
    lines = [line for sentence in result.sentences() for line in wrapped(sentence, width)]
    say([*lines, "", *table_lines(result.table(), width), ""])
    say_page(out)


def say_page(out: Path) -> None:
    """Print where the page of an answer lies: the last line of every command that makes one."""
    say([f"Page: {plain(os.path.abspath(out / 'index.html'))}"])


def say(lines: Iterable[str]) -> None:
    """Print lines on standard output, as its encoding can show them."""
    for line in lines:
        print(shown_in(line, sys.stdout.encoding))

"""Articles as editors and accidents leave them: what is read all the same, and what one line refuses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scalesim.errors import ParameterError, ReadError
from scalesim.io.pictures.write import write_png
from scalesim.jobs.report.report import Report
from scalesim.result import Prose
from scalesim.writing import write_up

HEAD = '+++\ntitle = "What is kept"\n+++\n'


def text_of(data: bytes, folder: Path) -> Report:
    """Return the write-up of an article's bytes, beside a picture."""
    write_png(folder / "plain.png", np.full((4, 6, 3), 200, np.uint8))
    (folder / "a.md").write_bytes(data)
    return write_up(folder / "a.md")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (HEAD.encode("utf-16"), r"a\.md: is no text in UTF-8 \(byte 0"),
        (HEAD.encode("utf-16-le"), r"a\.md: character 1 is a zero, as in a text in UTF-16: save .* as UTF-8"),
        (HEAD.encode("utf-16-be"), r"a\.md: character 0 is a zero"),
        ((HEAD + "naïve").encode("latin-1"), r"is no text in UTF-8 \(byte .* is 0xef\)"),
        (b"", r"a\.md: the file is empty"),
        (b"\n \n", r"a\.md: has no head"),
        (HEAD.encode() + b"word " * 10**6, r"a\.md: 5 MB; the limit is 1 MB"),
    ],
)
def test_what_is_no_article_is_refused_in_one_line(data: bytes, said: str, tmp_path: Path) -> None:
    with pytest.raises((ParameterError, ReadError), match=said) as caught:
        text_of(data, tmp_path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_marks_and_ends_of_lines_are_those_of_any_editor(mark: bytes, end: str, tmp_path: Path) -> None:
    """The same page of all: words, a table of 3000 rows, and a picture beside the article, dot for dot."""
    rows = "".join(f"| {k} | v{k} |\n" for k in range(3000))
    text = HEAD + f"\nWords & <b>tags</b>.\n\n| a | b |\n|---|---|\n{rows}\n![Plain.](plain.png#zoom=2)\n"
    found = text_of(mark + text.replace("\n", end).encode(), tmp_path)
    (section,) = found.article.sections
    words = section.blocks[0]
    assert isinstance(words, Prose)
    html = words.html
    assert "Words &amp; &lt;b&gt;tags&lt;/b&gt;." in html
    assert html.count("<tr>") == 3001 and "<td>v2999</td>" in html
    assert found.shown[0].exhibit is not None and found.shown[0].exhibit.caption == "Plain."
    assert found.shown[0].exhibit.items[0].values().shape == (8, 12, 3)

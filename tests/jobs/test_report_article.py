"""Articles read: heads, sections, places for figures, links, and tags that stay words.

What is CommonMark is markdown-it-py's business, which passes the specification's own examples; here it is
checked that an author's words come out with the meaning that CommonMark 0.31.2 gives them, and nothing else.
"""

from __future__ import annotations

from html.parser import HTMLParser

import pytest

from scalesim.errors import ParameterError
from scalesim.jobs.report.article import Article, article, slug
from scalesim.jobs.report.reference import Reference, reference
from scalesim.result import Prose

HEAD = '+++\ntitle = "T"\n+++\n'


def read(body: str) -> Article:
    return article(HEAD + body, "a.md")


def refused(body: str, *, head: str = HEAD) -> str:
    with pytest.raises(ParameterError) as caught:
        article(head + body, "a.md")
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_sections_hold_words_and_places_in_their_order() -> None:
    """Headings of the first two levels make sections; the third stays in the words."""
    found = read("one\n\n# Two words\n\ntwo\n\n### three\n\n![c](f)\n\nfour\n\n## Five\n")
    assert [(s.title, s.anchor) for s in found.sections] == [
        ("", "opening"),
        ("Two words", "two-words"),
        ("Five", "five"),
    ]
    kinds = [type(block) for block in found.sections[1].blocks]
    assert kinds == [Prose, Reference, Prose]
    words = found.sections[1].blocks[0]
    assert isinstance(words, Prose) and "<h3>three</h3>" in words.html


def test_the_line_of_a_place_is_told() -> None:
    """Counted from the file's first line, head and all."""
    assert read("\nwords\n\n![c](f)\n").references[0].line == 7
    assert refused("\nwords\n\nmore ![c](f)\n").startswith("a.md line 7: ")


class Tags(HTMLParser):
    """Every tag of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.words = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.found.append(tag)

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.mark.parametrize(
    "body",
    [
        "<script>alert(1)</script>",
        "<img src=x onerror=alert(1)>",
        "a <b onclick=alert(1)>b</b>",
        "<!-- a comment -->",
        "`<b>`",
        "| a |\n|---|\n| <i>x</i> |",
    ],
)
def test_no_tag_of_the_author_reaches_a_page(body: str) -> None:
    """By the standard library's own parser: only tags that CommonMark makes, and the words whole."""
    block = read(body).sections[0].blocks[0]
    assert isinstance(block, Prose)
    page = Tags(block.html)
    assert set(page.found) <= {"p", "code", "table", "thead", "tbody", "tr", "th", "td"}
    assert all(
        word in page.words for word in body.replace("`", "").replace("|", " ").replace("-", " ").split()
    )


def test_tags_lose_their_power_in_the_text_but_code_and_addresses_stay() -> None:
    """A forum may let HTML through: a tag is escaped, in code it needs none, an address in < > is a link."""
    (block,) = read("<b>x</b> `<i>` <https://example.org>\n\n```\n<u>\n```").sections[0].blocks
    assert isinstance(block, Prose)
    assert block.markdown == "\\<b>x\\</b> `<i>` <https://example.org>\n\n```\n<u>\n```"


def test_links_within_lead_to_figures_and_headings_and_say_what_they_are_called() -> None:
    """Figures and tables are numbered apart; words that are given stay."""
    body = (
        'See [](#a), [](#t), [this](#a), [](#the-end).\n\n![c](f#picture=x "z")\n\n![c](f#table=x "t")\n\n'
        '![c](f#picture=y "a")\n\n# The end\n'
    )
    found = read(body).sections[0].blocks[0]
    assert isinstance(found, Prose)
    assert '<a href="#figure-2">Figure 2</a>' in found.html
    assert '<a href="#table-1">Table 1</a>' in found.html
    assert '<a href="#figure-2">this</a>' in found.html
    assert '<a href="#the-end">The end</a>' in found.html
    assert found.markdown == "See Figure 2, Table 1, this, The end."


def test_quoted_words_and_chains_take_no_number() -> None:
    """What follows them is counted as if they were not there."""
    body = '![c](f#said)\n\n![c](f#chains)\n\n![c](f "a")\n\n[](#a)'
    last = read(body).sections[0].blocks[-1]
    assert isinstance(last, Prose) and last.markdown == "Figure 1"


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("[x](#nothing)", "no figure or heading is called 'nothing'"),
        ("[x](page.html)", "leads to a file that the page will not carry"),
        ("[x](/etc/passwd)", "leads to a file"),
        ("[x](javascript:alert(1))", "leads to a file"),
        ("[x](data:text/html,x)", "leads to a file"),
        ("- ![c](f)", "a picture stands among words"),
        ("# ![c](f)", "a picture stands among words"),
        ('![c](f "a")\n\n![c](g "a")', "'a' names two things, here and on line 4"),
        (
            '## Trade\n\n![c](f "trade")',
            "'trade' names two things, here and on line 4 (a heading is called by",
        ),
        ("![c](http://example.org/x.png)", "is an address elsewhere"),
        ("![c](file:///etc/passwd)", "is an address elsewhere"),
        (
            "![c](f#look=a b.png at 0.07 s)",
            "'f#look=a b.png at 0.07 s' is no source of a picture as it stands",
        ),
        (f"![c](f#look=a {'b' * 80})", f"'f#look=a {'b' * 50}…' is no source"),
        ("one\ntwo ![c](f#look=a b)", "line 5: 'f#look=a b' is no source"),
        ("![c](#look=a)", "a picture needs a result folder"),
        ("![c](f#lok=a)", "did you mean 'look'?"),
        ("![c](f#look=a&plot=b)", "'plot' is a second choice"),
        ("![c](f#look=a&zoom=1.5)", "zoom is '1.5'; it must be whole dots from 1 to 32"),
        ("![c](f#look=a&zoom=33)", "zoom is '33'"),
        ("![c](f#look=a&crop=1,2,3)", "crop is '1,2,3'; it must be top,left,height,width"),
        ("![c](f#look=a&crop=0,0,0,5)", "its height and width must be at least 1"),
        ("![c](f)\n\n" * 301, "places 301 figures; the limit is 300"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(body: str, said: str) -> None:
    """With what it was, and the remedy."""
    assert said in refused(body)


def test_a_source_with_spaces_is_read_in_angle_brackets_and_code_stays_code() -> None:
    """CommonMark 0.31.2, 6.4 and 6.3: a destination in <> may hold spaces; an escaped mark is none."""
    (found,) = read('![c](<my clip#look=a b> "x")').references
    assert (found.place, found.which, found.label) == ("my clip", "a b", "x")
    for words in ("`![c](f g)`", "```\n![c](f g)\n```", r"\![c](f g)"):
        assert not read(words).references


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ("", "has no head"),
        ("# words", "has no head"),
        ('+++\ntitle = "T"\n', "its head never ends"),
        ("+++\n+++\n", "key 'title' is missing"),
        ('+++\ntitle = "T"\nautor = "x"\n+++\n', "did you mean 'author'?"),
        ("+++\ntitle = 3\n+++\n", "title is 3"),
        ("+++\ntitle = \n+++\n", "not valid TOML"),
        ('+++\ntitle = "T"\nauthor = \n\n+++\n', "line 3"),
    ],
)
def test_broken_heads(head: str, said: str) -> None:
    """Missing, endless, incomplete, with an unknown key, or no TOML."""
    assert said in refused("", head=head)


def test_percent_signs_and_backslashes_are_read() -> None:
    """A name with spaces is written with %20; Windows' own separator is a separator."""
    found = reference("out%20puts\\a#look=moss%20tower&of=a,b&zoom=2x3&crop=1,2,3,4", " c  d ", "", 1, "a.md")
    assert found.place == "out puts/a" and found.which == "moss tower" and found.caption == "c d"
    assert (found.of, found.zoom, found.crop) == (("a", "b"), (2, 3), (1, 2, 3, 4))


def test_slugs() -> None:
    """Small letters, digits, hyphens."""
    assert slug("Moss_Tower 240, lines!") == "moss_tower-240-lines"

"""A plot's data drawn as SVG: every mark, label and axis is there, as text and shapes, with no script.

Read by Python's own XML parser; the shapes are those of SVG 1.1.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from scalesim.page.plots.draw import drawn, plot_svg, slim
from scalesim.page.plots.labels import _overlap, place_labels
from scalesim.page.plots.layout import SLIM
from scalesim.page.plots.svg import HUES, ON_PAGE, ON_PAPER, QUIET, coloured, on_paper
from scalesim.plot import Axis, Heat, Panel, Plot, Rule, Series

SVG = "{http://www.w3.org/2000/svg}"
PLACES = ((0.0, 1.0, 2.0, 3.0), (1.0, 4.0, None, 2.0))
STYLES = ("line", "dots", "both", "ticks", "across")
NASTY = '<script>alert("1")</script> & $x_1$ 🙂'


def plot(*series: Series, **more: Any) -> Plot:
    """Return a plot of one panel; `x`, `y`, `rules`, `heat` and `above` are the panel's."""
    own = {name: more.pop(name) for name in ("rules", "heat", "above") if name in more}
    panel = Panel(more.pop("x", Axis("across")), more.pop("y", Axis("down")), series, **own)
    return Plot("toy", "A toy", "What to see.", (panel,), **more)


def root(shown: Plot) -> ElementTree.Element:
    return ElementTree.fromstring(plot_svg(shown))


def texts(shown: Plot) -> list[str]:
    return ["".join(each.itertext()) for each in root(shown).iter(f"{SVG}text")]


def marks(shown: Plot) -> list[str]:
    """Return the shapes that are used in the panel: those in the colour of a hue."""
    used = [each for each in root(shown).iter(f"{SVG}use") if any(h in str(each.attrib) for h in HUES)]
    return [str(each.get("{http://www.w3.org/1999/xlink}href")) for each in used]


def lines(shown: Plot) -> list[str]:
    """Return the paths that are stroked in the colour of a hue and not part of a shape."""
    svg = re.sub(r"<defs>.*?</defs>", "", plot_svg(shown), flags=re.DOTALL)
    return re.findall(rf'<path d="([^"]+)"[^>]*stroke: (?:{"|".join(HUES)})', svg)


@pytest.mark.parametrize("style", STYLES)
def test_a_mark_for_every_place_there_is(style: Any) -> None:
    """Three of four places have a value; only lines join them, and a gap parts the line."""
    shown = plot(Series(*PLACES, style=style))
    assert len(marks(shown)) == (0 if style == "line" else 3)
    joined = lines(shown)
    assert len(joined) == (1 if style in ("line", "both") else 0)
    assert all(re.findall("[ML]", path) in (["M", "L"], ["M", "L", "M"]) for path in joined)


def test_styles_and_hues_are_told_apart_without_colour() -> None:
    shapes = {style: plot_svg(plot(Series(*PLACES, style=style))) for style in STYLES}
    assert len(set(shapes.values())) == len(STYLES)
    outlines = [
        re.findall(r"<defs>.*?</defs>", plot_svg(plot(Series(*PLACES, role=n))), re.DOTALL) for n in range(4)
    ]
    shapes_only = [re.sub(r"#0\d0\d0\d|id=\"[^\"]+\"", "", "".join(each)) for each in outlines]
    assert len(set(shapes_only)) == 4
    assert plot_svg(plot(Series(*PLACES))) != plot_svg(plot(Series(*PLACES, hollow=True)))
    assert plot_svg(plot(Series(*PLACES))) != plot_svg(plot(Series(*PLACES, ringed=True)))
    assert "opacity: 0.3" in plot_svg(plot(Series(*PLACES, alpha=0.3)))


def test_error_bars_are_drawn() -> None:
    plain, barred = (plot_svg(plot(Series((0, 1), (1, 2), error=e))) for e in ((), (0.5, 0.25)))
    assert barred.count("<path") + barred.count("<use") > plain.count("<path") + plain.count("<use")


def test_words_of_axes_ticks_title_and_legend_are_text() -> None:
    ticks = ((0.0, "first"), (1.0, NASTY), (2.0, "third"))
    series = [Series(*PLACES, label=label, role=n) for n, label in enumerate(("one", "two", "", "two"))]
    shown = plot(*series, x=Axis("across", ticks=ticks), y=Axis("height, mm", 0, 9), legend=2, heading=True)
    said = texts(shown)
    for words in ("across", "height, mm", "first", "third", "A toy", "one"):
        assert words in said
    assert said.count("two") == 1  # each label once
    assert any(words.startswith("<script>alert") for words in said)
    assert "one" not in texts(replace(shown, legend=0)) and "A toy" not in texts(
        replace(shown, heading=False)
    )
    title = root(shown).find(f"{SVG}title")
    assert title is not None and title.text == "A toy"
    assert root(shown).get("role") == "img"


def test_an_axis_keeps_its_ends_and_its_way() -> None:
    """A value halfway between the ends stands in the middle; downward turns the order of the names."""

    def height(shown: Plot) -> float:
        (used,) = [u for u in root(shown).iter(f"{SVG}use") if HUES[0] in str(u.attrib)]
        return float(str(used.get("y")))

    one = Series((0.5,), (2.0,))
    up = [height(plot(Series((0.5,), (v,)), y=Axis("", 0, 10))) for v in (0.0, 5.0, 10.0)]
    assert up[0] > up[1] > up[2] and up[1] == pytest.approx((up[0] + up[2]) / 2, abs=0.01)
    assert height(plot(one, y=Axis("", 0, 10))) + height(plot(one, y=Axis("", 0, 10, downward=True))) == (
        pytest.approx(up[0] + up[2], abs=0.01)
    )


def test_rules_and_their_words() -> None:
    bare = plot(Series(*PLACES))
    ruled = plot(Series(*PLACES), rules=(Rule("y", 2.0, "sharpest"), Rule("x", 1.0, dashed=True)))
    assert "sharpest" in texts(ruled) and "sharpest" not in texts(bare)
    assert plot_svg(ruled).count("stroke-dasharray") == plot_svg(bare).count("stroke-dasharray") + 1


def test_grid_and_line_of_an_axis() -> None:
    counted = [
        plot_svg(plot(Series(*PLACES), y=axis)).count("<path")
        for axis in (Axis("", line=False), Axis(""), Axis("", grid=True))
    ]
    assert counted[0] < counted[1] < counted[2]


def test_a_heat_has_its_picture_its_scale_and_its_words() -> None:
    values = ((0.0, 1.0, None), (2.0, 3.0, 4.0))
    heat = Heat((0, 1, 2), (0, 1, 2, 3), values, "score, of white")
    shown = plot(heat=heat)
    assert len(list(root(shown).iter(f"{SVG}image"))) >= 2  # the map and its scale
    assert "score, of white" in texts(shown) and {"0", "4"} <= {
        text.removesuffix(".0") for text in texts(shown)
    }
    turned = plot(heat=replace(heat, reverse=True))
    assert plot_svg(turned) != plot_svg(shown)
    assert plot_svg(plot(heat=replace(heat, values=((0.0, 1.0, 2.5), values[1])))) != plot_svg(shown)


def test_an_axis_above() -> None:
    above = Axis("in scan lines", ticks=((0.0, "zero"), (3.0, "three")))
    said = texts(plot(Series(*PLACES), above=above))
    assert {"in scan lines", "zero", "three"} <= set(said)
    assert "zero" not in texts(plot(Series(*PLACES)))


def test_panels_stand_below_each_other_on_one_axis() -> None:
    first = plot(Series(*PLACES, label="one"), y=Axis("upper"), x=Axis("shared"))
    lower = Panel(Axis("shared"), Axis("lower"), (Series(*PLACES, label="two"),))
    said = texts(replace(first, panels=(*first.panels, lower), legend=2))
    assert said.count("shared") == 1 and {"upper", "lower", "one", "two"} <= set(said)


def test_every_point_has_its_label() -> None:
    names = tuple(f"chain {n}" for n in range(8))
    shown = plot(Series((1.0,) * 8, tuple(1 + n / 100 for n in range(8)), texts=names))
    assert set(names) <= set(texts(shown)) and not set(names) & set(texts(plot(Series(*PLACES))))


def test_labels_do_not_lie_on_each_other() -> None:
    random = np.random.RandomState(4)
    points = [(60.0, float(y)) for y in range(100, 160, 5)]  # twelve nearly in one place
    points += [tuple(map(float, p)) for p in random.randint(50, 400, (6, 2))]
    sizes = [(float(random.randint(60, 180)), 12.0) for _ in points]
    boxes = place_labels(points, sizes, (40, 30, 820, 460))
    shared = [_overlap(a, b) for k, a in enumerate(boxes) for b in boxes[:k]]
    assert max(shared) == 0
    assert max(_overlap((0, 0, 10, 10), (5, 5, 15, 15)), 0) > 0  # the measure can fail


def test_equal_data_give_equal_bytes_and_other_data_others() -> None:
    series = [Series(*PLACES, style=style, label=style, role=n) for n, style in enumerate(STYLES)]
    first = plot_svg(plot(*series, legend=3))
    plot_svg.cache_clear()
    assert plot_svg(plot(*series, legend=3)) == first
    assert plot_svg(plot(*series[:-1], legend=3)) != first


def test_no_script_no_date_nothing_from_elsewhere() -> None:
    shown = plot(Series(*PLACES, label=NASTY, texts=(NASTY,) * 3), legend=1, heading=True)
    svg = plot_svg(replace(shown, title=NASTY))
    assert not list(ElementTree.fromstring(svg).iter(f"{SVG}script"))
    assert "<script" not in svg and "<date" not in svg and "<metadata" not in svg
    links = re.findall(r'(?:href="|url\()([^")]*)', svg)
    assert links and all(link.startswith(("#toy-", "data:image/png")) for link in links)
    ids = re.findall(r'\bid="([^"]+)"', svg)
    assert len(ids) == len(set(ids)) and all(each.startswith("toy-") for each in ids)


def test_colours_are_the_pages_own_and_those_of_paper_in_a_file() -> None:
    svg = plot_svg(plot(Series(*PLACES, role=1), Series(*PLACES, role="quiet")))
    assert HUES[1] in svg and QUIET in svg
    page, paper = coloured(svg, ON_PAGE), on_paper(svg)
    assert "var(--hue-1)" in page and "currentColor" in page
    assert ON_PAPER[HUES[1]] in paper and "var(--hue" not in paper
    for shown in (page, paper):
        assert not any(stand_in in shown for stand_in in ON_PAGE)
        ElementTree.fromstring(shown)


def test_a_phone_has_its_own_drawing() -> None:
    """350 dots wide, with room for the lines of its legend and heading; the words are all there."""
    labels = [f"a label of a series that takes two lines of a phone, number {n}" for n in range(3)]
    wide = plot(*(Series(*PLACES, label=label) for label in labels), size=(900, 460), legend=3, heading=True)
    narrow = slim(wide)
    assert narrow.size[0] == SLIM and narrow.size[1] > 400 and narrow.name != wide.name
    said = " ".join(texts(narrow))
    assert all(label in said for label in labels) and not set(labels) & set(texts(narrow))


def boxes_of_names(names: tuple[str, ...], width: int) -> list[Any]:
    """Return the boxes in which matplotlib itself draws the names below a panel, and the figure's last."""
    ticks = tuple((float(k), name) for k, name in enumerate(names))
    shown = plot(Series((0.0,), (0.0,)), x=Axis("", -0.5, len(names) - 0.5, ticks=ticks), size=(width, 300))
    with drawn(shown) as figure:
        figure.canvas.draw()
        labels = figure.axes[0].get_xticklabels()
        return [each.get_window_extent() for each in labels if each.get_text()] + [figure.bbox]


@pytest.mark.parametrize("width", [940, SLIM])
@pytest.mark.parametrize("count", [3, 11])
def test_names_below_a_panel_do_not_touch(count: int, width: int) -> None:
    names = ("filtered half-line clock", "whole-line clock", "tolerant countdown", "edge")
    *boxes, whole = boxes_of_names(tuple(names[k % 4] for k in range(count)), width)
    assert len(boxes) == count and min(box.y0 for box in boxes) >= whole.y0
    assert all(one.x1 < other.x0 for one, other in itertools.pairwise(boxes))

"""The slice: its bars are the picture's light, its weights are the operator's, and one makes the other.

The frames are random greys; weights are worked out here from the chain's operator, light by BT.1886 with
black at 0 (V^2.4).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray
from page.viewer_page import Opener, data_uri, settle, stage

from scalesim.chain import Chain
from scalesim.core.clip import still_clip
from scalesim.core.codes import to_codes
from scalesim.jobs.compare.made_of import looks_of, made_of
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.prediction import Prediction
from scalesim.page.viewer import taps_options

if TYPE_CHECKING:
    from playwright.sync_api import Page

LINES, SAMPLES = 216, 64
TOLERANCE = 0.006
"""Light: half a code of rounding, of 255, is 0.5 % of white at most (2.4 / 255 / 2), and weights are given to
1/10000."""

CHAINS = {
    "drop": "line-drop lines=72 phase=1",
    "average": "line-average lines=72",
    "between": "line-average lines=48, quantise",  # 4.5 lines to one
    "light": "line-average lines=72 encoding=light",
    "ringing": "resample lines=72 kernel=lanczos3",  # weights below 0
    "fields": "line-average lines=144, flicker-filter taps=1/2/1, interlace",
    "moved": "line-average lines=72, position lines=2 samples=5, overscan percent=10",
}


def source() -> NDArray:
    """A frame of grey lines between 0.25 and 0.75: nothing clips, nor rings beyond 0 or 1."""
    lines = np.random.RandomState(4).randint(64, 192, (LINES, 1))
    return np.broadcast_to(lines[..., None], (LINES, SAMPLES, 3)).astype(np.float32) / 255


def after(chain: str) -> Prediction:
    return predict(still_clip(source(), mode="custom"), chain, metrics=[])


def sliced(opened: Opener, found: Prediction, **more: Any) -> Page:
    """Open a viewer on source and picture, the slice on the picture's line 20, sample 30."""
    from scalesim.core.raster import visible_slices

    seen = visible_slices(found.raster, *found.landed.shape[:2])
    codes = to_codes(found.landed)[seen]
    taps, why = made_of(found)
    down, across = looks_of(found)
    place = {"width": 640, "height": 10 * len(codes)}
    own = {"taps": taps_options(taps)} if taps else {"why": why}
    pictures = [
        {"id": "source", "source": data_uri(to_codes(source())), **place},
        {"id": "own", "source": data_uri(codes), "looks": {"down": down, "across": across}, **own, **place},
    ]
    page = opened(
        pictures=pictures, pair=["own", "source"], source="source", mode="flip", start="fit", **more
    )
    page.evaluate("viewer.lookBy('slice'); viewer.setPlace({ x: 305, y: 205 })")
    settle(page)
    return page


def weights_of(found: Prediction) -> NDArray:
    """Return (lines on the screen, source lines): the fields' matrices from the chain, woven by hand."""
    operator = Chain(str(found.chain.text)).resolve(found.source.raster).operator()
    rows = [phase.lines.toarray() for phase in operator.phases]
    if len(rows) == 1:
        return rows[0]
    woven = np.zeros((2 * len(rows[0]), LINES))
    woven[0::2], woven[1::2] = rows
    return woven


@pytest.mark.parametrize("name", CHAINS)
def test_bars_and_weights_are_the_operators(opened: Opener, name: str) -> None:
    """Bars of the source and of scan lines against light; the weights shown against the operator's own row.

    And what the weights make of the source's bars is the scan line's bar, in the values that are mixed.
    """
    found = after(CHAINS[name])
    page = sliced(opened, found)
    bars = page.evaluate(
        """() => [...document.querySelectorAll(".viewer-slice rect[data-line]")].map((bar) => [
             bar.getAttribute("class").split("-").at(-1), Number(bar.dataset.line),
             bar.width.baseVal.value / bar.previousSibling.width.baseVal.value])"""
    )
    light = source()[:, 0, 0].astype(float) ** 2.4
    columns = {line: value for kind, line, value in bars if kind in ("source", "used")}
    rows = {line: value for kind, line, value in bars if kind in ("row", "focus")}
    assert len(columns) > 10 and len(rows) >= 7 and 20 in rows
    assert columns == pytest.approx({line: light[line] for line in columns}, abs=1e-6)
    weights = weights_of(found)
    first = round(0.05 * len(weights)) if name == "moved" else 0  # what overscan hides
    shown = page.evaluate(
        "[...document.querySelectorAll('.viewer-slice-taken')].map((link) => Number(link.dataset.weight))"
    )
    own = weights[first + 20]
    assert shown == pytest.approx(own[np.abs(own) > 5e-5].tolist(), abs=1e-4)
    mixed = light if name == "light" else source()[:, 0, 0].astype(float)
    made = weights @ mixed
    expected = made if name == "light" else made**2.4
    assert rows == pytest.approx({line: expected[first + line] for line in rows}, abs=TOLERANCE)


def test_the_sentence_says_which_lines(opened: Opener) -> None:
    page = sliced(opened, after(CHAINS["drop"]))
    words = page.locator(".viewer-slice-words")
    light = 100 * float(source()[61, 0, 0]) ** 2.4  # line 20 of a drop by 3 with phase 1 is 3·20 + 1
    assert words.inner_text() == f"Scan line 20: light {light:.0f}\u00a0%, source line 61 alone."
    stage(page).focus()
    page.keyboard.press("Shift+ArrowDown")
    settle(page)
    assert "source line 64 alone" in words.inner_text()
    assert "source line 64 alone" in page.locator(".viewer-unseen[role=status]").inner_text()


def test_no_weights_without_a_matrix(opened: Opener) -> None:
    """Code values averaged, then light: no single matrix says it. The bars are there all the same."""
    page = sliced(opened, after("line-average lines=108, line-average lines=72 encoding=light"))
    assert "No weights" in page.locator(".viewer-slice-words").inner_text()
    assert page.locator(".viewer-slice rect[data-line]").count() > 20
    assert page.locator(".viewer-slice-link").count() == 0


def test_it_lies_where_the_place_is_not(opened: Opener) -> None:
    """At every place of a pane, slice and magnifier leave free what they look at."""
    page = sliced(opened, after(CHAINS["average"]))
    width = page.evaluate("viewer.panes[0].stage.clientWidth")
    for look in ("slice", "magnifier"):
        page.evaluate(f"viewer.look === '{look}' || viewer.lookBy('{look}')")
        for share in (0.05, 0.3, 0.5, 0.7, 0.95, 0.5):
            stage(page).hover(position={"x": share * width, "y": 60})
            settle(page)
            over = page.locator(f".viewer-{look}").bounding_box()
            at = stage(page).bounding_box()["x"] + share * width
            assert not over["x"] - 4 < at < over["x"] + over["width"] + 4, (look, share)


def test_the_weights_of_a_page_are_few() -> None:
    """240 lines of 720 need one pattern; 720 to 480 and on to 240 no more than a handful."""
    frame = np.zeros((720, 64, 3), np.float32)
    for chain, most in (("line-average lines=240", 1), ("line-average lines=480, line-drop lines=240", 2)):
        taps, _ = made_of(predict(still_clip(frame, mode="custom"), chain, metrics=[]))
        assert taps is not None and len(taps.patterns) <= most
        assert len(str(taps_options(taps))) < 3500


def test_it_waits_for_the_source(opened: Opener) -> None:
    """Before the source is decoded the picture's own bars are there, without weights; the page is silent."""
    page = sliced(opened, after(CHAINS["average"]))
    page.evaluate("window.kept = viewer.source.bitmap; viewer.source.bitmap = null; viewer.draw()")
    assert page.locator(".viewer-slice-words").inner_text().startswith("Line 20: light")
    assert page.locator(".viewer-slice-link").count() == 0
    page.evaluate("viewer.source.bitmap = kept; viewer.draw()")
    assert page.locator(".viewer-slice-link").count() > 10

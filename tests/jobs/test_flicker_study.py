"""The flicker study: its rows are what predict says, and its words are true of its rows."""

from __future__ import annotations

import json

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.core.clip import Clip, still_clip
from scalesim.errors import ParameterError
from scalesim.jobs.predict.flicker_study import (
    MEASURED,
    TAPS,
    FlickerRow,
    FlickerStudy,
    base_stages,
    flicker_study,
)
from scalesim.jobs.predict.predict import predict


def clip_of(values: np.ndarray, mode: str | None = "480p", samples: int = 64) -> Clip:
    """Return a still of lines of the given code values, grey, with a dark right half."""
    frame = np.repeat(np.repeat(values[:, None, None], samples, 1), 3, 2).astype(np.float32)
    frame[:, samples // 2 :] *= 0.5
    return still_clip(frame, mode=mode, name="lines")


def doubled() -> np.ndarray:
    """Lines as of a 240-line game shown twice each: bars, single lines, and steps."""
    rng = np.random.RandomState(7)
    return np.repeat(np.kron(rng.choice([0.1, 0.5, 0.9], 48), np.ones(5)), 2)


@pytest.fixture(scope="module")
def study() -> FlickerStudy:
    """The study of lines doubled in pairs."""
    return flicker_study(clip_of(doubled()))


def row(study: FlickerStudy, taps: str, pair: str = "", shift: int = 0) -> FlickerRow:
    (found,) = (r for r in study.rows if (r.taps, r.pair, r.shift) == (taps, pair, shift))
    return found


def test_every_setting_once(study: FlickerStudy) -> None:
    """Seven filters, three landings, two shifts; each row says which."""
    settings = {(r.taps, r.landing, r.pair, r.shift) for r in study.rows}
    assert len(settings) == len(study.rows) == len(TAPS) * 3 * 2
    landings = {(r.landing, r.pair) for r in study.rows}
    assert landings == {("interlaced", ""), ("field-only", "down"), ("field-only", "up")}
    assert study.base == "" and study.rate_hz == pytest.approx(59.94, abs=0.001)


def test_rows_are_what_predict_says(study: FlickerStudy) -> None:
    """A row's chain, run by itself, has the row's figures."""
    for taps, pair, shift in (("1/2/1", "", 1), ("paired", "up", 0), ("-1/2/6/2/-1", "down", 1)):
        found = row(study, taps, pair, shift)
        alone = predict(clip_of(doubled()), found.chain, metrics=MEASURED)
        assert found.metrics == alone.metrics
    assert row(study, "1/2/1", "up", 1).chain == (
        "position lines=1, flicker-filter, interlace, field-only pair=up"
    )


def test_doubled_lines_by_hand(study: FlickerStudy) -> None:
    """Lines doubled in pairs stand still unfiltered with pair=down, and not with pair=up; moved, reversed.

    Their filter is `paired`: it changes nothing unmoved, whatever the landing.
    """
    assert row(study, "1", "down").metrics["flicker_percent"] == 0
    assert row(study, "1", "down").metrics["flicker_db"] is None
    assert "steady" in row(study, "1", "down").why["flicker_db"]
    up, moved = row(study, "1", "up").metrics, row(study, "1", "down", 1).metrics
    assert up["flicker_percent"] > 1
    # all but the picture's first and last line, 1 row in 478, is the same
    assert moved["flicker_percent"] == pytest.approx(up["flicker_percent"], rel=0.02)
    for pair in ("", "down", "up"):
        paired, plain = row(study, "paired", pair).metrics, row(study, "1", pair).metrics
        assert paired["flicker_percent"] == pytest.approx(plain["flicker_percent"], abs=1e-4)
    # filtered, the pairs are unlike: there a filter brings flicker
    assert row(study, "1/2/1", "down").metrics["flicker_percent"] > 0.5


def test_filters_in_order_of_their_reach(study: FlickerStudy) -> None:
    """Interlaced, what is left at the finest detail falls with the taps' response there; edges grow."""
    order = ("1", "1/6/1", "1/2/1")
    flicker = [row(study, taps).metrics["flicker_percent"] for taps in order]
    height = [row(study, taps).metrics["edge_spread_lines"] for taps in order]
    assert flicker == sorted(flicker, reverse=True) and height == sorted(height)


def test_words_are_true(study: FlickerStudy) -> None:
    """The steadiest filter, the pairing and the model are named with the rows' figures."""
    said = study.sentences()
    interlaced = {r.taps: r.metrics["flicker_percent"] for r in study.rows if r.pair == "" and r.shift == 0}
    least = min((value, taps) for taps, value in interlaced.items())[1]
    assert any(sentence.startswith(f"Interlaced, {least} steadies it most") for sentence in said)
    assert any("0.00 % with pair=down" in s and "steadier with pair=down" in s for s in said)
    assert any("filtering makes it flicker more" in s and "1/2/1" in s for s in said)
    assert any("Watson & Ahumada" in s and "29.97 Hz" in s for s in said)


def test_words_follow_the_picture() -> None:
    """Doubled one line lower, the other pairing is the steadier one; a flat picture has nothing to say."""
    lower = flicker_study(clip_of(np.roll(doubled(), 1)), taps=["1", "1/2/1"]).sentences()
    assert any("steadier with pair=up" in sentence for sentence in lower)
    flat = flicker_study(clip_of(np.full(480, 0.5)), taps=["1", "paired"])
    assert flat.sentences() == ["Nothing in this frame alternates between fields, with or without a filter."]
    assert flat.rows[0].metrics["edge_spread_lines"] is None and flat.rows[0].why["edge_spread_lines"]
    assert flat.table().rows[0][-1] == "none"


def test_no_empty_panel(study: FlickerStudy) -> None:
    """A measure that no row has is told instead of drawn, and nothing at all where nothing is there.

    A grey frame moved down by a line flickers at the black line above it, and has no edge to measure.
    """
    (both,) = study.figures()
    assert len(both.panels) == 2 and "not drawn" not in both.caption
    assert all(any(v is not None for s in panel.series for v in s.y) for panel in both.panels)
    (one,) = flicker_study(clip_of(np.full(480, 0.5)), taps=["1", "1/2/1"]).figures()
    assert len(one.panels) == 1 and "sharpness" not in one.title.lower()
    assert "height of a horizontal edge is not drawn: " in one.caption
    assert flicker_study(clip_of(np.zeros(480)), taps=["1", "1/2/1"]).figures() == ()


def test_base_of_a_chain() -> None:
    """All before the first filter or interlacing; more lines than 480 are averaged, to 576 at 50 Hz."""
    high = clip_of(np.linspace(0, 1, 720), "720p60").raster
    given = Chain("resample lines=480, quantise, flicker-filter taps=1/6/1, interlace, position lines=1")
    assert base_stages(high, given) == given.stages[:2]
    assert base_stages(high, Chain("line-average lines=480, interlace, field-only")) == (
        Chain("line-average lines=480").stages
    )
    assert base_stages(high, Chain("line-average lines=480")) == Chain("line-average lines=480").stages
    assert base_stages(high, None) == Chain("line-average lines=480").stages
    assert base_stages(high.with_(rate=50), None) == Chain("line-average lines=576").stages
    assert base_stages(clip_of(doubled()).raster, None) == ()


def test_a_base_is_used() -> None:
    """A 720-line source goes through the base of its chain, and the steps are told."""
    told: list[str] = []
    source = clip_of(np.random.RandomState(1).rand(720), "custom", 16)
    found = flicker_study(source, "line-drop lines=480, interlace", ["1"], advance=told.append)
    assert found.base == "line-drop lines=480"
    assert told == [r.chain for r in found.rows] and len(told) == 6
    assert all(r.chain.startswith("line-drop lines=480, ") for r in found.rows)


def test_refusals() -> None:
    """No taps, wrong taps, one text for a list, fields without a chain, a moving base."""
    clip = clip_of(doubled())
    for bad in ([], "1/2/1"):
        with pytest.raises(ParameterError, match="taps"):
            flicker_study(clip, taps=bad)
    with pytest.raises(ParameterError, match="flicker-filter: taps"):
        flicker_study(clip, taps=["1/2"])
    fields = still_clip(np.zeros((480, 16, 3), np.float32), mode="480i")
    with pytest.raises(ParameterError, match="deinterlace"):
        flicker_study(fields)
    with pytest.raises(ParameterError, match="even"):
        flicker_study(clip, "line-average lines=481")


def test_document(study: FlickerStudy) -> None:
    """Plain JSON; each row carries its settings and figures; the table has one row for each."""
    document = json.loads(json.dumps(study.to_dict(), allow_nan=False))
    assert document["frame"] == "lines" and len(document["rows"]) == len(study.rows)
    assert {"taps", "landing", "pair", "shift", "chain", "why", *MEASURED} == set(document["rows"][0])
    table = study.table()
    assert len(table.rows) == len(study.rows)
    assert {len(cells) for cells in table.rows} == {len(table.columns)} == {len(table.align)}
    assert study.kind == "flicker-study" and study.pictures == {}

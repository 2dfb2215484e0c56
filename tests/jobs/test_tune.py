"""Tuning: the answer, how sure it is, what is left out, and what is refused."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip, still_clip
from scalesim.errors import NotMeasurable, ParameterError, ReadError
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.tune.tune import tune
from scalesim.jobs.tune.tuning import Tuning
from scalesim.jobs.tune.words import _line_name
from scalesim.result import Result

AVERAGE = "position, line-average lines=40"
SWEEP = "position.lines=-1.5:1.25:1/4"


def scene(residue: int, *, rows: int = 3, lines: int = 120, seed: int = 0) -> NDArray:
    """Return outlines `rows` thick, each `residue` lines below a multiple of 3, with noise."""
    random = np.random.RandomState(seed)
    frame = np.full((lines, 160, 3), 0.45)
    for top in range(9, lines - 12, 9):
        frame[top + residue : top + residue + rows, 10:150] += random.choice([-1, 1]) * random.uniform(
            0.2, 0.4
        )
    return np.clip(frame + random.normal(0, 1 / 255, frame.shape), 0, 1).astype(np.float32)


def clip(residue: int, name: str = "a", **more: Any) -> Clip:
    return still_clip(scene(residue, **more), name=name)


@pytest.fixture(scope="module")
def answer() -> Tuning:
    return tune(AVERAGE, [clip(1), clip(1, "b", seed=1)], vary=SWEEP)


def test_the_answer(answer: Tuning) -> None:
    """Outlines three lines thick, one line below a block of three: up by one line they fill it."""
    found: Result = answer
    assert found.kind == "tune" and answer.best.values == {"position.lines": -1.0}
    assert answer.chain == Chain("position lines=-1, line-average lines=40")
    assert answer.score < 0.02 and answer.clear and answer.how == "fast"
    assert [point.values["position.lines"] for point in answer.curve] == [-1.5 + k / 4 for k in range(12)]
    assert answer.present.score == pytest.approx(2 / 3, abs=0.03)  # a third of each outline is next door


def test_the_document(answer: Tuning) -> None:
    """Every key, plain values, and a curve whose mean over the frames is the score."""
    document = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
    assert {"best", "score", "ties", "margin", "clear", "curve", "chain"} <= set(document)
    assert document["best"] == {"position.lines": -1.0} and document["clear"] is True
    assert document["ties"] == [{"position.lines": -1.0}]
    for point in document["curve"]:
        assert point["score"] == pytest.approx(np.mean(point["per_frame"]))
    lowest = min(document["curve"], key=lambda point: point["score"])
    assert lowest["values"] == document["best"] and lowest["score"] == document["score"]
    # the curve rises on both sides and falls again towards the end of the range: that end is next
    assert document["margin"] == pytest.approx(document["curve"][-1]["score"] - document["score"])
    assert document["n"] == 2 and document["gain"]["on_worst"]["better_on"] == 2
    assert document["range"] == [document["score"], max(p["score"] for p in document["curve"])]


def test_the_words(answer: Tuning) -> None:
    said = answer.sentences()
    assert said[0].startswith("position.lines -1 is best: ")
    assert ", where a bad place costs " in said[0] and said[0].endswith("(better on 2 frames of 2).")
    assert said[1] == "Move the picture up by 1 source line; does not hold one step away."
    assert "Against a typical setting it saves" in said[2] and said[2].endswith("(n = 2 frames).")
    assert " from 67 % to " in said[3]
    table = answer.table()
    assert table.rows[0][0] == "now" and table.rows[1][:2] == ("best", "-1")


def test_lines_are_called_what_they_are() -> None:
    """Of the source, of a raster in between, or of a field: position counts the lines in front of it."""
    inner = tune(
        "line-average lines=80, position, line-average lines=40", [clip(0)], vary="position.lines=-1:1:1"
    )
    moved = tune("interlace, position", [clip(0)], vary={"position.lines": [-1, 1]})
    assert _line_name(inner, 1) == "line of 80" and _line_name(inner, 0) == "source line"
    assert _line_name(moved, 1) == "field line"


def test_holds_within() -> None:
    """Two lines of three stay in their block for half a line either way, and not for three quarters."""
    found = tune(AVERAGE, [clip(0, rows=2)], vary=SWEEP)
    assert found.best.values == {"position.lines": 0.5} and found.holds == {"position.lines": (-0.5, 0.5)}
    assert len(found.ties) == 5 and "holds within ±0.5 line." in found.sentences()[1]


def test_presses_of_the_dial() -> None:
    """The chain file's dial is varied when nothing else is said, and its steps are counted."""
    written = Chain("position lines=0.5, line-average lines=40").to_toml()
    dial = '\n[[dial]]\nkey = "position.lines"\nfirst = -2\nlast = 0.5\nstep = 0.5\nlabel = "V-POS"\n'
    found = tune(Chain.from_toml(written + dial), [clip(1)])
    assert found.best.values == {"position.lines": -1.0} and found.presses == {"position.lines": -3}
    assert found.sentences()[1].startswith(
        "Move the picture up by 1.5 source lines, 3 presses back of V-POS;"
    )
    assert found.to_dict()["best_presses"] == {"position.lines": -3}
    with pytest.raises(ParameterError, match="nothing to vary"):
        tune(AVERAGE, [clip(1)])


def test_a_drop_does_not_split() -> None:
    """Line dropping never splits outlines: no position cures it by that measure, and it is said."""
    found = tune("position, line-drop lines=40", [clip(1)], vary="position.lines=-1:1:1")
    assert not found.clear
    assert found.sentences()[0].startswith("position.lines cannot cure this: ")
    assert "tune by lost_lines" in found.sentences()[1]
    lost = tune("line-drop lines=40", [clip(1, rows=1)], vary="line-drop.phase=0:2:1", by="lost_lines")
    assert lost.best.values == {"line-drop.phase": 1.0} and lost.clear and lost.score == 0.0


def test_fractions_of_a_line_move_the_scalers_sampling() -> None:
    """The scaler that weighs lines takes them, before or behind; its curve is that of its own phase."""
    found = tune(AVERAGE, [clip(1)], vary=SWEEP)
    assert found.chain == Chain("position lines=-1, line-average lines=40")
    phases = tune("line-average lines=40", [clip(1)], vary="line-average.phase=-1.25:1.5:1/4")
    for moved, own in zip(found.curve, reversed(phases.curve), strict=True):
        if abs(moved.values["position.lines"]) <= 0.5:  # no whole line of black comes in
            assert moved.score == pytest.approx(own.score, abs=1e-6)
    half = tune(AVERAGE, [clip(1)], vary={"position.lines": [-1.25, -1.5]})
    assert half.chain == Chain("position lines=-1, line-average lines=40 phase=0.25")
    assert any("(line-average.phase), as a box does" in note for note in half.notes)
    ahead = "line-average lines=80, position, line-drop lines=40"
    found = tune(ahead, [clip(1)], vary={"position.lines": [0.25, 0.5]})
    assert found.carriers[0].phase == "line-average.phase" and found.carriers[0].share == -1.5
    whole = tune(ahead, [clip(1)], vary={"position.lines": [0, 1]})
    assert not any("sampling" in note for note in whole.notes)


def test_a_carried_chain_predicts_the_score_it_is_given_for() -> None:
    """The printed chain is the answer: run through `predict`, it scores what tuning says."""
    found = tune(AVERAGE, [clip(1)], vary={"position.lines": [-1.25, -1.75, 0.75]})
    told = predict(clip(1), found.chain, metrics=["line_doubling"]).metrics["line_doubling"]
    assert told == pytest.approx(found.score, abs=1e-4)


def test_a_fraction_no_scaler_takes_is_compared_with_those_that_soften_alike() -> None:
    """Nothing but the position's own interpolation differs: no setting is clear by that."""
    flicker = tune("position, interlace", [clip(1)], vary="position.lines=0:1:1/2", by="flicker_percent")
    assert flicker.softens == "position.lines" and not flicker.clear
    assert any("compared with settings that soften alike" in note for note in flicker.notes)


def test_repeats_are_folded() -> None:
    """Three lines to a line: the curve repeats every three, and its repeats are no rivals."""
    found = tune(AVERAGE, [clip(1)], vary="position.lines=-4:4:1/4")
    assert found.repeats == 3.0 and found.to_dict()["repeats_every"] == 3.0
    assert "The curve repeats every 3 lines." in found.sentences()
    assert found.margin is None or found.margin > 0.2


def test_settings_that_push_the_picture_out_have_no_score() -> None:
    found = tune(AVERAGE, [clip(1)], vary={"position.lines": [-100, -1, 0, 119, 5000 - 1000]})
    by = {point.values["position.lines"]: point for point in found.curve}
    assert [by[v].score is None for v in (-100, -1, 0, 119, 4000)] == [True, False, False, True, True]
    assert by[-100].why == "pushes or hides 83 % of the picture; 50 % is the most"
    assert "3 of 5 settings have no score" in " ".join(found.notes)
    assert json.loads(json.dumps(found.to_dict()))["curve"][0]["score"] is None
    with pytest.raises(ParameterError, match="none of the 2 settings has a score: pushes or hides"):
        tune(AVERAGE, [clip(1)], vary={"position.lines": [-110, 110]})


def test_settings_that_do_not_fit_have_a_reason() -> None:
    found = tune("line-average lines=40, interlace", [clip(1)], vary={"line-average.lines": [39, 40]})
    assert found.curve[0].score is None and "must be even" in found.curve[0].why
    with pytest.raises(ParameterError, match="none of the 2 settings"):
        tune("line-average lines=40, interlace", [clip(1)], vary={"line-average.lines": [39, 41]})


def test_frames_without_outlines_are_named_and_left_out() -> None:
    flat = still_clip(np.full((120, 160, 3), 0.5, np.float32), name="flat")
    found = tune(AVERAGE, [flat, clip(1)], vary=SWEEP)
    assert found.frames == ("a",) and "too few thin horizontal outlines" in found.left_out["flat"]
    assert any(note.startswith("flat was left out:") for note in found.notes)
    assert found.best.values == {"position.lines": -1.0}
    with pytest.raises(NotMeasurable, match="no frame can be tuned on: the source has too few"):
        tune(AVERAGE, [flat], vary=SWEEP)


def test_one_poor_frame_does_not_take_the_others_scores() -> None:
    """A drop of one line in three shows the lines one thick of b at two of six phases only."""
    rich, poor = scene(0, rows=3, lines=120), scene(1, rows=1, lines=120)
    frames = [still_clip(rich, name="a"), still_clip(poor, name="b")]
    found = tune("line-drop lines=40", frames, vary="line-drop.phase=-3:2:1")
    assert found.frames == ("a",) and all(point.score is not None for point in found.curve)
    assert found.left_out["b"].startswith("every thin horizontal outline of the source vanished")
    assert "settings)" in found.left_out["b"]
    alone = tune("line-drop lines=40", frames[1:], vary="line-drop.phase=-3:2:1")
    assert [point.values["line-drop.phase"] for point in alone.curve if point.score is not None] == [-2, 1]


def test_frames_that_cannot_be_read_are_named() -> None:
    def broken() -> Clip:
        raise ReadError("b.png: is truncated")

    found = tune(AVERAGE, [FrameSource("b", broken), clip(1)], vary=SWEEP)
    assert found.left_out == {"b": "b.png: is truncated"}
    with pytest.raises(ParameterError, match=r"no frame could be read: b\.png"):
        tune(AVERAGE, [FrameSource("b", broken)], vary=SWEEP)


def test_limits() -> None:
    """At most one line in 120 may be lost, so up by one line is still allowed, by one and a half is not."""
    found = tune(AVERAGE, [clip(1)], vary="position.lines=-4:0:1", where="cropped_percent<=1")
    assert found.best.values == {"position.lines": -1.0}
    assert [point.score is None for point in found.curve] == [True, True, True, False, False]
    assert found.curve[0].why == "cropped_percent is 3.33; it must be at most 1"


def test_whole_predictions_are_used_where_strips_do_not_do() -> None:
    found = tune("position, line-average lines=40, quantise", [clip(1)], vary=SWEEP)
    assert found.how == "full" and found.best.values == {"position.lines": -1.0}
    assert any("quantise is no matrix" in note for note in found.notes)
    by_flicker = tune("position, interlace", [clip(1)], vary="position.lines=0:1:1/2", by="flicker_percent")
    assert by_flicker.how_reason == "flicker_percent looks at whole pictures"
    assert by_flicker.best.values == {"position.lines": 0.5}  # a picture between lines is filtered 1/1
    light = tune("position, line-average lines=40 encoding=light", [clip(1)], vary=SWEEP)
    assert light.best.values == {"position.lines": -1.0}


def test_both_ways_agree(monkeypatch: pytest.MonkeyPatch, answer: Tuning) -> None:
    monkeypatch.setattr("scalesim.jobs.settings.candidates.QUICK", ())
    whole = tune(AVERAGE, [clip(1), clip(1, "b", seed=1)], vary=SWEEP)
    assert whole.how == "full" and whole.best.values == answer.best.values
    for a, b in zip(whole.curve, answer.curve, strict=True):
        assert a.per_frame == pytest.approx(b.per_frame, abs=1e-4)
    assert whole.present.metrics == pytest.approx(answer.present.metrics, abs=1e-4)


def test_three_dials_and_words() -> None:
    vary = {
        "position.lines": (-1.5, 1.25, 0.25),
        "size.height": [98, 100, 102],
        "fit.how": ["squeeze", "crop"],
    }
    found = tune(
        "position, size, line-average lines=40, fit", [clip(1)], vary=vary, by="line_doubling,lost_lines"
    )
    assert found.best.values == {"position.lines": -1.0, "size.height": 100.0, "fit.how": "squeeze"}
    assert len(found.curve) == 72 and not any("coarse to fine" in note for note in found.notes)


def test_many_dials_are_searched_coarse_to_fine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scalesim.search.grid.COARSE_PLACES", 130)
    vary = {
        "position.lines": (-3, 2.75, 0.25),
        "size.height": (96, 104, 1),
        "line-average.phase": [0, 0.5, 1],
    }
    found = tune("position, size, line-average lines=40", [clip(1)], vary=vary)
    assert found.score < 0.02 and found.best.values["size.height"] == 100.0
    assert (found.best.values["position.lines"] - found.best.values["line-average.phase"]) % 3 == 2
    assert len(found.curve) < 24 * 9 * 3 / 2 and any("coarse to fine" in note for note in found.notes)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (
            {"vary": "position.lines=-4:4:0.0001"},
            "vary position.lines: has 80001 values; at most 20000 unless yes",
        ),
        (
            {"vary": ["position.lines=0:99:1", "position.samples=0:299:1"]},
            "100 times 300 is 30000 candidates",
        ),
        ({"vary": SWEEP, "by": "edge_count"}, "has no better or worse"),
        ({"vary": "size.height=90:100:1"}, "the chain has no size"),
        ({"vary": SWEEP, "frames": []}, "no frames to tune on"),
    ],
)
def test_refuses(more: dict[str, Any], words: str) -> None:
    frames = more.pop("frames", [clip(1)])
    with pytest.raises(ParameterError) as caught:
        tune(AVERAGE, frames, **more)
    assert words in str(caught.value) and "\n" not in str(caught.value)


def test_yes_means_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scalesim.jobs.settings.best.MOST_CANDIDATES", 5)
    with pytest.raises(ParameterError, match="at most 5"):
        tune(AVERAGE, [clip(1)], vary=SWEEP)
    assert len(tune(AVERAGE, [clip(1)], vary=SWEEP, yes=True).curve) == 12

"""Tuning: the answer, how sure it is, what is left out, and what is refused."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip, still_clip
from scalesim.errors import NotMeasurable, ParameterError, ReadError
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.settings.point import value_text
from scalesim.jobs.settings.words import on_frames
from scalesim.jobs.tune.looks import looks_of
from scalesim.jobs.tune.plain import line_name, period_text
from scalesim.jobs.tune.tune import tune
from scalesim.jobs.tune.tuning import Tuning
from scalesim.result import Result, Table

AVERAGE = "position, line-average lines=40"
BOTH = "line_doubling,lost_lines"
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
    assert said[1] == "Move the picture up by 1 source line; one step further loses 16.7 points."
    assert "Compared with a typical setting it saves" in said[2] and said[2].endswith("(n = 2 frames).")
    assert " from 67 % to " in said[3]
    table = answer.table()
    assert table.rows[0][0] == "now" and table.rows[1][:2] == ("best", "-1")


def test_a_step_back_to_where_it_was_loses_the_gain() -> None:
    """Of -1, 0 and +1 the best is -1, and its only neighbour is the present setting."""
    found = tune(AVERAGE, [clip(1)], vary="position.lines=-1:1:1")
    assert found.best.values == {"position.lines": -1.0}
    assert found.sentences()[1] == "Move the picture up by 1 source line; one step further loses the gain."


def test_lines_are_called_what_they_are() -> None:
    """Of the source, of a raster in between, or of a field: position counts the lines in front of it."""
    inner = tune(
        "line-average lines=80, position, line-average lines=40", [clip(0)], vary="position.lines=-1:1:1"
    )
    moved = tune("interlace, position", [clip(0)], vary={"position.lines": [-1, 1]})
    assert line_name(inner, 1) == "line of 80" and line_name(inner, 0) == "source line"
    assert line_name(moved, 1) == "field line"


def test_holds_within() -> None:
    """Two lines of three stay in their block for half a line either way, and not for three quarters.

    The nearest of these equal places is taken, and their middle named.
    """
    found = tune(AVERAGE, [clip(0, rows=2)], vary=SWEEP)
    assert found.best.values == {"position.lines": 0.0} and found.holds == {"position.lines": (0.0, 1.0)}
    assert len(found.ties) == 5
    said = (
        "Leave position.lines at 0; it is nearly as good from 0 to +1 lines away; +0.5 is the middle "
        "of that range."
    )
    assert found.sentences()[1] == said
    middle = tune("position lines=0.5, line-average lines=40", [clip(0, rows=2)], vary=SWEEP)
    assert middle.best.values == {"position.lines": 0.5}
    assert "nearly as good within ±0.5 line of it." in middle.sentences()[1]


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
    """One line kept of outlines three thick: not one is split anywhere, so there is nothing to cure."""
    found = tune("position, line-drop lines=40", [clip(1)], vary="position.lines=-1:1:1")
    assert not found.clear
    assert found.sentences()[0] == (
        "There is nothing to cure: split of the outlines stays at 0 % over 3 settings (n = 1 frame)."
    )
    assert any("tune by line_doubling,lost_lines to weigh both" in note for note in found.notes)
    assert not any("never" in said for said in found.sentences())
    both = tune("position, line-drop lines=40", [clip(1)], vary="position.lines=0:1:1", by=BOTH)
    assert not any("to weigh both" in note for note in both.notes)
    lost = tune("line-drop lines=40", [clip(1, rows=1)], vary="line-drop.phase=0:2:1", by="lost_lines")
    assert lost.best.values == {"line-drop.phase": 1.0} and lost.clear and lost.score == 0.0


def test_a_drop_can_split_outlines() -> None:
    """Three lines at 20/7 to one are 1.05 scan lines: of steps 2 and 3 some keep two lines of an outline."""
    kept = np.floor(np.arange(42) * 20 / 7)
    shown = [int(np.isin(kept, range(top + 1, top + 4)).sum()) for top in range(9, 108, 9)]
    found = tune("line-drop lines=42", [clip(1)], vary="line-drop.phase=0:2:1/2")
    assert set(shown) == {1, 2} and max(point.score or 0 for point in found.curve) > 0.01
    assert any("Dropping lines can lose thin outlines whole" in note for note in found.notes)


def test_what_is_ill_at_every_setting_cannot_be_cured() -> None:
    """Moving along the line changes nothing across it: a third of each outline stays next door."""
    found = tune("position, line-average lines=40", [clip(1)], vary="position.samples=0:2:1")
    assert found.sentences()[0].startswith(
        "position.samples cannot cure this: split of the outlines stays at 67 % over 3 settings, no more than"
    )


def test_one_frame_has_no_spread(answer: Tuning) -> None:
    found = tune(AVERAGE, [clip(1)], vary=SWEEP)
    said = found.sentences()
    assert said[0].startswith("position.lines -1 scores best on this frame: ") and found.clear
    assert said[2].endswith("points means nothing (one frame, so no spread is known).")
    assert not any("is best" in each or "by the spread" in each for each in said)
    assert found.to_dict()["gain"]["on_typical"]["interval"] is None
    low, high = answer.to_dict()["gain"]["on_typical"]["interval"]
    assert low < high and "by the spread over frames" in answer.sentences()[2]


def test_two_as_near_are_told_as_equal() -> None:
    """The art repeats every three lines: from half way between, up and down by one and a half are alike."""
    found = tune("position lines=0.5, line-average lines=40", [clip(1)], vary="position.lines=-1:2:1/2")
    assert found.ties == tuple(found.curve[k] for k in (0, 6))
    said = found.sentences()
    assert "-1 and +2 are equal within 0.1 points and need as much change." in said
    assert not any("least change" in each for each in said)
    nearer = tune(AVERAGE, [clip(1)], vary="position.lines=-1:2:1/2")
    assert nearer.best.values == {"position.lines": -1.0}
    assert any(each.endswith("this one needs the least change.") for each in nearer.sentences())


def test_the_sentence_and_the_chain_say_the_same_setting() -> None:
    found = tune(AVERAGE, [clip(1)], vary={"position.lines": [-1.25, -1.75]})
    written = (
        "position.lines -1.25 is written in the best chain as position lines=-1 and "
        "line-average phase=0.25, which is the same."
    )
    assert found.chain.text == "position lines=-1, line-average lines=40 phase=0.25"
    assert written in found.sentences()
    chain = next(part for part in found.parts() if part.title == "The chain with the best setting")
    assert chain.text == (written,)


def test_looks_show_what_suffers_afterwards_too() -> None:
    """Left outlines fit the spans now, right ones a line lower: what is worst moves from right to left."""
    frame = np.full((240, 640, 3), 0.45, np.float32)
    for top in range(30, 200, 9):
        frame[top : top + 3, 20:220] = 0.9
        frame[top + 1 : top + 4, 400:630] = 0.9
    found = tune("position, line-average lines=80", [still_clip(frame, name="a")], vary=SWEEP)
    assert found.best.values == {"position.lines": -1.0}
    now, after = looks_of(found.before, found.chain, [("a", 1.0)], found.clips)
    assert (now.why, after.why) == ("now", "after") and now.sample > 400 and after.sample < 220
    part = next(part for part in found.parts() if part.anchor == "looks")
    assert "the place where they suffer most with the best setting" in part.text[0]
    assert [item.name for item in part.items] == ["before-2", "after-2"], "the first one opens the page"
    assert list(found.kept_pictures) == ["before-1", "after-1", "before-2", "after-2"]
    assert "where outlines suffer most with the best setting" in part.items[0].caption


def test_the_outlines_at_fault_are_marked_before_and_after(answer: Tuning) -> None:
    """Every outline is three lines thick and one line low: it shows on two scan lines now, and on one then.

    So do the gaps between them, six lines tall, on three scan lines instead of two. All are marked now at
    whole scan lines, and the best setting leaves none.
    """
    cover = answer.cover()
    assert cover is not None
    source, now, then = cover.views
    assert now.marks and not then.marks and {mark.kind for mark in now.marks} == {"split"}
    assert source.marks and all(mark.quiet for mark in source.marks)
    for mark in now.marks:
        first, last = mark.lines
        assert last - first in (6, 9) and first % 3 == 0, (
            "two scan lines of three source lines each, or three"
        )
    assert "67 % before, 0 % after" in cover.caption and cover.title == answer.title
    stays = tune("position lines=-1, line-average lines=40", [clip(1)], vary=SWEEP)
    alone = stays.cover()
    assert alone is not None and len(alone.views) == 2 and not any(view.marks for view in alone.views)
    assert "on which no outline is split or lost" in alone.caption
    assert list(stays.kept_pictures) == ["now-1"]


def test_the_curve_is_in_plain_words_and_percent(answer: Tuning) -> None:
    """Two frames: their lines carry their names; shares are drawn in percent, as the sentences say them."""
    (plot,) = answer.figures()
    (panel,) = plot.panels
    assert panel.x.label == "picture moved down, source lines"
    assert panel.y.label == "how far outlines are split, % of an even split (lower is better)"
    assert [series.end for series in panel.series if series.end] == ["a", "b", "mean"]
    mean = next(series for series in panel.series if series.end == "mean")
    assert mean.y[6] == pytest.approx(200 / 3, abs=3)  # position 0: a third of each outline is next door
    assert [series.label for series in panel.series if series.label][-2:] == ["now: 0", "best: -1"]
    assert not panel.rules and "repeats" not in plot.caption
    assert (
        answer.title == "Move the picture up by 1 source line: split of the outlines falls from 67 % to 0 %"
    )


def test_the_period_is_marked() -> None:
    """Three lines to a line: the best place comes again three lines away, and a rule stands at each."""
    found = tune("position lines=-1, line-average lines=40", [clip(1)], vary="position.lines=-4:4:1/2")
    (plot,) = found.figures()
    rules = plot.panels[0].rules
    assert [rule.at for rule in rules] == [-4, -1, 2]
    assert [rule.text for rule in rules] == ["repeats every 3 source lines", "", ""]


def test_nothing_twice_when_the_best_is_the_present_setting() -> None:
    """One mark, one row, one look at each place, and a title that claims no gain."""
    found = tune("position lines=-1, line-average lines=40", [clip(1)], vary=SWEEP)
    assert found.best.values == found.present.values
    labels = [series.label for series in found.figures()[0].panels[0].series]
    assert labels.count("now and best: -1") == 1 and not any(label.startswith("best") for label in labels)
    assert [row[0] for row in found.table().rows].count("now and best") == 1
    assert found.title == "Leave position.lines at -1: none of 12 settings scores better"


def test_the_long_table_is_folded(answer: Tuning) -> None:
    part = next(part for part in answer.parts() if part.anchor == "curve")
    (scores,) = [item for item in part.items if isinstance(item, Table) and len(item.rows) == 12]
    assert scores.folded and "why there is none" not in scores.columns


def test_art_is_told_in_a_sentence() -> None:
    """Random art of 40 lines, shown three lines to a line."""
    small = np.random.RandomState(2).choice([0.1, 0.5, 0.9], (40, 60, 1)) * np.ones(3)
    large = np.repeat(np.repeat(small, 3, axis=0), 3, axis=1).astype(np.float32)
    clips = [still_clip(large, name=name) for name in ("a", "b")]
    found = tune("position, line-drop lines=40", clips, vary="position.lines=-1:1:1")
    assert [
        s for s in found.sentences() if s.startswith("a and b are art enlarged 3 times, its grid 0 lines")
    ]
    told = predict(clips[0], "line-drop lines=40", metrics=[]).remarks()
    assert any(said.startswith("a is art enlarged 3 times") for said in told)


def test_an_end_of_the_range_is_told_as_one() -> None:
    """Outlines on a grid of three lines: the curve's end is on its way to a repeat, no optimum."""
    found = tune(AVERAGE, [clip(1), clip(1, "b", seed=1)], vary="position.lines=-4:4:1/2")
    assert found.rival is not None and found.rival.values["position.lines"] in (-4, 4)
    said = " ".join(found.sentences())
    assert "at the end of what was tried, with" in said and "separate optimum" not in said


def test_frames_that_score_alike_have_no_worst() -> None:
    alike = tune(AVERAGE, [clip(1), clip(1, "b")], vary="position.lines=-1:1:1/2").sentences()
    assert any(said.startswith("There each of the 2 frames has ") for said in alike)
    apart = tune(AVERAGE, [clip(1), clip(2, "b")], vary="position.lines=-1:1:1/2").sentences()
    assert any(said.startswith("The worst of the 2 frames is ") for said in apart)


def test_numbers_read_as_they_were_given() -> None:
    """Steps of a third add up with rounding: it is 1/3 that is said; a likeness is told of 1."""
    found = tune(AVERAGE, [clip(0, rows=2)], vary="position.lines=-2:2:1/3")
    text = " ".join([*found.sentences(), *(str(row) for row in found.table().rows)])
    assert "333" not in text and "666" not in text and "1/3" in text
    assert (
        value_text(2 / 3 - 1 / 3) == "1/3" and value_text(-0.0) == "0" and value_text(1 / 3 + 2e-16) == "1/3"
    )
    like = tune(AVERAGE, [clip(1)], vary="position.lines=-1:1:1", by="ssim")
    assert " of 1, where a bad place has 0." in like.sentences()[0]
    assert "0…1" not in " ".join([*like.sentences(), *(str(row) for row in like.table().rows)])
    mean = tune(AVERAGE, [clip(1), clip(1, "b", seed=1)], vary=SWEEP, by=BOTH)
    assert "on a scale from 0, every measure at its best of these settings" in mean.sentences()[0]
    assert on_frames(1, 2) == "1 frame of 2" and on_frames(2, 2) == "2 frames of 2"


def test_a_list_that_is_cut_says_so() -> None:
    found = tune("position, line-drop lines=40", [clip(1)], vary="position.lines=-2:2:1/4")
    assert len(found.ties) == 17 and len(found.table().rows) == 9
    assert found.table().title.endswith("; 8 of 16 that are as good, curve.csv has all")


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
    assert "The curve repeats every 3 source lines." in found.sentences()
    assert found.margin is None or found.margin > 0.2
    assert period_text(replace(found, repeats=1.0)) == "repeats every source line"


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

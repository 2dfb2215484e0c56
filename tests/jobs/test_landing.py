"""The job `landing`, and landings in the other jobs: the command line, documents, and bad input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from scalesim.charts.sync import Bench, sync_chart
from scalesim.cli.main import main
from scalesim.errors import ParameterError
from scalesim.io.saved import read_saved
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.landing.asked import observations
from scalesim.jobs.landing.landing import landing
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.trace.trace import trace
from scalesim.jobs.tune.tune import tune
from scalesim.saving import save
from scalesim.signal.waveform.timing import timing_of
from scalesim.signal.waveform.wave import recorded_wave
from scalesim.tube.display import Display
from scalesim.tube.lock.circuit import Circuit, Clocked, Countdown, Edge, Flywheel, Integrator
from scalesim.tube.lock.landings import land
from scalesim.tube.lock.on_display import OnDisplay
from scalesim.tube.lock.words import lines_words

Capsys = pytest.CaptureFixture[str]
TUBE = 'diagonal_mm = 500\naspect = "4:3"\ntv_lines = 400\nbeam_width = 0.7\n'
CHAIN = "line-average lines=48, interlace, resync start=line-start"


def display(name: str, vertical: Circuit | None) -> Display:
    return Display(
        name=name,
        diagonal_mm=500,
        aspect="4:3",
        tv_lines=400,
        beam_width=0.7,
        vertical=vertical,  # type: ignore[arg-type]  # settled by the schema
    )


PAIRS = display("set A", Integrator())
INTERLACES = display("set B", Countdown(rule="two-field"))
ROLLS = display("set C", Edge(least_width_us=50.0))
PLAIN = display("set D", None)


def frame() -> Any:
    random = np.random.RandomState(0)
    return np.repeat(random.uniform(0, 1, (96, 64, 1)), 3, axis=2).astype(np.float32)


# one chain through several displays


def test_one_chain_gives_two_pictures() -> None:
    """The same signal, paired on one display and interlaced on the other; the mode is the signal's."""
    pairs, interlaces = (predict(frame(), CHAIN, metrics=[], display=each) for each in (PAIRS, INTERLACES))
    assert pairs.raster.scan == "field-only" and interlaces.raster.scan == "interlaced"
    assert [float(each) for each in pairs.raster.landings] == [0, 1]
    assert pairs.landed.shape[0] * 2 == interlaces.landed.shape[0]
    assert pairs.mode_out == interlaces.mode_out
    document = pairs.to_dict()
    (own,) = document["landing"]
    assert own["display"] == "set A" and own["kind"] == "integrator" and own["pair"] == "up"
    assert (
        own["lines"] == pytest.approx(1) and own["margin_mv"] > 1000 and own["outcomes"] == {"one set": 1.0}
    )
    assert own["n"] > 500 and own["ranges"]["threshold_v"] == [0.6, 4.5] and own["why"] is None
    json.dumps(document, allow_nan=False)


def test_a_stated_outcome_and_its_cause_give_one_picture() -> None:
    """field-only pair=up, and a resync on a display that pairs so: every metric alike."""
    stated = predict(frame(), "line-average lines=48, interlace, field-only pair=up")
    caused = predict(frame(), CHAIN, display=PAIRS)
    assert np.array_equal(stated.landed, caused.landed)
    assert stated.metrics == caused.metrics and stated.why == caused.why


@pytest.mark.parametrize(
    ("shown", "words"),
    [
        (None, "resync: no display was given, so fields land where their content lies"),
        (PLAIN, "set D has no [vertical]"),
        (ROLLS, "set C does not lock on this sync (no pulse is wide enough)"),
    ],
)
def test_fields_land_ideally_with_a_warning(shown: Display | None, words: str) -> None:
    found = predict(frame(), CHAIN, metrics=[], display=shown)
    assert found.raster.scan == "interlaced" and any(words in note for note in found.notes)


def test_no_warning_without_resync() -> None:
    for text in (
        "line-average lines=48, interlace",
        "line-average lines=48, interlace, field-only",
        "line-drop lines=48",
    ):
        found = predict(frame(), text, metrics=[], display=PLAIN)
        assert found.notes == predict(frame(), text, metrics=[]).notes
        assert found.to_dict()["landing"] is None and found.to_dict()["why"]["landing"]
    assert "landing" not in predict(frame(), text, metrics=[]).to_dict()


def test_a_fraction_is_drawn_on_eighths() -> None:
    found = predict(
        frame(),
        "line-average lines=48, interlace, resync start=0/-0.25",
        metrics=["flicker_percent"],
        display=PAIRS,
    )
    assert found.raster.scan == "uneven" and float(found.raster.landings[1]) == 0.625
    assert found.to_dict()["landing"][0]["lines"] == pytest.approx(0.654, abs=0.001)
    assert any("unevenly" in each for each in found.sentences())


def test_a_display_that_states_nothing_changes_nothing() -> None:
    on = OnDisplay(PAIRS)
    progressive = predict(frame(), "line-drop lines=48", metrics=[]).raster
    assert on(progressive) == progressive and on.landed(progressive) is None


def test_compare_has_a_contestant_for_each_display(tmp_path: Path) -> None:
    from scalesim.core.clip import still_clip

    clip = still_clip(frame(), name="a.png")
    found = compare(
        {"new": CHAIN, "old": "line-drop lines=24"},
        [clip],
        metrics=["flicker_percent"],
        by=["flicker_percent"],
        displays=[PAIRS, INTERLACES],
    )
    assert list(found.chains) == ["new on set A", "new on set B", "old"]
    assert {label: own["outcome"] for label, own in found.landings.items()} == {
        "new on set A": "one set",
        "new on set B": "two sets",
    }
    assert found.to_dict()["landing"]["new on set A"]["display"] == "set A"
    assert any("new on set A" in each and "one set of lines" in each for each in found.warnings)
    save(found, tmp_path / "c")
    page = (tmp_path / "c" / "index.html").read_text(encoding="utf-8")
    assert "new on set A" in page


def test_tune_takes_the_landing() -> None:
    text = "position lines=0, line-average lines=48, interlace, resync start=line-start"
    vary = {"position.lines": (-1, 1, 1)}
    pairs, interlaces = (
        tune(text, [frame()], vary=vary, by="flicker_percent", display=each) for each in (PAIRS, INTERLACES)
    )
    stated = tune(
        text.replace("resync start=line-start", "field-only pair=up"),
        [frame()],
        vary=vary,
        by="flicker_percent",
    )
    assert [p.score for p in pairs.curve] == [p.score for p in stated.curve]
    assert [p.score for p in pairs.curve] != [p.score for p in interlaces.curve]
    assert pairs.to_dict()["landing"][0]["outcome"] == "one set"


# recorded waveforms


def test_a_record_lands_as_its_signal_does() -> None:
    """Samples of 5 MS/s with noise, against the waveform itself."""
    for mode, fields, vertical, wanted in (
        ("480i", None, "standard", 0.5),
        ("576i", None, "standard", 0.5),
        ("240p", (262, 263), "standard", 0.0),
        ("288p", None, "block", 0.0),
    ):
        chart = sync_chart(
            mode, signal="csync", mhz=5.0, fields=fields, vertical=vertical, bench=Bench(noise_mv=8)
        )  # type: ignore[arg-type]  # words
        wave = recorded_wave(timing_of(chart.trace.channels["csync"], 0.2))
        for circuit in (Integrator(), Edge(), Clocked(), Flywheel()):
            found = land(wave, circuit).lines
            assert found is not None and (found - wanted + 0.5) % 1 - 0.5 == pytest.approx(0, abs=0.01), mode


def test_trace_tells_the_landing_on_each_display() -> None:
    chart = sync_chart("480i", mhz=5.0)
    found = trace([chart.trace], [PAIRS, ROLLS, PLAIN])
    own, rolls, plain = found.to_dict()["landing"]
    assert own["outcome"] == "two sets" and own["pair"] is None and "landing" not in found.to_dict()["why"]
    assert not rolls["locks"] and "wide enough" in rolls["why"]
    assert plain["lines"] is None and "no [vertical]" in plain["why"]
    assert any("set A" in each and "interlaces" in each for each in found.sentences())
    assert trace([chart.trace]).to_dict()["landing"] is None
    short = trace([sync_chart("480i", mhz=5.0, seconds=0.03).trace], [PAIRS]).to_dict()["landing"][0]
    assert short["lines"] is None and "two are needed" in short["why"]


# the job


def test_the_answer_of_a_landing(tmp_path: Path) -> None:
    found = landing(sync="start=line-start", kinds="integrator,strict countdown,two-field countdown")
    assert found.title == "One sync, 3 circuits: 2 draw one set of lines, 1 interlaces"
    alone = landing(sync="standard", kinds="edge")
    assert alone.title == "One sync on edge: it interlaces" and alone.keys == "standard"
    said = " ".join(found.sentences())
    assert "Strict countdown draws both fields on one set of lines when started on it" in said
    assert "what went before decides" in said
    document = found.to_dict()
    histories = document["landing"][1]["histories"]
    assert histories["cold"]["outcome"] == "one set" and histories["switched"]["outcome"] == "two sets"
    assert {plot.name for plot in found.figures()} == {"intervals", "glass", "map-integrator"}
    save(found, tmp_path / "l")
    assert read_saved(tmp_path / "l").sentences() == found.sentences()


def test_a_tick_on_an_edge_of_sync_is_no_verdict() -> None:
    """Vertical sync a quarter line early ends where a half-line clock ticks at half its period: by hand."""
    said = landing(sync="start=0/-0.25", kinds="half-line clock,edge").sentences()
    assert "It stands on a border" in said[0] and "so either may come" in said[0]
    assert "border" not in said[1]
    safe = landing(sync="start=line-start", kinds="half-line clock").sentences()
    assert "border" not in safe[0]
    assert lines_words(-1e-9) == "0.00 lines"


@pytest.mark.slow
def test_what_was_seen_is_explained(tmp_path: Path, capsys: Capsys) -> None:
    words = ["landing", "--seen", "A=one/cold,B=two,C=two", "--json", "--out", str(tmp_path / "l")]
    assert main(words) == 0
    told = json.loads(capsys.readouterr().out)["explained"]
    assert told["fits"][0]["resync"] == "start=line-start" and set(told["fits"][0]["kinds"]["A"]) == {
        "strict countdown"
    }
    assert len(told["groups"]) > 5 and len(told["measure_next"]) == 3
    # a countdown of the standard signal that is paired whatever it is given, and rolls: nothing does both
    words = ["landing", "--seen", "A=rolls/always,B=two", "--json", "--out", str(tmp_path / "m")]
    assert main(words) == 1
    assert json.loads(capsys.readouterr().out)["explained"]["fits"] == []


@pytest.mark.slow
def test_a_display_that_interlaces_with_every_source_may_be_most_kinds() -> None:
    """Not one that never interlaces, for which nothing fits. By hand: `two/always` is `two`."""
    always = landing(seen="A=two/always,B=one", kinds="edge").explained
    plain = landing(seen="A=two,B=one", kinds="edge").explained
    assert always is not None and plain is not None and plain.fits
    assert [fit.change for fit in always.fits] == [fit.change for fit in plain.fits]


@pytest.mark.slow
def test_what_explains_it_is_named_and_drawn() -> None:
    """The changes with the largest shares in words; the pictures are of the first of them, not of another."""
    found = landing(seen="A=one,B=uneven,C=rolls", kinds="edge")
    assert found.explained is not None and found.stage == found.explained.fits[0].change.stage
    said = found.sentences()
    assert found.explained.fits[0].change.words in said[1] and "C may have an oscillator" in said[1]
    assert any("of the first of these" in each and found.keys in each for each in said)
    alike = landing(seen="A=one/cold,B=two,C=two", kinds="edge").sentences()[1]
    assert "A may have a strict countdown, B and C may have a" in alike
    asked = landing(sync="start=line-start", seen="A=one,B=uneven,C=rolls", kinds="edge")
    assert asked.keys == "start=line-start" and any("of one sync" in each for each in asked.sentences())


@pytest.mark.slow
def test_what_a_standard_signal_explains_shows_no_box() -> None:
    """A display that never interlaces and one that does: any signal, so nothing is known of the sync."""
    found = landing(seen="A=one/always,B=two", kinds="edge")
    assert found.keys == "standard"
    said = found.sentences()
    assert "20 changes of sync explain" in said[0]  # all that are known, but the standard signal
    assert any("does not show that a box changed anything" in each for each in said)


@pytest.mark.slow
def test_contradictions_say_where_they_lie() -> None:
    alone = landing(seen="A=rolls/always,B=one", kinds="edge")
    assert alone.undecided and "No kind here draws what was seen on A," in alone.sentences()[0]
    together = landing(seen="A=rolls/cold,B=one/cold,C=uneven/sometimes", kinds="edge")
    assert together.undecided and "Each display alone can be explained" in together.sentences()[0]


def test_an_outcome_that_slides_past_a_limit_is_no_border() -> None:
    """XOR: L is 0.60, where "two sets" ends; a drift leaves it at 0.60, and nothing is decided by it."""
    said = " ".join(landing(sync="combine=xor", kinds="integrator").sentences())
    assert "0.60 lines below" in said and "gives 0.60 lines" not in said


def test_as_many_lines_of_either_field_are_drawn() -> None:
    """Four are promised; of a second field 0.65 lines lower three were drawn."""
    found = landing(sync="start=0/-0.25", kinds="integrator,ladder,edge,half-line clock,flywheel")
    (glass,) = [plot for plot in found.figures() if plot.name == "glass"]
    assert [len(series.y) for series in glass.panels[0].series] == [20, 20]


def test_values_of_no_display_are_said_so() -> None:
    low = display("low", Integrator(threshold_v=0.1))
    (said,) = landing(display=[low]).sentences()
    assert "does not lock (line sync alone reaches the threshold)" in said
    assert "no vertical sync at all, in the standard signal either" in said
    good = " ".join(landing(display=[PAIRS]).sentences())
    assert "no vertical sync at all" not in good


def test_the_command_with_displays_and_a_chain(tmp_path: Path, capsys: Capsys) -> None:
    place = tmp_path / "a.toml"
    place.write_text(f'name = "set A"\n{TUBE}[vertical]\nkind = "edge"\nleast_width_us = 8\n')
    words = ["landing", "--chain", "interlace, resync extra_us=0/12", "--display", str(place), "--json"]
    assert main([*words, "--out", str(tmp_path / "l")]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["sync"] == "extra_us=0/12" and told["landing"][0]["display"] == "set A"
    assert told["landing"][0]["outcome"] == "one set"


def test_predict_with_a_display_file(tmp_path: Path, capsys: Capsys) -> None:
    Image.fromarray(np.round(frame() * 255).astype(np.uint8)).save(tmp_path / "f.png")
    place = tmp_path / "b.toml"
    place.write_text(f'name = "set B"\n{TUBE}[vertical]\nkind = "countdown"\nrule = "two-field"\n')
    words = [
        "predict",
        str(tmp_path / "f.png"),
        "--chain",
        CHAIN,
        "--display",
        str(place),
        "--metrics",
        "cropped_percent",
    ]
    assert main([*words, "--json", "--out", str(tmp_path / "p")]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["landing"][0]["outcome"] == "two sets" and told["fields"][1]["landing"] == 0.5


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--sync", "start=soon"], "start is 'soon'"),
        (["--sync", "start=line-start, interlace"], "sync is start=line-start, interlace"),
        (["--kinds", "integrater"], "did you mean 'integrator'"),
        (["--display", "studio-36cm-800"], "studio 36 cm, 800 TV lines has no [vertical]"),
        (["--display", "nothing.toml"], "nothing.toml"),
        (["--chain", "interlace"], "the chain has no resync"),
        (["--seen", "A"], "write it as DISPLAY=WHAT"),
        (["--seen", "A=both"], "seen on A is 'both'"),
        (["--seen", "A=one,A=two"], "A is seen twice"),
        (["--system", "405"], "system is 405"),
        (["--sync", "start=0/1", "--chain", "interlace, resync"], "leave one of them out"),
    ],
)
def test_bad_input_is_one_line(words: list[str], said: str, tmp_path: Path, capsys: Capsys) -> None:
    assert main(["landing", *words, "--out", str(tmp_path / "l")]) == 2
    told = capsys.readouterr().err.strip()
    assert said in told and "\n" not in told and not (tmp_path / "l").exists()


def test_observations_by_hand() -> None:
    one, two = observations("set A=one/cold, B=uneven")
    assert (one.label, one.seen, one.when) == ("set A", "one", "cold") and (two.seen, two.when) == (
        "uneven",
        "",
    )
    with pytest.raises(ParameterError, match="at most 12"):
        observations(",".join(f"d{k}=one" for k in range(13)))


@pytest.mark.parametrize("command", ["predict", "tune"])
def test_a_second_display_is_not_dropped_in_silence(command: str, tmp_path: Path, capsys: Capsys) -> None:
    """The last one was taken, and the answer told of no other."""
    two = ["--display", "studio-36cm-800", "--display=studio-36cm-800"]
    assert main([command, "f.png", "--chain", CHAIN, *two, "--out", str(tmp_path / "p")]) == 2
    told = capsys.readouterr().err.strip()
    assert f"--display is given 2 times and {command} takes one" in told and "\n" not in told

"""Captured beside predicted: ranked together only when the predictions went down the capture's path.

The capture is made apart from this program: lines by OpenCV, a Gaussian along the line by SciPy, a
gain, a lift and noise by NumPy. The box is the very chain that is predicted, so after matching both
must read alike, where unmatched they do not.
"""

from __future__ import annotations

from dataclasses import fields, replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from scalesim.core.affine import Affine
from scalesim.core.clip import Clip, still_clip
from scalesim.core.geometry import Geometry
from scalesim.demo.bench import SCENES
from scalesim.errors import NotIdentifiable
from scalesim.jobs.compare.capture_checks import enlarged_notes, flat_noise
from scalesim.jobs.compare.captured import Capture, captured, register_picture
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.headline import claims_sentence
from scalesim.jobs.compare.matched import Matching
from scalesim.jobs.demo.steps import draw_scene
from scalesim.jobs.predict.predict import predict

CHAINS = {
    "fields": "line-average lines=480, interlace",
    "filtered": "line-average lines=480, flicker-filter, interlace",
}
BY = ("line_doubling", "flicker_percent", "edge_spread_samples")


@pytest.fixture(scope="module")
def scene() -> Clip:
    frame = draw_scene(next(s for s in SCENES if s.key == "kettle_crew"))
    return still_clip(frame, mode="720p60", name="kettle_crew.png")


def box(source: Clip, seed: int = 0, noise: float = 2.0) -> NDArray:
    """480 woven lines of 720 samples, softened along the line, at 0.9 of the level, with noise."""
    assert source.frame is not None
    lines = cv2.resize(source.frame, (720, 480), interpolation=cv2.INTER_AREA)
    soft = 0.9 * gaussian_filter1d(lines, 1.5, axis=1) + 0.03
    return (soft + np.random.RandomState(seed).normal(0, noise / 255, soft.shape)).astype(np.float32)


@pytest.fixture(scope="module")
def table(scene: Clip) -> Comparison:
    grey = Capture("grey", lambda: [still_clip(box(scene, seed)) for seed in range(2)])
    return compare(CHAINS, [scene], by=BY, metrics=[], captures=[grey])


def test_kinds_are_ranked_apart_and_matched_ones_together(table: Comparison) -> None:
    members: dict[str, set[str]] = {}
    for place in table.ranking:
        members.setdefault(place.raster, set()).add(place.chain)
    screen = "480 interlaced lines at 60 Hz"
    assert members == {
        f"{screen}, predicted": {"fields", "filtered"},
        f"{screen}, captured": {"grey, captured"},
        f"{screen}, matched to grey, captured": {"fields", "filtered", "grey, captured"},
    }


def test_matched_values_agree_where_unmatched_do_not(table: Comparison) -> None:
    """The box is `fields`: its flicker reads a third lower captured, and the same when matched."""
    plain = {row.chain: row.metrics["flicker_percent"] for row in table.rows}
    matched = {row.chain: row.metrics for row in table.matched}
    flicker = {chain: values["flicker_percent"] for chain, values in matched.items()}
    assert abs(plain["grey, captured"] / plain["fields"] - 1) > 0.15
    assert flicker["grey, captured"] == pytest.approx(flicker["fields"], rel=0.05)
    assert matched["grey, captured"]["line_doubling"] == pytest.approx(
        matched["fields"]["line_doubling"], abs=0.02
    )
    assert flicker["filtered"] < 0.7 * flicker["grey, captured"]


def test_what_was_matched_is_said(table: Comparison) -> None:
    (told,) = (text for text in table.warnings if "were drawn with" in text)
    for words in (
        "720 samples a line",
        "-3 dB at 0.0",
        "gain 0.90",
        "best from fields",
        "its noise is 1.4 of 255",
        "flicker",
    ):
        assert words in told
    assert all(row.metrics["edge_spread_samples"] is None for row in table.matched)
    assert any("Left out of the ranking: the width of a vertical edge" in text for text in table.sentences())


def test_the_capture_agrees_with_the_chain_it_is(table: Comparison) -> None:
    """And shares its place, though noise and the path leave the figures a little apart."""
    assert any("grey, captured agrees with fields (1 frame)" in text for text in table.sentences())
    matched = {p.chain: p.rank for p in table.ranking if "matched" in p.raster}
    assert matched["grey, captured"] == matched["fields"]


def test_the_title_and_the_figure_are_of_the_figures_below_them(table: Comparison) -> None:
    """The verdict of the predictions as they are; the box is seen, too, and with whom it agrees is told."""
    assert "grey, captured agrees with fields" in table.title
    cover = table.cover()
    assert cover is not None and {view.label for view in cover.views[1:]} == {*CHAINS, "grey, captured"}
    plain = {row.chain: row.metrics["line_doubling"] or 0.0 for row in table.rows}
    for label in CHAINS:
        (view,) = (each for each in cover.views if each.label == label)
        assert f"split of the outlines {100 * plain[label]:.0f}\N{NO-BREAK SPACE}%" in view.said
    (main,) = (verdict for verdict in table.verdicts if verdict.raster.endswith("predicted"))
    assert claims_sentence(main) and claims_sentence(main) in cover.caption


def test_the_gain_of_a_box_that_drops_lines(scene: Clip) -> None:
    """Made with a gain of 0.93 and a black of 6, registered 3/8 of a source line off."""
    assert scene.frame is not None
    picked = cv2.resize(scene.frame, (720, 720), interpolation=cv2.INTER_AREA)[1::3]
    soft = gaussian_filter1d(picked, 0.8, axis=1) * 0.93 + 6 / 255
    capture = (soft + np.random.RandomState(1).normal(0, 1.5 / 255, soft.shape)).astype(np.float32)
    own = captured("box", capture, scene, metrics=[])
    geometry = own.outcome.geometry
    off = tuple(Affine(each.scale, each.offset + 0.375) for each in geometry.lines)
    values = {f.name: getattr(geometry, f.name) for f in fields(geometry)}
    moved = Geometry(**{name: off if each == geometry.lines else each for name, each in values.items()})
    own = replace(own, outcome=replace(own.outcome, geometry=moved))
    drop = predict(scene, "line-drop lines=240 phase=1", metrics=[])
    path = Matching("box", own, 0.0, {"drop": drop}, ("line_doubling",)).path
    assert path.gain == pytest.approx(0.93, abs=0.01) and 255 * path.lift == pytest.approx(6, abs=0.7)


def test_the_two_levels_of_a_capture_are_told_apart(table: Comparison) -> None:
    """Registration fits it to the source, matching to a prediction: each says which."""
    said = " ".join(table.warnings)
    assert "against the source its gain is 0." in said and "Where fields land" in said
    assert "measured from their pictures alone" in said


def test_noise_of_one_frame_is_read_in_flat_places(scene: Clip) -> None:
    for noise in (0.5, 2.0, 4.0):
        frame = box(scene, noise=noise)
        found = flat_noise(frame, scene.frame, register_picture("box", frame, scene))
        assert found is not None and 255 * found == pytest.approx(noise, rel=0.1)


def test_enlarged_captures_are_refused_with_the_remedy(scene: Clip) -> None:
    """Today's "1080 scan lines": 240 lines, each 4 times, and a smooth enlargement."""
    lines = cv2.resize(scene.frame, (720, 240), interpolation=cv2.INTER_AREA)
    repeated = np.repeat(lines, 4, axis=0)
    with pytest.raises(NotIdentifiable, match=r"240, each 4 times.*--native"):
        captured("box", repeated, scene, metrics=[])
    smooth = cv2.resize(lines, (720, 1080), interpolation=cv2.INTER_CUBIC)
    with pytest.raises(NotIdentifiable, match=r"1080 lines.*--native"):
        captured("box", smooth, scene, metrics=[])


def test_an_enlargement_to_lines_that_no_signal_has_is_refused(scene: Clip) -> None:
    """240 to 360 lines: a field has 312 whole lines at most (ITU-R BT.1700), and 360 are no two."""
    lines = cv2.resize(scene.frame, (720, 240), interpolation=cv2.INTER_AREA)
    with pytest.raises(NotIdentifiable, match=r"360 lines.*312.*480, 486 or 576.*its own size"):
        captured("box", cv2.resize(lines, (720, 360), interpolation=cv2.INTER_LINEAR), scene, metrics=[])


def test_a_smooth_enlargement_to_480_lines_is_told(scene: Clip) -> None:
    """By OpenCV, with noise after it; the same scene brought to 480 lines at once is not told of."""
    rng = np.random.RandomState(4)
    lines = cv2.resize(scene.frame, (720, 240), interpolation=cv2.INTER_AREA)
    twice = cv2.resize(lines, (720, 480), interpolation=cv2.INTER_LINEAR)
    noise = rng.normal(0, 1 / 255, twice.shape)
    (note,) = enlarged_notes("box", twice + noise)
    assert "about 2.00 times" in note and "capture at the box's own size" in note
    for how in (cv2.INTER_AREA, cv2.INTER_LINEAR, cv2.INTER_CUBIC):
        assert not enlarged_notes("box", cv2.resize(scene.frame, (720, 480), interpolation=how) + noise)
    assert any("look interpolated" in n for n in captured("box", twice, scene, metrics=[]).outcome.notes)


@pytest.mark.slow
def test_a_border_a_stretch_and_a_tilt_are_told(scene: Clip) -> None:
    lines = cv2.resize(scene.frame, (720, 480), interpolation=cv2.INTER_AREA)
    assert len(captured("box", lines, scene, metrics=[]).outcome.notes) == 1
    smaller = cv2.copyMakeBorder(
        cv2.resize(scene.frame, (640, 430), interpolation=cv2.INTER_AREA), 25, 25, 40, 40, cv2.BORDER_CONSTANT
    )
    assert any("--trim auto" in note for note in captured("box", smaller, scene, metrics=[]).outcome.notes)
    larger = cv2.resize(scene.frame, (720, 520), interpolation=cv2.INTER_AREA)[20:500]
    (note,) = captured("box", larger, scene, metrics=[]).outcome.notes[1:]
    assert "108.3 % as tall" in note and "--trim" not in note
    turn = cv2.getRotationMatrix2D((360, 240), 0.12, 1.0)
    turned = cv2.warpAffine(lines, turn, (720, 480), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    assert any(
        "tilted by about 1." in note for note in captured("box", turned, scene, metrics=[]).outcome.notes
    )


def test_no_prediction_on_its_screen_is_said(scene: Clip) -> None:
    grey = Capture("grey", lambda: [still_clip(box(scene))])
    progressive = Capture("flat", lambda: [still_clip(cv2.resize(scene.frame, (720, 240)))])
    assert "Where fields" not in captured("flat", progressive.mean(), scene, metrics=[]).outcome.notes[0]
    found = compare(
        {"drop": "line-drop lines=240"}, [scene], by=("flicker_percent",), metrics=[], captures=[grey]
    )
    assert not found.matched and any("ranked apart from predictions" in text for text in found.warnings)

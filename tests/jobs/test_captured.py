"""Captures beside predictions: what OpenCV makes of a frame is registered, measured, and no worse for it."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip, still_clip
from scalesim.demo.bench import SCENES
from scalesim.errors import NotIdentifiable, ShapeError
from scalesim.jobs.compare.captured import Capture, captured, reference_on, register_picture
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.demo.steps import draw_scene
from scalesim.jobs.predict.predict import Prediction, predict

METRICS = ["line_doubling", "lost_lines", "edge_spread_lines", "ssim", "cropped_percent"]


@cache
def scene(key: str = "kettle_crew") -> Clip:
    return still_clip(draw_scene(next(s for s in SCENES if s.key == key)), mode="720p60", name=f"{key}.png")


def box(kind: str, seed: int = 0, frame: NDArray | None = None) -> NDArray:
    """Return the capture of a box: 720 samples a line, gain, lift and noise, lines as OpenCV makes them."""
    source = scene().frame if frame is None else frame
    assert source is not None
    if kind == "soft":
        made = cv2.resize(source, (720, 240), interpolation=cv2.INTER_AREA)
    elif kind == "drop":
        made = cv2.resize(source, (720, 720), interpolation=cv2.INTER_AREA)[1::3]
    else:
        made = cv2.resize(source, (720, 480), interpolation=cv2.INTER_AREA)
    if kind == "same":
        made = np.repeat(cv2.resize(source, (720, 240), interpolation=cv2.INTER_AREA), 2, axis=0)
    noise = np.random.RandomState(seed).normal(0, 2 / 255, made.shape)
    return np.clip(0.02 + 0.95 * made + noise, 0, 1).astype(np.float32)


@pytest.mark.parametrize(
    ("kind", "chain"),
    [
        ("soft", "line-average lines=240"),
        ("drop", "line-drop lines=240 phase=1"),
        ("fields", "line-average lines=480, interlace"),
    ],
)
def test_a_capture_scores_as_its_prediction(kind: str, chain: str) -> None:
    """The same box made by OpenCV, through a capture's levels and noise: its figures are the prediction's."""
    found = captured("box", box(kind), scene(), metrics=METRICS)
    wanted = predict(scene(), chain, metrics=METRICS).metrics
    got = found.outcome.metrics
    assert got["line_doubling"] == pytest.approx(wanted["line_doubling"], abs=0.08)
    assert got["lost_lines"] == pytest.approx(wanted["lost_lines"], abs=0.03)
    assert got["edge_spread_lines"] == pytest.approx(wanted["edge_spread_lines"], rel=0.2)
    assert got["ssim"] == pytest.approx(wanted["ssim"], abs=0.04)
    assert got["cropped_percent"] == pytest.approx(0, abs=0.5)
    assert found.registration.gain == pytest.approx(0.95, abs=0.01)
    assert found.outcome.raster.scan == ("interlaced" if kind == "fields" else "progressive")


def test_it_tells_boxes_apart() -> None:
    doubling = [captured("b", box(k), scene(), metrics=METRICS).outcome.metrics for k in ("soft", "drop")]
    assert doubling[0]["line_doubling"] > doubling[1]["line_doubling"] + 0.1
    assert doubling[1]["lost_lines"] > doubling[0]["lost_lines"] + 0.05


def test_fields_with_one_content_lie_on_one_set_of_lines() -> None:
    found = captured("box", box("same"), scene(), metrics=["line_doubling"])
    assert found.outcome.raster.scan == "field-only"
    soft = predict(scene(), "line-average lines=240", metrics=["line_doubling"]).metrics
    assert found.outcome.metrics["line_doubling"] == pytest.approx(soft["line_doubling"], abs=0.08)


def test_a_cropped_capture_says_how_much_is_gone() -> None:
    """36 of 720 lines cut off: 5 percent."""
    source = scene().frame
    assert source is not None
    cut = cv2.resize(source[36:], (720, 228), interpolation=cv2.INTER_AREA)
    found = captured("box", cut, scene(), metrics=["cropped_percent"])
    assert found.outcome.metrics["cropped_percent"] == pytest.approx(5.0, abs=0.3)


def test_a_capture_joins_the_frame_it_shows() -> None:
    """Two frames, one capture of the second: one row, marked, ranked with its screen; noise averages out."""
    frames = [scene("moss_tower"), scene()]
    grey = Capture("grey box", lambda: [still_clip(box("soft", seed)) for seed in range(4)])
    table = compare({"soft": "line-average lines=240"}, frames, metrics=METRICS, captures=[grey])
    rows = [row for row in table.rows if row.kind == "captured"]
    assert [(row.frame, row.chain) for row in rows] == [("kettle_crew.png", "grey box, captured")]
    assert not table.failed
    assert "grey box, captured" in {place.chain for place in table.ranking}
    assert any("registered" in warning for warning in table.warnings)
    assert table.to_dict()["captures"] == ["grey box, captured"]


def test_a_capture_of_something_else() -> None:
    other = Capture("odd box", lambda: [still_clip(box("soft", frame=scene("moss_tower").frame))])
    table = compare({"soft": "line-average lines=240"}, [scene()], metrics=["ssim"], captures=[other])
    assert "odd box, captured" in table.failed and "\n" not in table.failed["odd box, captured"]


def test_a_capture_is_no_prediction() -> None:
    """It has pictures, figures and notes like one, and neither a chain nor a matrix it never had."""
    found = captured("box", box("soft"), scene(), metrics=["ssim", "line_doubling"])
    outcome = found.outcome
    assert not isinstance(outcome, Prediction) and not hasattr(outcome, "chain")
    assert isinstance(predict(scene(), "line-average lines=240", metrics=[]), type(outcome))
    assert list(outcome.metrics) == ["ssim", "line_doubling"] and outcome.notes[0].startswith("box: ")
    assert outcome.coverage() is None and outcome.evidence().weights is None
    assert outcome.landed.shape[0] == outcome.raster.landed_lines


def test_mirrored_and_mixed_captures_are_refused() -> None:
    with pytest.raises(NotIdentifiable, match="mirrored"):
        captured("box", np.ascontiguousarray(box("soft")[:, ::-1]), scene())
    sizes = Capture("box", lambda: [still_clip(box("soft")), still_clip(box("fields"))])
    with pytest.raises(ShapeError, match="different sizes"):
        sizes.mean()
    with pytest.raises(ShapeError, match="no whole frame"):
        Capture("box", list).mean()


def test_a_capture_as_reference() -> None:
    """Drawn on a chain's raster it is like the chain that made it, and less like another."""
    picture = box("soft")
    found = register_picture("box", picture, scene())
    soft, drop = (Chain(text) for text in ("line-average lines=240", "line-drop lines=240"))
    reference = reference_on(picture, soft.resolve(scene().raster), found)
    assert reference.shape == (240, 1280, 3)
    scores = [
        predict(scene(), chain, metrics=["ssim"], reference=reference).metrics["ssim"]
        for chain in (soft, drop)
    ]
    assert scores[0] > 0.9 and scores[0] > scores[1] + 0.03
    table = compare({"soft": soft, "drop": drop}, [scene()], reference=picture, by=["ssim"], metrics=["ssim"])
    assert table.rows[0].metrics["ssim"] == pytest.approx(scores[0], abs=1e-6)

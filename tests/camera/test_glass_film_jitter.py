"""Jitter of lines and of whole fields read from films of the camera model, against what was drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from glass_camera import Camera
from glass_cases import film
from glass_tube import Tube

import scalesim as ss

HALF = 200 / 7 / 320
CAMERA = Camera(
    rows=360, columns=400, pixels=7, exposure=1 / 60, look=(0.5 * HALF, 0.5), tilt=4, roll=1, iso=100, seed=2
)
BEZEL = "4,20,92,340"
FLOOR_LINES, FLOOR_FIELDS = 0.006, 0.025


@pytest.mark.slow
@pytest.mark.parametrize(
    ("scan", "lines", "fields"), [("480i", 0.06, 0.0), ("240p", 0.0, 0.07), ("480i", 0.0, 0.05)]
)
def test_lines_and_fields_of_a_film_waver_as_drawn(
    scan: str, lines: float, fields: float, tmp_path: Path
) -> None:
    tube = Tube(scan=scan, jitter=lines, field_jitter=fields, picture=1, sigma=0.2, seed=5)
    path = film(CAMERA, tube, 60, 24, 20, tmp_path / "film.mp4")
    document = ss.read_glass(path, bezel=BEZEL).to_dict()
    assert document["sets"] == tube.sets
    drawn = float(np.std([tube.strayed(k) for k in range(24)]))
    if fields:
        assert document["field_jitter_lines"] == pytest.approx(drawn, rel=0.25)
    else:
        assert document["field_jitter_lines"] < FLOOR_FIELDS
    if lines:
        assert document["jitter_lines"] == pytest.approx(lines, rel=0.2)
    else:
        assert document["jitter_lines"] is None or document["jitter_lines"] < FLOOR_LINES
    assert document["field_jitter_error"] > 0


def test_without_a_bezel_or_a_shutter_the_reason_is_told(tmp_path: Path) -> None:
    tube = Tube(scan="240p", picture=1, sigma=0.2, seed=5)
    camera = Camera(rows=240, columns=240, pixels=6.5, exposure=1 / 60, seed=2)
    path = film(camera, tube, 24, 7, 20, tmp_path / "film.mp4")
    document = ss.read_glass(path).to_dict()
    assert document["field_jitter_lines"] is None and "--bezel" in document["why"]["field_jitter_lines"]
    assert document["jitter_lines"] is None and "--shutter" in document["why"]["jitter_lines"]
    told = ss.read_glass(path, shutter="1/60").to_dict()
    assert told["jitter_lines"] is not None and told["jitter_error"] > 0

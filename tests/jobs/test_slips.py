"""What predict tells of a chain with a free-running clock, counted by hand."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from skimage.data import astronaut

from scalesim.chain import Chain
from scalesim.cli.main import main
from scalesim.core.clip import Clip, still_clip
from scalesim.core.pan import panned
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.jobs.predict.slips import slips

RASTER = Raster(40, 64)


def numbered(count: int) -> Clip:
    def pictures():  # type: ignore[no-untyped-def]
        for n in range(count):
            yield Picture(np.full((40, 64, 3), (n % 8) / 8, np.float32), RASTER, n / RASTER.rate)

    return Clip(RASTER, pictures, length=count)


def test_repeats_and_drops_are_counted() -> None:
    """By hand: 60 into 50 drops picture 5, 11, 17 ...; 50 into 60 shows 0, 5, 10 ... twice."""
    dropped = slips(numbered(61), Chain("slip rate_out=50 buffer=frame"))
    assert dropped is not None
    assert [event.first for event in dropped.events] == [5, 11, 17, 23, 29, 35, 41, 47, 53, 59]
    repeated = slips(numbered(51), Chain("slip rate_in=50 rate_out=60 buffer=frame"))
    assert repeated is not None
    assert [event.first for event in repeated.events] == [0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50]
    assert repeated.count("dropped") == 0 and repeated.count("torn") == 0


def test_tears_have_their_line_and_step() -> None:
    """60 into 61 from half a picture on: one tear a picture, rolling down."""
    found = slips(numbered(30), Chain("line-average lines=20, slip rate_out=61 start=1/2"))
    assert found is not None
    torn = [event for event in found.events if event.what == "torn"]
    assert len(torn) >= 27 and all(event.step is not None and event.step.shows for event in torn)
    # picture 0 tears where start + x 60/61 is 1: x = 61/120
    assert torn[0].line == int(np.ceil(20 * 61 / 120)) and (torn[0].first, torn[0].last) == (0, 1)
    assert slips(numbered(5), Chain("line-average lines=20")) is None


def test_a_still_scene_hides_what_a_pan_shows() -> None:
    frame = (astronaut()[:240, :320].astype(np.float32)) / 255
    chain = Chain("slip rate_out=59 start=1/2")
    still = slips(still_clip(frame, mode="custom"), chain, pictures=20)
    pan = panned(still_clip(frame, mode="custom"), samples=240, lines=0, seconds=1)
    moved = slips(pan, chain, pictures=20)
    assert still is not None and moved is not None
    assert still.count("torn") == moved.count("torn") > 15
    assert "(0 of their" in still.sentence() and "(0 of their" not in moved.sentence()


def test_predict_writes_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from PIL import Image

    Image.fromarray(astronaut()[:96, :128]).save(tmp_path / "a.png")
    words = ["predict", str(tmp_path / "a.png"), "--chain", "slip rate_out=59 start=1/2", "--clip", "mkv"]
    words += ["--view", "raster", "--pan", "120,0", "--seconds", "1", "--metrics", "psnr_db"]
    assert main([*words, "--json", "--out", str(tmp_path / "out")]) == 0
    out, err = capsys.readouterr()
    found = json.loads(out)
    assert found["slip"]["frames"] in (58, 59) and len(found["slip"]["torn"]) > 50
    assert "torn" in err and Path(found["files"]["slip"]).read_text().startswith("picture,time_s,event")

"""Photos of the tube beside predictions: on OpenCV's camera."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import skimage.data
from PIL import Image

import scalesim as ss
from scalesim.cli.main import main
from scalesim.core.encoding import code_to_light
from scalesim.core.photo import Photo
from scalesim.errors import ParameterError
from scalesim.jobs.compare.photographed import PhotoGiven
from scalesim.tube.beam import line_places
from tests.pinhole import Pinhole

CHAIN = "line-average lines=240"


def frame() -> np.ndarray:
    return (skimage.data.coffee()[:360, :600] / 255).astype(np.float32).repeat(2, 0).repeat(2, 1)


def photo_codes(camera: Pinhole) -> np.ndarray:
    seen = ss.predict(frame(), CHAIN, metrics=[])
    first = [float(line_places(seen.raster, 0)[0])]
    return np.ascontiguousarray(camera.exposure([code_to_light(seen.cycle[0])], first))


@pytest.mark.slow
def test_a_photo_stands_straightened_beside_the_prediction(tmp_path: Path) -> None:
    """The straightened photo, blurred, is what the chain makes: corners and all, to a pixel of 1080."""
    Image.fromarray((255 * frame()).astype(np.uint8)).save(tmp_path / "cup.png")
    Image.fromarray(photo_codes(Pinhole())).save(tmp_path / "photo.jpg", quality=92)
    out = tmp_path / "out"
    asked = ["compare", str(tmp_path / "cup.png"), "--chain", f"soft: {CHAIN}", "--out", str(out)]
    assert main([*asked, "--photo", f"mine={tmp_path / 'photo.jpg'}"]) == 0
    told = json.loads((out / "result.json").read_text("utf-8"))["photos"]
    assert [(each["label"], each["frame"]) for each in told] == [("mine", "cup.png")]
    page = (out / "index.html").read_text("utf-8")
    assert "mine, photo" in page and "Photos are shown, not measured" in page


def test_two_photos_of_one_label_and_a_text_that_names_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = PhotoGiven("set", lambda: Photo(np.zeros((40, 50, 3), np.uint8)))
    with pytest.raises(ParameterError, match="photo 'set' is given twice"):
        ss.compare({"soft": CHAIN}, [ss.still_clip(frame())], photos=[photo, photo], metrics=["lost_lines"])
    Image.fromarray(np.zeros((240, 320, 3), np.uint8)).save(tmp_path / "f.png")
    assert main(["compare", str(tmp_path / "f.png"), "--chain", CHAIN, "--photo", "nameless.jpg"]) == 2
    assert "write it as LABEL=FILE" in capsys.readouterr().err

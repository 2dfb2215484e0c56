"""`fit` and `seen` against the arithmetic of 16:9 on a 4:3 tube.

Source: arithmetic. A 16:9 picture at its own shape on a 4:3 tube is 3/4 as tall as the tube (letterbox:
480 lines become 360, 576 become 432, 240 become 180); filling the tube's height it is 4/3 as wide, so
3/4 of its width is left (crop: 1920 samples become 1440, 1280 become 960, 12.5 % off each side);
squeezed, the raster stays and shapes grow taller by 4/3. How got: worked out by hand; the pictures
inside are compared with Pillow 13.0.0 and OpenCV 5.0.0 from PyPI, run here.
"""

from __future__ import annotations

from fractions import Fraction

import cv2
import numpy as np
import pytest
from external.chains import Array, largest_difference, noise
from PIL import Image

from scalesim.chain import Chain
from scalesim.core.affine import Affine
from scalesim.core.raster import Raster
from scalesim.jobs.predict.predict import predict
from scalesim.tube.seen import seen

WIDE = Fraction(16, 9)


def fitted(grey: Array, how: str, aspect: Fraction = WIDE, text: str = "") -> Array:
    """Return a grey frame of that aspect after `fit`."""
    raster = Raster(grey.shape[0], grey.shape[1], aspect=aspect)
    return Chain(text or f"fit aspect=4:3 how={how}").operator(raster)(grey[:, :, None])[:, :, 0]


def lit_lines(lines: int, aspect: Fraction = WIDE) -> tuple[int, float]:
    """Return (lines that are more than half lit, light in lines) of a white frame after letterbox."""
    middle = fitted(np.ones((lines, 32)), "letterbox", aspect)[:, 16]
    return int(np.count_nonzero(middle > 0.5)), float(middle.sum())


@pytest.mark.parametrize(("lines", "left"), [(480, 360), (576, 432), (240, 180)])
def test_letterbox_uses_three_quarters_of_the_lines(lines: int, left: int) -> None:
    """480 to 360, 576 to 432, 240 to 180, and equal bars above and below."""
    count, light = lit_lines(lines)
    assert count == left
    assert light == pytest.approx(left, abs=0.01)
    white = fitted(np.ones((lines, 32)), "letterbox")
    bar = (lines - left) // 2
    assert np.all(white[: bar - 1] == 0)
    assert np.all(white[-bar + 1 :] == 0)
    assert largest_difference(white, white[::-1]) < 1e-12


@pytest.mark.parametrize(("lines", "left"), [(480, 411.43), (576, 493.71)])
def test_14_9_letterbox(lines: int, left: float) -> None:
    """6/7 of the lines; the light of a white frame agrees within the ripple of a triangle's taps."""
    raster = Raster(lines, 32, aspect=Fraction(14, 9))
    plan = Chain("fit aspect=4:3 how=letterbox").resolve(raster)
    assert lines / plan.geometry.landed(plan.output).scale == pytest.approx(left, abs=0.005)
    assert lit_lines(lines, Fraction(14, 9))[1] == pytest.approx(left, abs=0.1)


def test_another_shape_is_caught() -> None:
    """Guard: a picture that is 4:3 already fills every line, one of 14:9 more lines than one of 16:9."""
    assert lit_lines(480, Fraction(4, 3))[0] == 480
    assert lit_lines(480, Fraction(14, 9))[0] > 400


@pytest.mark.parametrize(("lines", "left"), [(480, 360), (240, 180)])
def test_letterboxed_picture_is_the_reduced_one(lines: int, left: int) -> None:
    """Pillow BILINEAR to 3/4 of the lines, laid in the middle; its own border line is left out."""
    grey = noise(lines, 32)
    image = Image.fromarray(grey.astype(np.float32)).resize((32, left), Image.Resampling.BILINEAR)
    top = (lines - left) // 2
    ours = fitted(grey, "letterbox")[top : top + left]
    assert largest_difference(ours[2:-2], np.asarray(image)[2:-2]) < 2e-6
    moved = fitted(grey, "letterbox")[top + 1 : top + 1 + left]
    assert largest_difference(moved[2:-2], np.asarray(image)[2:-2]) > 0.1


@pytest.mark.parametrize(("samples", "left"), [(1920, 1440), (1280, 960)])
def test_crop_keeps_three_quarters_of_the_width(samples: int, left: int) -> None:
    """1920 to 1440, 1280 to 960, the middle ones; they fill the raster and the lines stay."""
    plan = Chain("fit aspect=4:3 how=crop").resolve(Raster(720, samples, aspect=WIDE))
    first = (samples - left) / 2
    assert plan.geometry.kept_samples == pytest.approx((first, samples - first), abs=1e-9)
    assert plan.geometry.kept_lines == (0.0, 720.0)
    assert plan.geometry.samples(np.array([0.0, samples])) == pytest.approx([first, samples - first])


@pytest.mark.parametrize(("samples", "left"), [(1920, 1440), (1280, 960)])
def test_cropped_picture_is_the_enlarged_middle(samples: int, left: int) -> None:
    """cv2 INTER_LINEAR of the middle 3/4; the outermost samples see beyond the cut and are left out."""
    grey = noise(16, samples)
    cut = (samples - left) // 2
    middle = grey[:, cut : samples - cut].astype(np.float32)
    theirs = np.asarray(cv2.resize(middle, (samples, 16), interpolation=cv2.INTER_LINEAR))
    assert largest_difference(fitted(grey, "crop")[:, 2:-2], theirs[:, 2:-2]) < 2e-5
    wrong = fitted(grey, "", text="size width=125")
    assert largest_difference(wrong[:, 2:-2], theirs[:, 2:-2]) > 0.1


@pytest.mark.parametrize(
    ("how", "tube", "percent"),
    [("crop", "4:3", 25.0), ("letterbox", "4:3", 0.0), ("squeeze", "4:3", 0.0), ("crop", "16:9", 0.0)],
)
def test_cropped_percent(how: str, tube: str, percent: float) -> None:
    """A quarter of a 16:9 picture is lost by crop to 4:3, nothing otherwise; 640x360 has square samples."""
    frame = np.repeat(noise(360, 640)[:, :, None], 3, axis=2).astype(np.float32)
    text = f"fit aspect={tube} how={how}"
    found = predict(frame, text, mode="custom", metrics=["cropped_percent"]).metrics
    assert found["cropped_percent"] == pytest.approx(percent, abs=1e-6)


def test_squeeze_leaves_the_raster() -> None:
    """Every line and sample as it was; only the shape it is shown at changes, so things grow by 4/3."""
    grey = noise(480, 720)
    assert np.array_equal(fitted(grey, "squeeze"), grey)
    plan = Chain("fit aspect=4:3 how=squeeze").resolve(Raster(480, 720, aspect=WIDE))
    assert (plan.output.lines, plan.output.samples) == (480, 720)
    assert plan.geometry.samples == Affine()
    assert WIDE / plan.output.aspect == Fraction(4, 3)


@pytest.mark.parametrize(("lines", "samples"), [(240, 1280), (480, 720), (240, 1920), (288, 720)])
@pytest.mark.parametrize("tube", [Fraction(4, 3), WIDE])
def test_seen_has_the_shape_of_the_tube(lines: int, samples: int, tube: Fraction) -> None:
    """Whatever the raster: width over height is the tube's, within half a dot."""
    frame = np.zeros((lines, samples, 3), dtype=np.float32)
    height, width, _ = seen(frame, Raster(lines, samples), tube).shape
    assert abs(width - height * tube) <= Fraction(1, 2)
    assert height % lines == 0
    other = WIDE if tube != WIDE else Fraction(4, 3)
    assert abs(width - height * other) > 100

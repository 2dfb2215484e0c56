"""Traces of rescaling: pictures of a general image library, native and enlarged by two libraries.

Counts over the 25 pictures of `LIBRARY`, each cut to its middle 440 x 440 at most; a picture counts
as flagged when either direction is (scikit-image 0.26, Pillow 13.0, OpenCV 5.0):

===================================================== ======== =======
pictures                                              pictures flagged
===================================================== ======== =======
native                                                      25       0
native, JPEG qualities 60, 75, 85, 90                      100       0
native, lossy WebP qualities likewise                      100       4
drawn with smoothed edges, on grids of 1, 2, 8 and 16       24       0
gratings, dither, ramp, zone plate, blocks, flat            14       0
smooth noise                                                 8       0
repeated x2 and x3                                          50       0
enlarged x1.5, bilinear and bicubic, two libraries         100   83, 84
enlarged x2, likewise                                      100      77
the drawn art enlarged x1.5, one library                    24      17
===================================================== ======== =======

Where two counts stand, they are those of different processors. The misses are flat, two-valued or
strictly periodic pictures and art whose edges stay hard. Known false alarm, shown below: a smooth
edge repeated along a rational slope leaves the same period as an enlargement.
"""

from __future__ import annotations

import io
import os
from functools import cache

import cv2
import numpy as np
import pytest
import skimage
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from scalesim.signal.rescaled import Trace, rescaling_note, traces_of_rescaling

LIBRARY = (
    *("astronaut.png", "brick.png", "camera.png", "cell.png", "chelsea.png", "chessboard_RGB.png"),
    *("clock_motion.png", "coffee.png", "coins.png", "color.png", "grass.png", "gravel.png", "horse.png"),
    *("hubble_deep_field.jpg", "ihc.png", "logo.png", "microaneurysms.png", "moon.png"),
    *("motorcycle_left.png", "motorcycle_right.png", "page.png", "phantom.png", "retina.jpg"),
    *("rocket.jpg", "text.png"),
)
DETAILED = ("astronaut.png", "camera.png", "chelsea.png", "coffee.png", "grass.png", "gravel.png")
Codes = NDArray[np.uint8]


@cache
def picture(name: str) -> Codes:
    path = os.path.join(os.path.dirname(skimage.__file__), "data", name)
    with Image.open(path) as opened:
        codes = np.asarray(opened.convert("RGB"))
    top, left = (max(0, (n - 440) // 2) for n in codes.shape[:2])
    return codes[top : top + 440, left : left + 440]


def enlarged(codes: Codes, scale: float, how: str) -> Codes:
    lines, samples = (round(n * scale) for n in codes.shape[:2])
    if how.startswith("pillow"):
        method = {"bilinear": Image.Resampling.BILINEAR, "bicubic": Image.Resampling.BICUBIC}[how[7:]]
        return np.asarray(Image.fromarray(codes).resize((samples, lines), method))
    flag = {"linear": cv2.INTER_LINEAR, "cubic": cv2.INTER_CUBIC}[how[7:]]
    return np.asarray(cv2.resize(codes, (samples, lines), interpolation=flag), dtype=np.uint8)


def traces(codes: NDArray[np.generic]) -> tuple[Trace, ...]:
    return traces_of_rescaling(codes.astype(np.float32) / np.float32(255))


SMOOTH = ("pillow-bilinear", "pillow-bicubic", "opencv-linear", "opencv-cubic")


@pytest.mark.parametrize("scale, stated", [(1.5, 0.84), pytest.param(2, 0.77, marks=pytest.mark.slow)])
def test_hits_over_the_library_are_as_stated(scale: float, stated: float) -> None:
    """What is stated is a rate, so the count has the room a rate leaves it: two standard deviations.

    Libraries round enlarged codes differently by processor, which turns pictures near the limit.
    """
    looked = [bool(traces(enlarged(picture(n), scale, how))) for n in LIBRARY for how in SMOOTH]
    assert sum(looked) >= least_of_a_rate(stated, len(looked))


def least_of_a_rate(rate: float, count: int) -> float:
    """Return the least count that does not contradict a rate: binomial, two standard deviations below."""
    return count * rate - 2 * float(np.sqrt(count * rate * (1 - rate)))


@pytest.mark.parametrize("how", SMOOTH)
@pytest.mark.parametrize("name", DETAILED)
def test_detailed_pictures_are_always_caught_with_the_right_scale(name: str, how: str) -> None:
    for scale in (1.5, 2):
        found = traces(enlarged(picture(name), scale, how))
        assert {t.along for t in found} == {"lines", "samples"}
        assert all(min(abs(s - scale) for s in t.scales) < 0.03 for t in found)


@pytest.mark.parametrize("name", LIBRARY)
def test_native_and_repeated_pictures_are_never_flagged(name: str) -> None:
    codes = picture(name)
    assert traces(codes) == ()
    for times in (2, 3):
        assert traces(codes.repeat(times, 0).repeat(times, 1)) == ()


@pytest.mark.parametrize("blur", [0.7, 1, 1.5, 2, 3, 4, 6, 8])
def test_smooth_pictures_native_or_repeated_are_not_flagged(blur: float) -> None:
    """Repeating a smooth picture leaves steps too low to count as hard; equal neighbours tell it."""
    noise = cv2.GaussianBlur(np.random.RandomState(0).randn(400, 400), (0, 0), blur)
    noise = (noise - noise.mean()) / noise.std()
    codes = np.floor(255 * np.clip(0.5 + 0.2 * noise, 0, 1) + 0.5)[..., None].repeat(3, 2)
    for times in (1, 2, 3):
        assert traces(codes.repeat(times, 0).repeat(times, 1)) == ()


@pytest.mark.parametrize("kind, most", [pytest.param("JPEG", 0, marks=pytest.mark.slow), ("WEBP", 8)])
def test_compression_alone_is_hardly_ever_taken_for_rescaling(kind: str, most: int) -> None:
    """4 of 100 with lossy WebP: a rate leaves a count two standard deviations (2 each) above it."""
    flagged = []
    for quality in (60, 75, 85, 90):
        for name in LIBRARY:
            packed = io.BytesIO()
            Image.fromarray(picture(name)).save(packed, kind, quality=quality)
            with Image.open(packed) as opened:
                flagged += [(name, quality)] if traces(np.asarray(opened.convert("RGB"))) else []
    assert len(flagged) <= most, flagged


def test_one_direction_alone_is_named() -> None:
    codes = picture("coffee.png")
    wide = cv2.resize(codes, (codes.shape[1] * 3 // 2, codes.shape[0]), interpolation=cv2.INTER_LINEAR)
    assert [t.along for t in traces(wide)] == ["samples"]
    assert [t.along for t in traces(np.swapaxes(wide, 0, 1))] == ["lines"]
    note = rescaling_note(wide.astype(np.float32) / np.float32(255))
    assert note is not None and "in samples (about 1.50 or 3.00 times)" in note and "in lines" not in note


def drawn(seed: int) -> Codes:
    """Overlapping figures drawn at four times the size and averaged down: native art, smooth edges."""
    random = np.random.RandomState(seed)
    lines, samples, grid = 360, 640, (1, 2, 8, 16)[seed % 4] * 4
    large = Image.new("RGB", (samples * 4, lines * 4), tuple(random.randint(0, 255, 3).tolist()))
    pen = ImageDraw.Draw(large)
    for _ in range(150):
        left, top = random.randint(0, samples * 4 // grid) * grid, random.randint(0, lines * 4 // grid) * grid
        width, height = (int(n) * grid // 2 + 1 for n in random.randint(1, 1 + 800 // grid, 2))
        shape = (pen.ellipse, pen.rectangle, pen.line)[random.randint(3)]
        shape([left, top, left + width, top + height], fill=tuple(random.randint(0, 255, 3).tolist()))
    method = (Image.Resampling.BOX, Image.Resampling.LANCZOS, Image.Resampling.BICUBIC)[seed % 3]
    return np.asarray(large.resize((samples, lines), method))


@pytest.mark.parametrize("seed", range(24))
def test_drawn_art_is_never_flagged(seed: int) -> None:
    assert traces(drawn(seed)) == ()


def test_the_same_art_enlarged_is_flagged() -> None:
    flagged = sum(bool(traces(enlarged(drawn(seed), 1.5, "opencv-linear"))) for seed in range(24))
    assert flagged >= least_of_a_rate(17 / 24, 24)


def pattern(name: str) -> NDArray[np.float64]:
    line, sample = np.mgrid[:360, :640].astype(float)
    random = np.random.RandomState(3)
    kind, _, period = name.partition(" ")
    p = float(period or 1)
    made = {
        "sine": 0.5 + 0.4 * np.cos(2 * np.pi * sample / p),
        "cells": 0.5 + 0.4 * np.sin(2 * np.pi * sample / p) * np.sin(2 * np.pi * line / p),
        "stripes": (sample % p == 0) * 1.0,
        "check": (line + sample) % 2,
        "ramp": sample / 640,
        "dither": (sample / 640 > random.uniform(size=line.shape)) * 1.0,
        "zone": 0.5 + 0.5 * np.cos(np.pi / 640 * ((sample - 320) ** 2 + (line - 180) ** 2)),
        "blocks": random.uniform(size=(45, 80)).repeat(8, 0).repeat(8, 1),
        "even": random.uniform(size=(180, 320)).repeat(2, 0).repeat(2, 1),
        "flat": np.full((360, 640), 0.5),
    }
    codes: NDArray[np.float64] = np.floor(255 * made[kind] + 0.5)[..., None].repeat(3, 2)
    return codes


PATTERNS = ("sine 3", "sine 6", "sine 7.3", "sine 8", "cells 6", "stripes 3", "stripes 6", "check", "ramp")


@pytest.mark.parametrize("name", (*PATTERNS, "dither", "zone", "blocks", "even", "flat"))
def test_charts_and_patterns_are_never_flagged(name: str) -> None:
    codes = pattern(name)
    assert traces(codes) == ()
    assert traces(np.swapaxes(codes, 0, 1)) == ()


def test_tiny_pictures_are_never_flagged() -> None:
    codes = enlarged(picture("grass.png"), 1.5, "opencv-linear")
    assert traces(codes[:127, :127]) == () != traces(codes[:400, :400])
    assert traces(codes[:1, :1]) == ()


def test_a_single_slanted_edge_is_too_little_to_judge() -> None:
    line, sample = np.mgrid[:360, :640].astype(float)
    edge = np.floor(255 / (1 + np.exp(-(sample - 320 - 0.1 * line) / 0.7)) + 0.5)
    assert traces(edge[..., None].repeat(3, 2)) == ()


def test_known_false_alarm_a_smooth_edge_on_a_rational_slope() -> None:
    """Not wanted, but stated: this picture repeats with the period of an enlargement by 5 or 1.25."""
    line, sample = np.mgrid[:360, :640].astype(float)
    edge = np.clip((np.abs((sample - 0.2 * line) % 60 / 60 - 0.5) - 0.25) * 60 + 0.5, 0, 1)
    assert [t.along for t in traces(255 * edge[..., None].repeat(3, 2))] == ["lines"]

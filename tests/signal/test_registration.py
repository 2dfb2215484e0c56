"""Registration finds where captures built by Pillow look, and refuses what is no capture of the frame.

The maps are known by construction (tests/box_captures.py). The limits are the targets of this project:
scale within 2e-4, the middle within 0.05 capture lines and 0.1 samples, under noise of 4 codes and
JPEG. H.264 is FFmpeg's, through PyAV.
"""

from __future__ import annotations

import io
from fractions import Fraction

import cv2
import numpy as np
import pytest
from box_captures import capture, frame, look, luma
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.errors import NotIdentifiable, ShapeError
from scalesim.signal.registration.align import warped
from scalesim.signal.registration.register import Registration, register

SCALE, LINES, SAMPLES = 2e-4, 0.05, 0.1
Span = tuple[float, float]


def misses(found: Registration, down: Span, across: Span, size: tuple[int, int]) -> tuple[float, ...]:
    """Return errors of both scales, and of the middle in capture lines and samples."""
    middle = [
        (look(count / 2) - (span[0] * count / 2 + span[1])) / span[0]
        for look, span, count in zip((found.lines, found.samples), (down, across), size, strict=True)
    ]
    return found.lines.scale / down[0] - 1, found.samples.scale / across[0] - 1, *middle


def check(found: Registration, down: Span, across: Span, size: tuple[int, int]) -> None:
    """Assert the targets, and that the stated errors are no smaller than a quarter of what was missed."""
    lines_scale, samples_scale, line, sample = misses(found, down, across, size)
    assert abs(lines_scale) < SCALE and abs(samples_scale) < SCALE
    assert abs(line) < LINES and abs(sample) < SAMPLES
    assert abs(line * down[0]) < 4 * found.error_lines and abs(sample * across[0]) < 4 * found.error_samples
    assert found.mirrored == ""


@pytest.mark.parametrize(
    ("name", "lines", "samples", "kernel"),
    [
        ("kettle_crew", 240, 720, "box"),
        ("kettle_crew", 720, 1280, "lanczos"),
        ("moss_tower", 480, 720, "triangle"),
        ("deepvault_corridor", 240, 720, "box"),
        ("astronaut", 240, 640, "box"),
    ],
)
def test_maps_of_a_poor_capture(name: str, lines: int, samples: int, kernel: str) -> None:
    source = frame(name)
    down = look(source.shape[0], lines, 1.0, 2.3)
    across = look(source.shape[1], samples, 1.03, -7.4)
    shown = capture(
        *(source, lines, samples, down, across),
        **{"kernel": kernel, "gain": 0.85, "lift": 0.03, "gamma": 1.1, "blur": 0.8, "noise": 4, "jpeg": 75},
    )
    check(register(luma(shown), luma(source)), down, across, (lines, samples))


@pytest.mark.parametrize("zoom", [(0.933, 0.9), (1.333, 1.0), (0.8, 0.8)])
def test_crops_and_smaller_pictures(zoom: tuple[float, float]) -> None:
    """8 lines of 240 and 5 % of the width cut on each side; a letterbox; a picture shrunk in its raster."""
    source = frame("kettle_crew")
    down, across = look(720, 240, zoom[0], 0.4), look(1280, 720, zoom[1], 3.0)
    shown = capture(source, 240, 720, down, across, gain=1.1, noise=2, jpeg=85)
    found = register(luma(shown), luma(source))
    check(found, down, across, (240, 720))
    top = max(0.0, down[1] / 720)
    assert found.crop.top == pytest.approx(top, abs=1e-3)
    assert found.crop.right == pytest.approx(min(1.0, (across[0] * 720 + across[1]) / 1280), abs=1e-3)


def test_h264() -> None:
    source = frame("kettle_crew")
    down, across = look(720, 480, 1.0, -3.7), look(1280, 720, 0.98, 5.0)
    shown = through_h264(capture(source, 480, 720, down, across, noise=2))
    check(register(luma(shown), luma(source)), down, across, (480, 720))


def through_h264(picture: NDArray) -> NDArray:
    """Return the last of four equal frames after libx264 at crf 23, 4:2:0."""
    import av

    held = io.BytesIO()
    with av.open(held, "w", format="matroska") as out:
        stream = out.add_stream("libx264", rate=Fraction(60), options={"crf": "23", "preset": "veryfast"})
        stream.height, stream.width, stream.pix_fmt = (*picture.shape[:2], "yuv420p")
        for _ in range(4):
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        out.mux(stream.encode())
    held.seek(0)
    with av.open(held) as read:
        return [f.to_ndarray(format="rgb24") for f in read.decode(video=0)][-1]


def test_chart_of_random_cells() -> None:
    """Rows of 32 random cells: no smooth structure down the picture at all."""
    rng = np.random.RandomState(3)
    cells = np.kron(rng.randint(0, 2, (720, 32)), np.ones((1, 40))) * 190 + 30
    source = np.repeat(cells[..., None], 3, axis=2).astype(np.uint8)
    down, across = look(720, 240, 1.0, 1.2), look(1280, 720, 1.02, 4.0)
    shown = capture(source, 240, 720, down, across, noise=4, jpeg=75)
    check(register(luma(shown), luma(source)), down, across, (240, 720))


def test_an_overlay_does_not_pull() -> None:
    source = frame("deepvault_corridor")
    down, across = look(1080, 480, 1.0, 1.5), look(1920, 720, 1.0, 0.0)
    shown = capture(source, 480, 720, down, across, noise=2, jpeg=85).copy()
    shown[40:140, 60:360] = 16
    shown[60:120, 80:340:7] = 235
    check(register(luma(shown), luma(source)), down, across, (480, 720))


def test_stated_errors_match_what_is_missed() -> None:
    """Over shifts and noise the rms of miss over stated error is near 1: neither boast nor excuse."""
    source = frame("kettle_crew")
    ratios = []
    for seed in range(4):
        down, across = look(720, 240, 1.0, seed * 0.37), look(1280, 720, 1.0, seed * 0.61)
        shown = capture(source, 240, 720, down, across, noise=4, jpeg=75, seed=seed)
        found = register(luma(shown), luma(source))
        _, _, line, sample = misses(found, down, across, (240, 720))
        ratios.append((line * down[0] / found.error_lines, sample * across[0] / found.error_samples))
    rms = np.sqrt(np.mean(np.square(ratios), axis=0))
    assert np.all(rms > 0.1) and np.all(rms < 2)


def test_gain_and_lift() -> None:
    source = frame("deepvault_corridor")
    down, across = look(1080, 240), look(1920, 720)
    shown = capture(source, 240, 720, down, across, gain=0.84, lift=0.05, noise=2)
    found = register(luma(shown), luma(source))
    assert found.gain == pytest.approx(0.84, abs=0.01) and found.lift == pytest.approx(0.05, abs=0.004)


def test_lines_hint_reaches_where_the_search_does_not() -> None:
    """The whole source on a third of the capture's lines: three times the scale its line count suggests."""
    source = frame("kettle_crew")
    down, across = (4.5, -750.0), look(1280, 720)
    shown = capture(source, 480, 720, down, across, noise=2)
    check(register(luma(shown), luma(source), lines_hint=160), down, across, (480, 720))
    with pytest.raises(NotIdentifiable):
        register(luma(shown), luma(source))


def test_a_told_start_gives_the_same() -> None:
    source = frame("moss_tower")
    down, across = look(720, 240, 1.0, 0.7), look(1280, 720, 1.0, 1.0)
    shown = luma(capture(source, 240, 720, down, across, noise=2))
    found = register(shown, luma(source), start=(Affine(3.0, 0.0), Affine(1280 / 720, 0.0)))
    check(found, down, across, (240, 720))
    astray = register(shown, luma(source), start=(Affine(3.0, 90.0), Affine(1280 / 720, 200.0)))
    check(astray, down, across, (240, 720))


def test_source_drawn_where_the_capture_shows_it() -> None:
    """It equals Pillow's own drawing to 2 codes rms."""
    source = frame("astronaut")
    down, across = look(720, 240, 1.0, 3.3), look(1280, 720, 0.95, 0.0)
    shown = luma(capture(source, 240, 720, down, across, kernel="lanczos"))
    found = register(shown, luma(source))
    drawn = warped(luma(source), found.lines, found.samples, shown.shape)
    inner = (slice(8, -8), slice(8, -8))
    assert np.sqrt(np.mean((drawn - shown)[inner] ** 2)) < 2 / 255
    wrong = np.roll(drawn, 1, axis=0)
    assert np.sqrt(np.mean((wrong - shown)[inner] ** 2)) > 4 / 255


@pytest.mark.parametrize("mirrored", ["samples", "both"])
def test_mirrored_captures_are_named(mirrored: str) -> None:
    source = frame("kettle_crew")
    down, across = look(720, 240, 1.0, 1.5), look(1280, 720, 1.0, -4.0)
    shown = luma(capture(source, 240, 720, down, across, noise=2))
    swap = {"samples": (1,), "both": (0, 1)}[mirrored]
    found = register(np.flip(shown, swap), luma(source))
    assert found.mirrored == mirrored
    for axis, map_, span, count in ((0, found.lines, down, 240), (1, found.samples, across, 720)):
        here = 100.0
        there = count - here if axis in swap else here
        assert map_(here) == pytest.approx(span[0] * there + span[1], abs=0.1 * span[0])


@pytest.mark.parametrize("degrees", [0.3, -1.0])
def test_turned_captures_are_refused(degrees: float) -> None:
    """Turned by OpenCV's warpAffine about the middle of the source."""
    source = frame("kettle_crew")
    turned = cv2.warpAffine(source, cv2.getRotationMatrix2D((640, 360), degrees, 1), (1280, 720))
    shown = luma(capture(turned, 480, 720, look(720, 480), look(1280, 720), noise=2))
    with pytest.raises(NotIdentifiable, match=r"is turned by .* line-locked"):
        register(shown, luma(source))


def test_a_hair_of_rotation_passes() -> None:
    source = frame("kettle_crew")
    turned = cv2.warpAffine(source, cv2.getRotationMatrix2D((640, 360), 0.1, 1), (1280, 720))
    shown = luma(capture(turned, 480, 720, look(720, 480), look(1280, 720), noise=2))
    # OpenCV turns counter-clockwise for positive angles (its documentation): lines rise to the right
    assert abs(register(shown, luma(source)).rotation_deg) == pytest.approx(0.1, abs=0.04)


@pytest.mark.parametrize(("shown", "source"), [("moss_tower", "kettle_crew"), ("coffee", "pocket_orchard")])
def test_another_frame_is_refused(shown: str, source: str) -> None:
    picture = frame(shown)
    other = luma(capture(picture, 480, 720, look(picture.shape[0], 480), look(picture.shape[1], 720)))
    with pytest.raises(NotIdentifiable, match=r"another frame|is turned"):
        register(other, luma(frame(source)))


def test_what_cannot_be_registered() -> None:
    source = luma(frame("kettle_crew"))
    flat = np.full((240, 720), 0.4, np.float32)
    with pytest.raises(NotIdentifiable, match="almost flat"):
        register(flat + np.random.RandomState(0).standard_normal(flat.shape).astype(np.float32) / 255, source)
    with pytest.raises(ShapeError, match="at least 32"):
        register(source[:20], source)
    broken = source.copy()
    broken[5, 5] = np.nan
    with pytest.raises(ShapeError, match="not finite"):
        register(broken, source)


def test_the_targets_notice_a_shift() -> None:
    """A capture a tenth of a line off, or stretched by 1/1000, fails the check."""
    source = frame("kettle_crew")
    down, across = look(720, 240), look(1280, 720)
    for off in (look(720, 240, 1.0, 0.1), look(720, 240, 1.001)):
        found = register(luma(capture(source, 240, 720, off, across)), luma(source))
        with pytest.raises(AssertionError):
            check(found, down, across, (240, 720))

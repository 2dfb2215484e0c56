"""`flicker-filter`, `interlace` and `line-drop` against FFmpeg, and the field order against a second program.

Sources: the FFmpeg 9.0.2 program inside imageio-ffmpeg 0.8.1 (PyPI), raw 8-bit grey frames by pipe
through its ``interlace`` filter; its low-pass as read in FFmpeg's vf_tinterlace.c:

- linear: (a + 2b + c + 1) >> 2, so a remainder of 2/4 is rounded down where ours rounds up;
- complex: (-1, 2, 6, 2, -1, + 4) >> 3 and then a clamp, if above + below > 2 line the result may not
  fall below the line, else not exceed it;
- at the border it works within one field: lines 0, 1 and the last two (of the complex one, 0 to 3 and
  the last four) put themselves for lines that are missing. Ours replicates. They are left out.

Second programs: the ``idet`` filter of FFmpeg 8.1.2 inside PyAV 18.1.0 (PyPI), which judges by itself
which field of a woven frame is the earlier; GStreamer's ``interlace`` where gst-launch-1.0 exists.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path

import av
import imageio_ffmpeg
import numpy as np
import pytest
from external.chains import Array, chosen_lines

from scalesim.chain import Chain
from scalesim.core.picture import Picture, weave
from scalesim.core.raster import Raster

LINES, SAMPLES = 48, 64
LEFT_OUT = {"linear": 2, "complex": 4, "off": 0}


def clip(count: int = 6, seed: int = 0) -> Array:
    """Return distinct 8-bit grey frames, (frames, lines, samples)."""
    return np.random.RandomState(seed).randint(0, 256, (count, LINES, SAMPLES)).astype(np.uint8)


def by_ffmpeg(frames: Array, filters: str, lines: int = LINES) -> Array:
    """Return the frames after an FFmpeg filter graph, grey 8 bits in and out."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-threads", "1", "-f", "rawvideo"]
    command += ["-pix_fmt", "gray", "-s", f"{frames.shape[2]}x{frames.shape[1]}", "-r", "60", "-i", "-"]
    command += ["-vf", filters, "-f", "rawvideo", "-pix_fmt", "gray", "-"]
    done = subprocess.run(command, input=frames.tobytes(), capture_output=True, check=True, timeout=30)
    return np.frombuffer(done.stdout, dtype=np.uint8).reshape(-1, lines, frames.shape[2])


def by_chain(frames: Array, text: str) -> Array:
    """Return the woven frames of a chain that ends in fields, in 8-bit codes, not rounded."""
    raster = Raster(*frames.shape[1:])
    pictures = [
        Picture(np.repeat(frame[:, :, None] / 255.0, 3, axis=2), raster, Fraction(k, 60))
        for k, frame in enumerate(frames)
    ]
    fields = list(Chain(text).run(pictures))
    pairs = zip(fields[::2], fields[1::2], strict=True)
    woven = [weave([a.values, b.values], [f.parity for f in a.raster.fields]) for a, b in pairs]
    return 255.0 * np.stack(woven)[..., 0]


def rounded_like_linear(values: Array) -> Array:
    """Return floor(v + 1/4): (s + 1) >> 2 of the whole number s = 4 v."""
    return np.floor(values + 0.25 + 1e-6).astype(int)


def clamped_like_complex(values: Array, frames: Array) -> Array:
    """Return ours rounded, then held to the line's own value on the side FFmpeg does."""
    out = np.floor(values + 0.5 + 1e-6)
    padded = np.pad(frames.astype(int), ((0, 0), (1, 1), (0, 0)), mode="edge")
    for parity in (0, 1):
        # top lines come from frames 0, 2, 4 ..., bottom lines from frames 1, 3, 5 ...
        line = frames[parity::2, parity::2].astype(int)
        above, below = padded[parity::2, parity:-2:2], padded[parity::2, parity + 2 :: 2]
        own = out[:, parity::2]
        own[:] = np.where(above + below > 2 * line, np.maximum(own, line), np.minimum(own, line))
    return np.clip(out, 0, 255).astype(int)


def inner(woven: Array, low_pass: str) -> Array:
    """Return the lines the border rules do not touch."""
    border = LEFT_OUT[low_pass]
    return woven[:, border : woven.shape[1] - border]


def test_one_two_one_and_interlace_are_the_linear_low_pass() -> None:
    """FFmpeg interlace=scan=tff:lowpass=linear, equal after its own rounding; by ours within one code."""
    frames = clip()
    theirs = inner(by_ffmpeg(frames, "interlace=scan=tff:lowpass=linear"), "linear")
    ours = inner(by_chain(frames, "flicker-filter taps=1/2/1, interlace"), "linear")
    assert np.array_equal(rounded_like_linear(ours), theirs)
    assert np.max(np.abs(np.floor(ours + 0.5) - theirs)) <= 1


def test_five_taps_and_interlace_are_the_complex_low_pass_before_its_clamp() -> None:
    """FFmpeg interlace=scan=tff:lowpass=complex, equal after its clamp; the clamp is no linear filter."""
    frames = clip()
    theirs = inner(by_ffmpeg(frames, "interlace=scan=tff:lowpass=complex"), "complex")
    ours = by_chain(frames, "flicker-filter taps=-1/2/6/2/-1, interlace")
    assert np.array_equal(inner(clamped_like_complex(ours, frames), "complex"), theirs)
    assert np.max(np.abs(inner(ours, "complex") - theirs)) > 20


@pytest.mark.parametrize(
    "wrong",
    [
        "interlace",
        "flicker-filter taps=1/1/1, interlace",
        "flicker-filter taps=1/6/1, interlace",
        "flicker-filter taps=paired, interlace",
        "interlace, resample lines=24 kernel=linear phase=1/2",
        "flicker-filter taps=1/2/1, interlace first=bottom",
    ],
)
def test_another_filter_or_order_is_caught(wrong: str) -> None:
    """Guard: another filter, one after the fields are made, or the other order differs by tens of codes."""
    frames = clip()
    theirs = inner(by_ffmpeg(frames, "interlace=scan=tff:lowpass=linear"), "linear")
    assert np.max(np.abs(inner(by_chain(frames, wrong), "linear") - theirs)) > 20


@pytest.mark.parametrize(("first", "scan"), [("top", "tff"), ("bottom", "bff")])
def test_field_order(first: str, scan: str) -> None:
    """FFmpeg interlace with lowpass=off: tff takes top lines from frame 2n, bottom ones from 2n + 1."""
    frames = clip()
    ours = by_chain(frames, f"interlace first={first}")
    assert np.array_equal(np.round(ours), by_ffmpeg(frames, f"interlace=scan={scan}:lowpass=off"))
    other = {"tff": "bff", "bff": "tff"}[scan]
    assert not np.array_equal(np.round(ours), by_ffmpeg(frames, f"interlace=scan={other}:lowpass=off"))


def test_field_order_by_gstreamer(tmp_path: Path) -> None:
    """GStreamer interlace field-pattern=1:1 top-field-first=true on the same frames."""
    program = shutil.which("gst-launch-1.0")
    if program is None:
        pytest.skip("gst-launch-1.0 is not on this machine; idet below is the second opinion")
    frames, source, sink = clip(), tmp_path / "in.raw", tmp_path / "out.raw"
    source.write_bytes(frames.tobytes())
    parse = f"rawvideoparse format=gray8 width={SAMPLES} height={LINES} framerate=60/1"
    graph = f"{parse} ! videoconvert ! interlace field-pattern=1:1 top-field-first=true ! videoconvert"
    command = [program, "-q", "filesrc", f"location={source.as_posix()}", "!", *graph.split()]
    command += ["!", "video/x-raw,format=GRAY8", "!", "filesink", f"location={sink.as_posix()}"]
    subprocess.run(command, check=True, timeout=30, capture_output=True)
    theirs = np.frombuffer(sink.read_bytes(), dtype=np.uint8).reshape(-1, LINES, SAMPLES)
    ours = np.round(by_chain(frames, "interlace first=top"))
    assert np.array_equal(ours[: len(theirs)], theirs)


def moving(count: int = 24) -> Array:
    """Return a smooth texture that moves 3 samples a frame: what idet can judge."""
    rough = np.random.RandomState(1).uniform(0, 255, (96, 400))
    kernel = np.hanning(9) / np.hanning(9).sum()
    smooth = np.apply_along_axis(np.convolve, 0, rough, kernel, mode="same")
    smooth = np.apply_along_axis(np.convolve, 1, smooth, kernel, mode="same")
    wide = np.clip(128 + 4 * (smooth - smooth.mean()), 0, 255).astype(np.uint8)
    return np.stack([wide[:, 3 * k : 3 * k + 256] for k in range(count)])


def verdicts(frames: Iterable[Array]) -> list[str]:
    """Return FFmpeg idet's verdict on each frame: its metadata lavfi.idet.single.current_frame."""
    graph, found = av.filter.Graph(), []
    source = graph.add_buffer(width=256, height=96, format="gray", time_base=Fraction(1, 30))
    idet, sink = graph.add("idet"), graph.add("buffersink")
    source.link_to(idet)
    idet.link_to(sink)
    graph.configure()
    for number, grey in enumerate(frames):
        frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(grey), format="gray")
        frame.pts, frame.time_base = number, Fraction(1, 30)
        source.push(frame)
    source.push(None)
    while True:
        try:
            found.append(sink.pull().metadata["lavfi.idet.single.current_frame"])
        except (av.error.EOFError, av.error.BlockingIOError):
            return found


WEAVES: dict[str, Callable[[Array], Array]] = {
    "tff": lambda frames: by_chain(frames, "interlace first=top"),
    "bff": lambda frames: by_chain(frames, "interlace first=bottom"),
    "progressive": lambda frames: by_chain(np.repeat(frames, 2, axis=0), "interlace first=top"),
}


@pytest.mark.parametrize("verdict", list(WEAVES))
def test_idet_says_which_field_is_first(verdict: str) -> None:
    """FFmpeg idet: a moving clip woven by our interlace, and one whose field pairs are of one moment."""
    woven = WEAVES[verdict](moving()).round().astype(np.uint8)
    assert set(verdicts(woven)) == {verdict}


@pytest.mark.parametrize(("lines", "lines_out"), [(1080, 240), (720, 240), (480, 240), (720, 480)])
def test_line_drop_keeps_the_middle_line_as_ffmpeg_does(lines: int, lines_out: int) -> None:
    """FFmpeg scale=flags=neighbor takes floor((i + 1/2) step): ours at phase = step / 2, not at phase 0."""
    # a line's number in two samples, since one 8-bit sample does not hold 1080
    numbers = np.stack([np.arange(lines) // 256, np.arange(lines) % 256], axis=1)
    frames = np.repeat(numbers[None], 8, axis=2).astype(np.uint8)
    out = by_ffmpeg(frames, f"scale=16:{lines_out}:flags=neighbor", lines_out)[0].astype(int)
    theirs = [int(v) for v in 256 * out[:, 0] + out[:, 15]]
    assert chosen_lines(f"line-drop lines={lines_out} phase={lines}/{2 * lines_out}", lines) == theirs
    assert chosen_lines(f"line-drop lines={lines_out}", lines) != theirs

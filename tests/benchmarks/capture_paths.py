"""Capture paths: what a cheap recorder makes of a box's output, with everything that was done to it known.

Along the line Pillow resizes a float window, OpenCV blurs; the codecs are FFmpeg's through PyAV
(libx264 "veryfast", 4:2:0, field-coded when woven; MJPEG). Down the picture only whole lines move: a
capture that filters between lines cannot be told from the box.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import av
import cv2
import numpy as np
from box_steps import Array
from PIL import Image

WIDTH = 720
SPREAD = 0.15
"""Black put on each side before windows are cut along the line, as a share of the width."""


@dataclass(frozen=True)
class Path:
    """A kind of capture: noise in 8-bit codes, codec with its quality number, frames, and one oddity."""

    sigma: float
    codec: str = ""
    quality: int = 0
    frames: int = 4
    oddity: str = ""


PATHS = {
    "exact": Path(0, frames=1),
    "clean": Path(1),
    "crf23": Path(2, "libx264", 23),
    "mjpeg5": Path(2, "mjpeg", 5),
    "crf30": Path(4, "libx264", 30),
    "crf36": Path(4, "libx264", 36),
    "crf23-one": Path(2, "libx264", 23, 1),
    "mjpeg12-one": Path(4, "mjpeg", 12, 1),
    **{
        oddity: Path(2, "libx264", 23, oddity=oddity)
        for oddity in (
            *("cropped", "too-dark-range", "too-wide-range", "ringing", "line-jitter", "frame-jump"),
            *("tone-dips", "overdriven", "tinted", "hum", "swapped"),
        )
    },
}
"""The usual paths by name; after them crf 23 with one oddity each:

cropped         8 lines and 5 % of the samples cut from each side
too-dark-range  full-range codes squeezed to 16…235 and never expanded
too-wide-range  codes expanded as if they were 16…235: shadows and highlights clip
ringing         an over-sharp low-pass along the line
line-jitter     each line moved along itself by 0.7 samples rms
frame-jump      one frame a whole (field) line lower
tone-dips       six lines 30 % darker
overdriven      gain 1.3 into the clip
tinted          gains of red, green and blue 5 % apart
hum             a slow 3 % brightness wave down the picture, other in each frame
swapped         the fields of a woven frame exchanged
"""


@dataclass(frozen=True)
class Setting:
    """What a capture did: tone, place along the line, and how many raster lines down the picture moved."""

    gain: float
    black: float
    gamma: float
    scale: float
    shift: float
    lines: int


@dataclass(frozen=True, eq=False)
class Capture:
    """Captured frames, each (lines, samples, 3) float32 of 8-bit codes over 255, and their setting."""

    frames: list[Array]
    setting: Setting

    def field_lines(self, relation: str) -> int:
        """Return how many lines of its own field (or of the frame, progressive) a picture moved down."""
        return self.setting.lines if relation == "progressive" else self.setting.lines // 2


def capture(output: Array, kind: str, seed: int, *, fields: bool) -> Capture:
    """Capture a box's output frame (lines, samples, 3); `fields` says it is woven, so moves keep parity."""
    path, rng = PATHS[kind], np.random.RandomState(seed + 7919)
    setting = random_setting(rng, fields, path.oddity)
    plane = np.ascontiguousarray(output[..., 0])
    plane = cv2.GaussianBlur(_along(plane, setting), (7, 1), sigmaX=0.8, sigmaY=0.1)
    if path.oddity == "ringing":
        plane = np.clip(2.2 * plane - 1.2 * cv2.GaussianBlur(plane, (9, 1), sigmaX=1.6, sigmaY=0.1), 0, 1)
    plane = setting.black + setting.gain * np.clip(plane, 0, 1) ** setting.gamma
    frames = [_recorded(plane, setting, path, k, rng, fields) for k in range(path.frames)]
    if path.oddity == "swapped" and fields:
        frames = [np.stack([frame[1::2], frame[0::2]], axis=1).reshape(frame.shape) for frame in frames]
    if path.oddity == "cropped":
        side = WIDTH // 20
        frames = [np.ascontiguousarray(frame[8:-8, side:-side]) for frame in frames]
        setting = replace(setting, lines=setting.lines - 8)
    codes = [np.floor(255 * np.clip(frame, 0, 1) + 0.5).astype(np.uint8) for frame in frames]
    if path.codec:
        codes = through_codec(codes, path.codec, path.quality, fields)
    return Capture([code.astype(np.float32) / np.float32(255) for code in codes], setting)


def random_setting(rng: np.random.RandomState, fields: bool, oddity: str = "") -> Setting:
    """Draw gain, black, gamma, place and lines in the ranges of a badly set recorder."""
    gain, black = float(rng.uniform(0.8, 1.2)), float(rng.uniform(0, 0.05))
    if oddity == "overdriven":
        gain = 1.3
    elif oddity == "too-dark-range":
        gain, black = 219 / 255, 16 / 255
    elif oddity == "too-wide-range":
        gain, black = 255 / 219, -16 / 219
    lines = 2 * int(rng.randint(-4, 5)) if fields else int(rng.randint(-8, 9))
    return Setting(
        gain,
        black,
        float(rng.uniform(0.9, 1.1)),
        float(rng.uniform(0.95, 1.05)),
        float(rng.uniform(-0.02, 0.02)),
        lines,
    )


def _along(plane: Array, setting: Setting) -> Array:
    """Return the plane WIDTH samples wide, scaled about its middle and shifted by shares of the width."""
    samples = plane.shape[1]
    pad = int(SPREAD * samples)
    wide = cv2.copyMakeBorder(plane, 0, 0, pad, pad, cv2.BORDER_CONSTANT, value=0.0)
    left = 0.5 + (-0.5 - setting.shift) / setting.scale
    right = 0.5 + (0.5 - setting.shift) / setting.scale
    box = (pad + left * samples, 0, pad + right * samples, plane.shape[0])
    return np.asarray(Image.fromarray(wide).resize((WIDTH, len(plane)), Image.Resampling.BICUBIC, box=box))


def _recorded(
    plane: Array, setting: Setting, path: Path, number: int, rng: np.random.RandomState, fields: bool
) -> Array:
    """Return one frame (lines, WIDTH, 3): its oddity, its place, and its own noise in luma and colour."""
    lines, down = len(plane), setting.lines
    if path.oddity == "frame-jump" and number == 1:
        down += 2 if fields else 1
    if path.oddity == "line-jitter":
        plane = _jittered(plane, rng)
    spare = 16
    tall = cv2.copyMakeBorder(plane, spare, spare, 0, 0, cv2.BORDER_CONSTANT, value=setting.black)
    moved = tall[spare - down : spare - down + lines].copy()
    if path.oddity == "tone-dips":
        dips = rng.choice(lines, 6, replace=False)
        moved[dips] = 0.7 * moved[dips]
    if path.oddity == "hum":
        wave = np.sin(2 * np.pi * (np.arange(lines) / lines + rng.uniform()))
        moved = moved + 0.03 * wave[:, None]
    gains = np.array([1.05, 1.0, 0.95] if path.oddity == "tinted" else [1.0] * 3)
    noise = rng.normal(0, path.sigma / 255, (*moved.shape, 1))
    colour = rng.normal(0, path.sigma / 510, (*moved.shape, 3))
    return (moved[..., None] * gains + noise + colour).astype(np.float32)


def _jittered(plane: Array, rng: np.random.RandomState) -> Array:
    """Move each line along itself by cv2.remap."""
    shifts = rng.normal(0, 0.7, (len(plane), 1)).astype(np.float32)
    across, down = np.meshgrid(np.arange(plane.shape[1]), np.arange(len(plane)))
    return cv2.remap(
        np.ascontiguousarray(plane, np.float32),
        (across + shifts).astype(np.float32),
        down.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )


def through_codec(codes: Sequence[np.ndarray], codec: str, quality: int, fields: bool) -> list[np.ndarray]:
    """Encode 8-bit frames (lines, samples, 3) in memory and return them decoded."""
    buffer = io.BytesIO()
    with av.open(buffer, "w", format="matroska") as out:
        stream: Any = out.add_stream(codec, rate=30)
        stream.height, stream.width = codes[0].shape[:2]
        stream.codec_context.thread_count = 1
        if codec == "mjpeg":
            stream.pix_fmt, stream.options = "yuvj420p", {"qmin": str(quality), "qmax": str(quality)}
        else:
            stream.pix_fmt = "yuv420p"
            stream.options = {"crf": str(quality), "preset": "veryfast"}
            if fields:
                stream.options = {**stream.options, "flags": "+ildct+ilme", "x264-params": "tff=1"}
        for code in codes:
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(code), format="rgb24")
            out.mux(stream.encode(frame))
        out.mux(stream.encode())
    buffer.seek(0)
    with av.open(buffer, "r") as back:
        return [frame.to_ndarray(format="rgb24") for frame in back.decode(video=0)]

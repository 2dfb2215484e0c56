"""The vertical steps black boxes are made of: each one call of a general library, and its matrix by probing.

Sources: OpenCV (opencv-python-headless 5.0.0), Pillow 13.0.0, FFmpeg 9.0.2 inside imageio-ffmpeg 0.8.1.
No formula of this project is used: what a call really does is asked of the call itself, one impulse per
source line on a grey pedestal, so that negative lobes and border rules are in the answer. A picture is
here (lines, samples) float32, 0…1.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import imageio_ffmpeg
import numpy as np
from numpy.typing import NDArray
from PIL import Image

Array = NDArray[Any]
Matrix = NDArray[np.float64]

MARGIN = 16
"""Lines repeated above and below before windows are cut, so that a window may begin outside."""
PEDESTAL, IMPULSE = 0.25, 0.5


@dataclass(frozen=True)
class Step:
    """One library call on lines, `name` for reading; every column of samples is treated alike."""

    name: str
    run: Callable[[Array], Array]


def probed(step: Step, lines: int) -> Matrix:
    """Return the matrix (lines out, lines) of a step: sample j carries an impulse on line j.

    A clamped filter gives its linear part, since a lone bright line on a pedestal meets no clamp.
    """
    flat = np.full((lines, lines), PEDESTAL, np.float32)
    change = step.run(flat + IMPULSE * np.eye(lines, dtype=np.float32)).astype(float) - step.run(flat)
    return np.asarray(change / IMPULSE)


def rows(start: int, pitch: int) -> Step:
    """Keep every `pitch`-th line, from `start`."""
    return Step(f"lines {start}::{pitch}", lambda picture: np.ascontiguousarray(picture[start::pitch]))


def window(top: int, lines: int) -> Step:
    """Cut `lines` lines from `top`, which may lie up to MARGIN outside: border lines are repeated."""

    def run(picture: Array) -> Array:
        wide = cv2.copyMakeBorder(picture, MARGIN, MARGIN, 0, 0, cv2.BORDER_REPLICATE)
        return np.ascontiguousarray(wide[MARGIN + top : MARGIN + top + lines])

    return Step(f"window {top}+{lines}", run)


def black_bars(above: int, below: int) -> Step:
    """Put black lines above and below."""
    return Step(
        f"bars {above}/{below}",
        lambda picture: cv2.copyMakeBorder(picture, above, below, 0, 0, cv2.BORDER_CONSTANT, value=0.0),
    )


def opencv(lines: int, how: int) -> Step:
    """cv2.resize to `lines` lines; `how` is one of its INTER_ constants."""
    return Step(
        f"cv2.resize {lines} {how}",
        lambda picture: cv2.resize(
            np.ascontiguousarray(picture), (picture.shape[1], lines), interpolation=how
        ),
    )


def opencv_at(lines: int, pitch: float, first: float, how: int) -> Step:
    """cv2.warpAffine: output line r is taken `how` at first + r pitch, where line centres are whole."""

    def run(picture: Array) -> Array:
        shape = np.array([[1.0, 0.0, 0.0], [0.0, pitch, first]])
        flags = how | cv2.WARP_INVERSE_MAP
        size = (picture.shape[1], lines)
        return cv2.warpAffine(picture, shape, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)

    return Step(f"cv2.warpAffine {pitch:g} {first:g} {how}", run)


def opencv_area_at(lines: int, top: int, span: int, parts: int) -> Step:
    """Exact area mean from a broken line: each line cut in `parts` equal ones, window, cv2 INTER_AREA.

    `top` and `span` (the window's height) count parts of a line.
    """

    def run(picture: Array) -> Array:
        wide = cv2.copyMakeBorder(picture, MARGIN, MARGIN, 0, 0, cv2.BORDER_REPLICATE)
        size = (picture.shape[1], parts * wide.shape[0])
        fine = cv2.resize(wide, size, interpolation=cv2.INTER_NEAREST)
        cut = np.ascontiguousarray(fine[parts * MARGIN + top : parts * MARGIN + top + span])
        return cv2.resize(cut, (picture.shape[1], lines), interpolation=cv2.INTER_AREA)

    return Step(f"cv2 INTER_AREA {lines} from {top}/{parts}", run)


def pillow(lines: int, how: Image.Resampling, top: float, span: float) -> Step:
    """Pillow's resize of the float window [top, top + span), on 32-bit float pictures."""

    def run(picture: Array) -> Array:
        wide = cv2.copyMakeBorder(picture, MARGIN, MARGIN, 0, 0, cv2.BORDER_REPLICATE)
        samples = picture.shape[1]
        box = (0, MARGIN + top, samples, MARGIN + top + span)
        return np.asarray(Image.fromarray(wide).resize((samples, lines), how, box=box))

    return Step(f"Pillow {how.name} {lines} from {top:g}", run)


def taps(weights: Sequence[float], anchor: int | None = None) -> Step:
    """cv2.filter2D down the lines with these weights, normalised; weight `anchor` is the line's own."""
    column = np.array(weights, np.float32)[:, None] / np.float32(sum(weights))
    at = len(weights) // 2 if anchor is None else anchor
    return Step(
        "cv2.filter2D " + "/".join(f"{w:g}" for w in weights),
        lambda picture: cv2.filter2D(picture, -1, column, anchor=(0, at), borderType=cv2.BORDER_REPLICATE),
    )


def gaussian(sigma: float) -> Step:
    """cv2.GaussianBlur down the lines."""
    size = (1, 2 * int(np.ceil(4 * sigma)) + 1)
    return Step(
        f"cv2.GaussianBlur {sigma:g}",
        lambda picture: cv2.GaussianBlur(
            picture, size, sigmaX=0.1, sigmaY=sigma, borderType=cv2.BORDER_REPLICATE
        ),
    )


def ffmpeg_scale(lines: int, flags: str) -> Step:
    """FFmpeg's scale filter on 16-bit grey."""

    def run(picture: Array) -> Array:
        codes = np.clip(np.floor(65535.0 * picture + 0.5), 0, 65535).astype("<u2")
        graph = f"scale={picture.shape[1]}:{lines}:flags={flags}+accurate_rnd"
        return _ffmpeg(codes.tobytes(), picture.shape, "gray16le", graph, lines) / np.float32(65535)

    return Step(f"FFmpeg scale {flags} {lines}", run)


def ffmpeg_interlace(graph: str) -> Step:
    """An FFmpeg interlacing filter on two equal frames, 12 bits; the woven frame comes out.

    It takes no deep grey: as such its input would be converted and moved by some codes.
    """

    def run(picture: Array) -> Array:
        luma = np.clip(np.floor(4095.0 * picture + 0.5), 0, 4095).astype("<u2")
        frame = luma.tobytes() + 2 * np.full_like(luma, 2048).tobytes()
        woven = _ffmpeg(2 * frame, picture.shape, "yuv444p12le", graph, picture.shape[0])
        return woven / np.float32(4095)

    return Step(f"FFmpeg {graph}", run)


def _ffmpeg(data: bytes, shape: tuple[int, ...], pixels: str, graph: str, lines: int) -> Array:
    """Return the first plane of the first frame of a filter graph's output."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-threads", "1", "-f", "rawvideo"]
    command += ["-pix_fmt", pixels, "-s", f"{shape[1]}x{shape[0]}", "-r", "60", "-i", "-", "-vf", graph]
    command += ["-f", "rawvideo", "-pix_fmt", pixels, "-"]
    done = subprocess.run(command, input=data, capture_output=True, check=True, timeout=60)
    plane = np.frombuffer(done.stdout, "<u2", count=lines * shape[1])
    return plane.reshape(lines, shape[1]).astype(np.float32)


def woven(top: Step, bottom: Step) -> Step:
    """Weave two steps' outputs: `top` gives the even lines, `bottom` the odd ones."""

    def run(picture: Array) -> Array:
        fields = top.run(picture), bottom.run(picture)
        return np.stack(fields, axis=1).reshape(-1, picture.shape[1])

    return Step(f"weave ({top.name}) ({bottom.name})", run)


def same_in_both(lines: int) -> Step:
    """Both fields carry the same `lines` lines: every line twice in the woven frame (cv2 INTER_NEAREST)."""
    return opencv(2 * lines, cv2.INTER_NEAREST)


@lru_cache(maxsize=4)
def hann(count: int) -> tuple[float, ...]:
    """A raised-cosine window of `count` lines by cv2.createHanningWindow, its zero ends left out."""
    line = cv2.createHanningWindow((count + 2, 3), cv2.CV_64F)[1]
    return tuple(float(w) for w in line[1:-1] / line.sum())

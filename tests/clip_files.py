"""Clips for the tests of reading and writing: made or judged by the FFmpeg program of imageio-ffmpeg (PyPI).

That program is another build (9.0.2) than the library inside PyAV through which the project reads.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import imageio_ffmpeg
import numpy as np
from numpy.typing import NDArray

ALONE = ("-threads", "1")
"""Of an encoder: with several threads x264 codes the same pictures otherwise now and then."""


def ffmpeg(*arguments: str, data: bytes | None = None) -> str:
    """Run the program, quietly unless told otherwise; return what it prints on its error channel."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-y", "-hide_banner", "-nostdin", "-threads", "1", *arguments]
    if data is not None:
        command.remove("-nostdin")
    done = subprocess.run(command, input=data, capture_output=True, check=True, timeout=60)
    return done.stderr.decode(errors="replace")


def encoded(
    path: Path, frames: NDArray, pixels: str, size: tuple[int, int], *options: str, rate: str = "60"
) -> Path:
    """Write raw codes (any shape, in FFmpeg's plane order) of (lines, samples) `size` as a clip."""
    source = ["-f", "rawvideo", "-pix_fmt", pixels, "-s", f"{size[1]}x{size[0]}", "-r", rate, "-i", "-"]
    ffmpeg("-v", "error", *source, *ALONE, *options, str(path), data=np.ascontiguousarray(frames).tobytes())
    return path


def pattern(path: Path, seconds: float, *options: str, size: str = "160x120", rate: str = "60") -> Path:
    """Write FFmpeg's moving test picture as a clip."""
    source = f"testsrc2=s={size}:r={rate}:d={seconds}"
    ffmpeg("-v", "error", "-f", "lavfi", "-i", source, *ALONE, *options, str(path))
    return path


def idet(path: Path) -> dict[str, int]:
    """Return FFmpeg idet's counts over a clip: TFF, BFF, Progressive, Undetermined (many-frame verdicts)."""
    report = ffmpeg("-i", str(path), "-vf", "idet", "-f", "null", "-")
    # It reports once for every time its graph was set up, and the first set-up saw no frames.
    counts: dict[str, int] = {}
    for line in report.splitlines():
        if "Multi frame detection" in line:
            for name, count in re.findall(r"(\w+):\s*(\d+)", line):
                counts[name] = counts.get(name, 0) + int(count)
    return counts


def texture(lines: int = 96, samples: int = 400, seed: int = 1) -> NDArray[np.uint8]:
    """Return a smooth random grey texture, uint8 (lines, samples, 3): what idet can judge."""
    rough = np.random.RandomState(seed).uniform(0, 255, (lines, samples))
    kernel = np.hanning(9) / np.hanning(9).sum()
    for axis in (0, 1):
        rough = np.apply_along_axis(np.convolve, axis, rough, kernel, mode="same")
    grey = np.clip(128 + 4 * (rough - rough.mean()), 0, 255).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


def moving(count: int, *, step: int = 3, width: int = 256) -> list[NDArray[np.uint8]]:
    """Return `count` pictures of a texture that moves `step` samples from one to the next."""
    wide = texture(samples=width + step * count)
    return [wide[:, step * k : step * k + width] for k in range(count)]


def woven(pictures: list[NDArray[np.uint8]], order: str | None) -> list[NDArray[np.uint8]]:
    """Return frames of pairs: the earlier picture's even (top) or odd (bottom) lines, the later's others."""
    if order is None:
        return pictures
    first = 0 if order == "top" else 1
    frames = []
    for early, late in zip(pictures[::2], pictures[1::2], strict=True):
        frame = late.copy()
        frame[first::2] = early[first::2]
        frames.append(frame)
    return frames

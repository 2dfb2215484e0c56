"""Captures that are torn, repeated and dropped on purpose, made with NumPy, OpenCV and PyAV alone.

Nothing here imports the project: frames come out of a clip file of the chart, the truth is what the schedule
says. Frames are counted from 0; a tear at line y shows the earlier source frame above it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np

Luma = np.ndarray[Any, np.dtype[np.uint8]]


@dataclass
class Truth:
    """What a capture holds: frame -> fact."""

    shown: list[tuple[int, int | None, float]] = field(default_factory=list)
    """Of every frame: upper source frame, lower one (None when whole), where it is torn, of the height."""

    @property
    def torn(self) -> dict[int, float]:
        """Frame -> where, as a share of the height."""
        return {k: y for k, (_, lower, y) in enumerate(self.shown) if lower is not None}

    @property
    def repeated(self) -> list[int]:
        """Frames all of whose lines show what they showed in the frame before."""
        return [k for k in range(1, len(self.shown)) if self.shown[k] == self.shown[k - 1]]

    @property
    def dropped(self) -> list[int]:
        """Source frames between the first and the last that no line shows."""
        seen = {number for upper, lower, _ in self.shown for number in (upper, lower) if number is not None}
        return [number for number in range(min(seen), max(seen) + 1) if number not in seen]


def schedule(
    frames: int,
    seed: int,
    *,
    repeat: float = 0.03,
    drop: float = 0.03,
    tear: float = 0.06,
    edge: float = 0.02,
) -> Truth:
    """Return a schedule of so many captured frames; `edge` keeps tears away from the picture's edges."""
    rng = np.random.RandomState(seed)
    truth, number = Truth(), 0
    for _ in range(frames):
        chance = rng.uniform()
        if chance < tear:
            truth.shown.append((number, number + 1, float(rng.uniform(edge, 1 - edge))))
            number += int(rng.randint(1, 3))
            continue
        if truth.shown and chance < tear + repeat and truth.shown[-1][1] is None:
            truth.shown.append(truth.shown[-1])
            continue
        if chance > 1 - drop:
            number += int(rng.randint(1, 4))
        truth.shown.append((number, None, 0.0))
        number += 1
    return truth


def luma_of(path: Path) -> Iterator[Luma]:
    """Yield the luma of a clip's frames, as stored."""
    with av.open(str(path)) as container:
        container.streams.video[0].thread_type = "AUTO"
        for frame in container.decode(video=0):
            plane = frame.planes[0]
            yield np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[: frame.height, : frame.width]


def captured(source: Iterable[Luma], truth: Truth) -> Iterator[Luma]:
    """Yield the captured frames of a schedule; source frames are taken once, in their order."""
    held: dict[int, Luma] = {}
    frames = enumerate(source)
    for upper, lower, share in truth.shown:
        while max(held, default=-1) < (upper if lower is None else lower):
            number, frame = next(frames)
            held[number] = frame
        held = {number: frame for number, frame in held.items() if number >= upper - 1}
        if lower is None:
            yield held[upper]
            continue
        at = share * held[upper].shape[0]
        frame = held[upper].copy()
        frame[int(at) :] = held[lower][int(at) :]
        part = at - int(at)  # the line in which it lies shows both, by their share of it
        frame[int(at)] = np.round(part * held[upper][int(at)] + (1 - part) * held[lower][int(at)])
        yield frame


Box = Callable[[Luma], Luma]


def averaged(lines: int, samples: int) -> Box:
    """Return a box that averages areas."""
    return lambda luma: cv2.resize(luma, (samples, lines), interpolation=cv2.INTER_AREA)


def dropped(lines: int, samples: int) -> Box:
    """Return a box that keeps one line in so many, and averages along the line."""

    def box(luma: Luma) -> Luma:
        kept = luma[(np.arange(lines) * luma.shape[0] // lines)]
        return np.asarray(cv2.resize(kept, (samples, lines), interpolation=cv2.INTER_AREA))

    return box


def cropped(share: float, lines: int, samples: int) -> Box:
    """Return a box that cuts so much off each side and averages what is left."""

    def box(luma: Luma) -> Luma:
        down, along = (round(share * size) for size in luma.shape)
        kept = luma[down : luma.shape[0] - down, along : luma.shape[1] - along]
        return np.asarray(cv2.resize(kept, (samples, lines), interpolation=cv2.INTER_AREA))

    return box


def blurred(sigma: float, gain: float = 1.0, gamma: float = 1.0, noise: float = 0.0, seed: int = 0) -> Box:
    """Return a box that blurs along the line (true Gaussian), changes levels and adds noise."""
    rng = np.random.RandomState(seed)
    bank = rng.normal(0, noise, (512, 2048)).astype(np.float32) if noise else None

    def box(luma: Luma) -> Luma:
        values = np.clip((luma.astype(np.float32) - 16) / 219, 0, 1)
        if sigma:
            values = cv2.GaussianBlur(values, (0, 0), sigmaX=sigma, sigmaY=1e-3)
        codes = 16 + 219 * gain * values**gamma
        if bank is not None:
            at = rng.randint(0, 256)
            codes += bank[at : at + codes.shape[0], : codes.shape[1]]
        return np.clip(codes + 0.5, 0, 255).astype(np.uint8)

    return box


def in_turn(*boxes: Box) -> Box:
    """Return boxes in series."""

    def box(luma: Luma) -> Luma:
        for each in boxes:
            luma = each(luma)
        return luma

    return box


def encode(
    path: Path, frames: Iterable[Luma], *, crf: int, rate: Fraction = Fraction(60), interlaced: bool = False
) -> Path:
    """Write frames of luma as H.264 4:2:0."""
    with av.open(str(path), "w") as container:
        stream: Any = None
        for count, luma in enumerate(frames):
            if stream is None:
                stream = container.add_stream("libx264", rate=rate)
                stream.height, stream.width, stream.pix_fmt = luma.shape[0], luma.shape[1], "yuv420p"
                stream.options = {"crf": str(crf), "preset": "veryfast"}
                if interlaced:
                    stream.options |= {"x264-params": "tff=1"}
            frame = av.VideoFrame(luma.shape[1], luma.shape[0], "yuv420p")
            for plane, values in zip(
                frame.planes,
                (luma, *2 * (np.full((luma.shape[0] // 2, luma.shape[1] // 2), 128),)),
                strict=True,
            ):
                rows = np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)
                rows[: values.shape[0], : values.shape[1]] = values
            frame.pts, frame.time_base = count, 1 / rate
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path

"""Films of the camera model as files of any codec, depth, curve and turn: HDR, log, 4K, phones.

A film's exposures repeat (a field rate of 60 a second filmed at 60, 50, 30 or 24), so that a few of them make
one of any length; every frame has one of several draws of the sensor's noise, and the hand moves in whole
pixels. Curves are colour-science's (ITU-R BT.709, BT.2100), the files FFmpeg's.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import av
import colour.models
import numpy as np
from glass_camera import Camera, exposed, sensed
from glass_tube import Tube

RATE = 60
"""Fields a second of the tubes here."""
REFERENCE = {"pq": 400.0, "hlg": 0.5}
"""What the sensor's white becomes: cd/m2 on the display of a PQ film; of HLG's greatest scene light."""
KR_KB = {"bt709": (0.2126, 0.0722), "bt2020": (0.2627, 0.0593)}
"""ITU-R BT.709-6, item 3.2, and BT.2020-2, table 4."""
TAGS = {"bt709": (1, 1, 1), "pq": (9, 16, 9), "hlg": (9, 18, 9), "": (2, 2, 2)}
"""Primaries, transfer and matrix of ITU-T H.273; 2 is "unspecified"."""


@dataclass(frozen=True)
class Coded:
    """How a film is written.

    curve: "bt709", "pq", "hlg", "log" (a generic one, black at 0.09, white at 0.6) or "flat" (BT.709 with
    blacks lifted and whites lowered); tags: of `TAGS`; turn: degrees counterclockwise that the file asks for;
    uneven: every fifth picture left out; gain: of the sensor's light before the curve
    """

    curve: str = "bt709"
    tags: str = "bt709"
    codec: str = "libx264"
    bits: int = 8
    crf: int = 20
    fps: float = 60
    frames: int = 26
    turn: int = 0
    uneven: bool = False
    gain: float = 1.0


HDR = {curve: Coded(curve, curve, "libx265", 10) for curve in ("pq", "hlg")}
LOG = Coded("log", "")
FLAT = Coded("flat", "bt709")


def encoded(light: np.ndarray, curve: str) -> np.ndarray:
    """Return R'G'B' 0..1 of the sensor's light 0..1."""
    return np.interp(np.sqrt(np.clip(light, 0, 1)), *_table(curve)).astype(np.float32)


@cache
def _table(curve: str) -> tuple[np.ndarray, np.ndarray]:
    root = np.linspace(0, 1, 4001)
    light = root**2
    if curve == "pq":
        greatest = colour.models.ootf_inverse_BT2100_PQ(REFERENCE["pq"])
        return root, colour.models.oetf_BT2100_PQ(light * greatest)
    if curve == "hlg":
        with np.errstate(invalid="ignore"):  # both of its halves are worked out everywhere
            return root, colour.models.oetf_BT2100_HLG(light * REFERENCE["hlg"])
    if curve == "log":
        return root, 0.09 + 0.2545 * np.log10(1 + 100 * light)
    coded = colour.models.oetf_BT709(light)
    return root, 0.12 + 0.7 * coded if curve == "flat" else coded


def planes(coded: np.ndarray, weights: tuple[float, float], bits: int) -> list[np.ndarray]:
    """Return limited-range Y', Cb and Cr of 4:2:0, ITU-R BT.709-6 and BT.2020-2, by the mean of four."""
    kr, kb = weights
    red, green, blue = np.moveaxis(coded, 2, 0)
    luma = kr * red + (1 - kr - kb) * green + kb * blue
    colours = [(blue - luma) / (2 * (1 - kb)), (red - luma) / (2 * (1 - kr))]
    small = [(c[::2, ::2] + c[1::2, ::2] + c[::2, 1::2] + c[1::2, 1::2]) / 4 for c in colours]
    up, kind = 2 ** (bits - 8), np.uint8 if bits == 8 else np.uint16
    codes = [(16 + 219 * luma) * up, *((128 + 224 * c) * up for c in small)]
    return [np.clip(np.round(c), 0, 2**bits - 1).astype(kind) for c in codes]


def shots(camera: Camera, tube: Tube, how: Coded) -> list[list[np.ndarray]]:
    """Return the planes of the film's pictures in turns, as many as it takes until they repeat."""
    assert tube.rate == RATE
    step = Fraction(RATE) / Fraction(how.fps).limit_denominator(1001)
    turns = next(n for n in range(1, 60) if n * step % 2 == 0)
    seen = [exposed(replace(camera, start=camera.start + k / how.fps), tube) for k in range(turns)]
    white = float(np.percentile(seen[0], 99.5))
    weights = KR_KB["bt2020" if how.curve in ("pq", "hlg") else "bt709"]
    made = []
    for k in range(turns * max(1, 4 // turns)):
        light = sensed(replace(camera, seed=camera.seed + k), seen[k % turns], white)
        made.append(planes(encoded(how.gain * light, how.curve), weights, how.bits))
    return made


def written(camera: Camera, tube: Tube, how: Coded, path: Path) -> Path:
    """Write a film."""
    return filed(shots(camera, tube, how), how, path, camera.seed)


def filed(turns: list[list[np.ndarray]], how: Coded, path: Path, seed: int = 0) -> Path:
    """Write pictures in turns."""
    rows, columns = turns[0][0].shape
    back = how.turn // 90 % 4
    with av.open(str(path), "w") as out:
        stream = out.add_stream(how.codec, rate=Fraction(how.fps).limit_denominator(1001))
        stream.width, stream.height = (rows, columns) if back % 2 else (columns, rows)
        stream.pix_fmt = "yuv420p" if how.bits == 8 else "yuv420p10le"
        context = stream.codec_context
        context.color_primaries, context.color_trc, context.colorspace = TAGS[how.tags]
        context.color_range = 1
        stream.options = {"crf": str(how.crf), "preset": "ultrafast", "x265-params": "log-level=none"}
        if how.turn:
            stream.set_display_rotation(how.turn)
        for number, own in _moved(turns, how, seed):
            frame = av.VideoFrame(stream.width, stream.height, stream.pix_fmt)
            for plane, codes in zip(frame.planes, own, strict=True):
                stored = np.ascontiguousarray(np.rot90(codes, -back))
                width = plane.line_size // stored.itemsize
                np.frombuffer(plane, stored.dtype).reshape(-1, width)[:, : stored.shape[1]] = stored
            frame.pts, frame.time_base = number, 1 / Fraction(how.fps).limit_denominator(1001)
            for packet in stream.encode(frame):
                out.mux(packet)
        for packet in stream.encode(None):
            out.mux(packet)
    return path


def _moved(turns: list[list[np.ndarray]], how: Coded, seed: int) -> Iterator[tuple[int, list[np.ndarray]]]:
    """Yield every picture's number and planes, as a hand moves them: 2 pixels at once, for the chroma."""
    hand = np.random.RandomState(seed)
    place = np.zeros(2)
    numbers = [k for k in range(2 * how.frames) if not (how.uneven and k % 5 == 4)][: how.frames]
    for number in numbers:
        place += 0.15 * hand.standard_normal(2)
        down, across = (int(n) for n in np.round(place / 2) * 2)
        luma, *colours = turns[number % len(turns)]
        yield (
            number,
            [
                np.roll(luma, (down, across), (0, 1)),
                *(np.roll(each, (down // 2, across // 2), (0, 1)) for each in colours),
            ],
        )

"""A tube that is fed the pictures of a chain, and photos of all of it.

The tube, its mask and the camera are those of `glass_tube` and `glass_camera`; here the glass is drawn a band
of rows at a time, so that a photo of the whole picture fits into memory.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from glass_camera import Camera, sensed, to_glass
from glass_tube import Tube, bezel, mask
from PIL import Image

SAMPLES = 2
"""Places of the glass to a pixel, each way."""

_BAND = 64


@dataclass(frozen=True, eq=False)
class FedTube(Tube):
    """A tube with the light of its fields, (lines, samples, 3), and how far down each lands, in lines."""

    fields: tuple[np.ndarray, ...] = ()
    lands: tuple[float, ...] = (0.0,)

    def __post_init__(self) -> None:
        object.__setattr__(self, "landing", self.lands)


def fed(fields: Sequence[np.ndarray], lands: Sequence[float], **tube: object) -> FedTube:
    """A tube that is fed code values, which it takes to light by the power 2.4 of ITU-R BT.1886."""
    light = tuple(np.clip(each, 0, 1).astype(np.float32) ** np.float32(2.4) for each in fields)
    return FedTube(lines=len(light[0]), fields=light, lands=tuple(lands), **tube)  # type: ignore[arg-type]


def whole_light(camera: Camera, tube: FedTube) -> np.ndarray:
    """Light (rows, columns, 3) that one exposure gathers, before the sensor."""
    bands = [_band(camera, tube, top) for top in range(0, camera.rows, _BAND)]
    light = np.concatenate(bands)[: camera.rows]
    return cv2.GaussianBlur(light, (0, 0), camera.defocus) if camera.defocus > 0 else light


def _band(camera: Camera, tube: FedTube, top: int) -> np.ndarray:
    y, x = np.mgrid[top * SAMPLES : (top + _BAND) * SAMPLES, 0 : camera.columns * SAMPLES].astype(np.float64)
    x, y = (x + 0.5) / SAMPLES - 0.5, (y + 0.5) / SAMPLES - 0.5
    u, v = to_glass(camera, tube, x, y)
    u, v = u.astype(np.float32), v.astype(np.float32)
    opens = camera.start + camera.readout * (y[:, :1] / camera.rows)
    period = 1 / tube.rate
    begins = (opens - np.clip(v / tube.lines, 0, 1) * tube.active * period).astype(np.float32)
    first = int(np.floor((float(begins.min()) - 6 * tube.decay) / period)) - 1
    last = int(np.ceil((float(begins.max()) + camera.exposure) / period)) + 1
    total = np.zeros((*v.shape, 3), np.float32)
    still: dict[tuple[int, float], np.ndarray] = {}  # without jitter, a field is drawn the same each time
    for number in range(first, last + 1):
        begun = begins - np.float32(number * period)
        share = np.exp(-np.maximum(begun, 0) / tube.decay)
        share -= np.exp(-np.maximum(begun + camera.exposure, 0) / tube.decay)
        if share.max() < 1e-3:
            continue
        rng = np.random.RandomState((tube.seed * 7919 + number) % 2**31)
        moved = (rng.standard_normal(tube.lines) * tube.jitter).astype(np.float32)
        shaken = (
            np.random.RandomState((camera.seed * 104729 + number) % 2**31).standard_normal() * camera.shake
        )
        which = number % len(tube.fields)
        if tube.jitter or (which, shaken) not in still:
            still[which, shaken] = _beams(tube, which, u, v + np.float32(shaken), moved)
        total += still[which, shaken] * share[..., None]
    total *= mask(tube, u, v)
    if tube.bezel:
        total += (bezel(tube, u, v) * camera.exposure * 60 / 2)[..., None]
    return total.reshape(_BAND, SAMPLES, camera.columns, SAMPLES, 3).mean(axis=(1, 3))


def _beams(tube: FedTube, which: int, u: np.ndarray, v: np.ndarray, moved: np.ndarray) -> np.ndarray:
    """As `glass_tube.beams`, by OpenCV's exp, sqrt and remap, for speed; a skewed beam has no step here."""
    drive = tube.fields[which]
    lines, samples = drive.shape[:2]
    column = np.floor(u * samples).astype(np.float32)
    out = np.zeros((*v.shape, 3), np.float32)
    nearest = np.floor(v - np.float32(tube.landing[which]))
    for step in (-1, 0, 1):
        line = nearest + np.float32(step)
        value = cv2.remap(drive, column, line, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT)
        away = v - np.float32(tube.landing[which] + 0.5) - line
        if tube.jitter:
            away -= moved[np.clip(line, 0, lines - 1).astype(np.int32)]
        sigma = np.float32(tube.sigma / 2) * (1 + cv2.sqrt(value))
        spread = sigma * (1 + np.float32(tube.skew) * np.sign(away))[..., None] if tube.skew else sigma
        ratio = away[..., None] / spread
        out += value * cv2.exp(np.float32(-0.5) * ratio * ratio) * (np.float32(tube.sigma) / sigma)
    return out


def file_of(linear: np.ndarray, quality: int) -> bytes:
    """A JPEG of linear light, by the curve of sRGB (IEC 61966-2-1)."""
    codes = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    file = io.BytesIO()
    Image.fromarray((np.clip(codes, 0, 1) * 255 + 0.5).astype(np.uint8)).save(file, "JPEG", quality=quality)
    return file.getvalue()


def shot(camera: Camera, tube: FedTube) -> bytes:
    """A photo as a JPEG file."""
    return file_of(sensed(camera, whole_light(camera, tube)), camera.quality)


def codes_of(file: bytes) -> np.ndarray:
    """The 8-bit codes (rows, columns, 3) of a file."""
    return np.asarray(Image.open(io.BytesIO(file)).convert("RGB"))

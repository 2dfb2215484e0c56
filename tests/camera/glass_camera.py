"""A camera before the tube, for the tests alone: perspective, barrel, shutter, sensor, demosaic, JPEG.

Everything in light until the file's own curve; sources of the quantities are common practice (full well,
read noise, vignetting) and the demosaicing is OpenCV's.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from glass_tube import Tube, beams, bezel, content, mask
from PIL import Image

DOWN, ACROSS = 3, 2
"""Samples a pixel at which the glass is evaluated."""


@dataclass(frozen=True)
class Camera:
    """A camera and how it is held.

    pixels a line at the middle of the view; tilt, pan, roll in degrees; barrel: share by which the corner is
    drawn in; look: (u, v share) of the picture at the middle of the view; exposure, readout in s; defocus
    in px;
    shake in lines rms a field during an exposure; blown: how far the brightest hundredth is from clipping
    """

    rows: int = 480
    columns: int = 640
    pixels: float = 6.0
    tilt: float = 0.0
    pan: float = 0.0
    roll: float = 0.0
    barrel: float = 0.0
    look: tuple[float, float] = (0.5, 0.5)
    exposure: float = 1 / 60
    readout: float = 0.012
    start: float = 0.0
    defocus: float = 0.5
    vignette: float = 0.35
    iso: float = 200
    quality: int = 90
    sharpen: float = 0.0
    shake: float = 0.0
    offset: tuple[float, float] = (0.0, 0.0)
    """Where it looks besides, in lines across and down: what moves from photo to photo."""
    reads: str = "down"
    """Which way over the upright picture the sensor is read: down, up, right or left."""
    seed: int = 0


def to_glass(camera: Camera, tube: Tube, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where on the glass pixels look: u 0..1, v in lines. x, y in pixels, the first pixel's centre at 0."""
    half = np.hypot(camera.columns, camera.rows) / 2
    a, b = (x - (camera.columns - 1) / 2) / half, (y - (camera.rows - 1) / 2) / half
    bent = 1 + camera.barrel * (a * a + b * b)
    a, b = a * bent, b * bent
    focal = 2.4  # half diagonals: a field of view of 45 degrees
    turn = _turn(camera)
    rays = turn @ np.stack([a.ravel(), b.ravel(), np.full(a.size, focal)])
    centre = turn @ np.array([0, 0, focal])
    scale = half / camera.pixels
    across = (rays[0] / rays[2] - centre[0] / centre[2]) * focal * scale
    down = (rays[1] / rays[2] - centre[1] / centre[2]) * focal * scale
    u = camera.look[0] + (across.reshape(x.shape) + camera.offset[0]) / (tube.lines * 4 / 3)
    return u, camera.look[1] * tube.lines + down.reshape(x.shape) + camera.offset[1]


def _turn(camera: Camera) -> np.ndarray:
    t, p, r = np.radians([camera.tilt, camera.pan, camera.roll])
    about_x = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])
    about_y = np.array([[np.cos(p), 0, np.sin(p)], [0, 1, 0], [-np.sin(p), 0, np.cos(p)]])
    about_z = np.array([[np.cos(r), -np.sin(r), 0], [np.sin(r), np.cos(r), 0], [0, 0, 1]])
    return about_x @ about_y @ about_z


def from_glass(camera: Camera, tube: Tube, u: float, v: float) -> tuple[float, float]:
    """The pixel that looks at a place of the glass, by Newton's method on `to_glass`."""
    at = np.array([(camera.columns - 1) / 2, (camera.rows - 1) / 2])
    width = tube.lines * 4 / 3
    for _ in range(40):
        x, y = np.array([at[0], at[0] + 1, at[0]]), np.array([at[1], at[1], at[1] + 1])
        us, vs = to_glass(camera, tube, x, y)
        jacobian = np.array(
            [[(us[1] - us[0]) * width, (us[2] - us[0]) * width], [vs[1] - vs[0], vs[2] - vs[0]]]
        )
        miss = np.array([(u - us[0]) * width, v - vs[0]])
        at = at + np.clip(np.linalg.solve(jacobian, miss), -400, 400)
    return float(at[0]), float(at[1])


def corners(camera: Camera, tube: Tube) -> list[tuple[float, float]]:
    """Pixels of the picture's left top, right top, right bottom and left bottom corner."""
    return [from_glass(camera, tube, u, v) for u, v in ((0, 0), (1, 0), (1, tube.lines), (0, tube.lines))]


def exposed(camera: Camera, tube: Tube) -> np.ndarray:
    """Light (rows, columns, 3) that one exposure gathers, before the sensor, 1 for a steady full white
    field."""
    y, x = np.mgrid[0 : camera.rows * DOWN, 0 : camera.columns * ACROSS].astype(np.float64)
    x, y = (x + 0.5) / ACROSS - 0.5, (y + 0.5) / DOWN - 0.5
    u, v = to_glass(camera, tube, x, y)
    along = x / camera.columns if camera.reads in ("right", "left") else y / camera.rows
    opens = camera.start + camera.readout * (1 - along if camera.reads in ("up", "left") else along)
    period = 1 / tube.rate
    first = int(np.floor((opens.min() - 6 * tube.decay) / period)) - 1
    last = int(np.ceil((opens.max() + camera.exposure) / period))
    drawn = np.clip(v / tube.lines, 0, 1) * tube.active * period
    total = np.zeros((*v.shape, 3), np.float32)
    for number in range(first, last + 1):
        begun = opens - (number * period + drawn)
        share = np.exp(-np.maximum(begun, 0) / tube.decay) - np.exp(
            -np.maximum(begun + camera.exposure, 0) / tube.decay
        )
        if share.max() < 1e-3:
            continue
        rng = np.random.RandomState((tube.seed * 7919 + number) % 2**31)
        moved = (rng.standard_normal(tube.lines) * tube.jitter + tube.strayed(number)).astype(np.float32)
        shaken = (
            np.random.RandomState((camera.seed * 104729 + number) % 2**31).standard_normal() * camera.shake
        )
        parity = number % 2
        drive = content(tube, parity, number)
        total += beams(tube, drive, u, v + shaken, tube.landing[parity], moved) * share[..., None].astype(
            np.float32
        )
    total *= mask(tube, u, v)
    if tube.bezel:
        total += (bezel(tube, u, v) * camera.exposure * 60 / 2)[..., None]
    # the mean of whole pixels, exactly
    small = cv2.resize(total, (camera.columns, camera.rows), interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(small, (0, 0), camera.defocus) if camera.defocus > 0 else small


def sensed(camera: Camera, light: np.ndarray, exposure: float | None = None) -> np.ndarray:
    """What the sensor reads and the camera makes of it: (rows, columns, 3) float light 0..1."""
    rng = np.random.RandomState(camera.seed + 1)
    y, x = np.mgrid[0 : camera.rows, 0 : camera.columns]
    r2 = ((x / camera.columns - 0.5) ** 2 + (y / camera.rows - 0.5) ** 2) * 2
    seen = light * (1 - camera.vignette * r2)[..., None]
    white = np.percentile(seen, 99.5) if exposure is None else exposure
    seen = np.clip(seen * (0.9 / max(white, 1e-6)), 0, 1)
    raw = np.empty(seen.shape[:2], np.float32)
    for (dy, dx), colour in {(0, 0): 0, (0, 1): 1, (1, 0): 1, (1, 1): 2}.items():
        raw[dy::2, dx::2] = seen[dy::2, dx::2, colour]
    well = 8000 * 100 / camera.iso
    raw = rng.poisson(np.clip(raw, 0, 1) * well) / well + rng.standard_normal(raw.shape) * 2.5 / well
    words = np.clip(raw * 60000 + 2000, 0, 65535).astype(np.uint16)
    rgb = (cv2.cvtColor(words, cv2.COLOR_BAYER_RGGB2RGB).astype(np.float32) - 2000) / 60000
    if camera.sharpen:
        rgb = rgb + camera.sharpen * (rgb - cv2.GaussianBlur(rgb, (0, 0), 1.2))
    return np.clip(rgb, 0, 1)


def photo(camera: Camera, tube: Tube) -> np.ndarray:
    """One photo as 8-bit codes (rows, columns, 3), through a JPEG file."""
    linear = sensed(camera, exposed(camera, tube))
    codes = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    file = io.BytesIO()
    Image.fromarray((codes * 255 + 0.5).astype(np.uint8)).save(file, "JPEG", quality=camera.quality)
    return np.asarray(Image.open(file))


def film_codes(linear: np.ndarray) -> np.ndarray:
    """8-bit full-range R'G'B' by the camera curve of ITU-R BT.709-6, item 1.2."""
    codes = np.where(linear < 0.018, 4.5 * linear, 1.099 * np.maximum(linear, 1e-9) ** 0.45 - 0.099)
    return (np.clip(codes, 0, 1) * 255 + 0.5).astype(np.uint8)

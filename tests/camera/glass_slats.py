"""Slats of a fence or a blind before a picture, by the camera model: what looks most like scan lines."""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from glass_camera import ACROSS, DOWN, Camera, sensed, to_glass
from glass_tube import Tube
from PIL import Image
from skimage import data

NAMES = (
    "astronaut",
    "coffee",
    "cat",
    "rocket",
    "camera",
    "retina",
    "brick",
    "grass",
    "gravel",
    "moon",
    "page",
)


@dataclass(frozen=True)
class Slats:
    """Slats over a picture that scikit-image ships.

    light : of a slat, 1 for the picture's white; duty : share of the pitch that a slat takes
    shade : how much its upper edge is darker than its middle, twice
    """

    name: str = "astronaut"
    light: float = 0.02
    duty: float = 0.5
    shade: float = 0.0
    seed: int = 0


def drawn(rng: np.random.RandomState) -> tuple[Camera, Slats]:
    """Draw slats of any light and duty, and a camera before them."""
    camera = Camera(
        pixels=rng.uniform(5, 16),
        roll=rng.uniform(-4, 4),
        tilt=rng.uniform(-12, 12),
        pan=rng.uniform(-8, 8),
        barrel=rng.uniform(0, 0.05),
        defocus=rng.uniform(0.4, 1.6),
        iso=float(rng.choice([100, 400, 1600])),
        quality=int(rng.randint(70, 96)),
        seed=int(rng.randint(10**6)),
    )
    light = float(np.exp(rng.uniform(np.log(0.01), np.log(0.9))))
    made = Slats(
        str(rng.choice(NAMES)),
        light,
        rng.uniform(0.25, 0.75),
        rng.uniform(-0.4, 0.4),
        int(rng.randint(10**6)),
    )
    return camera, made


def fence(camera: Camera, slats: Slats) -> np.ndarray:
    """One photo as 8-bit codes (rows, columns, 3), through a JPEG file."""
    y, x = np.mgrid[0 : camera.rows * DOWN, 0 : camera.columns * ACROSS].astype(np.float64)
    x, y = (x + 0.5) / ACROSS - 0.5, (y + 0.5) / DOWN - 0.5
    _, v = to_glass(camera, Tube(), x, y)
    part = v - np.floor(v)
    scene = np.asarray(getattr(data, slats.name)())
    scene = np.repeat(scene[..., None], 3, axis=2) if scene.ndim == 2 else scene[..., :3]
    light = (scene.astype(np.float32) / 255) ** 2.2
    zoom = 0.7 * min(light.shape[0] / camera.rows, light.shape[1] / camera.columns)
    behind = cv2.remap(light, (x * zoom).astype(np.float32), (y * zoom).astype(np.float32), cv2.INTER_LINEAR)
    grain = cv2.GaussianBlur(
        np.random.RandomState(slats.seed).standard_normal(x.shape).astype(np.float32), (0, 0), 2
    )
    own = slats.light * (1 + slats.shade * (part / slats.duty - 0.5)) * (1 + 0.1 * grain)
    seen = np.where(
        (part < slats.duty)[..., None], own[..., None], behind / np.percentile(behind, 99)
    ).astype(np.float32)
    small = cv2.resize(seen, (camera.columns, camera.rows), interpolation=cv2.INTER_AREA)
    linear = sensed(camera, cv2.GaussianBlur(small, (0, 0), camera.defocus))
    codes = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    file = io.BytesIO()
    Image.fromarray((codes * 255 + 0.5).astype(np.uint8)).save(file, "JPEG", quality=camera.quality)
    return np.asarray(Image.open(file))

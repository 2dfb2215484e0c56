"""Captures of a frame through a box, built without this project's operators.

Samples go through Pillow's `Image.resize` with a fractional `box`, which weighs exactly in float32 (edges
at integers, the kernel widened to the output's pitch). Lines go through it too, or through an exact
box average by the difference of interpolated running sums. Then blur, tone, noise and JPEG.
"""

from __future__ import annotations

import io
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from scalesim.demo.bench import SCENES

LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)
"""ITU-R BT.709-6, item 3.2."""
FILTERS = {"triangle": Image.Resampling.BILINEAR, "lanczos": Image.Resampling.LANCZOS}


@cache
def frame(name: str) -> NDArray:
    """Return a demo scene, or a scikit-image picture brought to 1280 x 720; (lines, samples, 3) uint8."""
    for scene in SCENES:
        if scene.key == name:
            return scene.draw()
    import skimage.data

    picture = Image.fromarray(getattr(skimage.data, name)()[..., :3])
    return np.asarray(picture.resize((1280, 720), Image.Resampling.LANCZOS))


def luma(picture: NDArray) -> NDArray:
    """Return the luma of uint8 pictures, 0..1 float32."""
    return (picture.astype(np.float32) / 255) @ LUMA


def look(there: int, here: int, zoom: float = 1.0, shift: float = 0.0) -> tuple[float, float]:
    """Return (scale, offset) of a capture whose middle looks `shift` of its lines below the source's."""
    scale = there / here * zoom
    return scale, (there - scale * here) / 2 + shift * scale


def resized(values: NDArray, size: int, span: tuple[float, float], kernel: str, axis: int) -> NDArray:
    """Return float values resized along one axis to the (scale, offset) `span` of `look`."""
    scale, offset = span
    moved = values.astype(np.float32).swapaxes(axis, 0)
    pad = 2 + int(max(0, -offset, offset + scale * size - len(moved)))
    wide = np.pad(moved, ((pad, pad), *((0, 0),) * (moved.ndim - 1)))
    if kernel == "box":
        total = np.concatenate([np.zeros((1, *wide.shape[1:])), np.cumsum(wide, axis=0, dtype=np.float64)])
        edge = pad + offset + scale * np.arange(size + 1)
        whole = np.floor(edge).astype(int)
        share = (edge - whole).reshape(-1, *(1,) * (wide.ndim - 1))
        done = np.diff(total[whole] * (1 - share) + total[whole + 1] * share, axis=0) / scale
    else:
        box = (0, pad + offset, wide.shape[1], pad + offset + scale * size)
        layers = [np.ascontiguousarray(layer) for layer in np.moveaxis(wide, -1, 0)]
        made = [Image.fromarray(x).resize((x.shape[1], size), FILTERS[kernel], box=box) for x in layers]
        done = np.stack([np.asarray(m) for m in made], axis=-1)
    return done.astype(np.float32).swapaxes(axis, 0)


def capture(
    source: NDArray,
    lines: int,
    samples: int,
    down: tuple[float, float],
    across: tuple[float, float],
    *,
    kernel: str = "box",
    gain: float = 1.0,
    lift: float = 0.0,
    gamma: float = 1.0,
    blur: float = 0.0,
    noise: float = 0.0,
    jpeg: int | None = None,
    seed: int = 0,
) -> NDArray:
    """Return the captured picture, (lines, samples, 3) uint8; noise in codes, blur in samples (sigma)."""
    small = resized(source, samples, across, "triangle", 1)
    if blur:
        import cv2

        small = cv2.GaussianBlur(small, (0, 0), blur, sigmaY=1e-3)
    made = np.clip(resized(small, lines, down, kernel, 0), 0, 255) / 255
    codes = 255 * (lift + gain * made**gamma)
    codes += np.random.RandomState(seed).standard_normal(codes.shape) * noise
    picture = np.clip(np.floor(codes + 0.5), 0, 255).astype(np.uint8)
    return picture if jpeg is None else through_jpeg(picture, jpeg)


def through_jpeg(picture: NDArray, quality: int) -> NDArray:
    """Return the picture after JPEG at Pillow's `quality`."""
    held = io.BytesIO()
    Image.fromarray(picture).save(held, "JPEG", quality=quality)
    return np.asarray(Image.open(held).convert("RGB"))


def unit(picture: NDArray) -> NDArray:
    """Return uint8 codes as 0..1 float32."""
    return picture.astype(np.float32) / 255

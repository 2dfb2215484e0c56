"""Fills and noise for `shapes`: gradients, value noise from an integer hash, ridges of mountains.

Nothing here uses a generator of random numbers: the hash gives the same noise on every machine.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.shapes import Colour, Fill, Plane


def down_gradient(top: float, upper: Colour, bottom: float, lower: Colour, *, steps: int = 0) -> Fill:
    """Return a fill going from `upper` at line `top` to `lower` at line `bottom`; `steps` > 0 makes bands."""
    first, second = np.asarray(upper, np.float32), np.asarray(lower, np.float32)

    def fill(xs: Plane, ys: Plane) -> Plane:
        t = np.clip((ys - np.float32(top)) / np.float32(bottom - top), 0, 1)
        if steps:
            t = np.floor(t * np.float32(steps - 0.001)) / np.float32(steps - 1)
        return np.asarray(first + t[..., None] * (second - first), np.float32)

    return fill


def radial_gradient(x: float, y: float, radius: float, centre: Colour, rim: Colour) -> Fill:
    """Return a fill going from `centre` at (x, y) to `rim` at `radius` samples."""
    first, second = np.asarray(centre, np.float32), np.asarray(rim, np.float32)

    def fill(xs: Plane, ys: Plane) -> Plane:
        t = np.sqrt((xs - np.float32(x)) ** 2 + (ys - np.float32(y)) ** 2) / np.float32(radius)
        return np.asarray(first + np.clip(t, 0, 1)[..., None] * (second - first), np.float32)

    return fill


def lattice(i: NDArray[np.int64], j: NDArray[np.int64] | int, seed: int) -> Plane:
    """Return a fixed pseudo-random number 0..1 for every pair of integers (a 32-bit integer hash)."""
    mask = np.int64(0xFFFFFFFF)
    h = (i * 374761393 + j * 668265263 + seed * 1274126177) & mask
    h = ((h ^ (h >> 13)) * 1274126177) & mask
    h = ((h ^ (h >> 16)) * 2246822519) & mask
    return ((h ^ (h >> 15)) & np.int64(0xFFFF)).astype(np.float32) / np.float32(65535)


def value_noise(x: NDArray[np.floating], y: NDArray[np.floating], seed: int = 0) -> Plane:
    """Return smooth noise 0..1 with features one unit wide; x and y broadcast."""
    i, j = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    u, v = (x - i).astype(np.float32), (y - j).astype(np.float32)
    u, v = u * u * (3 - 2 * u), v * v * (3 - 2 * v)
    upper = lattice(i, j, seed) * (1 - u) + lattice(i + 1, j, seed) * u
    lower = lattice(i, j + 1, seed) * (1 - u) + lattice(i + 1, j + 1, seed) * u
    return np.asarray(upper * (1 - v) + lower * v, np.float32)


def cloudy(x: NDArray[np.floating], y: NDArray[np.floating], seed: int = 0, octaves: int = 4) -> Plane:
    """Return `value_noise` summed over octaves of half the size and half the strength, 0..1."""
    total: Plane = np.zeros(np.broadcast(x, y).shape, np.float32)
    for k in range(octaves):
        total += value_noise(x * 2**k, y * 2**k, seed + k) * np.float32(0.5 ** (k + 1))
    return total / np.float32(1 - 0.5**octaves)


def ridge(x: NDArray[np.floating], seed: int, octaves: int = 5) -> Plane:
    """Return the height 0..1 of a mountain range along x; peaks about one unit apart, creased on top."""
    total: Plane = np.zeros(np.shape(x), np.float32)
    for k in range(octaves):
        n = value_noise(np.asarray(x) * 2**k, np.zeros(1), seed + k)
        total += (1 - np.abs(2 * n - 1)) * np.float32(0.5 ** (k + 1))
    return total / np.float32(1 - 0.5**octaves)

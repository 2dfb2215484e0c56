"""Films of the camera model, held in memory: few exposures in turns, each with its own noise and hand.

A field rate of 60 a second filmed at 60 repeats after two frames, so that two exposures make a film of any
length. Light is taken from codes as `scalesim` reads a file (V^2.4), without one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np
from glass_camera import Camera, exposed, film_codes, sensed
from glass_tube import Tube

from scalesim.core.photo import Film, FilmFrame

RATE = 60


def shots(camera: Camera, tube: Tube) -> list[np.ndarray]:
    """Light (rows, columns) of four frames, two of either field with different noise."""
    from dataclasses import replace

    assert tube.rate == RATE
    seen = [exposed(replace(camera, start=camera.start + k / RATE), tube) for k in range(2)]
    white = float(np.percentile(seen[0], 99.5))
    made = []
    for k in range(4):
        codes = film_codes(sensed(replace(camera, seed=camera.seed + k), seen[k % 2], white))
        luma = codes.astype(np.float32) @ np.array([0.2126, 0.7152, 0.0722], np.float32) / 255
        made.append(luma**2.4)
    return made


def black(like: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Light of a closed shutter: the sensor's noise alone."""
    rng = np.random.RandomState(5)
    return [(2e-4 * rng.rand(*like[0].shape)).astype(np.float32) for _ in range(2)]


def film_of(*parts: tuple[Sequence[np.ndarray], int], name: str = "cut") -> Film:
    """A film of parts, (light of their frames in turns, how many), cut hard from one to the next."""

    def frames() -> Iterator[FilmFrame]:
        number = 0
        hand = np.random.RandomState(1)
        for lights, count in parts:
            moved = np.zeros(2)
            for k in range(count):
                moved += 0.2 * hand.standard_normal(2)
                light = np.roll(lights[k % len(lights)], tuple(np.round(moved).astype(int)), axis=(0, 1))
                yield FilmFrame(number / RATE, light)
                number += 1

    rows, columns = parts[0][0][0].shape
    return Film(frames, rows, columns, Fraction(RATE), name, length=sum(count for _, count in parts))

"""The carrier: how brightness goes up and down from line to line, freed from the picture, and its local
peaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FLOOR = 0.02
"""Of the 99th percentile of the mean light, added to what the carrier is divided by."""
CLIP = 2.5
TILE = 96
"""Pixels a side."""
PAD = 2
WEDGE_DEG = 16.0
"""How far the lines may lie from level."""
PROMINENT = 30.0
"""A peak's power over the median power of where peaks are looked for."""
DARK = 0.05
"""Of the 95th percentile: tiles darker than this say nothing."""
MOST_PEAKS = 4


@dataclass(frozen=True, eq=False)
class Peaks:
    """Local maxima of tiles' spectra.

    Parameters:
        at : (n, 2) middles of their tiles, pixels; f : (n, 2) cycles a pixel across and down, down > 0
        power : (n,) over the median; tile : (n,) number of its tile; tiles : how many tiles were bright
        enough
    """

    at: NDArray[np.float64]
    f: NDArray[np.float64]
    power: NDArray[np.float64]
    tile: NDArray[np.int64]
    tiles: int


def width_of(sigma: float) -> int:
    """Return the pixels of the box of `mean_light`."""
    return max(3, round(sigma * np.sqrt(6)) | 1)


def mean_light(light: NDArray[np.float32], sigma: float) -> NDArray[np.float32]:
    """Return the light without its detail: twice a box whose spread is that of a Gaussian of `sigma`
    pixels."""
    from scipy.ndimage import uniform_filter

    width = width_of(sigma)
    once = uniform_filter(light, width, mode="nearest")
    return np.asarray(uniform_filter(once, width, mode="nearest"))


def carrier(light: NDArray[np.float32], sigma: float) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return (carrier, mean light): (g - G) / (G + 2 % of G's 99th percentile), clipped to +-2.5.

    Dividing by the local mean keeps dark and bright parts alike; definition of this project.

    Parameters:  light : (rows, columns) relative luminance; sigma : of the mean, pixels
    """
    mean = mean_light(light, sigma)
    floor = FLOOR * float(np.percentile(mean[::4, ::4], 99)) + 1e-9
    wave = light - mean
    wave /= mean + floor
    return np.clip(wave, -CLIP, CLIP, out=wave), mean


def peaks(
    light: NDArray[np.float32], *, hop: int = TILE // 2, most: int = 160, longest: float = 15.0
) -> Peaks:
    """Return the peaks of tiles of a photo's carrier.

    Hann tiles, padded twice; the four highest local maxima (by power times frequency squared) within
    `WEDGE_DEG` of upright whose period is `longest` pixels or less; refined by parabolas of the log power.

    Parameters:  light : (rows, columns); hop : pixels from tile to tile; most : tiles, spread evenly
    """
    size = min(TILE, *light.shape)
    wave, mean = carrier(light, 16.0)
    tops, lefts = _spread(light.shape[0], size, hop), _spread(light.shape[1], size, hop)
    places = np.array([(top, left) for top in tops for left in lefts])
    middle = mean[places[:, 0] + size // 2, places[:, 1] + size // 2]
    places = places[middle > DARK * np.percentile(mean[::4, ::4], 95)]
    if len(places) > most:
        places = places[np.linspace(0, len(places) - 1, most).round().astype(int)]
    window = np.hanning(size)[:, None] * np.hanning(size)
    found: list[tuple[float, ...]] = []
    for number, (top, left) in enumerate(places):
        tile = wave[top : top + size, left : left + size]
        own = _tile_peaks((tile - tile.mean()) * window, PAD * size, longest)
        found += [(left + (size - 1) / 2, top + (size - 1) / 2, *each, number) for each in own]
    table = np.array(found, dtype=np.float64).reshape(-1, 6)
    return Peaks(table[:, :2], table[:, 2:4], table[:, 4], table[:, 5].astype(int), len(places))


def _spread(length: int, size: int, hop: int) -> NDArray[np.int64]:
    count = max(1, (length - size) // hop + 1)
    return np.unique(np.linspace(0, length - size, count).round().astype(np.int64))


def _tile_peaks(tile: NDArray, side: int, longest: float) -> list[tuple[float, float, float]]:
    from scipy.fft import fft, rfft

    down = rfft(tile, side, axis=0)
    low = max(1, int(side / longest))
    reach = int(np.ceil(np.tan(np.radians(WEDGE_DEG)) * side / 2)) + 1
    across = fft(down, side, axis=1)
    power = np.abs(np.concatenate([across[:, -reach:], across[:, : reach + 1]], axis=1)) ** 2
    rows, columns = np.arange(power.shape[0]), np.arange(-reach, reach + 1)
    allowed = (rows[:, None] >= low) & (np.abs(columns) <= np.tan(np.radians(WEDGE_DEG)) * rows[:, None])
    floor = np.median(power[allowed]) + 1e-12
    inner = power[1:-1, 1:-1]
    around = [power[1 + i : -1 + i or None, 1 + j : -1 + j or None] for i in (-1, 0, 1) for j in (-1, 0, 1)]
    top = (inner >= np.max(around, axis=0)) & allowed[1:-1, 1:-1] & (inner > PROMINENT * floor)
    at = np.argwhere(top) + 1
    best = sorted(at, key=lambda ij: -power[ij[0], ij[1]] * ij[0] ** 2)[:MOST_PEAKS]
    return [_refined(power, i, j, reach, side, floor) for i, j in best]


def _refined(
    power: NDArray, i: int, j: int, reach: int, side: int, floor: float
) -> tuple[float, float, float]:
    logs = np.log(power[i - 1 : i + 2, j - 1 : j + 2] + 1e-30)
    return (
        (j - reach + _vertex(logs[1])) / side,
        (i + _vertex(logs[:, 1])) / side,
        float(power[i, j] / floor),
    )


def _vertex(three: NDArray) -> float:
    bend = three[0] - 2 * three[1] + three[2]
    return float(np.clip(0.5 * (three[0] - three[2]) / bend, -0.5, 0.5)) if bend < 0 else 0.0

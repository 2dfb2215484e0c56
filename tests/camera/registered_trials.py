"""Trials of registration with the camera model: a photo on its frame, a second photo on a first.

    python tests/camera/registered_trials.py FOLDER frame|pair FIRST COUNT

Frames: tilt and pan to 15 degrees, barrel to 5 %, the whole picture in view (even numbers) or about half of
it (odd ones). Pairs: two cameras before one tube that shows one picture by one chain, other exposure and
white; from number 100 by two scans, from 200 of two pictures. Each trial prints one line of JSON with errors
in scan lines.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from explained_trials import source
from glass_camera import Camera, from_glass, sensed, to_glass
from glass_fed import FedTube, codes_of, fed, file_of, whole_light

import scalesim as ss
from scalesim.core.photo import Photo
from scalesim.errors import ScalesimError
from scalesim.jobs.glass.straighten import by_source
from scalesim.jobs.glass.two import GlassBeside, beside
from scalesim.tube.beam import line_places

SCANS = {
    "240p": "line-average lines=240",
    "480i": "line-average lines=480, interlace",
    "one set": "line-average lines=480, interlace, field-only",
}
_FIRST = 52_000
_GRID = np.stack(np.meshgrid(np.linspace(0.02, 0.98, 33), np.linspace(0.02, 0.98, 25)), -1).reshape(-1, 2)


def tube(rng: np.random.RandomState, picture: int, scan: str) -> FedTube:
    """A tube that shows a source by a chain."""
    seen = ss.predict(source(picture), SCANS[scan], metrics=[])
    lands = [float(line_places(seen.raster, k % seen.raster.period)[0]) - 0.5 for k in range(len(seen.cycle))]
    kinds = {"sigma": rng.uniform(0.13, 0.28), "mask": str(rng.choice(["none", "stripes", "slots"]))}
    return fed(seen.cycle, lands, mask_pitch=rng.uniform(0.35, 0.8), seed=int(rng.randint(10**6)), **kinds)


def camera(rng: np.random.RandomState, most: float, *, whole: bool) -> Camera:
    """A camera turned by up to `most` degrees each way."""
    pixels = rng.uniform(4.5, 7)
    rows = int(240 * pixels * (1.12 if whole else 0.72)) // 2 * 2
    return Camera(
        rows=rows,
        columns=int(rows * 4 / 3) // 2 * 2,
        pixels=pixels,
        tilt=rng.uniform(-most, most),
        pan=rng.uniform(-most, most),
        roll=rng.uniform(-4, 4),
        barrel=rng.uniform(0, 0.05),
        look=(0.5, 0.5) if whole else (rng.uniform(0.36, 0.64), rng.uniform(0.36, 0.64)),
        exposure=2 / 59.94,
        start=rng.uniform(0, 2 / 59.94),
        defocus=rng.uniform(0.3, 1.0),
        iso=float(rng.choice([100, 200, 400, 800, 1600])),
        quality=int(rng.randint(70, 96)),
        seed=int(rng.randint(10**6)),
    )


def framed(number: int) -> tuple[int, FedTube, Camera]:
    """A source's number, the tube that shows it, and the camera of a trial of a photo on its frame."""
    rng = np.random.RandomState(_FIRST + number)
    picture = int(rng.randint(10**4))
    return picture, tube(rng, picture, "240p"), camera(rng, 15, whole=number % 2 == 0)


def on_frame(number: int, folder: Path) -> dict[str, Any]:
    """How far the view by the frame is from the truth, in lines."""
    picture, shown, held = framed(number)
    file = _kept(folder / f"frame-{number:03d}.jpg", held, shown, (1, 1, 1))
    told = {"number": number, "whole": number % 2 == 0, "source": picture % 13}
    told |= {"tilt": round(held.tilt), "pan": round(held.pan), "barrel": round(held.barrel, 3)}
    try:
        view = by_source(Photo(codes_of(file)), ss.still_clip(source(picture), mode="720p60"), 4 / 3)
    except ScalesimError as reason:
        return told | {"refused": str(reason)}
    y, x = np.mgrid[4 : held.rows - 4 : 25, 4 : held.columns - 4 : 25].astype(float)
    u, v = to_glass(held, shown, x, y)
    inside = (u > 0.01) & (u < 0.99) & (v > 2) & (v < 238)
    found = view.to_picture(np.stack([x[inside], y[inside]], axis=1))
    down, across = found[:, 1] * 240 - v[inside], (found[:, 0] - u[inside]) * 320
    return told | _spread("down", down) | _spread("across", across) | {"n": view.points}


def _spread(name: str, off: NDArray) -> dict[str, float]:
    away = np.abs(off)
    return {
        f"{name}_rms": round(float(np.sqrt((off**2).mean())), 3),
        f"{name}_p95": round(float(np.percentile(away, 95)), 3),
        f"{name}_max": round(float(away.max()), 2),
    }


def _kept(file: Path, held: Camera, shown: FedTube, white: tuple[float, float, float]) -> bytes:
    if not file.exists():
        linear = sensed(held, whole_light(held, shown)) * np.array(white, np.float32)
        file.write_bytes(file_of(linear, held.quality))
    return file.read_bytes()


def pair(number: int) -> list[tuple[Camera, FedTube, tuple[float, float, float]]]:
    """Two cameras, what they look at, and the white of each."""
    rng = np.random.RandomState(_FIRST + 1000 + number)
    picture, other = int(rng.randint(10**4)), int(rng.randint(10**4))
    scan = list(SCANS)[rng.randint(3)]
    scans = (
        (scan, scan) if number < 100 or number >= 200 else (("240p", "480i"), ("480i", "one set"))[number % 2]
    )
    pictures = (picture, picture + 1 + other % 11) if number >= 200 else (picture, picture)
    seed = int(rng.randint(10**6))
    tubes = [
        tube(np.random.RandomState(seed), each, scan) for each, scan in zip(pictures, scans, strict=True)
    ]
    first = camera(rng, 10, whole=True)
    second = camera(rng, 10, whole=bool(rng.rand() < 0.7))
    white = tuple(float(each) for each in rng.uniform(0.7, 1.0, 3))
    return [(first, tubes[0], (1, 1, 1)), (replace(second, exposure=4 / 59.94), tubes[1], white)]


def two(number: int, folder: Path) -> GlassBeside:
    """The answer for a pair."""
    photos = [
        Photo(codes_of(_kept(folder / f"pair-{number:03d}-{k}.jpg", held, shown, white)), name)
        for k, ((held, shown, white), name) in enumerate(zip(pair(number), ("old", "new"), strict=True))
    ]
    return beside(*photos)


def on_photo(number: int, folder: Path) -> dict[str, Any]:
    """How far the second photo's places are from the truth, in its own lines, inside the hull."""
    (one, shown, _), (other, _, white) = pair(number)
    told: dict[str, Any] = {"number": number, "pixels": [round(one.pixels, 1), round(other.pixels, 1)]}
    try:
        answer = two(number, folder)
    except ScalesimError as reason:
        return told | {"refused": str(reason)}
    places = np.array([from_glass(one, shown, u, 240 * v) for u, v in _GRID])
    truth = np.array([from_glass(other, shown, u, 240 * v) for u, v in _GRID])
    inside = answer.warp.holds(places)
    off = (answer.warp.to_second(places) - truth)[inside] / other.pixels
    told |= _spread("down", off[:, 1]) | _spread("across", off[:, 0])
    told |= {"said": answer.error_lines, "n": len(answer.warp.places), "hull": round(answer.hull_share, 2)}
    gain = answer.laid.gain
    told |= {
        "gain": [round(float(each), 3) for each in gain],
        "white": [round(1 / each, 3) for each in white],
    }
    return told | {"differences": answer.differences()}


def main() -> None:
    """Run trials and print what came of each."""
    folder, kind, first, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(first, first + count):
        print(json.dumps((on_frame if kind == "frame" else on_photo)(number, folder)), flush=True)


if __name__ == "__main__":
    main()

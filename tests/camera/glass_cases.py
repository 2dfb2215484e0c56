"""Cases for the independent camera model: drawn by number, judged by limits that were frozen before they
were drawn.

`LIMITS` are the targets the tool is held to. A case is a kind, a number, a tube and a camera; `answer` asks
the
package, `judged` compares with the truth. Nothing here is tuned on the cases: other numbers were used for
that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from glass_camera import Camera, corners, exposed, film_codes, photo, sensed, to_glass
from glass_tube import Tube

import scalesim as ss

LIMITS = {
    "pitch_centre_percent_p95": 0.1,
    "pitch_anywhere_percent_p95": 1.0,
    "count_lines": 0.3,
    "wrong": 0.01,
    "pair_right": 0.90,
    "film_right": 0.85,
    "long_one_right": 0.90,
    "long_two_right": 0.85,
    "jitter_ratio": 0.2,
    "jitter_floor": 0.005,
    "width": 0.06,
    "depth": 0.1,
}
FIRST = 10_000
"""Numbers of cases begin here; lower ones were looked at while the tool was made."""
SHARES = (
    ("pitch", 90),
    ("count", 20),
    ("long", 110),
    ("pair", 90),
    ("film", 100),
    ("jitter", 50),
    ("width", 40),
)
"""Kinds of cases and how many of 500; long, pair and film are the 300 of landing."""


@dataclass(frozen=True)
class Outcome:
    """What came of a case: its kind, whether it was right, wrong or refused, and the errors that were
    measured."""

    kind: str
    number: int
    label: str
    verdict: str
    figures: dict[str, float]


def kinds() -> list[str]:
    """The kind of every case, mixed so that any first part holds all of them."""
    rows = [(k / count, kind) for kind, count in SHARES for k in range(count)]
    return [kind for _, kind in sorted(rows)]


def run(number: int, folder: Path) -> Outcome:
    """Draw a case, ask the package, and compare."""
    kind = kinds()[number % 500]
    rng = np.random.RandomState(FIRST + number)
    return _KINDS[kind](number, rng, folder)


def _tube(rng: np.random.RandomState, **given: Any) -> Tube:
    drawn = {
        "scan": str(rng.choice(["240p", "480i", "field-only"])),
        "sigma": rng.uniform(0.13, 0.28),
        "skew": float(rng.choice([0.0, 0.0, 0.15])),
        "mask": str(rng.choice(["none", "stripes", "slots"])),
        "mask_pitch": rng.uniform(0.35, 0.8),
        "picture": int(rng.randint(24)),
        "seed": int(rng.randint(10**6)),
    }
    if rng.rand() < 0.2:
        drawn |= {"lines": 288, "rate": 50.0}
    return Tube(**(drawn | given))


def _camera(rng: np.random.RandomState, tube: Tube, pixels: float, **given: Any) -> Camera:
    half = 320 / pixels / (tube.lines * 4 / 3)
    drawn = {
        "pixels": pixels,
        "tilt": rng.uniform(-15, 15),
        "pan": rng.uniform(-10, 10),
        "roll": rng.uniform(-4, 4),
        "barrel": rng.uniform(0, 0.05),
        "look": (rng.uniform(half, max(1 - half, half)), rng.uniform(0.3, 0.7)),
        "exposure": 1 / tube.rate,
        "start": rng.uniform(0, 2 / tube.rate),
        "readout": rng.uniform(0.006, 0.022),
        "defocus": rng.uniform(0.2, 1.0),
        "iso": float(rng.choice([100, 200, 400, 800, 1600, 3200, 6400])),
        "quality": int(rng.randint(60, 96)),
        "seed": int(rng.randint(10**6)),
    }
    return Camera(**(drawn | given))


def _period(camera: Camera, tube: Tube, x: float, y: float) -> float:
    xs, ys = np.array([x, x, x - 0.5, x + 0.5]), np.array([y - 0.5, y + 0.5, y, y])
    _, v = to_glass(camera, tube, xs, ys)
    return float(1 / np.hypot(v[1] - v[0], v[3] - v[2]))


def _verdict(answer: Any, tube: Tube) -> str:
    return "refused" if answer.sets == "unknown" else "right" if answer.sets == tube.sets else "WRONG"


def _pitch(number: int, rng: np.random.RandomState, folder: Path) -> Outcome:
    pixels = float(rng.choice([3, 4, 5, 6, 8, 10, 12]))
    tube = _tube(rng)
    camera = _camera(rng, tube, pixels)
    answer = ss.read_glass(photo(camera, tube))
    if answer.found is None:
        return Outcome("pitch", number, f"p{pixels:g}", "refused", {})
    lines = answer.found.found.lines
    places = [(x, y) for y in (240, 40, 440) for x in (320, 40, 600)]
    off = [
        100 * abs(float(lines.period(np.array(x), np.array(y))) / _period(camera, tube, x, y) - 1)
        for x, y in places
    ]
    figures = {"centre": off[0], "anywhere": max(off), "pixels": pixels}
    return Outcome("pitch", number, f"p{pixels:g} {tube.mask}", "right" if off[0] < 1 else "WRONG", figures)


def _count(number: int, rng: np.random.RandomState, folder: Path) -> Outcome:
    tube = _tube(rng, scan=str(rng.choice(["240p", "field-only"])))
    pixels = rng.uniform(3.0, 4.5)
    size = int(tube.lines * pixels * 1.25) // 2 * 2
    camera = _camera(rng, tube, pixels, rows=size, columns=int(size * 1.4) // 2 * 2, look=(0.5, 0.5))
    answer = ss.read_glass(photo(camera, tube), corners=corners(camera, tube))
    if answer.found is None or answer.found.count is None:
        return Outcome("count", number, f"p{pixels:.1f}", "refused", {})
    off = abs(answer.found.count[0] - tube.lines)
    return Outcome("count", number, f"p{pixels:.1f}", "right" if off < 1 else "WRONG", {"lines": off})


def _long(number: int, rng: np.random.RandomState, folder: Path) -> Outcome:
    tube = _tube(rng)
    pixels = float(rng.choice([6, 7, 8, 10, 12]))
    fields = int(rng.choice([2, 2, 4, 8, 15]))
    camera = _camera(
        rng, tube, pixels, exposure=fields / tube.rate, shake=rng.uniform(0, 0.1), tilt=rng.uniform(-8, 8)
    )
    height = tube.lines
    at = _far_corners(camera, tube)
    answer = ss.read_glass(photo(camera, tube), corners=at, shutter=fields / tube.rate, lines=height)
    thin = "thin" if tube.sigma <= 0.22 else "fat"
    return Outcome("long", number, f"{tube.sets} {thin} n{fields}", _verdict(answer, tube), {})


def _far_corners(camera: Camera, tube: Tube) -> list[tuple[float, float]]:
    """The corners where a flat view would have them, beyond the photo's edges: the scale is what is known."""
    return corners(replace(camera, barrel=0.0), tube)


def _pair(number: int, rng: np.random.RandomState, folder: Path) -> Outcome:
    tube = _tube(rng)
    pixels = float(rng.choice([3, 4, 6, 8, 12]))
    strip = 0.2 * 640 / pixels / (tube.lines * 4 / 3)
    half = 320 / pixels / (tube.lines * 4 / 3)
    camera = _camera(
        rng, tube, pixels, look=(half - strip, rng.uniform(0.35, 0.65)), tilt=rng.uniform(-10, 10)
    )
    moved = rng.uniform(-1, 1, 2)
    other = replace(
        camera,
        start=camera.start + 1 / tube.rate,
        offset=(float(moved[0]), float(moved[1])),
        roll=camera.roll + rng.uniform(-0.1, 0.1),
        seed=camera.seed + 1,
    )
    answer = ss.read_glass(
        [photo(camera, tube), photo(other, tube)], shutter=camera.exposure, field_rate=tube.rate
    )
    return Outcome("pair", number, f"{tube.scan} p{pixels:g}", _verdict(answer, tube), {})


def _film(number: int, rng: np.random.RandomState, folder: Path) -> Outcome:
    tube = _tube(rng, scroll=(float(rng.choice([0, 0, 0.5])), float(rng.choice([0, 1.0]))))
    pixels = rng.uniform(5, 8)
    fps = float(rng.choice([24, 25, 50, 60, 60, 120] if tube.rate > 55 else [24, 30, 60, 60, 120]))
    exposure = min(1 / float(rng.choice([50, 60, 100, 120])), 1 / fps)
    camera = _camera(rng, tube, pixels, rows=360, columns=480, exposure=exposure, tilt=rng.uniform(-10, 10))
    path = film(
        camera,
        tube,
        fps,
        14,
        int(rng.randint(18, 29)),
        folder / f"film-{number}.mp4",
        uneven=rng.rand() < 0.2,
    )
    answer = ss.read_glass(path)
    path.unlink()
    return Outcome(
        "film", number, f"{tube.scan} {tube.rate:g} Hz, {fps:g} a second", _verdict(answer, tube), {}
    )


def film(
    camera: Camera, tube: Tube, fps: float, frames: int, crf: int, path: Path, *, uneven: bool = False
) -> Path:
    """Write a film in H.264; `uneven` leaves out every fifth frame, as variable rates do."""
    rng = np.random.RandomState(camera.seed)
    walk = np.cumsum(rng.standard_normal((2 * frames, 2)) * 0.05, axis=0)
    numbers = [k for k in range(2 * frames) if not (uneven and k % 5 == 4)][:frames]
    white: float | None = None
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=Fraction(round(fps)))
        stream.width, stream.height, stream.pix_fmt = camera.columns, camera.rows, "yuv420p"
        stream.options = {"crf": str(crf), "preset": "veryfast", "threads": "1"}
        for number in numbers:
            own = replace(
                camera,
                start=camera.start + number / fps,
                offset=(float(walk[number, 0]), float(walk[number, 1])),
                seed=camera.seed + number,
            )
            light = exposed(own, tube)
            white = float(np.percentile(light, 99.5)) if white is None else white
            frame = av.VideoFrame.from_ndarray(film_codes(sensed(own, light, white)), format="rgb24")
            frame.pts = number
            frame.time_base = Fraction(1, round(fps))
            for packet in stream.encode(frame):
                out.mux(packet)
        for packet in stream.encode(None):
            out.mux(packet)
    return path


def _jitter(number: int, rng: np.random.RandomState, folder: Path) -> Outcome:
    still = rng.rand() < 0.3
    tube = _tube(rng, jitter=0.0 if still else rng.uniform(0.03, 0.12), scan="240p")
    pixels = float(rng.choice([6, 8] if still else [4, 6, 8]))
    camera = _camera(rng, tube, pixels, rows=720, columns=640)
    answer = ss.read_glass(photo(camera, tube), shutter=camera.exposure, field_rate=tube.rate)
    if answer.found is None or answer.found.jitter is None:
        return Outcome("jitter", number, f"p{pixels:g}", "refused", {})
    found = answer.found.jitter.rms
    if still:
        return Outcome("jitter", number, "floor", "right", {"floor": found})
    return Outcome("jitter", number, f"p{pixels:g}", "right", {"ratio": found / tube.jitter})


def _width(number: int, rng: np.random.RandomState, folder: Path) -> Outcome:
    tube = _tube(rng, scan="240p", skew=0.0, picture=WHITE)
    pixels = float(rng.choice([6, 8, 12, 16]))
    half = 320 / pixels / (tube.lines * 4 / 3)
    camera = _camera(rng, tube, pixels, look=(half * 0.7, 0.5), tilt=rng.uniform(-8, 8), iso=200.0)
    answer = ss.read_glass(photo(camera, tube), shutter=camera.exposure, corners=_far_corners(camera, tube))
    if answer.found is None or answer.found.width is None:
        return Outcome("width", number, f"p{pixels:g}", "refused", {})
    figures = {"width": abs(answer.found.width - 2.3548 * tube.sigma)}
    if pixels >= 12 and answer.found.depth is not None:
        v = np.linspace(0, 1, 401)
        beam = sum(np.exp(-0.5 * ((v - k - 0.5) / tube.sigma) ** 2) for k in range(-3, 4))
        figures["depth"] = abs(answer.found.depth - (1 - beam.min() / beam.max()))
    return Outcome("width", number, f"p{pixels:g}", "right", figures)


WHITE = -1
"""The picture that is white all over, its corners dark: widths at full drive."""

_KINDS = {
    "pitch": _pitch,
    "count": _count,
    "long": _long,
    "pair": _pair,
    "film": _film,
    "jitter": _jitter,
    "width": _width,
}

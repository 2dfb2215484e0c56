"""What a tube gives off, for the tests alone: beams that draw lines, a mask, a bezel; nothing of the package.

Heights v are in lines of a field from the picture's top, u is 0..1 across. A beam is a Gaussian (or a skewed
one) whose width grows with the root of the drive, as spots do; light decays exponentially.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import cv2
import numpy as np
from skimage import data


@dataclass(frozen=True)
class Tube:
    """A tube and what it is fed.

    lines of a field; rate of fields; scan: "240p" (one picture on one set), "480i" (two half a line apart),
    "field-only" (both fields' content on one set); sigma at full drive in lines, of which half grows with the
    root of drive; skew of the profile; mask: "none", "stripes", "slots"; mask_pitch in lines, slot_rows
    height of a
    slot in lines; jitter: rms of single lines, in lines; field_jitter: of whole fields; decay in s; active
    share of a field's time
    """

    lines: int = 240
    rate: float = 59.94
    scan: str = "240p"
    sigma: float = 0.22
    skew: float = 0.0
    mask: str = "stripes"
    mask_pitch: float = 0.5
    slot_rows: float = 0.355
    jitter: float = 0.0
    field_jitter: float = 0.0
    picture: int = 0
    scroll: tuple[float, float] = (0.0, 0.0)
    """Field lines down and samples right a field that content moves."""
    decay: float = 0.0012
    active: float = 0.92
    bezel: bool = True
    seed: int = 0
    landing: tuple[float, float] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "landing", (0.0, 0.5) if self.scan == "480i" else (0.0, 0.0))

    def strayed(self, number: int) -> float:
        """Where a whole field lies beside its place, in lines."""
        drawn = np.random.RandomState((self.seed * 6007 + 3 * number + 1) % 2**31)
        return float(drawn.standard_normal() * self.field_jitter)

    @property
    def sets(self) -> str:
        return "two" if self.scan == "480i" else "one"


NAMES = ("astronaut", "chelsea", "coffee", "rocket")


@cache
def drawn_picture(number: int) -> np.ndarray:
    """A frame of 960 x 1280 light values 0..1: photographs that scikit-image ships, and drawn game-like
    ones."""
    if number < 0:
        white = np.ones((960, 1280, 3), np.float32)
        white[300:420, 200:500] = white[600:700, 700:1100] = 0.02
        return white
    rng = np.random.RandomState(1000 + number)
    if number % 3 == 0:
        photo = getattr(data, NAMES[number // 3 % len(NAMES)])()[..., :3]
        return (cv2.resize(photo, (1280, 960), interpolation=cv2.INTER_AREA) / np.float32(255)) ** 2.2
    frame = np.zeros((60, 80, 3), np.float32)
    sky = rng.uniform(0.1, 0.7, 3)
    frame[:] = sky * np.linspace(1, 0.5, 60)[:, None, None]
    for _ in range(90 if number % 3 == 1 else 30):  # tiles and walls in few colours
        y, x = rng.randint(0, 58), rng.randint(0, 78)
        h, w = rng.randint(1, 12), rng.randint(1, 20)
        frame[y : y + h, x : x + w] = rng.choice([0.02, 0.15, 0.4, 0.9], 3)
    big = np.kron(frame, np.ones((16, 16, 1), np.float32))
    for _ in range(60):  # small sprites and text, 4 frame lines a dot
        y, x = rng.randint(0, 900), rng.randint(0, 1200)
        sprite = (rng.rand(8, 8, 1) > 0.5) * rng.choice([0.1, 0.5, 1.0], 3)
        big[y : y + 32, x : x + 32] = np.kron(sprite, np.ones((4, 4, 1)))[: 960 - y, : 1280 - x]
    return big.astype(np.float32)


def content(tube: Tube, parity: int, number: int) -> np.ndarray:
    """The drive (lines, samples, 3) of one field in light 0..1; `number` counts fields."""
    whole = drawn_picture(tube.picture)
    down, right = tube.scroll[0] * number, tube.scroll[1] * number
    if down or right:
        whole = np.roll(whole, (round(down * 960 / tube.lines), round(right * 2)), axis=(0, 1))
    if tube.scan == "240p":
        return cv2.resize(whole, (640, tube.lines), interpolation=cv2.INTER_AREA)
    woven = cv2.resize(whole, (640, 2 * tube.lines), interpolation=cv2.INTER_AREA)
    return woven[parity::2]


def beams(
    tube: Tube, drive: np.ndarray, u: np.ndarray, v: np.ndarray, landing: float, moved: np.ndarray
) -> np.ndarray:
    """Light (..., 3) at places of the glass from one field; moved: each line's jitter, in lines."""
    count = drive.shape[1]
    # lines above and below the picture and samples beside it give no light
    padded = np.zeros((tube.lines + 4, count + 1, 3), np.float32)
    padded[2:-2, :count] = drive
    moved = np.pad(moved, 2)
    sigma = tube.sigma * (0.5 + 0.5 * np.sqrt(padded))
    height = (padded * (tube.sigma / sigma)).reshape(-1, 3)
    fall = (-0.5 / sigma**2).reshape(-1, 3)
    column = np.where((u >= 0) & (u < 1), (u * count).astype(np.int32), count)
    nearest = np.floor(v - landing)
    place = (v - landing - nearest - 0.5).astype(np.float32)
    row = np.clip(nearest, -2, tube.lines + 1).astype(np.int32) + 2
    out = np.zeros((*v.shape, 3), np.float32)
    for step in (-1, 0, 1):
        line = np.clip(row + step, 0, tube.lines + 3)
        away = place - step - moved[line]
        at = line * (count + 1) + column
        wider = 1 + np.float32(tube.skew) * np.sign(away)
        light = fall.take(at, axis=0)
        light *= ((away / wider) ** 2)[..., None]
        np.exp(light, out=light)
        light *= height.take(at, axis=0)
        out += light / wider[..., None] if tube.skew else light
    return out


def _part(value: np.ndarray) -> np.ndarray:
    return (value - np.floor(value)).astype(np.float32)


def mask(tube: Tube, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Transmission (..., 3) of the mask: vertical stripes of R, G and B, or the same cut into staggered
    slots."""
    if tube.mask == "none":
        return np.ones((*v.shape, 3), np.float32)
    across = u * tube.lines * 4 / 3 / tube.mask_pitch
    parts = []
    for colour in range(3):
        place = _part(across - colour / 3)
        parts.append(np.clip((0.17 - np.abs(place - 0.5)) / 0.03 + 0.5, 0, 1))
    out = np.stack(parts, axis=-1).astype(np.float32)
    if tube.mask == "slots":
        stagger = 0.5 * (np.floor(across) % 2)
        row = _part(v / tube.slot_rows + stagger)
        out *= np.clip((0.38 - np.abs(row - 0.5)) / 0.04 + 0.5, 0, 1)[..., None].astype(np.float32)
    return 3 * out


@cache
def _label() -> np.ndarray:
    rng = np.random.RandomState(7)
    paper = np.full((3600, 1200), 13, np.uint8)
    for k in range(120):  # lettering up to the picture's edge
        at = (int(rng.randint(-60, 1160)), int(30 * (k + 1)))
        text = "".join(chr(rng.randint(65, 91)) for _ in range(4))
        cv2.putText(paper, text, at, cv2.FONT_HERSHEY_SIMPLEX, 1.4, int(rng.uniform(60, 150)), 5)
    return paper.astype(np.float32) / 255


def bezel(tube: Tube, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Reflected light (...) of what surrounds the picture: dark plastic with printed letters, lit by the
    room."""
    label = _label()
    y = (v / tube.lines * 3598).astype(np.float32)
    x = ((u + 0.27) / 0.25 * 1198).astype(np.float32)
    seen = cv2.remap(label, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0.04)
    outside = (u < -0.01) | (u > 1.01) | (v < -2) | (v > tube.lines + 2)
    return np.where(outside, seen, 0.004).astype(np.float32)

"""What is measured on the photos of one set-up: lines, count, width, jitter, landing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import hypot

import numpy as np
from numpy.typing import NDArray

from scalesim.core.photo import Photo
from scalesim.errors import NotMeasurable
from scalesim.signal.glass.carrier import TILE
from scalesim.signal.glass.exposure import FIELDS, Landing, by_exposure, seam, unknown
from scalesim.signal.glass.find import Found, find_lines, viewed
from scalesim.signal.glass.jitter import LineJitter, line_jitter
from scalesim.signal.glass.pair import room_of, together
from scalesim.signal.glass.profile import Profile, profiles, without_camera
from scalesim.signal.glass.slats import modulation, slats
from scalesim.signal.rectify.view import View

FIELD_LINES = (200.0, 320.0)
"""Lines of a field over a picture's height that 15 kHz tubes show: 224 to 288, and what is hidden or
stretched."""
BLUR_PX = (0.9, 0.6, 1.3)
"""Usual, least and largest sigma of lens, focus, demosaicing and compression, pixels; common practice, no
published source."""
ONE_FIELD = 1.3
"""Fields in an exposure up to which single lines are seen once."""


BEYOND = 0.003
"""Error of a pitch that is taken on beyond the photo, of itself: what curves there is not seen."""
BOTH_SETS = 380.0
"""Lines over a picture's height above which those of both fields were counted: a field has 320 at most."""


@dataclass(frozen=True, eq=False)
class Measured:
    """What one set-up shows; None for what cannot be had, `why` says the reason by the document's key.

    `grows` : whether lines fall off where the picture is bright, which slats before one never do.
    """

    found: Found
    period: float
    count: tuple[float, float] | None
    landing: Landing
    jitter: LineJitter | None
    profiles: tuple[Profile, ...]
    width: float | None
    width_range: tuple[float, float] | None
    depth: float | None
    tilt: float | None
    roll: float
    fields: float | None
    grows: bool | None
    why: dict[str, str] = field(default_factory=dict)

    @property
    def lit(self) -> tuple[float, float] | None:
        """Lines that are lit over the picture's height, of all sets together, and the error."""
        if self.count is None or self.landing.sets != "two" or self.count[0] > BOTH_SETS:
            return self.count
        return 2 * self.count[0], 2 * self.count[1]

    @property
    def each_set(self) -> tuple[float, float] | None:
        """Lines of one set over the picture's height, and the error; None while the sets are not known."""
        if self.count is None or self.landing.sets == "unknown":
            return None
        parts = 2 if self.landing.sets == "two" else 1
        assert self.lit is not None
        return self.lit[0] / parts, self.lit[1] / parts


def field_pitch(rect: View | None, expected: int | None, size: tuple[int, int]) -> tuple[float, float] | None:
    """Return the least and largest pixels a field line that the known scale allows; None where it is not
    known.

    Parameters:
        rect : of the photo; expected : lines that the user expects over the picture's height; size : rows,
        columns
    """
    if rect is None:
        return None
    top, bottom = rect.to_photo(np.array([[0.5, 0.0], [0.5, 1.0]]))
    height = float(np.hypot(*(bottom - top)))
    least, most = FIELD_LINES
    if expected is not None:
        own = expected / 2 if expected >= 400 else expected
        least, most = 0.94 * own, 1.06 * own
    # the picture's middle stands for all of it; tilt and barrel make it up to a tenth larger
    return height / most * 0.95, height / least * 1.1


def by_brightness(light: NDArray[np.float32], expected: int) -> tuple[float, float] | None:
    """Return a rough range of pixels a field line from where the picture is bright; None when it is cut off.

    Good to a third at best, which is enough to tell a pitch from its half.
    """
    rows = light[:: max(1, light.shape[0] // 800)].mean(axis=1)
    lit = np.flatnonzero(rows > 0.15 * np.percentile(rows, 95))
    if not len(lit) or lit[0] < 0.02 * len(rows) or lit[-1] > 0.98 * len(rows):
        return None
    own = expected / 2 if expected >= 400 else expected
    pitch = (lit[-1] - lit[0]) / len(rows) * light.shape[0] / own
    return 0.8 * pitch, 1.3 * pitch


def measure(
    light: NDArray[np.float32],
    others: Sequence[NDArray[np.float32]] = (),
    *,
    rect: View | None,
    expected: int | None,
    fields: float | None,
    bezel: tuple[int, int, int, int] | None = None,
    tripod: bool = False,
    focal: float | None = None,
    landed: bool = True,
    scene: NDArray[np.float32] | None = None,
    sideways: bool = False,
) -> Measured:
    """Return what photos of one set-up show.

    Parameters:
        light : (rows, columns) of the first; others : of the other photos; rect : of its corners
        expected : lines over the picture's height; fields : in an exposure, None where unknown
        bezel, tripod : see the job's keys; focal : pixels, None where unknown
        landed : whether to tell one set from two, and jitter; a film does that over its frames
        sideways : whether the sensor was read along the lines
        scene : (rows, columns) light of the scene where `light` is as a display would give it
    Raises: NotMeasurable when the first photo holds no lines that can be told
    """
    pitch = field_pitch(rect, expected, light.shape[:2])
    rough = by_brightness(light, expected) if pitch is None and expected is not None else None
    several = fields is not None and fields >= FIELDS
    box = None if rect is None else _box(rect, light.shape)
    found = find_lines(light, pitch=pitch or rough, seamless=several, box=box)
    lines = found.lines
    x, y = np.array(lines.centre[0]), np.array(lines.centre[1])
    period = float(lines.period(x, y))
    room = room_of(found, bezel)
    landing = unknown("")
    if landed:
        landing = _landing(found, light, others, period, pitch or rough, fields, room, tripod=tripod)
    why: dict[str, str] = {}
    grows = _grown(found, why, sideways=sideways) if pitch is None and rough is None else None
    if grows is None:
        why["beam_grows"] = "not looked at: the scale that was given is taken for a tube's"
    count = None if rect is None else counted(found, rect)
    if count is None:
        why["lines"] = "the picture's corners are not known; give --corners"
    elif count[1] > 3:
        why["lines"] = (
            f"the picture's corners tell the count to ±{count[1]:.1f} lines only; give them more exactly"
        )
        count = None
    jitter = _jitter(found, fields, why) if landed else None
    shapes = profiles(found if scene is None else seen_in(found, scene, period))
    width, reach, depth = _width(found, shapes, period, why)
    tilt = None if rect is None else rect.tilt_deg(4 / 3, focal)
    if tilt is None:
        why["tilt_deg"] = "how square the camera stood is only known from the corners; give --corners"
    elif focal is None:
        why["tilt_deg"] = (
            "it rests on the focal length of a phone's main camera: the photo does not tell its own"
        )
    return Measured(
        found,
        period,
        count,
        landing,
        jitter,
        shapes,
        width,
        reach,
        depth,
        tilt,
        float(lines.direction(x, y)),
        fields,
        grows,
        why,
    )


def _grown(found: Found, why: dict[str, str], *, sideways: bool) -> bool:
    """Return whether lines are seen to be a growing beam's.

    Raises: NotMeasurable where they are slats before a picture
    """
    told = modulation(found, sideways=sideways)
    cause = slats(found, told)
    if cause is not None:
        raise NotMeasurable(cause.words)
    if told is not None and told.grows:
        return True
    why["beam_grows"] = (
        "that these are a tube's lines is taken for granted: even slats before a picture would look "
        "the same; lines that grow where the picture is bright would tell (show bright and dark parts in a "
        "dark room); or give --corners"
    )
    return False


def seen_in(found: Found, light: NDArray[np.float32], period: float) -> Found:
    """Return the same lines in another light of the same picture; period : pixels."""
    return replace(found, view=viewed(light, found.view.factor, period))


def _box(rect: View, shape: tuple[int, ...]) -> tuple[int, int, int, int] | None:
    """Return left, top, right, bottom of the picture in whole pixels; None where little of it is in view."""
    at = rect.to_photo(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]]))
    most = np.array([shape[1], shape[0]])
    left, top = np.clip(np.floor(at.min(axis=0)), 0, most).astype(int)
    right, bottom = np.clip(np.ceil(at.max(axis=0)), 0, most).astype(int)
    return (left, top, right, bottom) if min(right - left, bottom - top) >= 2 * TILE else None


def _jitter(found: Found, fields: float | None, why: dict[str, str]) -> LineJitter | None:
    if fields is not None and fields > ONE_FIELD:
        why["jitter_lines"] = f"{fields:.1f} fields were exposed over each other; expose one field or less"
        return None
    jitter = line_jitter(found)
    if jitter is None:
        why["jitter_lines"] = "too few lines are as bright as their neighbours; show a plain picture"
    return jitter


def _landing(
    found: Found,
    light: NDArray[np.float32],
    others: Sequence[NDArray[np.float32]],
    period: float,
    pitch: tuple[float, float] | None,
    fields: float | None,
    room: NDArray[np.bool_],
    *,
    tripod: bool,
) -> Landing:
    own = seam(found)
    if own is not None:
        return own
    alone = by_exposure(found, period, pitch, fields)
    if not others or alone.sets != "unknown":
        return alone
    return together(found, light, others, room, tripod=tripod)


def counted(found: Found, rect: View) -> tuple[float, float]:
    """Return (lines over the picture's height, error): phase from corner to corner, the mean of both sides.

    A picture's upper and lower edge are lines themselves, so that nothing between the corners matters, a
    barrel lens neither. The error is half of what the sides differ by, the phase's own residual, what the
    view's height may be off, and where corners lie outside the photo `BEYOND` of the lines that are not seen.
    """
    at = rect.to_photo(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]]))
    phase = found.lines.phase(at[:, 0], at[:, 1])
    left, right = float(phase[2] - phase[0]), float(phase[3] - phase[1])
    count = (left + right) / 2
    lines = found.lines
    inside = np.clip(at[:, 1], 0, lines.rows - 1)
    tall = max(float(np.mean(at[2:, 1] - at[:2, 1])), 1.0)
    seen = np.mean(inside[2:] - inside[:2]) / tall
    beyond = BEYOND * count * (1 - min(float(seen), 1.0))
    parts = ((left - right) / 2, 2 * lines.residual, rect.height_error * count / tall, beyond)
    return count, hypot(*parts) + 0.02


def _width(
    found: Found,
    shapes: tuple[Profile, ...],
    period: float,
    why: dict[str, str],
) -> tuple[float | None, tuple[float, float] | None, float | None]:
    if not shapes:
        why["line_width"] = why["gap_depth"] = "too little of the photo is bright enough to fold lines"
        return None, None, None
    main = shapes[0]
    depth: float | None = main.depth
    factor = found.view.factor
    if period < 5:
        why["gap_depth"] = f"a line is {period:.1f} pixels high; the gaps need 12, and 5 to be told at all"
        depth = None
    if main.width is None:
        why["line_width"] = "gaps are brighter than half of the lines; come closer, or show a darker picture"
        return None, None, depth
    if period < 4:
        why["line_width"] = f"a line is {period:.1f} pixels high; its width needs 8, and 4 to be told at all"
        return None, None, depth
    usual, widest, narrowest = (without_camera(main.width, period, blur, factor) for blur in BLUR_PX)
    return usual, (narrowest, widest), depth


def focal_of(photo: Photo) -> float | None:
    """Return the focal length in pixels where the camera wrote what it is on 36 mm of film."""
    wide = photo.shot.focal_35_mm
    return None if wide is None else wide / 36 * max(photo.codes.shape[:2])

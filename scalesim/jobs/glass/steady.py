"""A film as it is read: frame by frame, in steady parts from cut to cut, each with lines of its own."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.core.photo import Film, FilmFrame
from scalesim.errors import NotMeasurable
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.curved import Still, doubt
from scalesim.jobs.glass.measured import ONE_FIELD, Measured, measure
from scalesim.jobs.glass.options import bezel_of, shutter_of
from scalesim.signal.glass.candidates import reduced
from scalesim.signal.glass.cuts import Cuts, likeness, thumbnail
from scalesim.signal.glass.film import Reader, Rows
from scalesim.signal.glass.jitter import LineJitter, line_jitter
from scalesim.signal.glass.pair import room_of
from scalesim.signal.rectify.view import View

VERDICT_FRAMES = 24
"""Frames of one steady part that decide."""
SEARCHED = 240
"""Frames that are looked through for such a part, unless the whole film was asked for."""
TRIED, TRIED_WHOLE = 4, 16
"""Frames in which lines are looked for before a film is given up."""
AGAIN = (3, 12)
"""Frames after which a picture without lines is looked at again though nothing changed: focus, a blur."""
LOST = 3
"""Frames in a row without the lines that end a part: the camera turned away, or a cut."""
AGREE = 0.5
"""Least coherence of the squared carrier of a frame that still shows a part's lines."""
DARK = 0.1
"""Of a part's light: darker frames are not looked at."""
BLACK = 5e-4
"""Mean light of a frame, 1 white, below which nothing is looked for: codes of 4 % of white."""
CHANGED = 0.8
"""Likeness below which a picture is another one than that in which no lines were found."""
SPARSE = 5
"""Rows and columns of which one tells a frame's mean light: no multiple of a mask's or a coder's periods."""
JITTER_FRAMES, JITTER_STEP = 4, 6
TOTALS = 3
"""Longest parts whose mean picture is kept."""
MOST = 32
"""Longest parts that are kept at all."""


@dataclass(eq=False)
class Part:
    """Frames without a cut that show one pattern of lines.

    Parameters:
        measured : on the first frame of these lines; reader : reads frames against it
        shown : of the first frame; doubt : why light cannot be told from its codes, "" where it can
        rows : of the first `VERDICT_FRAMES`; times, turns, lights, scenes : of every frame: s, carrier, mean
            light as shown and of the scene
        stills : number of a frame and its lines' jitter, of a few frames
        total : sum of the frames laid on each other's lines; moved : lines of the last one, pitches
    """

    measured: Measured
    reader: Reader
    shown: Still
    doubt: str
    rows: list[Rows] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    turns: list[complex] = field(default_factory=list)
    lights: list[float] = field(default_factory=list)
    scenes: list[float] = field(default_factory=list)
    stills: list[tuple[int, LineJitter]] = field(default_factory=list)
    total: NDArray[np.float32] | None = None
    moved: float = 0.0

    @property
    def frames(self) -> int:
        """How many frames were read."""
        return len(self.times)

    @property
    def rate(self) -> float:
        """Frames a second, 0 where there is one frame."""
        return float(1 / np.median(np.diff(self.times))) if len(self.times) > 1 else 0.0

    def add(self, frame: FilmFrame, own: Rows, *, still: bool) -> None:
        """Take a frame in; `still` : whether its single lines are measured, as far as that is done."""
        if still and self.frames % JITTER_STEP == 0 and self.frames < JITTER_FRAMES * JITTER_STEP:
            found = line_jitter(self.reader.seen(frame))
            self.stills += [] if found is None else [(self.frames, found)]
        small = reduced(frame.light, self.reader.found.view.factor)
        first = complex(self.turns[0]) if self.turns else complex(own.z.sum())
        # half a pitch is the other field, not a motion; between frames lines move by less than a quarter
        half = float(np.angle((complex(own.z.sum()) / first) ** 2)) / (4 * np.pi)
        self.moved = half + round(2 * (self.moved - half)) / 2
        laid = _laid(small, -self.moved * self.measured.period / self.reader.found.view.factor)
        self.total = laid if self.total is None else self.total + laid
        if len(self.rows) < VERDICT_FRAMES:
            self.rows.append(own)
        self.times.append(own.time)
        self.turns.append(complex(own.z.sum()))
        self.lights.append(own.light)
        self.scenes.append(float(frame.scene(SPARSE).mean()))


@dataclass(eq=False)
class Looked:
    """What was read of a film: its steady parts, and why there is none.

    Parameters:
        read : frames; ended : whether that was all; cuts : s; first : the first frame
        still : whether the shutter was open for one field or less, so that single lines were measured
    """

    parts: list[Part] = field(default_factory=list)
    reason: str = "the film has no frames"
    read: int = 0
    ended: bool = False
    cuts: list[float] = field(default_factory=list)
    still: bool = False
    first: Still | None = None


def looked_through(film: Film, asked: Asked, rect: View | None) -> Looked:
    """Return a film's steady parts: of all of it when that was asked, else until one is long enough."""
    scan = _Scan(film, asked, rect)
    for frame in film.frames():
        scan.take(frame)
        if not asked.whole and scan.enough():
            break
    else:
        scan.looked.ended = True
    scan.close()
    return scan.looked


class _Scan:
    def __init__(self, film: Film, asked: Asked, rect: View | None) -> None:
        self.asked, self.rect, self.curve, self.turned = asked, rect, film.curve, film.turned
        self.bezel = None if asked.bezel is None else bezel_of(asked.bezel)
        shutter = None if asked.shutter is None else shutter_of(asked.shutter)
        # no frame was exposed for longer than it lasts
        longest = 1 / float(film.rate) if shutter is None else shutter
        self.still = longest * asked.field_rate <= ONE_FIELD
        self.looked, self.cuts = Looked(still=self.still), Cuts()
        self.now: Part | None = None
        self.known: list[Part] = []
        self.lost = self.tried = self.since = 0
        self.failed: NDArray[np.float32] | None = None

    def enough(self) -> bool:
        """Whether what was read decides, or nothing more is looked for."""
        parts = self.looked.parts + ([] if self.now is None else [self.now])
        given_up = not parts and self.tried >= TRIED
        return self.looked.read >= SEARCHED or given_up or any(p.frames >= VERDICT_FRAMES for p in parts)

    def take(self, frame: FilmFrame) -> None:
        looked = self.looked
        looked.read += 1
        if looked.first is None:
            looked.first = Still.of(frame.light, self.curve)
        small = thumbnail(frame.light)
        cut = self.cuts.at(small)
        if cut:
            looked.cuts.append(frame.time)
        if self.now is not None:
            own = self.now.reader.rows(frame)
            self.lost = 0 if own.coherence >= AGREE else self.lost + 1
            if self.lost == 0 and not cut:
                self.now.add(frame, own, still=self.still)
                return
            if 0 < self.lost < LOST and not cut:
                return
            if not cut:
                looked.cuts.append(self.now.times[-1] + 1 / max(self.now.rate, 1.0))
            self.close()
        self._begin(frame, small)

    def close(self) -> None:
        """End the part that is read."""
        if self.now is not None:
            self.looked.parts.append(self.now)
            self.now, self.lost = None, 0
            longest = sorted(self.looked.parts, key=lambda part: -part.frames)
            for part in longest[TOTALS:]:
                part.total = None
            self.looked.parts = [part for part in self.looked.parts if part in longest[:MOST]]

    def _begin(self, frame: FilmFrame, small: NDArray[np.float32]) -> None:
        """Begin a part where a frame shows lines: those of a part before, or others."""
        for part in self.known:
            own = part.reader.rows(frame)
            if own.coherence >= AGREE and own.light >= DARK * part.lights[0]:
                self.now = Part(part.measured, part.reader, Still.of(frame.light, self.curve), part.doubt)
                self.now.add(frame, own, still=self.still)
                return
        if not self._worth(small):
            return
        self.tried, self.failed, self.since = self.tried + 1, small, 0
        try:
            scene = frame.scene()
            found = measure(
                frame.light,
                rect=self.rect,
                expected=self.asked.lines,
                fields=None,
                landed=False,
                scene=scene,
                sideways=self.turned % 2 == 1,
            )
        except NotMeasurable as error:
            self.looked.reason = str(error)
            return
        self.failed = None
        room = None if self.bezel is None else room_of(found.found, self.bezel)
        doubted = doubt(self.curve, scene, found.profiles)
        lean = _lean(found, bezel=room is not None)
        shown = Still.of(frame.light, self.curve)
        self.now = Part(lean, Reader.of(lean.found, room, self.turned), shown, doubted)
        self.known.append(self.now)
        self.now.add(frame, self.now.reader.rows(frame), still=self.still)

    def _worth(self, small: NDArray[np.float32]) -> bool:
        """Whether lines may be found in a picture: not black, and not the one they were not found in."""
        self.since += 1
        if self.tried >= (TRIED_WHOLE if self.asked.whole else TRIED):
            return False
        lights = [part.lights[0] for part in self.known]
        if float(small.mean()) < max(BLACK, DARK * min(lights, default=0.0)):
            if not self.known and self.failed is None:
                self.looked.reason = "the film is black as far as it was read; film the lit tube"
            return False
        if self.failed is None or self.since in AGAIN:
            return True
        return likeness(self.failed, small) < CHANGED


def _lean(found: Measured, *, bezel: bool) -> Measured:
    """Return what was measured without the pictures that no later frame is held against."""
    view, nothing = found.found.view, np.zeros((0, 0), np.float32)
    kept = replace(view, light=view.light if bezel else nothing, wave=nothing, mean=nothing)
    return replace(found, found=replace(found.found, view=kept))


def _laid(light: NDArray[np.float32], shift: float) -> NDArray[np.float32]:
    """Return a frame moved up by so many pixels."""
    whole, part = int(np.floor(shift)), np.float32(shift - np.floor(shift))
    rows = np.clip(np.arange(len(light) + 1) + whole, 0, len(light) - 1)
    placed = light[rows]
    return np.asarray(placed[:-1] * (1 - part) + placed[1:] * part)

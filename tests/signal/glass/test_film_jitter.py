"""Jitter over the frames of a film, on numbers whose truth is drawn here."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.signal.glass.field_jitter import field_jitter
from scalesim.signal.glass.film import Rows
from scalesim.signal.glass.film_jitter import jitter_over_time
from scalesim.signal.glass.jitter import LineJitter

FRAMES, BANDS, PITCH = 60, 64, 7.0


def _rows(strays: np.ndarray, camera: np.ndarray, lines: float, sides: np.ndarray | None) -> list[Rows]:
    """Rows of frames whose fields stray, seen by a camera that moves (lines), single lines wavering."""
    rng = np.random.RandomState(4)
    made = []
    for k in range(FRAMES):
        place = strays[k] + camera[k] + 0.002 * k + lines * rng.standard_normal(BANDS)
        z = np.exp(2j * np.pi * place) * (1 if sides is None else sides[k])
        down = -camera[k] * PITCH  # what lies lower shows a smaller phase
        made.append(Rows(k / 60, z, np.ones(BANDS), 1.0, 0.3, (float(down), 0.0), 0.01))
    return made


@pytest.mark.parametrize("two", [False, True])
def test_fields_that_stray_are_told_from_the_camera_and_from_single_lines(two: bool) -> None:
    rng = np.random.RandomState(1)
    strays = 0.05 * rng.standard_normal(FRAMES)
    camera = np.cumsum(0.08 * rng.standard_normal(FRAMES))
    sides = np.sign(np.cos(np.pi * np.arange(FRAMES) + 0.1)) if two else None
    signs = None if sides is None else np.repeat(sides[:, None], BANDS, axis=1)
    found = field_jitter(_rows(strays, camera, 0.03, sides), signs, PITCH)
    assert found is not None and found.frames == FRAMES
    assert found.rms == pytest.approx(np.std(strays), rel=0.08)
    assert found.error == pytest.approx(found.rms / np.sqrt(2 * FRAMES), rel=0.1)
    still = field_jitter(_rows(0 * strays, camera, 0.03, sides), signs, PITCH)
    assert still is not None and still.rms < 0.005  # lines that waver are no field that strays


def test_without_the_bezel_in_most_frames_nothing_is_told() -> None:
    rows = _rows(np.zeros(FRAMES), np.zeros(FRAMES), 0.0, None)
    lost = [Rows(r.time, r.z, r.weight, 1.0, 0.3, None) if k % 3 == 0 else r for k, r in enumerate(rows)]
    assert field_jitter(lost, None, PITCH) is None
    assert field_jitter(rows[:8], None, PITCH) is None


def _still(number: int, moved: int, static: np.ndarray, jitter: float, turn: float) -> tuple[int, LineJitter]:
    """A frame's lines: `static` by line of the glass, jitter anew; its numbers begin `moved` lines later."""
    own = static + jitter * np.random.RandomState(number).standard_normal(len(static))
    square = float(np.mean((own - own.mean()) ** 2))
    return number, LineJitter(square**0.5, 0.001, len(own), own, np.arange(len(own)) - moved)


def test_what_stays_in_every_frame_is_no_jitter() -> None:
    static = 0.04 * np.random.RandomState(9).standard_normal(200)
    # the camera sinks by a fifth of a line a frame: after five, the same line has the number before
    phase = 0.2 * np.arange(24)
    turns = np.exp(2j * np.pi * phase)
    whole = np.round(phase - np.angle(turns) / (2 * np.pi)).astype(int)
    stills = [_still(k, int(whole[k]), static, 0.03, phase[k]) for k in range(0, 24, 4)]
    found = jitter_over_time(stills, turns)
    assert found is not None and found.rms == pytest.approx(0.03, rel=0.06)
    assert stills[0][1].rms == pytest.approx(0.05, rel=0.1)  # one frame alone holds both
    alone = jitter_over_time(stills[:1], turns)
    assert alone is not None and alone.rms == pytest.approx(stills[0][1].rms)
    assert jitter_over_time([], turns) is None


def test_lines_of_the_other_field_are_not_compared() -> None:
    static = 0.04 * np.random.RandomState(9).standard_normal(200)
    other = 0.04 * np.random.RandomState(10).standard_normal(200)
    turns = np.array([1, -1, 1, -1], dtype=complex)
    stills = [_still(k, 0, (static, other)[k % 2], 0.02, 0) for k in range(4)]
    found = jitter_over_time(stills, turns)
    assert found is not None and found.rms == pytest.approx(0.02, rel=0.1)

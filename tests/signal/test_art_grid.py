"""Grids of magnified art: built by repeating, by Pillow and OpenCV, and what must not be taken for one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from box_captures import frame, through_jpeg, unit
from numpy.typing import NDArray

from scalesim.errors import ShapeError
from scalesim.signal.art_grid import Grid, art_grid, art_match


def drawn(lines: int = 90, samples: int = 120, seed: int = 0) -> NDArray:
    """Return art of few colours: rectangles of 1 to 24 samples a side, (lines, samples, 3) uint8."""
    rng = np.random.RandomState(seed)
    art = np.full((lines, samples, 3), 90, np.uint8)
    for _ in range(400):
        top, left = rng.randint(0, lines), rng.randint(0, samples)
        art[top : top + rng.randint(1, 10), left : left + rng.randint(1, 24)] = rng.randint(0, 8, 3) * 32
    return art


def magnified(n: int, offset: int) -> NDArray:
    """Return art repeated n times along both axes, its grid's borders at lines `offset` modulo n."""
    big = np.repeat(np.repeat(drawn(), n, axis=0), n, axis=1)
    return big[(n - offset) % n :, :]


@pytest.mark.parametrize(("n", "offset"), [(n, o) for n in (2, 3, 4, 5) for o in range(n)])
def test_repeated_art(n: int, offset: int) -> None:
    found = art_grid(unit(magnified(n, offset)))
    assert (found.lines.pitch, found.lines.offset) == (n, offset)
    assert (found.samples.pitch, found.samples.offset) == (n, 0)
    assert found and found.lines.confidence > 0.99


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_noise_and_jpeg(n: int) -> None:
    picture = magnified(n, 1)
    noise = np.random.RandomState(1).standard_normal(picture.shape) * 2
    poor = through_jpeg(np.clip(picture + noise, 0, 255).astype(np.uint8), 60)
    found = art_grid(unit(poor)).lines
    assert (found.pitch, found.offset) == (n, 1)


def test_the_demo_scenes() -> None:
    """Scenes say in their own words how they are magnified: three by three, and two by two."""
    assert art_grid(unit(frame("moss_tower"))).lines.pitch == 3
    handheld = art_grid(unit(frame("pocket_orchard")))
    assert (handheld.lines.pitch, handheld.samples.pitch) == (2, 2)
    assert not art_grid(unit(frame("kettle_crew")))
    assert not art_grid(unit(frame("ninth_lock_menu")))


def test_an_overlay_does_not_outvote_the_art() -> None:
    """A quarter of the frame under text at full resolution."""
    import skimage.data

    picture = magnified(3, 2).copy()
    text = np.repeat(skimage.data.page()[:, :, None], 3, axis=2)
    picture[: picture.shape[0] // 2, :180] = text[: picture.shape[0] // 2, :180]
    found = art_grid(unit(picture)).lines
    assert (found.pitch, found.offset) == (3, 2) and found.confidence < 0.95


@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea", "rocket"])
def test_photographs_have_none(name: str) -> None:
    import skimage.data

    photo = getattr(skimage.data, name)()
    found = art_grid(unit(through_jpeg(photo, 75)))
    assert not found and found.lines.confidence < 0.3
    assert "own resolution" in found.sentence()


@pytest.mark.parametrize("times", [2, 3, 4])
def test_a_smooth_enlargement_has_none(times: int) -> None:
    for how in (cv2.INTER_LINEAR, cv2.INTER_CUBIC):
        assert not art_grid(unit(cv2.resize(drawn(), None, fx=times, fy=times, interpolation=how)))


@pytest.mark.parametrize("times", [1.5, 2.25, 2.5, 3.75])
def test_a_broken_ratio_has_none(times: float) -> None:
    big = cv2.resize(drawn(), None, fx=times, fy=times, interpolation=cv2.INTER_NEAREST)
    assert not art_grid(unit(big))


def test_flat_and_small_frames() -> None:
    assert art_grid(np.full((64, 64, 3), 0.5, np.float32)).lines == Grid(1, 0, 0.0)
    with pytest.raises(ShapeError, match="at least 32"):
        art_grid(np.zeros((20, 64, 3)))


def box(lines: NDArray, step: float, start: float) -> NDArray:
    """Return exact box means of spans [r * step + start, ...), by the running sum."""
    total = np.concatenate([[0.0], np.cumsum(lines)])
    edge = np.arange(int((len(lines) - start) / step)) * step + start
    edge = edge[(edge >= 0) & (edge + step <= len(lines))]
    return np.diff(np.interp(np.stack([edge, edge + step]), np.arange(len(total)), total), axis=0)[0] / step


@pytest.mark.parametrize(
    ("pitch", "step", "phase"), [(3, 3.0, 0.0), (3, 3.0, 1.0), (3, 1.5, 0.5), (4, 2.0, 0.0), (5, 5.0, -2.0)]
)
def test_exact_positions_are_exact(pitch: int, step: float, phase: float) -> None:
    """At these positions averaging gives only values the art has; half a line off it does not."""
    art = np.random.RandomState(2).randint(0, 255, 60).astype(float)
    for offset in range(pitch):
        source = np.repeat(art, pitch)[(pitch - offset) % pitch :]
        match = art_match(Grid(pitch, offset, 1.0), step, phase)
        assert match.exact_possible and len(match.exact_positions) == round(pitch / step)
        for q in match.exact_positions:
            # a picture moved down by q shows at y what was at y - q
            assert np.all(np.isin(np.round(box(source, step, phase - q + 10 * pitch), 6), art))
        off = box(source, step, phase - match.exact_positions[0] + 0.5 + 10 * pitch)
        assert not np.all(np.isin(np.round(off, 6), art))


@pytest.mark.parametrize(("pitch", "step"), [(2, 3.0), (4, 3.0), (3, 4.5), (3, 2.0), (5, 2.25)])
def test_ratios_that_cannot_match(pitch: int, step: float) -> None:
    match = art_match(Grid(pitch, 0, 1.0), step)
    assert not match.exact_possible and match.exact_positions == ()
    assert f"a step of {pitch} would be exact" in match.sentence


def test_no_grid_no_match() -> None:
    assert not art_match(Grid(1, 0, 0.1), 3.0).exact_possible


def test_sentences() -> None:
    assert art_match(Grid(3, 0, 1.0), 3.0, 1.0).sentence.startswith(
        "A step of 3 gives each line of art one output line; averaging is exact with the picture moved down "
        "by 1 source lines, give or take a multiple of 3"
    )
    assert "3 source lines to each of the art's, from line 2 on" in art_grid(unit(magnified(3, 2))).sentence()

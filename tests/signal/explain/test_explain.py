"""Lines of light fitted to a photo: closed forms, what is found again, and odds that are not over-said."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage
from scipy.stats import norm

from scalesim.core.raster import Raster
from scalesim.errors import NotIdentifiable
from scalesim.signal.explain.between import Between, between
from scalesim.signal.explain.choose import chosen_tiles
from scalesim.signal.explain.fit import fit, tiles_of
from scalesim.signal.explain.lit import Beam, LitLines, lit_lines
from scalesim.signal.explain.odds import MOST, odds_of
from scalesim.signal.explain.ranked import ranked
from scalesim.signal.explain.straight import TILE_SHAPE, Straight

LINES, SAMPLES = 48, 64


def content(seed: int = 0) -> NDArray:
    """Light of 48 lines with edges in both directions."""
    random = np.random.RandomState(seed)
    return random.rand(LINES // 3, SAMPLES // 4).repeat(3, 0).repeat(4, 1).astype(np.float32) ** 2


def straight(lit: LitLines, beam: Beam, down: float = 0.0, noise: float = 0.0) -> Straight:
    """A photo that shows these lines, moved down."""
    empty = Straight(np.zeros((LINES * 8, 256), np.float32), LINES, 4 / 3, 8.0)
    v, u = empty.places()
    seen = lit.smooth(np.hypot(beam.along, empty.along)).light(v - np.float32(down), u, beam)
    random = np.random.RandomState(1)
    light = 0.3 * seen + 0.02 + noise * random.standard_normal(seen.shape)
    return Straight(light.astype(np.float32), LINES, 4 / 3, 8.0)


def test_a_line_is_a_gaussian_of_its_own_light() -> None:
    """One line of light 0.36 alone: exp(-x^2 / 2 s^2) with s = black + (white - black) sqrt(0.36)."""
    field = np.zeros((9, 8), np.float32)
    field[4] = 0.36
    lit = LitLines((field,), (0.5,), (1.0,))
    v = np.array([[4.5, 4.7, 5.0]])
    found = lit.light(v, np.full_like(v, 0.5), Beam(0.3, 0.2, 0.0))
    assert found[0] == pytest.approx(0.36 * norm.pdf([0, 0.2, 0.5], scale=0.26), rel=1e-5)


def test_white_has_the_mean_one_and_fields_share_the_exposure() -> None:
    white = np.ones((2, 30, 8, 3), np.float32)
    lit = lit_lines(tuple(white), Raster(30, 8))
    v = np.linspace(10, 20, 500, endpoint=False)[:, None]
    assert lit.light(v, np.full_like(v, 0.5), Beam(0.3, 0.3, 0.0)).mean() == pytest.approx(1, abs=1e-3)
    assert lit.first == (0.5, 0.5) and lit.shares == (0.5, 0.5)


def test_place_beam_and_black_are_found_again() -> None:
    lit = LitLines((content(),), (0.5,), (1.0,))
    photo = straight(lit, Beam(0.26, 0.18, 0.006), down=0.2)
    found = fit(lit, tiles_of(photo, chosen_tiles(photo, [lit])), photo.along)
    assert found.left < 1e-3
    assert found.bend[0] == pytest.approx(-0.2, abs=0.01)
    assert found.beam.white == pytest.approx(0.26, abs=0.01)
    assert found.beam.black == pytest.approx(0.18, abs=0.01)
    assert np.median(found.gain) == pytest.approx(0.3, rel=0.02)
    assert np.median(found.black) == pytest.approx(0.02 / 0.3, abs=0.01)


def test_where_fields_land_is_told() -> None:
    """Two fields half a line apart against the same on one set: the photo is explained by its own."""
    fields = (content(), np.roll(content(), 1, axis=0))
    two = LitLines(fields, (0.25, 0.75), (0.5, 0.5))
    one = LitLines(fields, (0.5, 0.5), (0.5, 0.5))
    photo = straight(two, Beam(0.2, 0.15, 0.006), noise=0.01)
    found = ranked(photo, [one, two])
    assert found.order == (1, 0) and found.over[0].share == pytest.approx(0.5, abs=0.05)
    assert odds_of(found.over[0]) > 10


def test_predictions_that_are_the_same_are_not_told_apart() -> None:
    lit = LitLines((content(),), (0.5,), (1.0,))
    same = LitLines((content(),), (0.5,), (1.0,))
    found = ranked(straight(lit, Beam(0.2, 0.15, 0.006), noise=0.01), [lit, same])
    assert odds_of(found.over[0]) == pytest.approx(1.0, abs=0.01)


@pytest.mark.slow
def test_a_prediction_of_more_lines_is_scaled_to_the_photo() -> None:
    """48 lines against 40 of the same picture: each explains its own photo."""
    more = LitLines((content(),), (0.5,), (1.0,))
    fewer = LitLines((content()[:40],), (0.5,), (1.0,))
    assert ranked(straight(more, Beam(0.2, 0.15, 0.006), noise=0.01), [fewer, more]).order[0] == 1
    empty = Straight(np.zeros((LINES * 8, 256), np.float32), LINES, 4 / 3, 8.0)
    v, u = empty.places()
    beam = Beam(0.2, 0.15, 0.006)
    seen = fewer.smooth(np.hypot(beam.along, empty.along)).light(v * np.float32(40 / 48), u, beam)
    photo = Straight((0.3 * seen).astype(np.float32), LINES, 4 / 3, 8.0)
    assert ranked(photo, [more, fewer]).order[0] == 1


def two_predictions(tiles: int = 30) -> tuple[NDArray, NDArray]:
    """Two predictions that differ by a tenth of what varies in them, smooth over a few pixels."""
    random = np.random.RandomState(5)
    noise = [ndimage.gaussian_filter(random.standard_normal((tiles, *TILE_SHAPE)), (0, 3, 2)) for _ in "ab"]
    both = 1 + noise[0] / noise[0].std() * 0.3
    apart = noise[1] / noise[1].std() * 0.03
    return tuple((both + sign * apart).reshape(tiles, -1) for sign in (0.5, -0.5))


def test_between_by_construction() -> None:
    """At the first +1/2, at the second -1/2, a quarter of the way 1/4; any gain; a slope is no chain."""
    first, second = two_predictions()
    for part, share in ((1.0, 0.5), (0.0, -0.5), (0.75, 0.25)):
        seen = 0.02 + 0.4 * (part * first + (1 - part) * second)
        assert between(first, second, seen).share == pytest.approx(share, abs=1e-3)
    mean = ((first + second) / 2).reshape(-1, *TILE_SHAPE)
    moved = first + 0.2 * np.gradient(mean, axis=1).reshape(first.shape)
    assert between(first, second, moved).share == pytest.approx(0.5, abs=1e-3)
    assert between(second, first, moved).share == pytest.approx(-0.5, abs=1e-3)


def test_the_error_is_what_noise_does() -> None:
    """Over 40 photos with noise the share scatters by its stated error (a third more or less)."""
    first, second = two_predictions(16)
    found = []
    for seed in range(40):
        noise = np.random.RandomState(seed).standard_normal((16, *TILE_SHAPE))
        smooth = ndimage.gaussian_filter(noise, (0, 2, 1.5))
        found.append(between(first, second, first + 0.3 * smooth.reshape(first.shape)))
    scatter = np.std([each.share for each in found], ddof=1)
    assert np.mean([each.error for each in found]) == pytest.approx(scatter, rel=0.35)
    assert np.mean([each.share for each in found]) == pytest.approx(0.5, abs=3 * scatter / np.sqrt(40))


def test_odds_by_hand() -> None:
    """exp(share / (error^2 + 0.3^2)), the share at most 1/2, from 1 to the most that trials bear."""
    assert odds_of(Between(0.1, 0.1, 30)) == pytest.approx(np.exp(0.1 / 0.1))
    assert odds_of(Between(0.9, 0.4, 30)) == pytest.approx(np.exp(0.5 / 0.25))
    assert odds_of(Between(0.5, 0.01, 30)) == MOST
    assert odds_of(Between(-0.2, 0.1, 30)) == 1.0
    assert odds_of(Between(0.0, np.inf, 0)) == 1.0


def test_a_photo_without_a_usable_part_is_refused() -> None:
    lit = LitLines((content(),), (0.5,), (1.0,))
    photo = straight(lit, Beam(0.3, 0.2, 0.006))
    photo.light[:] = 1.0
    with pytest.raises(NotIdentifiable, match="0 whole parts of eight lines that are not overexposed"):
        chosen_tiles(photo, [lit])

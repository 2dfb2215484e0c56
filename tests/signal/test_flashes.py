"""Clips just below and just above every limit of WCAG 2.x SC 2.3.1 and ITU-R BT.1702-3.

Limits: W3C, Web Content Accessibility Guidelines, "general flash and red flash thresholds"; ITU-R
BT.1702-3 (11/2023), guideline 1. Relative luminance: IEC 61966-2-1, as WCAG quotes it; screen light:
ITU-R BT.1886 with black at 0.
"""

from __future__ import annotations

import json
import tracemalloc
from fractions import Fraction

import numpy as np
import pytest
from flash_clips import SIZE, flashing, grey, measured, srgb_code, tube_code

from scalesim.errors import NotMeasurable, ParameterError, ShapeError
from scalesim.signal.flashes.meter import FlashMeter

BLOCK = (24, 32)  # a third each way, as 256 of 768 lines and 341 of 1024 pixels; 768 cells of one pixel


def test_three_flashes_in_a_second_and_no_more() -> None:
    """Three pass, four do not; the half flash between, seven changes, is more than six."""
    dark, bright = grey(0), grey(1)
    for flashes, passes in ((1, True), (3, True), (3.5, False), (4, False)):
        report = measured(flashing(dark, bright, flashes))
        assert (report.wcag.general_flashes_per_s, report.broadcast.general_flashes_per_s) == (
            flashes,
            flashes,
        )
        assert report.passes is report.wcag.passes is report.broadcast.passes is passes
        assert report.red_flashes_per_s == 0


@pytest.mark.parametrize(
    ("rate", "apart", "passes"), [(60, 20, True), (60, 19, False), (50, 18, True), (50, 14, False)]
)
def test_spacing_of_leading_edges(rate: int, apart: int, passes: bool) -> None:
    """BT.1702-3 accepts leading edges 334 ms apart at 60 Hz (20 pictures) and 360 ms at 50 Hz (18)."""
    clip = [grey(1.0 if k % apart < apart // 2 else 0.0) for k in range(3 * rate)]
    assert measured(clip, Fraction(rate)).passes is passes


def test_any_second_not_every_second() -> None:
    """Four flashes across the border of two seconds count; spread over two seconds they do not."""
    close = [grey(0)] * 30 + flashing(grey(0), grey(1), 4)
    assert not measured(close).passes
    assert measured(flashing(grey(0), grey(1), 4, every=40)).passes


def test_broadcast_step_and_darker_state() -> None:
    """20 cd/m2 with white at 200 and the darker state below 160 cd/m2 (BT.1702-3)."""
    for dark_cd, bright_cd, flashes in (
        (50, 69.8, 0),
        (50, 70.2, 5),
        (158, 190, 5),
        (162, 190, 0),
    ):
        dark, bright = grey(tube_code(dark_cd / 200)), grey(tube_code(bright_cd / 200))
        assert measured(flashing(dark, bright, 5)).broadcast.general_flashes_per_s == flashes


def test_a_dimmer_screen_flashes_less_by_cd_m2() -> None:
    """With white at 100 cd/m2 the step of 20 is a fifth of white."""
    for share, flashes in ((0.198, 0), (0.202, 5)):
        clip = flashing(grey(tube_code(0.1)), grey(tube_code(0.1 + share)), 5)
        assert measured(clip, white_cd_m2=100).broadcast.general_flashes_per_s == flashes
        assert measured(clip, white_cd_m2=200).broadcast.general_flashes_per_s == 5


def with_patch(lines: int, samples: int, at: tuple[int, int] = (0, 0)) -> tuple[np.ndarray, np.ndarray]:
    """Return a black picture, and one with a white patch."""
    bright = grey(0)
    bright[at[0] : at[0] + lines, at[1] : at[1] + samples] = 1
    return grey(0), bright


@pytest.mark.parametrize("at", [(0, 0), (31, 47), (48, 64)])
def test_area_of_a_ten_degree_field(at: tuple[int, int]) -> None:
    """184 of a block's 768 cells (23.96 %) are allowed, 200 (26.04 %) not, anywhere on the screen (WCAG)."""
    for (lines, samples), passes in (((23, 8), True), ((20, 10), False)):
        report = measured(flashing(*with_patch(lines, samples, at), 5))
        assert report.wcag.passes is passes
        assert report.wcag.area_percent == pytest.approx(100 * lines * samples / (BLOCK[0] * BLOCK[1]))
        assert report.broadcast.passes, "it is far less than a quarter of the screen"


def test_area_of_the_screen() -> None:
    """24 % of the screen is allowed by BT.1702-3 and 26 % is not; in one patch neither is by WCAG."""
    for samples, passes in ((23, True), (25, False)):
        report = measured(flashing(*with_patch(72, samples), 5))
        assert report.broadcast.area_percent == pytest.approx(100 * samples / 96)
        assert report.broadcast.passes is passes
        assert not report.wcag.passes


def test_a_nearer_viewer_sees_less_in_ten_degrees() -> None:
    """A patch that is a seventh of a block at 30 degrees more than fills a block at 120 degrees."""
    clip = flashing(*with_patch(10, 11), 5)
    assert measured(clip).wcag.passes
    assert not measured(clip, degrees=(120.0, 90.0)).wcag.passes


def test_out_of_step_places_count_together() -> None:
    """Two sixths of a block flash four times each, half a period apart: together they are a third."""
    dark = grey(0)
    clip = []
    for k in range(60):
        picture = dark.copy()
        picture[:24, 0:5] = k % 14 < 7
        picture[:24, 5:10] = k % 14 >= 7
        clip.append(picture)
    assert not measured(clip).wcag.passes


def test_a_flash_that_moves_about_counts() -> None:
    """Four flashes, each on another strip of 27 % of the screen: no place flashes more than twice."""
    clip = [grey(0)] * 6
    for k in range(4):
        bright = grey(0)
        bright[:, 23 * k : 23 * k + 26] = 1
        clip += [bright] * 6 + [grey(0)] * 6
    assert measured(clip).broadcast.general_flashes_per_s == 4


# long flashing


@pytest.mark.parametrize(("flashes", "long"), [(15, False), (16, True)])
def test_long_flashing(flashes: int, long: bool) -> None:
    """Three flashes a second are allowed, but 16 of them last over 5 s: a risk (BT.1702-3).

    From the first change to the last, 15 last 14.5/3 = 4.83 s and 16 last 15.5/3 = 5.17 s.
    """
    report = measured(flashing(grey(0), grey(1), flashes, every=20))
    assert report.passes
    assert report.flashing_s == pytest.approx((flashes - 0.5) / 3)
    assert report.long_flashing is long
    assert any("on end" in sentence for sentence in report.sentences()) is long


def test_a_pause_ends_flashing() -> None:
    """Twice three seconds with a pause of one and a half is not six seconds."""
    clip = flashing(grey(0), grey(1), 9, every=20, rest=90) * 2
    assert not measured(clip).long_flashing


# what is taken and what is refused


@pytest.mark.parametrize("size", [(1, 1), (7, 13), (241, 317), (3, 500)])
def test_odd_sizes(size: tuple[int, int]) -> None:
    """Every size counts four flashes of the whole picture as four, in uint8 and in float."""
    for kind, top in ((np.uint8, 255), (np.float64, 1)):
        dark, bright = (np.full((*size, 3), v, kind) for v in (0, top))
        assert measured(flashing(dark, bright, 4, rest=3)).general_flashes_per_s == 4


def test_one_picture() -> None:
    """Nothing has changed yet; before the first there is nothing to report."""
    report = measured([grey(1)])
    assert report.passes and report.general_flashes_per_s == 0 and report.pictures == 1
    with pytest.raises(NotMeasurable, match="no picture"):
        measured([])


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_values_must_be_finite(bad: float) -> None:
    picture = grey(0.5)
    picture[3, 4, 1] = bad
    with pytest.raises(ParameterError, match="NaN or infinite"):
        measured([picture])
    with pytest.raises(ParameterError, match="NaN or infinite"):
        measured([grey(0.5), picture])


def test_refusals() -> None:
    """Each names the thing, its value and the limit."""
    with pytest.raises(ShapeError, match="like the first"):
        measured([grey(0), grey(0, (72, 97))])
    with pytest.raises(ShapeError, match="uint16"):
        measured([np.zeros((*SIZE, 3), np.uint16)])
    with pytest.raises(ShapeError, match=r"\(lines, samples, 3\)"):
        measured([np.zeros(SIZE, np.uint8)])
    for bad in ({"white_cd_m2": 0}, {"white_cd_m2": 400}, {"degrees": (0, 10)}, {"degrees": (30,)}):
        with pytest.raises(ParameterError, match=next(iter(bad))):
            measured([grey(0)], **bad)
    for rate in (0, -1, 1000):
        with pytest.raises(ParameterError, match="rate"):
            FlashMeter(Fraction(rate))


def test_document_and_words() -> None:
    """Plain JSON with counts and limits; the words say which standard and what is allowed."""
    report = measured(flashing(*with_patch(23, 8), 5))
    document = json.loads(json.dumps(report.to_dict(), allow_nan=False))
    assert document["passes"] is True and document["limits"]["flashes_per_s"] == 3
    assert document["wcag"]["area_percent"] == pytest.approx(23.958, abs=0.01)
    said = " ".join(report.sentences())
    assert (
        "passes WCAG 2.x SC 2.3.1" in said and "24 % of a 10-degree field" in said and "people differ" in said
    )
    assert "does not pass" in " ".join(measured(flashing(grey(0), grey(1), 4)).sentences())


@pytest.mark.slow
def test_memory_is_flat() -> None:
    """Ten times as many pictures take no more memory; the first thirty fill the second that is kept."""
    meter = FlashMeter(Fraction(15))
    rng = np.random.RandomState(0)
    pictures = [rng.randint(0, 256, (48, 64, 3)).astype(np.uint8) for _ in range(3)]
    tracemalloc.start()
    peaks = []
    for count in (30, 300):
        tracemalloc.reset_peak()
        for k in range(count):
            meter.add(pictures[k % 3])
        peaks.append(tracemalloc.get_traced_memory()[1])
    tracemalloc.stop()
    assert peaks[1] < 1.05 * peaks[0]


# scenes that move past, and true flashes that are like them


def texture(seed: int, size: tuple[int, int] = SIZE, patch: int = 8) -> np.ndarray:
    """Return bold patches of random greys, (lines, samples), 0.02..1 of light."""
    rng = np.random.RandomState(seed)
    coarse = rng.rand(-(-size[0] // patch), -(-size[1] // patch))
    return 0.02 + 0.98 * np.kron(coarse, np.ones((patch, patch)))[: size[0], : size[1]]


def shown(light: np.ndarray) -> np.ndarray:
    return np.repeat(srgb_code(np.maximum(light, 0.005))[..., None], 3, 2).astype(np.float32)


def turned(light: np.ndarray, per_second: float, rate: int = 60, seconds: float = 1.5) -> list[np.ndarray]:
    """Return the picture moving sideways, round and round."""
    return [shown(np.roll(light, round(k * per_second / rate), axis=1)) for k in range(round(seconds * rate))]


@pytest.mark.parametrize("seed", range(3))
def test_a_pan_over_bold_texture_is_no_flash_of_an_area(seed: int) -> None:
    """A screen a second: places change up to ten times a second, but no quarter of them at once."""
    report = measured(turned(texture(seed), 96, seconds=1.2))
    assert report.passes, report.sentences()


def test_steps_twice_as_far_are_judged_no_milder() -> None:
    """At 30 pictures a second more places change in one picture."""
    finer, coarser = (measured(turned(texture(0), 96, rate, 1.2), Fraction(rate)) for rate in (60, 30))
    assert coarser.wcag.general_flashes_per_s >= finer.wcag.general_flashes_per_s


def test_texture_that_flickers_everywhere_counts() -> None:
    """The same texture at fifteen screens a second: every place flashes some twenty times a second."""
    assert not measured(turned(texture(0), 15 * 96)).passes


def test_a_quick_flick_past_is_no_flash() -> None:
    """A quarter rises and another falls in each of five pictures, none of them together again."""
    sheets = [shown(np.roll(texture(seed, patch=12), 6 * k, axis=1)) for k, seed in enumerate(range(6))]
    assert measured([sheets[0]] * 30 + sheets + [sheets[-1]] * 30).broadcast.passes


@pytest.mark.parametrize("flashes", [1, 4, 6, 10])
@pytest.mark.parametrize("kind", ["swell", "reversing"])
def test_texture_that_flashes_counts(flashes: int, kind: str) -> None:
    """A sine in light over places of unlike contrast, all alike or every second patch against the others.

    They reach the threshold one after another, and two quarters that do so together count for themselves.
    """
    depth = 0.25 + 0.65 * texture(7)
    sign = 1.0
    if kind == "reversing":
        lines, samples = np.indices(SIZE) // 8
        sign = np.where((lines + samples) % 2, 1.0, -1.0)
    clip = [
        shown(0.02 + depth * (0.5 - 0.5 * sign * np.cos(2 * np.pi * flashes * k / 60))) for k in range(120)
    ]
    report = measured(clip)
    assert report.wcag.passes is report.broadcast.passes is (flashes == 1)


def test_a_still_texture_lit_by_flashes_counts_while_it_moves() -> None:
    """Four flashes a second over a pan: the pan does not hide them."""
    clip = [
        picture * np.float32(1 if k % 15 < 7 else 0.3) for k, picture in enumerate(turned(texture(2), 48))
    ]
    report = measured(clip)
    assert not report.wcag.passes and not report.broadcast.passes

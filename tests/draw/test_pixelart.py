"""Dot-drawn demo frames, their font and their tools.

Checks are closed forms (counts, exact repetition) or, for the dither matrix, the published definition
(B. E. Bayer, 1973). Frame sizes are those the demo promises. Nothing here is compared with stored
pictures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable

import numpy as np
import pytest

from scalesim.demo.moss_tower import frame as moss_tower
from scalesim.demo.ninth_lock_menu import frame as ninth_lock_menu
from scalesim.demo.ninth_lock_menu.icons import ICON_SIZE, icon_mask
from scalesim.demo.pocket_orchard import frame as pocket_orchard
from scalesim.draw import letters as pixelfont
from scalesim.draw import pixelart
from scalesim.errors import ParameterError, ShapeError

Draw = Callable[[], pixelart.Frame]
SCENES = [
    pytest.param(moss_tower.draw, (720, 1280, 3), id="moss_tower"),
    pytest.param(pocket_orchard.draw, (480, 720, 3), id="pocket_orchard"),
    pytest.param(ninth_lock_menu.draw, (480, 720, 3), id="ninth_lock_menu"),
]
PRINTABLE = [chr(code) for code in range(32, 127)]


def assert_whole_enlargement(picture: pixelart.Frame, native: pixelart.Frame, times: int) -> None:
    """Every phase of the enlarged picture must hold the native art."""
    for line in range(times):
        for sample in range(times):
            np.testing.assert_array_equal(picture[line::times, sample::times], native)


@pytest.mark.parametrize(("draw", "shape"), SCENES)
def test_a_scene_has_the_promised_size_and_is_the_same_each_time(draw: Draw, shape: tuple[int, ...]) -> None:
    first, second = draw(), draw()
    assert first.shape == shape
    assert first.dtype == np.uint8
    assert hashlib.sha256(first.tobytes()).digest() == hashlib.sha256(second.tobytes()).digest()
    # Two calls give two arrays: changing one frame must not change the next.
    first[:] = 0
    np.testing.assert_array_equal(draw(), second)


def one_line_share(picture: pixelart.Frame) -> float:
    """Return the share of dots that differ from the dot above and from the dot below."""
    unlike = (picture[1:] != picture[:-1]).any(axis=2)
    return float((unlike[1:] & unlike[:-1]).mean())


@pytest.mark.parametrize("draw", [moss_tower.draw_native, pocket_orchard.draw_native, ninth_lock_menu.draw])
def test_art_keeps_detail_one_line_thick(draw: Draw) -> None:
    """Such detail is what dropping lines loses; the same art doubled has none, so the check can fail."""
    assert one_line_share(draw()) > 0.05
    assert one_line_share(pixelart.enlarged(draw(), 2)) == 0.0


def test_moss_tower_is_native_art_times_three_between_plain_bars() -> None:
    frame, native = moss_tower.draw(), moss_tower.draw_native()
    assert native.shape == (240, 320, 3)
    assert_whole_enlargement(frame[:, 160:1120], native, 3)
    bars = np.concatenate([frame[:, :160], frame[:, 1120:]], axis=1).reshape(-1, 3)
    assert len(np.unique(bars, axis=0)) == 1
    assert bars.max() < 32


def test_pocket_orchard_is_native_art_times_two_in_a_dark_surround() -> None:
    frame, native = pocket_orchard.draw(), pocket_orchard.draw_native()
    assert native.shape == (160, 240, 3)
    assert_whole_enlargement(frame[80:400, 120:600], native, 2)
    surround = np.ones(frame.shape[:2], dtype=bool)
    surround[80:400, 120:600] = False
    assert frame[surround].max() < 64


def test_the_enlargement_check_fails_on_a_picture_one_line_off() -> None:
    native = pocket_orchard.draw_native()
    shifted = np.roll(pixelart.enlarged(native, 2), 1, axis=0)
    with pytest.raises(AssertionError):
        assert_whole_enlargement(shifted, native, 2)


@pytest.mark.parametrize(("draw", "most"), [(moss_tower.draw, 128), (pocket_orchard.draw, 160)])
def test_enlarged_art_keeps_a_limited_palette(draw: Draw, most: int) -> None:
    colours = len(np.unique(draw().reshape(-1, 3), axis=0))
    assert 24 < colours <= most


def test_the_font_covers_printable_ascii_with_distinct_glyphs() -> None:
    masks = [pixelfont.text_mask(char) for char in PRINTABLE]
    assert all(mask.shape[0] == 8 and 1 <= mask.shape[1] <= 5 for mask in masks)
    assert [char for char, mask in zip(PRINTABLE, masks, strict=True) if not mask.any()] == [" "]
    assert len({(mask.shape, mask.tobytes()) for mask in masks}) == 95


def test_capitals_stand_on_the_base_line_and_digits_are_equally_wide() -> None:
    for char in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789":
        lines = np.flatnonzero(pixelfont.text_mask(char).any(axis=1))
        assert (lines[0], lines[-1]) == (0, 6), char
    assert {pixelfont.text_width(digit) for digit in "0123456789"} == {5}


def test_text_width_adds_glyphs_and_gaps() -> None:
    assert pixelfont.text_width("HH") == 5 + 1 + 5
    assert pixelfont.text_width("HH", spacing=3, scale=2) == 2 * (5 + 3 + 5)
    assert pixelfont.text_mask("HH", scale=2).shape == (16, 22)
    np.testing.assert_array_equal(pixelfont.text_mask("Ag", scale=3)[1::3, 2::3], pixelfont.text_mask("Ag"))


def test_empty_text_has_no_width_and_draws_nothing() -> None:
    frame = np.zeros((12, 12, 3), dtype=np.uint8)
    assert pixelfont.text_mask("", scale=2).shape == (16, 0)
    pixelfont.write(frame, "", 2, 2, (255, 255, 255), shadow=(9, 9, 9))
    assert not frame.any()


@pytest.mark.parametrize(("line", "sample"), [(-3, -4), (7, 15), (-3, 15), (7, -4), (-40, 2), (2, 90)])
def test_text_is_cut_at_the_borders_as_if_drawn_on_a_larger_frame(line: int, sample: int) -> None:
    frame = np.zeros((12, 20, 3), dtype=np.uint8)
    large = np.zeros((12 + 100, 20 + 200, 3), dtype=np.uint8)
    pixelfont.write(frame, "Rope", line, sample, (200, 100, 50), shadow=(20, 10, 5))
    pixelfont.write(large, "Rope", line + 50, sample + 100, (200, 100, 50), shadow=(20, 10, 5))
    np.testing.assert_array_equal(frame, large[50:62, 100:120])


def test_the_shadow_lies_one_dot_down_and_right_below_the_ink() -> None:
    frame = np.zeros((12, 12, 3), dtype=np.uint8)
    pixelfont.write(frame, "I", 0, 0, (255, 255, 255), shadow=(40, 40, 40))
    ink = np.zeros((12, 12), dtype=bool)
    ink[:8, :3] = pixelfont.text_mask("I")
    np.testing.assert_array_equal(frame[..., 0] == 255, ink)
    np.testing.assert_array_equal(frame[..., 0] == 40, np.roll(ink, (1, 1), axis=(0, 1)) & ~ink)


@pytest.mark.parametrize(("text", "options", "names"), [
    ("caf\u00e9", {}, "glyph"), ("a\nb", {}, "glyph"), ("a", {"scale": 0}, "scale"),
    ("a", {"spacing": -1}, "spacing"),
])  # fmt: skip
def test_text_that_cannot_be_set_is_refused_in_one_line(
    text: str, options: dict[str, int], names: str
) -> None:
    with pytest.raises(ParameterError, match=names) as caught:
        pixelfont.text_mask(text, **options)
    assert "\n" not in str(caught.value)


def test_the_dither_matrix_is_the_published_one() -> None:
    """Bayer's matrix of order 2 orders its dots 0 2 / 3 1; that of order 8 holds each of 64 ranks once."""
    ranks = np.rint(pixelart.bayer(8, 8) * 64 - 0.5).astype(int)
    assert sorted(ranks.ravel()) == list(range(64))
    np.testing.assert_array_equal(np.argsort(np.argsort(ranks[:2, :2].ravel())), [0, 2, 3, 1])
    np.testing.assert_array_equal(pixelart.bayer(16, 24), np.tile(pixelart.bayer(8, 8), (2, 3)))


@pytest.mark.parametrize("rank", [0, 1, 13, 32, 63, 64])
def test_dithering_a_flat_level_lights_its_share_of_dots(rank: int) -> None:
    black_white = pixelart.ramp("000000 ffffff")
    dots = pixelart.shade(np.full((8, 8), rank / 64), black_white, dither=1.0)
    assert int((dots[..., 0] == 255).sum()) == rank


def test_a_sprite_is_cut_at_the_borders_and_keeps_its_holes() -> None:
    art = pixelart.sprite("a.a\n.a.\na.a", {"a": "ff0000"})
    frame = np.full((4, 4, 3), 7, dtype=np.uint8)
    pixelart.stamp(frame, art, -1, 2)
    red = np.argwhere(frame[..., 0] == 255)
    assert red.tolist() == [[0, 3], [1, 2]]
    pixelart.stamp(frame, art, 10, 10)
    assert int((frame[..., 0] == 255).sum()) == 2


def test_an_outline_surrounds_a_sprite_one_dot_thick() -> None:
    art = pixelart.outlined(pixelart.sprite("a", {"a": "ff0000"}), "010203")
    np.testing.assert_array_equal(art.solid, [[False, True, False], [True, True, True], [False, True, False]])
    assert art.dots[0, 1].tolist() == [1, 2, 3]


def test_shapes_agree_with_closed_forms() -> None:
    square = pixelart.polygon(10, 10, [(2, 3), (2, 7), (8, 7), (8, 3)])
    assert int(square.sum()) == 6 * 4
    disc = pixelart.oval(201, 201, (100, 100, 80, 60))
    assert disc.sum() == pytest.approx(np.pi * 80 * 60, rel=0.005)
    frame = np.zeros((9, 9, 3), dtype=np.uint8)
    pixelart.segment(frame, (-4, -4), (12, 12), (255, 255, 255))
    np.testing.assert_array_equal(frame[..., 0] == 255, np.eye(9, dtype=bool))


def test_unknown_marks_icons_and_pictures_too_large_are_refused() -> None:
    with pytest.raises(ParameterError, match="no colour for 'z'"):
        pixelart.sprite("z", {"a": "ff0000"})
    with pytest.raises(ParameterError, match="valid: bell"):
        icon_mask("anchor")
    with pytest.raises(ShapeError, match="does not fit"):
        pixelart.boxed(np.zeros((5, 5, 3), dtype=np.uint8), 4, 9, "000000")
    assert icon_mask("bell").shape == (ICON_SIZE, ICON_SIZE)

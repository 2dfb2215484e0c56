"""Codes out of picture files, against files written by Pillow, OpenCV and tifffile or packed by hand."""

from __future__ import annotations

import tracemalloc
import warnings
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from picture_files import (
    RANDOM,
    RGB8,
    RGB16,
    RGBA16,
    chunk,
    codes_equal,
    packed_png,
    read_bytes,
    refused,
    said,
    save_each_kind,
)
from PIL import Image

from scalesim.io.pictures.read import read_picture


@pytest.mark.parametrize(
    "suffix, keys, words",
    [
        (".png", {}, ()),
        (".webp", {"lossless": True}, ()),
        (".bmp", {}, ()),
        (".tif", {}, ()),
        (".tif", {"compression": "tiff_lzw"}, ()),
        (".tif", {"compression": "tiff_adobe_deflate"}, ()),
        (".tif", {"compression": "packbits"}, ()),
    ],
)
def test_8_bit_rgb_is_exact(
    suffix: str, keys: dict[str, Any], words: tuple[str, ...], tmp_path: Path
) -> None:
    path = tmp_path / f"a{suffix}"
    Image.fromarray(RGB8).save(path, **keys)
    picture = read_picture(str(path))
    codes_equal(picture, RGB8)
    assert picture.bits == 8 and not picture.lossy and said(picture, *words) and picture.path == path


@pytest.mark.parametrize("suffix", [".jpg", ".webp"])
def test_lossy_kinds_match_the_decoder_and_are_said_to_be(suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"a{suffix}"
    Image.fromarray(RGB8).save(path, quality=90)
    picture = read_picture(path)
    with Image.open(path) as opened:
        codes_equal(picture, np.asarray(opened))
    assert picture.lossy and said(picture, "lossy")


@pytest.mark.parametrize("suffix", [".png", ".tif", ".bmp", ".jpg"])
def test_grey_is_repeated_and_said_to_be(suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"a{suffix}"
    Image.fromarray(RGB8[..., 0]).save(path)
    with Image.open(path) as opened:
        codes_equal(read_picture(path), np.asarray(opened)[..., None])
    assert said(read_picture(path), "Grey", *(["lossy"] if suffix == ".jpg" else []))


def test_16_bit_png_from_opencv_is_exact(tmp_path: Path) -> None:
    for name, codes in (("rgb", RGB16), ("grey", RGB16[..., :1])):
        cv2.imwrite(str(tmp_path / f"{name}.png"), codes[..., ::-1])
        picture = read_picture(tmp_path / f"{name}.png")
        codes_equal(picture, codes)
        assert picture.bits == 16 and said(picture, *(["Grey"] if name == "grey" else []))
    # The path that must not be taken: Pillow keeps only the upper byte of each channel.
    with Image.open(tmp_path / "rgb.png") as opened:
        assert np.asarray(opened.convert("RGB")).dtype == np.uint8


@pytest.mark.parametrize("passes", [False, True])
@pytest.mark.parametrize("colour, channels", [(0, 1), (2, 3), (4, 2), (6, 4)])
def test_16_bit_png_of_every_colour_type_is_exact(
    colour: int, channels: int, passes: bool, tmp_path: Path
) -> None:
    codes = RGBA16[..., :channels].copy()
    if channels in (2, 4):
        codes[..., -1] = 65535
    picture = read_bytes(tmp_path, packed_png(codes, 16, colour, passes=passes))
    codes_equal(picture, codes[..., : 3 if channels > 2 else 1])
    assert picture.bits == 16 and said(picture, *(["Grey"] if channels < 3 else []))


@pytest.mark.parametrize("depth", [1, 2, 4, 8])
@pytest.mark.parametrize("passes", [False, True])
def test_small_grey_depths_expand_to_full_range(depth: int, passes: bool, tmp_path: Path) -> None:
    codes = RANDOM.randint(0, 2**depth, (9, 13, 1))
    picture = read_bytes(tmp_path, packed_png(codes, depth, 0, passes=passes))
    codes_equal(picture, codes * (255 // (2**depth - 1)))
    assert picture.bits == 8 and said(picture, "Grey")


def test_palette_is_expanded_and_its_transparency_composited(tmp_path: Path) -> None:
    indices = RANDOM.randint(0, 4, (9, 13, 1))
    colours = np.array([[250, 10, 20], [0, 255, 0], [7, 8, 9], [255, 255, 255]], np.uint8)
    palette = chunk(b"PLTE", colours.tobytes())
    picture = read_bytes(tmp_path, packed_png(indices, 2, 3, palette))
    codes_equal(picture, colours[indices[..., 0]])
    assert said(picture, "Palette")
    clear = read_bytes(tmp_path, packed_png(indices, 2, 3, palette + chunk(b"tRNS", bytes([0, 51]))))
    alpha = np.array([0, 51, 255, 255]) / 255
    np.testing.assert_allclose(clear.values, (colours / 255 * alpha[:, None])[indices[..., 0]], atol=1e-7)
    assert said(clear, "Palette", "black")


@pytest.mark.parametrize("compression", ["none", "zlib", "zlib with predictor"])
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("planar", ["contig", "separate"])
def test_tiff_from_tifffile_is_exact(compression: str, bits: int, planar: str, tmp_path: Path) -> None:
    codes = RGB8 if bits == 8 else RGB16
    stored = np.moveaxis(codes, -1, 0) if planar == "separate" else codes
    keys: dict[str, Any] = {"photometric": "rgb", "planarconfig": planar, "metadata": None}
    if compression != "none":
        keys |= {"compression": "zlib", "predictor": "predictor" in compression}
    for name, order in (("little", "<"), ("big", ">")):
        keys["byteorder"] = order
        tifffile.imwrite(tmp_path / f"{name}.tif", stored, **keys)
        picture = read_picture(tmp_path / f"{name}.tif")
        codes_equal(picture, codes)
        assert picture.bits == bits and said(picture)


@pytest.mark.parametrize("compression", [1, 5, 8, 32773])
@pytest.mark.parametrize("predictor", [1, 2])
def test_16_bit_tiff_from_opencv_is_exact(compression: int, predictor: int, tmp_path: Path) -> None:
    """TIFF compression numbers: 1 none, 5 LZW, 8 deflate, 32773 PackBits."""
    keys = [cv2.IMWRITE_TIFF_COMPRESSION, compression, cv2.IMWRITE_TIFF_PREDICTOR, predictor]
    for codes in (RGB16, RGB16[..., :1], np.cumsum(RGB16 % 5, axis=1, dtype=np.uint16)):
        cv2.imwrite(str(tmp_path / "a.tif"), codes[..., ::-1], keys)
        codes_equal(read_picture(tmp_path / "a.tif"), codes)


def test_tiff_with_white_as_zero_and_with_one_bit(tmp_path: Path) -> None:
    for codes in (RGB8[..., 0], RGB16[..., 0]):
        tifffile.imwrite(tmp_path / "a.tif", codes, photometric="miniswhite", metadata=None)
        codes_equal(read_picture(tmp_path / "a.tif"), (np.iinfo(codes.dtype).max - codes)[..., None])
    bilevel = RGB8[..., 0] > 99
    for compression in (None, "group4"):
        Image.fromarray(bilevel).save(tmp_path / "b.tif", compression=compression)
        codes_equal(read_picture(tmp_path / "b.tif"), bilevel[..., None] * np.uint8(255))


def test_tiff_palette_and_jpeg_inside_tiff(tmp_path: Path) -> None:
    with Image.fromarray(RGB8).quantize(16) as small:
        small.save(tmp_path / "p.tif")
        codes_equal(read_picture(tmp_path / "p.tif"), np.asarray(small.convert("RGB")))
    assert said(read_picture(tmp_path / "p.tif"), "Palette")
    Image.fromarray(RGB8).save(tmp_path / "j.tif", compression="jpeg")
    assert read_picture(tmp_path / "j.tif").lossy


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 9), st.integers(1, 9), st.sampled_from([(0, 1), (2, 3), (4, 2), (6, 4)]), st.data())
def test_any_16_bit_png_round_trips(
    tmp_path_factory: pytest.TempPathFactory,
    lines: int,
    samples: int,
    kind: tuple[int, int],
    data: st.DataObject,
) -> None:
    colour, channels = kind
    seed = data.draw(st.integers(0, 2**32 - 1))
    codes = np.random.RandomState(seed).randint(0, 65536, (lines, samples, channels))
    if channels in (2, 4):
        codes[..., -1] = 65535
    passes = data.draw(st.booleans())
    picture = read_bytes(
        tmp_path_factory.getbasetemp(), packed_png(codes, 16, colour, passes=passes), "h.png"
    )
    codes_equal(picture, codes[..., : 3 if channels > 2 else 1])


def test_nothing_is_printed_or_warned(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "whole").mkdir()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for path in save_each_kind(tmp_path / "whole"):
            capfd.readouterr()
            read_picture(path)
            cut = tmp_path / f"cut{path.suffix}"
            cut.write_bytes(path.read_bytes()[:-60])
            refused(cut)
            assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("bits, channels", [(8, 3), (16, 4)])
def test_memory_stays_near_two_copies_of_the_values(bits: int, channels: int, tmp_path: Path) -> None:
    """NumPy's and Python's own allocations, which hold everything but the decoder's picture."""
    line = np.linspace(0, 2**bits - 1, 3840).astype(np.uint16)
    codes = np.broadcast_to(line[:, None], (2160, 3840, channels))
    packed = packed_png(codes, bits, {3: 2, 4: 6}[channels])
    read_bytes(tmp_path, packed)
    tracemalloc.start()
    values = read_picture(tmp_path / "a.png").values
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert values.nbytes < peak < 2 * values.nbytes

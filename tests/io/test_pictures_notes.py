"""What reading does to a picture besides scaling its codes, and says: alpha, turning, range, profile."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import tifffile
from picture_files import (
    RANDOM,
    RGB8,
    RGB16,
    RGBA8,
    RGBA16,
    chunk,
    codes_equal,
    packed_png,
    read_bytes,
    said,
)
from PIL import Image, ImageCms, ImageOps

from scalesim.io.pictures.read import read_picture
from scalesim.io.pictures.write import write_png


@pytest.mark.parametrize("suffix", [".png", ".webp", ".tif", ".bmp"])
def test_alpha_is_composited_on_black_in_code_values(suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"a{suffix}"
    if suffix == ".bmp":
        # Pillow writes no alpha mask into a BMP; OpenCV does.
        cv2.imwrite(str(path), RGBA8[..., [2, 1, 0, 3]])
    else:
        keys: dict[str, Any] = {"lossless": True, "exact": True} if suffix == ".webp" else {}
        Image.fromarray(RGBA8).save(path, **keys)
    wanted = RGBA8[..., :3] / 255 * (RGBA8[..., 3:] / 255)
    picture = read_picture(path)
    np.testing.assert_allclose(picture.values, wanted, atol=1e-7)
    assert said(picture, "composited on black")
    # Compositing in light is another picture, so this test can tell the two apart.
    in_light = RGBA8[..., :3] / 255 * (RGBA8[..., 3:] / 255) ** (1 / 2.4)
    assert np.abs(picture.values - in_light).max() > 0.1


def test_16_bit_alpha_and_grey_alpha(tmp_path: Path) -> None:
    for colour, channels in ((6, 4), (4, 2)):
        codes = RGBA16[..., :channels]
        picture = read_bytes(tmp_path, packed_png(codes, 16, colour))
        wanted = codes[..., :-1] / 65535 * (codes[..., -1:] / 65535)
        np.testing.assert_allclose(picture.values, np.broadcast_to(wanted, (21, 34, 3)), atol=1e-7)
        assert said(picture, "composited on black", *(["Grey"] if channels == 2 else []))
    Image.fromarray(RGBA8[..., :2]).save(tmp_path / "la.png")
    wanted = RGBA8[..., :1] / 255 * (RGBA8[..., 1:2] / 255)
    values = read_picture(tmp_path / "la.png").values
    np.testing.assert_allclose(values, np.broadcast_to(wanted, values.shape), atol=1e-7)


def test_full_alpha_is_not_worth_a_word(tmp_path: Path) -> None:
    Image.fromarray(np.dstack((RGB8, np.full(RGB8.shape[:2], 255, np.uint8)))).save(tmp_path / "a.png")
    codes_equal(read_picture(tmp_path / "a.png"), RGB8)
    assert said(read_picture(tmp_path / "a.png"))


@pytest.mark.parametrize("depth, colour", [(1, 0), (2, 0), (4, 0), (8, 0), (16, 0), (8, 2), (16, 2)])
def test_a_transparent_key_colour_becomes_black(depth: int, colour: int, tmp_path: Path) -> None:
    channels = 3 if colour == 2 else 1
    codes = RANDOM.randint(1, 2**depth, (9, 13, channels))
    codes[2, 3] = codes[5, 6] = codes[0, 0] = 2**depth - 1
    codes[7, 7] = 2**depth - 2 if depth > 1 else 1
    key = chunk(b"tRNS", struct.pack(f">{channels}H", *codes[0, 0].tolist()))
    picture = read_bytes(tmp_path, packed_png(codes, depth, colour, key))
    clear = (codes == codes[0, 0]).all(axis=2)
    full = {16: 65535}.get(depth, 255)
    wanted = codes * (full // (2**depth - 1)) / full * ~clear[..., None]
    np.testing.assert_allclose(picture.values, np.broadcast_to(wanted, (9, 13, 3)), atol=1e-7)
    assert said(picture, "composited on black", *(["Grey"] if colour == 0 else []))


@pytest.mark.parametrize("bits", [8, 16])
def test_alpha_already_multiplied_in_is_not_multiplied_again(bits: int, tmp_path: Path) -> None:
    codes = RGBA8 if bits == 8 else RGBA16
    full = 2**bits - 1
    codes = np.concatenate((np.minimum(codes[..., :3], codes[..., 3:]), codes[..., 3:]), axis=2)
    tifffile.imwrite(tmp_path / "a.tif", codes, photometric="rgb", extrasamples=["assocalpha"], metadata=None)
    picture = read_picture(tmp_path / "a.tif")
    codes_equal(picture, codes[..., :3])
    assert said(picture, "composited on black")
    limited = read_picture(tmp_path / "a.tif", limited=True).values
    share = codes[..., 3:] / full
    straight = np.divide(codes[..., :3], share, out=np.zeros(RGB8.shape), where=share > 0)
    wanted = (straight / 2 ** (bits - 8) - 16) / 219 * share
    np.testing.assert_allclose(limited, wanted, atol=1e-5)


@pytest.mark.parametrize("suffix", [".jpg", ".png", ".webp", ".tif", "-lzw.tif"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_matches_an_outside_library(suffix: str, orientation: int, tmp_path: Path) -> None:
    """`PIL.ImageOps.exif_transpose` is the reference; TIFF is turned like the same picture as PNG."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    special: dict[str, Any] = {".webp": {"lossless": True}, "-lzw.tif": {"compression": "tiff_lzw"}}
    keys = special.get(suffix, {})
    path, reference = tmp_path / f"a{suffix}", tmp_path / ("r.jpg" if suffix == ".jpg" else "r.png")
    Image.fromarray(RGB8).save(path, exif=exif, **keys)
    Image.fromarray(RGB8).save(reference, exif=exif)
    with Image.open(reference) as opened:
        upright = ImageOps.exif_transpose(opened)
        codes_equal(read_picture(path), np.asarray(upright))
    words = (["orientation"] if orientation > 1 else []) + (["lossy"] if suffix == ".jpg" else [])
    assert said(read_picture(path), *words)


def test_orientation_of_16_bit_files(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    block = chunk(b"eXIf", exif.tobytes().removeprefix(b"Exif\0\0"))
    turned = read_bytes(tmp_path, packed_png(RGB16, 16, 2, block))
    codes_equal(turned, np.rot90(RGB16, -1))
    tifffile.imwrite(
        tmp_path / "a.tif", RGB16, photometric="rgb", metadata=None, extratags=[(274, "H", 1, 6, True)]
    )
    codes_equal(read_picture(tmp_path / "a.tif"), np.rot90(RGB16, -1))
    assert said(read_picture(tmp_path / "a.tif"), "orientation")


def test_limited_range_is_expanded_and_over_range_kept(tmp_path: Path) -> None:
    """ITU-R BT.709: code = (219 V + 16) 2**(n - 8), so 16 and 235, or 4096 and 60160, are 0 and 1."""
    codes = np.array([0, 16, 235, 255], np.uint8).reshape(1, 4, 1).repeat(3, 2)
    Image.fromarray(codes).save(tmp_path / "a.png")
    picture = read_picture(tmp_path / "a.png", limited=True)
    wanted = np.array([-16 / 219, 0, 1, 239 / 219], np.float32)
    np.testing.assert_array_equal(picture.values[0, :, 1], wanted)
    assert said(picture, "code 16 became 0 and code 235 became 1")
    words = np.array([0, 4096, 60160, 65535], np.uint16).reshape(1, 4, 1).repeat(3, 2)
    picture = read_bytes(tmp_path, packed_png(words, 16, 2), limited=True)
    wanted = np.array([-4096 / 56064, 0, 1, (65535 - 4096) / 56064], np.float32)
    np.testing.assert_array_equal(picture.values[0, :, 2], wanted)
    assert said(picture, "code 4096 became 0 and code 60160 became 1")


def test_limited_range_with_alpha_puts_it_on_black_not_on_code_0(tmp_path: Path) -> None:
    codes = np.array([[[235, 235, 235, 0], [235, 16, 126, 51]]], np.uint8)
    Image.fromarray(codes).save(tmp_path / "a.png")
    values = read_picture(tmp_path / "a.png", limited=True).values
    wanted = np.array([[0, 0, 0], [0.2, 0, 0.2 * 110 / 219]])
    np.testing.assert_allclose(values[0], wanted, atol=1e-7)


def test_animations_use_the_first_picture(tmp_path: Path) -> None:
    first, second = Image.fromarray(RGB8), Image.fromarray(255 - RGB8)
    for name in ("a.png", "a.webp", "a.tif"):
        keys: dict[str, Any] = {"lossless": True} if name == "a.webp" else {}
        first.save(tmp_path / name, save_all=True, append_images=[second], **keys)
        picture = read_picture(tmp_path / name)
        codes_equal(picture, RGB8)
        assert said(picture, "several pictures")


def test_an_embedded_profile_is_named_and_not_applied(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    special: dict[str, Any] = {"a.webp": {"lossless": True}, "b.tif": {"compression": "tiff_lzw"}}
    for name in ("a.png", "a.webp", "a.tif", "b.tif"):
        keys = special.get(name, {})
        Image.fromarray(RGB8).save(tmp_path / name, icc_profile=profile, **keys)
        codes_equal(read_picture(tmp_path / name), RGB8)
        assert said(read_picture(tmp_path / name), "profile was not applied")
    Image.fromarray(RGB8).save(tmp_path / "a.jpg", icc_profile=profile)
    assert said(read_picture(tmp_path / "a.jpg"), "profile was not applied", "lossy")
    body = b"name\0\0" + zlib.compress(profile)
    assert said(read_bytes(tmp_path, packed_png(RGB16, 16, 2, chunk(b"iCCP", body))), "profile was not")


def test_content_decides_the_kind_and_the_name_earns_a_note(tmp_path: Path) -> None:
    write_png(tmp_path / "a.png", RGB8 / 255)
    data = (tmp_path / "a.png").read_bytes()
    picture = read_bytes(tmp_path, data, "b.jpg")
    codes_equal(picture, RGB8)
    assert said(picture, "ends in .jpg but the content is PNG") and not picture.lossy
    assert said(read_bytes(tmp_path, data, "noname"))
    assert said(read_bytes(tmp_path, data, "B.PNG"))


def test_an_enlarged_picture_earns_a_note(tmp_path: Path) -> None:
    native = np.random.RandomState(0).uniform(0, 1, (200, 300, 3))
    write_png(tmp_path / "n.png", native)
    write_png(tmp_path / "e.png", cv2.resize(native, (450, 300), interpolation=cv2.INTER_LINEAR))
    assert said(read_picture(tmp_path / "n.png"))
    assert said(read_picture(tmp_path / "e.png"), "rescaled")


def test_one_sample_is_a_picture(tmp_path: Path) -> None:
    for name in ("a.png", "a.bmp", "a.tif", "a.webp", "a.jpg"):
        Image.new("RGB", (1, 1), (255, 255, 255)).save(tmp_path / name)
        assert read_picture(tmp_path / name).values.tolist() == [[[1.0, 1.0, 1.0]]]

"""What is no photo of a tube, or a bad one: refused with the reason and the remedy, never read as lines."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from glass_camera import Camera, photo
from glass_tube import Tube
from PIL import Image

import scalesim as ss
from scalesim.core.photo import Photo
from scalesim.errors import ReadError
from scalesim.io.photos import read_photo
from scalesim.jobs.glass.glass import glass

CAMERA = Camera(rows=288, columns=320, pixels=7, roll=1.5, exposure=1 / 60, seed=3)


@cache
def taken() -> np.ndarray:
    return photo(CAMERA, Tube(sigma=0.18, picture=4, mask="none", bezel=False))


def _said(codes: np.ndarray) -> str:
    found = glass([Photo(codes)])
    assert found.found is None and found.undecided, found.sentences()
    assert found.to_dict()["why"]["sets"] == found.reason
    return found.reason


@pytest.mark.parametrize(
    "kind", ["deep.png", "grey-alpha.png", "palette.png", "cmyk.jpg", "photo.webp", "deep.tif"]
)
def test_other_ways_to_store_a_photo_are_read_alike(kind: str, tmp_path: Path) -> None:
    """Written by Pillow and OpenCV; the luma that comes out is that of the photo to a few codes."""
    codes, path = taken(), tmp_path / kind
    if kind.startswith("deep"):
        cv2.imwrite(str(path), codes[..., ::-1].astype(np.uint16) * 257)
    else:
        modes = {"grey-alpha.png": "LA", "palette.png": "P", "cmyk.jpg": "CMYK", "photo.webp": "RGB"}
        made = Image.fromarray(codes).convert(modes[kind], palette=Image.Palette.ADAPTIVE)
        made.save(path, quality=95)
    found = read_photo(path)
    assert isinstance(found, Photo) and found.codes.shape == codes.shape
    assert np.abs(found.light - Photo(codes).light).mean() < 0.03


@pytest.mark.parametrize("orientation", range(1, 9))
def test_photos_of_a_turned_phone_stand_upright(orientation: int, tmp_path: Path) -> None:
    """Pillow's own `exif_transpose` says how each of the eight lies."""
    from PIL import ImageOps

    exif = Image.Exif()
    exif[0x0112] = orientation
    Image.fromarray(taken()).save(tmp_path / "turned.jpg", quality=90, exif=exif)
    with Image.open(tmp_path / "turned.jpg") as picture:
        wanted = np.asarray(ImageOps.exif_transpose(picture))
    found = read_photo(tmp_path / "turned.jpg")
    assert isinstance(found, Photo) and np.array_equal(found.codes, wanted)


def test_a_photo_on_its_side_without_a_tag_is_told_to_be_turned() -> None:
    assert "turn the photo by a quarter" in _said(np.rot90(taken()).copy())


def test_of_several_pictures_in_a_file_the_first_is_read_and_that_is_said(tmp_path: Path) -> None:
    other = Image.fromarray(255 - taken())
    Image.fromarray(taken()).save(
        tmp_path / "several.webp", save_all=True, append_images=[other], lossless=True
    )
    found = read_photo(tmp_path / "several.webp")
    assert isinstance(found, Photo) and np.array_equal(found.codes, taken())
    assert found.notes == ("The file holds 2 pictures; the first was read.",)


@pytest.mark.parametrize("size", [(1, 1), (2, 50_000), (50_000, 2)])
def test_pictures_of_no_size_are_too_small(size: tuple[int, int]) -> None:
    said = _said(np.zeros((*size, 3), np.uint8))
    assert f"{size[1]}x{size[0]} pixels" in said and "96" in said


def test_numbers_that_are_no_codes_and_files_that_end_early_are_one_line(tmp_path: Path) -> None:
    from io import BytesIO

    file = BytesIO()
    Image.fromarray(np.full((96, 96), np.nan, np.float32)).save(file, "TIFF")
    (tmp_path / "nan.tif").write_bytes(file.getvalue())
    with pytest.raises(ReadError, match="not unsigned integers: save it as PNG"):
        read_photo(tmp_path / "nan.tif")
    file = BytesIO()
    Image.fromarray(taken()).save(file, "JPEG")
    for left in (2 / 3, 0.999):
        (tmp_path / "cut.jpg").write_bytes(file.getvalue()[: int(left * len(file.getvalue()))])
        with pytest.raises(ReadError, match=r"cut short.*copy it again"):
            read_photo(tmp_path / "cut.jpg")


def test_a_flash_on_the_glass_is_named() -> None:
    y, x = np.mgrid[:288, :320]
    blob = 900 * np.exp(-(((x - 160) / 130) ** 2) - ((y - 144) / 120) ** 2)
    said = _said(np.clip(taken() + blob[..., None], 0, 255).astype(np.uint8))
    assert "flash" in said
    # a small one takes its place from the lines, and nothing else
    spot = 900 * np.exp(-(((x - 160) / 25) ** 2) - ((y - 144) / 25) ** 2)
    found = glass([Photo(np.clip(taken() + spot[..., None], 0, 255).astype(np.uint8))])
    assert found.found is not None and found.found.period == pytest.approx(7, rel=0.005)
    assert not found.found.found.fit.used[20, 11]


def test_half_a_tube_in_view_is_read_where_it_is() -> None:
    from dataclasses import replace

    camera = replace(CAMERA, look=(0.0, 0.5))
    found = glass([Photo(photo(camera, Tube(sigma=0.18, picture=4, mask="none")))])
    assert found.found is not None and found.found.period == pytest.approx(7, rel=0.005)
    assert not found.found.found.fit.used[:, :9].any()
    assert found.to_dict()["lines"] is None and "corners" in found.to_dict()["why"]["lines"]


@pytest.mark.parametrize("high", [3, 4, 5])
def test_drawn_lines_of_whole_pixels_are_no_photo(high: int) -> None:
    small = np.random.RandomState(1).randint(30, 255, (12, 16, 3))
    drawn = np.kron(small, np.ones((10 * high, 10 * high, 1)))
    drawn[::high] *= 0.3
    assert "take a photo of the glass" in _said(drawn.astype(np.uint8))


@pytest.mark.slow
def test_a_tube_that_this_program_paints_is_no_photo() -> None:
    frame = np.kron(np.random.RandomState(1).rand(12, 20, 3), np.ones((60, 64, 1))).astype(np.float32)
    for display in ("studio-36cm-800", "livingroom-68cm-350"):
        made = ss.predict(frame, "line-average lines=240", mode="720p60", metrics=[], glass=ss.Glass(display))
        codes = (255 * np.clip(np.asarray(made.pictures["screen"]), 0, 1) + 0.5).astype(np.uint8)
        assert "take a photo of the glass" in _said(codes)


@pytest.mark.parametrize(("pitch", "roll"), [(6.7, -2.0), (9.1, 0.6)])
def test_a_flat_panel_is_no_tube(pitch: float, roll: float) -> None:
    """Square pixels of three stripes in a black grid, turned a little and blurred."""
    rng = np.random.RandomState(7)
    y, x = np.mgrid[: 288 * 3, : 320 * 3] / 3
    turn = np.radians(roll)
    u, v = (x * np.cos(turn) + y * np.sin(turn)) / pitch, (y * np.cos(turn) - x * np.sin(turn)) / pitch
    shown = np.kron(rng.rand(16, 16, 3), np.ones((8, 8, 1)))
    value = shown[v.astype(int) % 128, u.astype(int) % 128]
    lit = (np.abs(u[..., None] % 1 - (np.arange(3) + 0.5) / 3) < 0.13) & (np.abs(v % 1 - 0.5) < 0.42)[
        ..., None
    ]
    small = cv2.resize((value * lit).astype(np.float32), (320, 288), interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(small, (0, 0), 0.6)
    light = light / np.percentile(light, 99.5) * 0.9 + 0.01 * rng.randn(288, 320, 1)
    codes = (255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    assert "flat panel" in _said(codes)

"""Files that are not read: each is one line with the file, the problem and a remedy."""

from __future__ import annotations

import os
import struct
import time
import tracemalloc
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import tifffile
from picture_files import (
    PASSES,
    RGB8,
    RGB16,
    chunk,
    codes_equal,
    packed_lines,
    packed_png,
    read_bytes,
    refused,
    save_each_kind,
)
from PIL import Image

from scalesim.errors import ReadError
from scalesim.io.pictures.read import read_picture
from scalesim.io.pictures.write import write_png


def test_missing_folder_empty_and_pipe(tmp_path: Path) -> None:
    refused(tmp_path / "none.png", "no such file")
    refused(tmp_path, "folder")
    (tmp_path / "empty.png").touch()
    refused(tmp_path / "empty.png", "empty")
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.png")
        refused(tmp_path / "pipe.png", "pipe")
    with pytest.raises(ReadError, match=r"a\\x00b"):
        read_picture("a\0b")


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_png(tmp_path / "a.png", RGB8 / 255)

    def closed(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", closed)
    refused(tmp_path / "a.png", "no permission")


def test_a_name_with_a_line_break_stays_on_one_line(tmp_path: Path) -> None:
    with pytest.raises(ReadError) as caught:
        read_picture(tmp_path / "two\nlines.png")
    assert "\n" not in str(caught.value) and "two\\nlines.png" in str(caught.value)


@pytest.mark.parametrize(
    "start, words",
    [
        (b"some text\n", "text"),
        (b"<svg xmlns='x'>", "text"),
        (b"GIF89a" + bytes(60), "GIF"),
        (b"\0\0\0\x1cftypavif" + bytes(40), "AVIF"),
        (b"\0\0\0\x1cftypisom" + bytes(40), "clip"),
        (b"\x1aE\xdf\xa3" + bytes(40), "clip"),
        (b"%PDF-1.7", "PDF"),
        (b"P6\n2 2\n255\n" + bytes(12), "Netpbm"),
        (b"BM is no bitmap, only text", "text"),
        (b"RIFF" + bytes(4) + b"AVI LIST", "AVI"),
        (b"\x89PN", "rest is missing"),
    ],
)
def test_other_kinds_are_named_with_the_accepted_ones(start: bytes, words: str, tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(start)
    refused(tmp_path / "a.png", words, "PNG, JPEG, WebP, BMP and TIFF")


def test_a_real_gif_and_random_bytes(tmp_path: Path) -> None:
    Image.fromarray(RGB8).save(tmp_path / "a.gif")
    refused(tmp_path / "a.gif", "a GIF picture", "save the frame as PNG")
    random = np.random.RandomState(5)
    for start in (b"", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"II*\0", b"RIFF\0\0\0\0WEBP", b"BM"):
        for size in (1, 20, 500, 5000):
            (tmp_path / "r.bin").write_bytes(start + random.bytes(size))
            refused(tmp_path / "r.bin")


def test_every_kind_cut_anywhere_is_refused_or_whole(tmp_path: Path) -> None:
    """At every fiftieth part, and at each of the last 24 bytes where an end marker sits.

    BMP and TIFF may end in padding after the last line; then the picture must be whole.
    """
    (tmp_path / "whole").mkdir()
    for path in save_each_kind(tmp_path / "whole"):
        wanted = read_picture(path).values
        data = path.read_bytes()
        for keep in {*(len(data) * k // 50 for k in range(50)), *range(len(data) - 24, len(data))}:
            cut = tmp_path / f"cut{path.suffix}"
            cut.write_bytes(data[:keep])
            if len(data) - keep > 8 or path.suffix not in (".bmp", ".tif"):
                refused(cut)
                continue
            try:
                np.testing.assert_array_equal(read_picture(cut).values, wanted)
            except ReadError:
                refused(cut)


@pytest.mark.parametrize("compression", [1, 5, 8])
def test_a_strip_said_to_end_after_the_file_is_refused(compression: int, tmp_path: Path) -> None:
    cv2.imwrite(str(tmp_path / "a.tif"), RGB16, [cv2.IMWRITE_TIFF_COMPRESSION, compression])
    with tifffile.TiffFile(tmp_path / "a.tif", mode="r+") as tiff:
        page: Any = tiff.pages[0]
        counts = page.databytecounts
        page.tags[279].overwrite([*counts[:-1], 10**6] if len(counts) > 1 else 10**6)
    refused(tmp_path / "a.tif", "cut short")


def test_damage_inside_a_png_is_refused(tmp_path: Path) -> None:
    for data in (packed_png(RGB8, 8, 2), packed_png(RGB16, 16, 2)):
        for at in range(20, len(data), len(data) // 40):
            wrong = bytearray(data)
            wrong[at] ^= 0x10
            (tmp_path / "a.png").write_bytes(wrong)
            refused(tmp_path / "a.png")


@pytest.mark.parametrize("depth, codes", [(8, RGB8), (16, RGB16)])
@pytest.mark.parametrize("passes", [False, True])
def test_a_sound_file_with_too_little_picture_in_it_is_refused(
    depth: int, codes: np.ndarray, passes: bool, tmp_path: Path
) -> None:
    """Check sums and end are right; only the stream is one byte short (16 bits) or a line (8 bits)."""
    parts = [codes[t::dl, s::ds] for s, t, ds, dl in PASSES] if passes else [codes]
    stream = b"".join(packed_lines(p, depth) for p in parts if p.size)
    read_bytes(tmp_path, packed_png(codes, depth, 2, passes=passes, stream=stream))
    short = stream[: -1 if depth == 16 else -110]
    (tmp_path / "a.png").write_bytes(packed_png(codes, depth, 2, passes=passes, stream=short))
    refused(tmp_path / "a.png")


def huge(kind: str) -> bytes:
    if kind == "png":
        header = struct.pack(">IIBBBBB", 60000, 60000, 8, 2, 0, 0, 0)
        return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(10**6)))
    if kind == "jpg":
        return b"\xff\xd8\xff\xe0\0\x04ab\xff\xc0\0\x11\x08" + struct.pack(">HH", 60000, 60000) + bytes(40)
    if kind == "webp":
        body = b"VP8X" + struct.pack("<I", 10) + bytes(4) + (59999).to_bytes(3, "little") * 2
        return b"RIFF" + struct.pack("<I", 4 + len(body)) + b"WEBP" + body
    if kind == "bmp":
        return b"BM" + bytes(12) + struct.pack("<IiiHHI", 40, 60000, -60000, 1, 24, 0) + bytes(40)
    entries = (
        (256, 60000),
        (257, 60000),
        (258, 8),
        (259, 1),
        (262, 1),
        (273, 8),
        (277, 1),
        (278, 60000),
        (279, 9),
    )
    body = b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in entries)
    return b"II*\0" + struct.pack("<IH", 8, len(entries)) + body + bytes(4)


@pytest.mark.parametrize("kind", ["png", "jpg", "webp", "bmp", "tif"])
def test_huge_headers_are_refused_at_once_without_decoding(kind: str, tmp_path: Path) -> None:
    path = tmp_path / f"a.{kind}"
    path.write_bytes(huge(kind))
    refused(path)
    tracemalloc.start()
    start = time.process_time()
    refused(path, "60000x60000 is 3600.0 megapixels; the limit is 36 (7680x4320 is 33.2): crop or reduce")
    assert time.process_time() - start < 0.5
    assert tracemalloc.get_traced_memory()[1] < 4e6
    tracemalloc.stop()


def test_a_tiff_strip_that_inflates_beyond_its_picture_is_refused(tmp_path: Path) -> None:
    flat = np.zeros((2000, 2000, 3), np.uint8)
    tifffile.imwrite(tmp_path / "a.tif", flat, compression="zlib", metadata=None)
    codes_equal(read_picture(tmp_path / "a.tif"), flat)
    with tifffile.TiffFile(tmp_path / "a.tif", mode="r+") as tiff:
        page: Any = tiff.pages[0]
        for tag in (256, 257, 278):
            page.tags[tag].overwrite(20)
    tracemalloc.start()
    refused(tmp_path / "a.tif", "more than the picture")
    assert tracemalloc.get_traced_memory()[1] < 4e6
    tracemalloc.stop()


def test_the_limit_in_megapixels_is_between_6000_by_6000_and_one_line_more(tmp_path: Path) -> None:
    Image.new("1", (6000, 6001)).save(tmp_path / "a.png")
    refused(tmp_path / "a.png", "6000x6001 is 36.0 megapixels")
    Image.new("1", (6000, 6000)).save(tmp_path / "b.png")
    assert read_picture(tmp_path / "b.png").values.shape == (6000, 6000, 3)


def test_the_limit_in_megabytes(tmp_path: Path) -> None:
    with open(tmp_path / "a.png", "wb") as file:
        file.write(b"\x89PNG\r\n\x1a\n")
        file.truncate(512 * 10**6 + 1)
    refused(tmp_path / "a.png", "512 MB", "the limit is 512 MB")


def test_sizes_of_zero(tmp_path: Path) -> None:
    header = struct.pack(">IIBBBBB", 0, 5, 8, 2, 0, 0, 0)
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IEND", b""))
    refused(tmp_path / "a.png", "0x5 holds no picture")


def test_colours_that_are_not_rgb_are_refused_with_a_remedy(tmp_path: Path) -> None:
    for name, mode in (
        ("a.jpg", "CMYK"),
        ("a.tif", "CMYK"),
        ("b.tif", "LAB"),
        ("c.tif", "F"),
        ("d.tif", "I"),
    ):
        Image.new(mode, (8, 8)).save(tmp_path / name)
        refused(tmp_path / name, "save it as PNG")
    tifffile.imwrite(tmp_path / "f.tif", RGB8.astype(np.float32), photometric="rgb", metadata=None)
    refused(tmp_path / "f.tif", "IEEEFP", "save it as PNG")
    tifffile.imwrite(tmp_path / "s.tif", RGB16.view(np.int16), photometric="rgb", metadata=None)
    refused(tmp_path / "s.tif", "INT", "save it as PNG")
    tifffile.imwrite(tmp_path / "u.tif", RGB16.astype(np.uint32), photometric="rgb", metadata=None)
    refused(tmp_path / "u.tif", "32 bits per channel")


def test_16_bit_tiff_that_no_decoder_reads_exactly_is_refused(tmp_path: Path) -> None:
    """LZW in separate planes: the tags are changed by hand in a file whose planes are plain."""
    keys = [cv2.IMWRITE_TIFF_COMPRESSION, 5]
    cv2.imwrite(str(tmp_path / "a.tif"), RGB16, keys)
    with tifffile.TiffFile(tmp_path / "a.tif", mode="r+") as tiff:
        page: Any = tiff.pages[0]
        page.tags[284].overwrite(2)
    refused(tmp_path / "a.tif", "cannot be read exactly", "PNG")

"""Clips read: files made by the FFmpeg program from known codes, against published tables of Y'CbCr."""

from __future__ import annotations

import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from clip_files import encoded, ffmpeg, moving, pattern, woven
from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.core.codes import to_codes
from scalesim.errors import ParameterError, ReadError
from scalesim.io.clips.read import looks_like_clip, read_clip
from scalesim.io.clips.timing import timing_of
from scalesim.io.clips.write import write_clip

NTSC = Fraction(60000, 1001)
FFV1 = ("-c:v", "ffv1")
EXACT = ("-c:v", "libx264", "-qp", "0", "-preset", "ultrafast")


def values_of(clip: Clip) -> list[NDArray]:
    return [picture.values for picture in clip.pictures()]


def flat(path: Path, codes: tuple[int, int, int], *options: str, size: tuple[int, int] = (480, 16)) -> Clip:
    """Read back a clip of one colour, given as codes Y, Cb, Cr, stored without loss."""
    planes = np.empty((2, 3, *size), np.uint8)
    planes[:] = np.reshape(codes, (3, 1, 1))
    return read_clip(encoded(path, planes, "yuv444p", size, "-pix_fmt", "yuv444p", *EXACT, *options))


# colour


def tagged(span: str, matrix: str) -> tuple[str, str]:
    """Name a range and a matrix without FFmpeg's converting to them."""
    return "-vf", f"setparams=range={span}:colorspace={matrix}"


# Limited-range codes of 8 bits, ITU-R BT.601 and BT.709 (100 and 75 % bars; the same from colour-science
# and from FFmpeg's own bar sources), and the colour they code, in code values.
BARS = {
    "white": ((235, 128, 128), (235, 128, 128), (1, 1, 1)),
    "red": ((81, 90, 240), (63, 102, 240), (1, 0, 0)),
    "green": ((145, 54, 34), (173, 42, 26), (0, 1, 0)),
    "blue": ((41, 240, 110), (32, 240, 118), (0, 0, 1)),
    "yellow 75": ((162, 44, 142), (168, 44, 136), (0.75, 0.75, 0)),
    "magenta 75": ((84, 184, 198), (63, 193, 204), (0.75, 0, 0.75)),
    "black": ((16, 128, 128), (16, 128, 128), (0, 0, 0)),
}
NEAR = 1.64 / 255
"""Half a code of luma and half of chroma, 0.5/219 + 1.86 * 0.5/224, are 1.64 of 255 codes."""


@pytest.mark.parametrize("colour", list(BARS))
def test_bars(tmp_path: Path, colour: str) -> None:
    by_601, by_709, expected = BARS[colour]
    for codes, tag in ((by_601, "smpte170m"), (by_709, "bt709")):
        clip = flat(tmp_path / f"{tag}.mkv", codes, *tagged("tv", tag))
        assert not [note for note in clip.notes if "assumed" in note]
        assert np.abs(values_of(clip)[0] - expected).max() < NEAR


def test_the_wrong_matrix_is_seen(tmp_path: Path) -> None:
    """The green of BT.709 taken by BT.601 is R 20, G 299, B 9 of 255 (by colour-science)."""
    clip = flat(tmp_path / "a.mkv", (173, 42, 26), *tagged("tv", "smpte170m"))
    assert np.round(255 * values_of(clip)[0][5, 5]).tolist() == [20, 299, 9]


@pytest.mark.parametrize(("lines", "codes", "name"), [(480, 1, "BT.601"), (720, 2, "BT.709")])
def test_untagged_colours_go_by_size_and_are_said(tmp_path: Path, lines: int, codes: int, name: str) -> None:
    clip = flat(tmp_path / "a.mkv", BARS["red"][codes - 1], size=(lines, 16))
    assert np.abs(values_of(clip)[0] - (1, 0, 0)).max() < NEAR
    assert any(f"{name} assumed" in note and "720 lines" in note for note in clip.notes)


def test_untagged_range_is_said(tmp_path: Path) -> None:
    """A raw Y4M stream of FFmpeg names no matrix; an AVI of raw codes names nothing at all."""
    planes = np.full((2, 3, 16, 16), 126, np.uint8)
    path = encoded(tmp_path / "a.avi", planes, "yuv444p", (16, 16), "-c:v", "rawvideo", "-pix_fmt", "yuv420p")
    clip = read_clip(path)
    assert any("limited assumed" in note for note in clip.notes)


@pytest.mark.parametrize(
    ("luma", "tag", "expected"),
    [(128, "tv", 130.41), (128, "pc", 128.0), (254, "pc", 254.0), (1, "tv", -17.47), (254, "tv", 277.12)],
)
def test_range(tmp_path: Path, luma: int, tag: str, expected: float) -> None:
    """255 (Y - 16) / 219, or Y itself (BT.709, item 4.6 and full range); nothing is cut at black or white."""
    clip = flat(tmp_path / "a.mkv", (luma, 128, 128), *tagged(tag, "smpte170m"))
    assert 255 * values_of(clip)[0][3, 3] == pytest.approx([expected] * 3, abs=0.01)


def test_limited_overrules_the_tag(tmp_path: Path) -> None:
    flat(tmp_path / "a.mkv", (235, 128, 128), *tagged("pc", "smpte170m"))
    clip = read_clip(tmp_path / "a.mkv", limited=True)
    assert values_of(clip)[0].max() == pytest.approx(1.0) and any(
        "tagged full" in note for note in clip.notes
    )


@pytest.mark.parametrize("bits", [10, 12])
def test_deeper_codes(tmp_path: Path, bits: int) -> None:
    """Codes of n bits are those of 8 times 2^(n - 8) (BT.709, item 4.6); a step of one is kept."""
    planes = np.empty((2, 3, 16, 16), "<u2")
    planes[:] = np.reshape(BARS["red"][0], (3, 1, 1))
    planes <<= bits - 8
    planes[:, 0, 4, 4] += 1
    name = f"yuv444p{bits}le"
    tags = tagged("tv", "smpte170m")
    (found, *_) = values_of(read_clip(encoded(tmp_path / "a.mkv", planes, name, (16, 16), *FFV1, *tags)))
    assert np.abs(found[0] - (1, 0, 0)).max() < NEAR
    assert found[4, 4] - found[4, 5] == pytest.approx([1 / (219 << (bits - 8))] * 3, rel=1e-2)


@pytest.mark.parametrize("pixels", ["bgr0", "gbrp", "rgb24"])
def test_rgb_is_exact(tmp_path: Path, pixels: str) -> None:
    codes = np.random.RandomState(3).randint(0, 256, (2, 18, 26, 3)).astype(np.uint8)
    coder = ("-c:v", "png") if pixels == "rgb24" else FFV1
    path = encoded(tmp_path / "a.mkv", codes, "rgb24", (18, 26), *coder, "-pix_fmt", pixels)
    assert np.array_equal([to_codes(values) for values in values_of(read_clip(path))], codes)


def test_a_palette_is_followed(tmp_path: Path) -> None:
    """Pure colours are in every palette FFmpeg makes of 3 bits red, 3 green and 2 blue."""
    codes = 255 * np.random.RandomState(3).randint(0, 2, (2, 18, 26, 3)).astype(np.uint8)
    palette = ("-vf", "format=rgb24,split[a][b];[a]palettegen[p];[b][p]paletteuse=dither=none")
    path = encoded(tmp_path / "a.mkv", codes, "rgb24", (18, 26), *palette, "-c:v", "png", "-pix_fmt", "pal8")
    assert np.array_equal([to_codes(values) for values in values_of(read_clip(path))], codes)


@pytest.mark.parametrize("pixels", ["nv12", "yuyv422", "uyvy422"])
def test_packed_formats_are_as_planar_ones(tmp_path: Path, pixels: str) -> None:
    """FFmpeg repacks both without arithmetic, so the same picture must come out."""
    planar = {"nv12": "yuv420p"}.get(pixels, "yuv422p")
    first = pattern(tmp_path / "a.mkv", 0.1, "-pix_fmt", planar, *FFV1)
    ffmpeg("-v", "error", "-i", str(first), "-c:v", "rawvideo", "-pix_fmt", pixels, str(tmp_path / "b.nut"))
    a, b = (values_of(read_clip(path)) for path in (first, tmp_path / "b.nut"))
    assert np.array_equal(a, b)


def test_chroma_sits_where_the_standard_says(tmp_path: Path) -> None:
    """A ramp of luma and chroma stays one colour ramp: H.264 4:2:0, location 0 (left, midway down).

    Chroma is a ramp sampled at its own places, so a linear filter gives the ramp back exactly, away
    from the edges; taken as sited like JPEG it would be half a sample off along the line.
    """
    lines, samples, slope = 32, 48, 2
    luma = np.full((lines, samples), 120, np.uint8)
    across = np.tile(80 + slope * 2 * np.arange(samples // 2), (lines // 2, 1)).astype(np.uint8)
    down = np.tile((100 + slope * (2 * np.arange(lines // 2) + 0.5))[:, None], (1, samples // 2)).astype(
        np.uint8
    )
    raw = np.concatenate([luma.ravel(), across.ravel(), down.ravel()])
    tags = tagged("tv", "smpte170m")
    (found,) = values_of(
        read_clip(encoded(tmp_path / "a.mkv", raw, "yuv420p", (lines, samples), *FFV1, *tags))
    )
    blue = (found[..., 2] - (120 - 16) / 219) / 1.772 * 224 + 128
    red = (found[..., 0] - (120 - 16) / 219) / 1.402 * 224 + 128
    inner = slice(4, -4)
    assert np.abs(blue[inner, inner] - (80 + slope * np.arange(samples)[inner])).max() < 0.01
    assert np.abs(red[inner, inner] - (100 + slope * np.arange(lines)[inner, None])).max() < 0.01


def test_an_unknown_matrix_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match=r"matrix 8 of ITU-T H\.273"):
        flat(tmp_path / "a.mkv", (100, 100, 100), *tagged("tv", "ycgco"))


# rate, size and mode


RATES = [Fraction(60), NTSC, Fraction(50), Fraction(30000, 1001)]


@pytest.mark.parametrize(
    ("ending", "rate"),
    [*[(ending, rate) for ending in (".mkv", ".mp4") for rate in RATES]]
    + [(ending, NTSC) for ending in (".mov", ".avi", ".ts", ".webm", ".y4m")],
)
def test_rates_are_exact(tmp_path: Path, ending: str, rate: Fraction) -> None:
    coder = {".avi": ["-c:v", "mjpeg"], ".webm": ["-c:v", "libvpx-vp9", "-deadline", "realtime"]}
    coder[".y4m"] = ["-pix_fmt", "yuv420p"]
    clip = read_clip(
        pattern(tmp_path / f"a{ending}", 0.5, *coder.get(ending, EXACT), rate=str(rate), size="64x48")
    )
    count = len(values_of(clip))
    assert (clip.raster.rate, clip.length) == (rate, count) and not clip.is_still
    assert not [note for note in clip.notes if "interval" in note or "rate" in note.split()[:1]]
    assert [picture.time for picture in clip.pictures()] == [k / rate for k in range(count)]


@pytest.mark.parametrize(
    ("size", "rate", "mode", "words"),
    [
        ("1280x720", "60", "720p60", "guessed from size and rate"),
        ("1280x720", "60000/1001", "720p59.94", "guessed"),
        ("720x480", "59.94", "480p59.94", "guessed"),
        ("720x576", "50", "576p50", "guessed"),
        (
            "1280x720",
            "30",
            "custom",
            "half of one: frames woven of two fields, or every second picture is missing",
        ),
        ("100x80", "60", "custom", "no broadcast mode"),
    ],
)
def test_modes(tmp_path: Path, size: str, rate: str, mode: str, words: str) -> None:
    clip = read_clip(pattern(tmp_path / "a.mp4", 0.1, *EXACT, size=size, rate=rate))
    assert clip.mode == mode and any(words in note for note in clip.notes)
    assert f"{clip.raster.samples}x{clip.raster.lines}" == size


def test_a_named_mode(tmp_path: Path) -> None:
    path = pattern(tmp_path / "a.mp4", 0.1, *EXACT, size="720x480", rate="30000/1001")
    clip = read_clip(path, mode="480i")
    assert (clip.raster.scan, clip.raster.lines, clip.raster.rate, clip.length) == (
        "interlaced",
        240,
        NTSC,
        6,
    )
    assert any("not marked interlaced" in note for note in clip.notes)
    kept = read_clip(path, mode="480p")
    assert kept.raster.rate == NTSC / 2 and any(
        "29.97 pictures per second were kept" in n for n in kept.notes
    )
    with pytest.raises(ParameterError, match="has 480 lines; this mode has 720"):
        read_clip(path, mode="720p")


def test_a_few_dropped_pictures_keep_the_rate(tmp_path: Path) -> None:
    path = pattern(tmp_path / "a.mkv", 1, "-vf", "select='not(eq(n,20))'", "-fps_mode", "vfr", *EXACT)
    clip = read_clip(path)
    assert (clip.raster.rate, clip.length) == (60, 59)
    (note,) = [note for note in clip.notes if "intervals" in note]
    assert note.startswith("1 of 58 intervals") and "33" in note


def test_variable_rate_is_taken_at_its_mean(tmp_path: Path) -> None:
    """Two of three pictures kept: periods of 1/60 and 2/60 s in turn, 40 a second."""
    path = pattern(tmp_path / "a.mp4", 2, "-vf", "select='not(eq(mod(n,3),1))'", "-fps_mode", "vfr", *EXACT)
    clip = read_clip(path)
    assert float(clip.raster.rate) == pytest.approx(40, rel=0.02) and clip.length == 80
    assert any(note.startswith("Variable rate: ") and "at the mean of" in note for note in clip.notes)


def test_timing_follows_the_stamps() -> None:
    """Whole milliseconds of 59.94 are 59.94, not 60; a stated rate that the stamps deny is not believed."""
    stamps = np.round(np.arange(300) * 1001 / 60).astype(np.int64)
    assert timing_of(stamps, Fraction(1, 1000), None).rate == NTSC
    assert timing_of(stamps, Fraction(1, 1000), Fraction(60)).rate == NTSC
    assert timing_of(stamps, Fraction(1, 1000), Fraction(19001, 317)).rate == NTSC
    denied = timing_of(stamps, Fraction(1, 1000), Fraction(25))
    assert denied.rate == NTSC and "The file states 25" in denied.notes[0]
    assert timing_of(np.round(np.arange(300) * 1000 / 60).astype(int), Fraction(1, 1000), None).rate == 60
    assert timing_of(np.empty(0, np.int64), Fraction(1, 1000), None).notes


# fields


@pytest.mark.parametrize("ending", [".mkv", ".mp4"])
@pytest.mark.parametrize("order", ["top", "bottom"])
def test_fields_come_in_their_order(tmp_path: Path, ending: str, order: str) -> None:
    """FFmpeg weaves flat pictures of growing level by its own interlace filter; fields must grow again."""
    levels = 20 + 10 * np.arange(16)
    luma = np.repeat(levels, 32 * 48).astype(np.uint8)
    scan = {"top": "tff", "bottom": "bff"}[order]
    _, colours = tagged("tv", "smpte170m")
    weave = (
        "-vf",
        f"interlace=scan={scan}:lowpass=off,{colours}",
        "-flags",
        "+ildct+ilme",
        "-pix_fmt",
        "yuv420p",
    )
    path = encoded(tmp_path / f"a{ending}", luma, "gray", (32, 48), *weave, *EXACT)
    clip = read_clip(path)
    assert (clip.raster.scan, clip.raster.lines, clip.raster.rate) == ("interlaced", 16, 60)
    assert [field.parity for field in clip.raster.fields] == ([0, 1] if order == "top" else [1, 0])
    means = [float(values.mean()) for values in values_of(clip)]
    assert len(means) == clip.length == 16 and np.all(np.diff(means) > 0.01)
    assert all(np.ptp(values) < 1e-6 for values in values_of(clip))


@pytest.mark.parametrize("order", ["top", "bottom"])
def test_interlaced_round_trip(tmp_path: Path, order: Any) -> None:
    """Written woven, read as fields: each field is its own picture's lines, to the code."""
    pictures = moving(12, width=64)
    done = write_clip(tmp_path / "a.mkv", woven(pictures, order), NTSC / 2, field_order=order)
    clip = read_clip(done.path)
    assert clip.raster.rate == NTSC and clip.length == 12
    for index, values in enumerate(values_of(clip)):
        parity = clip.raster.fields[index % 2].parity
        assert np.array_equal(to_codes(values), pictures[index][parity::2])
        assert not np.array_equal(to_codes(values), pictures[index][1 - parity :: 2])


def test_chroma_of_fields_does_not_mix(tmp_path: Path) -> None:
    """A red field and a blue one stay so through 4:2:0; taken as one picture their chroma blends."""
    frame = np.zeros((48, 64, 3), np.uint8)
    frame[::2, :, 0], frame[1::2, :, 2] = 255, 255
    path = write_clip(tmp_path / "a.mp4", [frame] * 4, Fraction(30), field_order="top").path
    top, bottom, *_ = values_of(read_clip(path))
    assert np.abs(top - (1, 0, 0)).max() < 0.03 and np.abs(bottom - (0, 0, 1)).max() < 0.03
    mixed = write_clip(tmp_path / "b.mp4", [frame] * 4, Fraction(30)).path
    assert np.abs(values_of(read_clip(mixed))[0][::2] - (1, 0, 0)).max() > 0.3


# what cannot be read


def refuse(path: Path, words: str, capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ReadError, match=words) as found:
        values_of(read_clip(path))
    text = str(found.value)
    assert path.name in text and "\n" not in text and "Traceback" not in text
    assert capfd.readouterr() == ("", "")


def cut(path: Path, share: float) -> Path:
    body = path.read_bytes()
    out = path.with_name(f"cut-{path.name}")
    out.write_bytes(body[: int(len(body) * share)])
    return out


FAST = ("-c:v", "libx264", "-g", "30")


@pytest.mark.parametrize("ending", [".mp4", ".mkv", ".avi", ".webm"])
def test_cut_short(tmp_path: Path, ending: str, capfd: pytest.CaptureFixture[str]) -> None:
    """60 % of a file of 2 s: the loss is told, never a shorter clip in silence."""
    options = {".avi": ("-c:v", "mjpeg"), ".webm": ("-c:v", "libvpx-vp9", "-deadline", "realtime")}
    options[".mp4"] = (*FAST, "-movflags", "+faststart")
    whole = pattern(tmp_path / f"a{ending}", 2, *options.get(ending, FAST))
    assert read_clip(whole).length == 120
    refuse(cut(whole, 0.6), r"after \d\d whole pictures|1\.\d\d of 2\.00 seconds", capfd)


def test_a_kind_without_a_length_says_so(tmp_path: Path) -> None:
    """A transport stream cut between pictures is whole as far as anyone can tell; that is what is said."""
    clip = read_clip(pattern(tmp_path / "a.ts", 0.2, *EXACT))
    assert any("states no length" in note for note in clip.notes)
    clip = read_clip(pattern(tmp_path / "a.mkv", 0.2, *EXACT))
    assert not any("states no length" in note for note in clip.notes)


def test_damaged_inside(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """Pictures before the damage are delivered; then the error says how many there were."""
    path = pattern(tmp_path / "a.mkv", 2, *FAST)
    with av.open(str(path)) as container:
        packet = [bytes(packet) for packet in container.demux(video=0)][60]
    body = path.read_bytes()
    # From its begin: what is wrong further inside, a decoder may take for picture.
    path.write_bytes(body.replace(packet[:40], bytes(b ^ 0x5A for b in packet[:40])))
    refuse(path, r"damaged or cut short after \d\d whole pictures", capfd)
    taken = 0
    with pytest.raises(ReadError, match="after") as found:
        for _ in read_clip(path).pictures():
            taken += 1
    assert taken == int(re.search(r"after (\d+) whole", str(found.value))[1]) > 10  # type: ignore[index]


def test_a_recording_may_begin_anywhere(tmp_path: Path) -> None:
    """A transport stream whose first third is missing begins at its next key picture."""
    entire, path = pattern(tmp_path / "a.ts", 2, *FAST, "-x264-params", "open-gop=1"), tmp_path / "b.ts"
    body = entire.read_bytes()
    path.write_bytes(body[len(body) // 3 // 188 * 188 :])
    clip = read_clip(path)
    assert any("begins between key pictures" in note for note in clip.notes)
    found = values_of(clip)
    assert len(found) == clip.length in (60, 90)
    whole = values_of(read_clip(entire))  # a second encoding on a busy machine need not be the same
    assert np.array_equal(found[0], whole[-len(found)]) and np.array_equal(found[-1], whole[-1])


def test_an_edit_list_is_followed(tmp_path: Path) -> None:
    """Cut at 0.7 s without coding anew: the 42 pictures before are in the file, but are not shown."""
    pattern(tmp_path / "a.mp4", 2, *FAST)
    cut_off = tmp_path / "b.mp4"
    ffmpeg("-v", "error", "-ss", "0.7", "-i", str(tmp_path / "a.mp4"), "-c", "copy", str(cut_off))
    clip = read_clip(cut_off)
    assert len(values_of(clip)) == clip.length
    assert clip.length < 120 and clip.raster.rate == 60


def test_not_a_clip(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    text, empty, noise, sound = (tmp_path / f"{name}.mp4" for name in ("text", "empty", "noise", "sound"))
    text.write_text("no clip\n" * 99, "utf-8")
    empty.write_bytes(b"")
    noise.write_bytes(np.random.RandomState(0).bytes(5000))
    ffmpeg("-v", "error", "-f", "lavfi", "-i", "sine=d=1", str(sound))
    refuse(text, "cannot be read as a clip", capfd)
    refuse(empty, "the file is empty", capfd)
    refuse(noise, "cannot be read as a clip", capfd)
    refuse(sound, "holds no video stream", capfd)
    refuse(tmp_path / "none.mp4", "there is no such file", capfd)
    moov_last = pattern(tmp_path / "late.mp4", 1, *FAST)
    refuse(cut(moov_last, 0.6), "recording was cut off", capfd)


def test_known_by_content(tmp_path: Path) -> None:
    for ending in (".mkv", ".mp4", ".avi", ".ts", ".webm", ".y4m"):
        coder = ("-c:v", "libvpx-vp9") if ending == ".webm" else ("-pix_fmt", "yuv420p")
        assert looks_like_clip(pattern(tmp_path / f"a{ending}", 0.05, *coder).read_bytes()[:200])
    for head in (
        b"\x89PNG\r\n\x1a\n",
        b"\xff\xd8\xff\xe0",
        b"\0\0\0\x20ftypavif",
        b"RIFF\0\0\0\0WEBP",
        b"G" * 20,
        b"",
    ):
        assert not looks_like_clip(head)


def test_each_call_begins_again(tmp_path: Path) -> None:
    clip = read_clip(pattern(tmp_path / "a.mkv", 0.2, *EXACT))
    first, second = clip.pictures(), clip.pictures()
    assert np.array_equal(next(first).values, next(second).values)
    assert not np.array_equal(next(first).values, next(clip.pictures()).values)
    first.close()  # type: ignore[attr-defined]  # a generator: the file is let go
    assert len(list(clip.pictures())) == 12


PEAK = """
import pathlib, re, sys
from scalesim.io.clips.read import read_clip
clip, kept, peaks = read_clip(sys.argv[1]), [], []
for index, picture in enumerate(clip.pictures()):
    if sys.argv[2] == "hoard":
        kept.append(picture.values)
    if index in (49, 299):
        status = pathlib.Path("/proc/self/status").read_text()
        peaks.append(int(re.search(r"VmHWM:\\s*(\\d+)", status)[1]) / 1024)
print(peaks[1] - peaks[0])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the peak since the program began is in /proc only")
def test_memory_is_flat(tmp_path: Path) -> None:
    """Peak of the process, MB, after 300 pictures less after 50: float32 pictures between make 28 MB."""
    path = pattern(tmp_path / "a.mkv", 5, *EXACT, size="96x96")
    grown = []
    for way in ("stream", "hoard"):
        command = [sys.executable, "-c", PEAK, str(path), way]
        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
        grown.append(float(done.stdout))
    assert grown[0] < 6 and grown[1] > 15

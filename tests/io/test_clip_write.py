"""Clips written: read back by PyAV, Pillow and the FFmpeg program; nothing half-written is ever left."""

from __future__ import annotations

import errno
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from clip_files import idet, moving, woven
from PIL import Image

from scalesim.errors import ParameterError, ShapeError, WriteError
from scalesim.io.clips import encoder as clip_encoder
from scalesim.io.clips.write import ClipFile, write_clip, write_clips

NTSC = Fraction(60000, 1001)
RANDOM = [np.random.RandomState(k).randint(0, 256, (18, 26, 3)).astype(np.uint8) for k in range(7)]


def decoded(path: Path) -> list[Any]:
    with av.open(str(path)) as container:
        return [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]


# what is in the file


@pytest.mark.parametrize("size", [(18, 26), (17, 25), (1, 1)])
def test_mkv_is_exact(tmp_path: Path, size: tuple[int, int]) -> None:
    """Every code comes back, at odd sizes too; one code changed by one would be seen."""
    given = [picture[: size[0], : size[1]] for picture in RANDOM]
    done = write_clip(tmp_path / "a.mkv", given, NTSC)
    back = decoded(done.path)
    assert np.array_equal(back, given)
    given[3] = given[3] ^ np.uint8(1)
    assert not np.array_equal(back, given)


@pytest.mark.parametrize("order", ["top", "bottom"])
def test_mkv_is_exact_with_fields(tmp_path: Path, order: Any) -> None:
    given = [picture[:, :25] for picture in RANDOM]
    assert np.array_equal(
        decoded(write_clip(tmp_path / "a.mkv", given, NTSC / 2, field_order=order).path), given
    )


@pytest.mark.parametrize("ending", [".apng", ".png", ".webp"])
def test_animations_are_exact_and_endless(tmp_path: Path, ending: str) -> None:
    """Read by Pillow, which is another decoder."""
    done = write_clip(tmp_path / f"a{ending}", RANDOM, NTSC)
    with Image.open(done.path) as image:
        assert image.n_frames == len(RANDOM) and image.info["loop"] == 0
        for index, given in enumerate(RANDOM):
            image.seek(index)
            assert np.array_equal(np.asarray(image.convert("RGB")), given)


def durations(path: Path) -> list[float]:
    with Image.open(path) as image:
        found = []
        for index in range(image.n_frames):
            image.seek(index)
            image.load()
            found.append(image.info["duration"])
    return found


def test_apng_times_are_exact(tmp_path: Path) -> None:
    """APNG holds fractions (W3C PNG, third edition, fcTL: delay_num / delay_den): 1001/60000 s."""
    done = write_clip(tmp_path / "a.apng", RANDOM, NTSC)
    assert durations(done.path) == pytest.approx([1001 / 60] * 7, abs=1e-9)
    assert b"\x03\xe9\xea\x60" in done.path.read_bytes()


def test_webp_times_do_not_drift(tmp_path: Path) -> None:
    """WebP holds whole milliseconds (RFC 9649, frame duration): each boundary is within half of one."""
    done = write_clip(tmp_path / "a.webp", RANDOM * 4, NTSC)
    ends = np.cumsum(durations(done.path))[:-1]
    exact = np.arange(1, 28) * 1001 / 60
    assert np.abs(ends - exact).max() <= 0.5 + 1e-9
    assert np.abs(np.arange(1, 28) * 17 - exact).max() > 5  # what one rounded duration for all would give
    assert "milliseconds" in " ".join(done.notes)


@pytest.mark.parametrize(
    "rate", [NTSC, Fraction(60), Fraction(50), Fraction(30000, 1001), Fraction(5035, 84)]
)
def test_mp4_rate_is_exact(tmp_path: Path, rate: Fraction) -> None:
    done = write_clip(tmp_path / "a.mp4", RANDOM, rate)
    with av.open(str(done.path)) as container:
        stream = container.streams.video[0]
        stamps = [frame.pts * stream.time_base for frame in container.decode(stream)]
        assert stream.average_rate == rate
    assert stamps == [k / rate for k in range(7)]
    assert (done.frames, done.seconds) == (7, 7 / rate)


def test_mkv_rate_is_as_near_as_the_kind_can_say(tmp_path: Path) -> None:
    """Matroska states a frame's duration in whole nanoseconds (RFC 9559, DefaultDuration)."""
    done = write_clip(tmp_path / "a.mkv", RANDOM * 10, NTSC)
    with av.open(str(done.path)) as container:
        assert abs(container.streams.video[0].average_rate / NTSC - 1) < 1e-7
    assert abs(60 / NTSC - 1) > 1e-4


@pytest.mark.parametrize(("lines", "tags"), [(480, (6, 6, 6)), (576, (5, 6, 5)), (720, (1, 1, 1))])
def test_mp4_says_its_colours(tmp_path: Path, lines: int, tags: tuple[int, int, int]) -> None:
    """Primaries, curve, matrix by ITU-T H.273: 525 lines 6, 625 lines 5 (curve 6), BT.709 1."""
    done = write_clip(tmp_path / "a.mp4", [np.full((lines, 64, 3), 100, np.uint8)], Fraction(60))
    with av.open(str(done.path)) as container:
        frame = next(container.decode(video=0))
    assert (frame.color_primaries, frame.color_trc, frame.colorspace) == tags
    assert frame.color_range == 1 and frame.format.name == "yuv420p"


@pytest.mark.parametrize(
    ("lines", "codes"),
    [(480, {"red": (81, 90, 240), "green": (145, 54, 34)}), (720, {"green": (173, 42, 26)})],
)
def test_mp4_codes(tmp_path: Path, lines: int, codes: dict[str, tuple[int, int, int]]) -> None:
    """Limited-range Y, Cb, Cr of saturated colours as BT.601 and BT.709 have them, +-2 for lossy coding."""
    colours = {"red": (255, 0, 0), "green": (0, 255, 0)}
    for name, expected in codes.items():
        picture = np.empty((lines, 64, 3), np.uint8)
        picture[:] = colours[name]
        done = write_clip(tmp_path / f"{name}.mp4", [picture] * 3, Fraction(60))
        with av.open(str(done.path)) as container:
            frame = next(container.decode(video=0))
        middles = [
            np.median(np.frombuffer(p, np.uint8).reshape(p.height, -1)[:, : p.width]) for p in frame.planes
        ]
        assert np.abs(np.subtract(middles, expected)).max() <= 2


def test_odd_sizes_are_padded_and_said(tmp_path: Path) -> None:
    """The last line and sample are repeated, so the picture itself stays where it was."""
    picture = np.full((17, 25, 3), 60, np.uint8)
    picture[-1], picture[:, -1] = 200, 200
    done = write_clip(tmp_path / "a.mp4", [picture] * 4, Fraction(60))
    assert (done.height, done.width) == (18, 26) and "25x17 was made 26x18" in done.notes[-1]
    (back, *_) = decoded(done.path)
    assert abs(int(back[-1, 5, 0]) - 200) < 12 and abs(int(back[5, -1, 0]) - 200) < 12
    even = write_clip(tmp_path / "b.mp4", [picture[:16, :24]] * 2, Fraction(60))
    assert (even.height, even.width, len(even.notes)) == (16, 24, 1)
    fields = write_clip(tmp_path / "c.mp4", [picture[:14, :24]] * 2, Fraction(30), field_order="top")
    assert (fields.height, fields.width) == (16, 24)


def test_mp4_begins_with_its_index(tmp_path: Path) -> None:
    """So that a page can start playing before all has arrived (ISO/IEC 14496-12: moov before mdat)."""
    body = write_clip(tmp_path / "a.mp4", RANDOM, Fraction(60)).path.read_bytes()
    assert 0 < body.index(b"moov") < body.index(b"mdat")


# fields


@pytest.mark.parametrize("ending", [".mkv", ".mp4"])
@pytest.mark.parametrize(("order", "verdict"), [("top", "TFF"), ("bottom", "BFF"), (None, "Progressive")])
def test_idet_sees_what_was_written(tmp_path: Path, ending: str, order: Any, verdict: str) -> None:
    """FFmpeg's idet looks at the lines, not at the marks; content moves 3 samples from picture to picture."""
    frames = woven(moving(48), order)
    done = write_clip(tmp_path / f"a{ending}", frames, Fraction(30), field_order=order)
    counts = idet(done.path)
    assert counts.pop(verdict) >= len(frames) - 4
    assert counts["TFF"] == 0 if verdict != "TFF" else counts["BFF"] == 0


def test_idet_tells_a_wrong_weave(tmp_path: Path) -> None:
    """The wrong input: fields woven bottom first and marked top first."""
    done = write_clip(tmp_path / "a.mkv", woven(moving(48), "bottom"), Fraction(30), field_order="top")
    assert idet(done.path)["TFF"] == 0


@pytest.mark.parametrize("ending", [".mkv", ".mp4"])
@pytest.mark.parametrize(("order", "code"), [("top", 2), ("bottom", 3), (None, 1)])
def test_fields_are_marked(tmp_path: Path, ending: str, order: Any, code: int) -> None:
    """FFmpeg's field order: 1 progressive, 2 top field first, 3 bottom field first; in frames and stream."""
    done = write_clip(tmp_path / f"a{ending}", RANDOM[:4], Fraction(30), field_order=order)
    with av.open(str(done.path)) as container:
        stream = container.streams.video[0]
        marks = {frame.interlaced_frame for frame in container.decode(stream)}
        assert stream.codec_context.field_order == code
    assert marks == {order is not None}


# errors, and what they leave


def refuse(error: type[Exception], words: str, path: Path, *args: Any, **options: Any) -> None:
    before = sorted(path.parent.iterdir()) if path.parent.exists() else []
    with pytest.raises(error, match=words) as found:
        write_clip(path, *args, **options)
    assert "\n" not in str(found.value)
    if before or path.parent.exists():
        assert sorted(path.parent.iterdir()) == before


def test_refused(tmp_path: Path) -> None:
    fine, rate = RANDOM[:2], Fraction(60)
    refuse(ParameterError, r"there are 0 pictures; a clip takes at least 1", tmp_path / "a.mp4", [], rate)
    refuse(ParameterError, r"\.gif is no kind of clip.*valid: \.mp4", tmp_path / "a.gif", fine, rate)
    refuse(ParameterError, "no ending is no kind", tmp_path / "a", fine, rate)
    refuse(ParameterError, "rate is 0; it must be above 0", tmp_path / "a.mp4", fine, Fraction(0))
    refuse(ParameterError, "cannot say which field", tmp_path / "a.apng", fine, rate, field_order="top")
    refuse(ParameterError, "'odd'; it is 'top'", tmp_path / "a.mkv", fine, rate, field_order="odd")
    refuse(ShapeError, "is float32", tmp_path / "a.mkv", [fine[0].astype(np.float32)], rate)
    refuse(ShapeError, "17 lines; a woven frame", tmp_path / "a.mkv", [fine[0][:17]], rate, field_order="top")
    refuse(ShapeError, "picture 1: is 26x17; all", tmp_path / "a.mkv", [fine[0], fine[1][:17]], rate)
    refuse(WriteError, "there is no folder", tmp_path / "none" / "a.mkv", fine, rate)
    (tmp_path / "dir.mkv").mkdir()
    refuse(WriteError, "is a folder", tmp_path / "dir.mkv", fine, rate)
    (tmp_path / "b.partial.mkv").write_bytes(b"theirs")
    refuse(WriteError, "left from a run that was cut off", tmp_path / "b.mkv", fine, rate)
    assert (tmp_path / "b.partial.mkv").read_bytes() == b"theirs"


@pytest.mark.skipif(sys.platform == "win32", reason="a colon is no letter of a name there")
@pytest.mark.parametrize("name", ["http:a.mkv", "pipe:1.mkv", "a:b.mp4", "é%d.apng", "concat:a.mkv"])
def test_any_name_is_a_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Not an address, a channel of the program or a list of files, as FFmpeg's protocols have it."""
    monkeypatch.chdir(tmp_path)
    assert write_clip(name, RANDOM[:2], Fraction(60)).frames == 2
    assert [entry.name for entry in tmp_path.iterdir()] == [name] and len(decoded(Path(f"file:{name}"))) == 2


def test_webp_has_a_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scalesim.io.clips.write.MOST_SAMPLES", 3 * 18 * 26)
    assert write_clip(tmp_path / "a.webp", RANDOM[:3], Fraction(60)).frames == 3
    refuse(ParameterError, r"at most 3 pictures of 26x18", tmp_path / "b.webp", RANDOM[:4], Fraction(60))
    assert write_clip(tmp_path / "b.apng", RANDOM[:4], Fraction(60)).frames == 4


def stopping(error: BaseException) -> Iterator[np.ndarray]:
    yield from RANDOM[:5]
    raise error


@pytest.mark.parametrize("ending", [".mp4", ".mkv", ".apng", ".webp"])
@pytest.mark.parametrize("error", [KeyboardInterrupt(), ParameterError("the stage before")])
def test_a_stop_leaves_nothing(tmp_path: Path, ending: str, error: BaseException) -> None:
    """Neither a file nor a partial one, and what stopped it is what is told; an earlier clip stays."""
    path = tmp_path / f"a{ending}"
    path.write_bytes(b"earlier")
    with pytest.raises(type(error)):
        write_clip(path, stopping(error), Fraction(60))
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]
    assert path.read_bytes() == b"earlier"


@pytest.mark.parametrize("method", ["open", "push", "finish"])
def test_a_full_disk_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, method: str) -> None:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(clip_encoder.Encoder, method, full)
    refuse(
        WriteError, r"a\.mkv: cannot be written \(No space left on device\)", tmp_path / "a.mkv", RANDOM, NTSC
    )


@pytest.mark.parametrize(("ending", "most"), [(".mkv", 16384), (".mp4", 16384), (".webp", 16383)])
def test_the_largest_pictures_of_a_kind(tmp_path: Path, ending: str, most: int) -> None:
    """The limits are the encoders' own: one more is refused in words, and by them, too."""
    largest = np.zeros((2, most, 3), np.uint8)
    assert write_clip(tmp_path / f"a{ending}", [largest], Fraction(60)).width == most
    larger = np.zeros((2, most + 2, 3), np.uint8)
    said = rf"b\{ending}: pictures are {most + 2}x2; \{ending} takes at most {most}"
    refuse(ShapeError, said, tmp_path / f"b{ending}", [larger], Fraction(60))


@pytest.mark.parametrize("ending", [".mkv", ".mp4", ".webp"])
def test_what_an_encoder_refuses_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    """The encoder itself refuses a size: its libraries' errors are no OSErrors, and take one line, too."""
    unlimited = {name: replace(kind, most=10**9) for name, kind in clip_encoder.KINDS.items()}
    monkeypatch.setattr(clip_encoder, "KINDS", unlimited)
    larger = [np.zeros((2, 16400, 3), np.uint8)]
    refuse(
        WriteError, rf"a\{ending}: cannot be written \(.+\); make room", tmp_path / f"a{ending}", larger, NTSC
    )


def test_a_rate_of_too_many_digits_is_refused(tmp_path: Path) -> None:
    """FFmpeg keeps a rate in two 32-bit numbers."""
    near = Fraction(59_940_000_001, 10**9)
    refuse(
        ParameterError,
        "both of its numbers",
        tmp_path / "a.mkv",
        RANDOM,
        near,
    )


LIMITED = """
import resource, signal, sys, pathlib, numpy as np
from fractions import Fraction
from scalesim.io.clips.write import write_clip
from scalesim.errors import WriteError
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
path = pathlib.Path(sys.argv[1])
pictures = [np.random.RandomState(k).randint(0, 256, (120, 160, 3)).astype(np.uint8) for k in range(30)]
for size in (1000, 200_000, int(sys.argv[2])):
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
    try:
        write_clip(path, pictures, Fraction(60))
        print("written", path.stat().st_size)
    except WriteError as error:
        print(error)
    print(*[entry.name for entry in path.parent.iterdir()])
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files there")
@pytest.mark.parametrize("ending", [".mkv", ".mp4", ".apng", ".webp"])
def test_a_file_that_cannot_grow(tmp_path: Path, ending: str) -> None:
    """The system's own limit on file size stops real writes at the start, in the middle and not at all."""
    path = tmp_path / f"a{ending}"
    command = [sys.executable, "-c", LIMITED, str(path), str(10**8)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    first, nothing, second, nothing_again, third, there = done.stdout.splitlines()
    assert "cannot be written (File too large)" in first and "cannot be written" in second
    assert nothing == nothing_again == "" and there == path.name
    assert int(third.split()[1]) > 200_000
    assert done.stderr == ""


def test_steps_are_counted(tmp_path: Path) -> None:
    steps: list[int] = []
    done = write_clip(tmp_path / "a.mkv", iter(RANDOM), NTSC, step=lambda: steps.append(1))
    assert len(steps) == done.frames == 7 and isinstance(done, ClipFile)


def test_several_files_of_one_pass(tmp_path: Path) -> None:
    """The same bytes as each alone; every picture is asked for once.

    Not of the smallest pictures: of 26x18, x264 codes equal pictures otherwise once in some hundred times.
    """
    asked: list[int] = []
    random = np.random.RandomState(3).randint(0, 256, (7, 120, 160, 3)).astype(np.uint8)

    def pictures() -> Iterator[np.ndarray]:
        for index, picture in enumerate(random):
            asked.append(index)
            yield picture

    names = ("a.mkv", "a.mp4", "a.apng")
    done = write_clips([tmp_path / name for name in names], pictures(), NTSC, before=(random[0], 3))
    assert asked == list(range(7)) and [file.frames for file in done] == [10, 10, 10]
    for name in names:
        write_clip(tmp_path / f"alone-{name}", random, NTSC, before=(random[0], 3))
        assert (tmp_path / name).read_bytes() == (tmp_path / f"alone-{name}").read_bytes()


@pytest.mark.parametrize("method", ["open", "push", "finish"])
def test_of_several_files_all_are_written_or_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, method: str
) -> None:
    """The disk is full for the second: it is named, and the first does not stay alone."""
    done = getattr(clip_encoder.Encoder, method)

    def full(encoder: Any, *given: Any) -> None:
        if encoder.path.suffix == ".mp4":
            raise OSError(errno.ENOSPC, "No space left on device")
        done(encoder, *given)

    monkeypatch.setattr(clip_encoder.Encoder, method, full)
    with pytest.raises(WriteError, match=r"a\.mp4: cannot be written \(No space left on device\)"):
        write_clips([tmp_path / "a.mkv", tmp_path / "a.mp4"], RANDOM, NTSC)
    assert list(tmp_path.iterdir()) == []


PEAK = """
import re, sys, pathlib, numpy as np
from fractions import Fraction
from scalesim.io.clips.write import write_clip
size = (40, 50, 3) if sys.argv[1].endswith(".apng") else (120, 160, 3)
base = np.random.RandomState(0).randint(0, 256, size).astype(np.uint8)
kept = []
def pictures(count):
    for k in range(count):
        picture = np.roll(base, 3 * k, axis=1)
        if sys.argv[2] == "hoard":
            kept.append(picture)
        yield picture
peaks = []
for count in (40, 400):
    write_clip(sys.argv[1], pictures(count), Fraction(60))
    status = pathlib.Path("/proc/self/status").read_text()
    peaks.append(int(re.search(r"VmHWM:\\s*(\\d+)", status)[1]) / 1024)
print(peaks[1] - peaks[0])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the peak since the program began is in /proc only")
@pytest.mark.parametrize(
    ("ending", "way", "low", "high"),
    [
        (".mkv", "stream", -1, 8),
        (".mp4", "stream", -1, 8),
        (".apng", "stream", -1, 4),
        (".mkv", "hoard", 14, 99),
    ],
)
def test_memory_is_flat(tmp_path: Path, ending: str, way: str, low: float, high: float) -> None:
    """Peak of the process, MB, after 400 pictures less after 40; the pictures between make 21 MB."""
    command = [sys.executable, "-c", PEAK, str(tmp_path / f"a{ending}"), way]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    assert low <= float(done.stdout) <= high

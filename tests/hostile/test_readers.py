"""Files that are none, too large, damaged or of the wrong kind: one line, quickly, in little memory."""

from __future__ import annotations

import io
import os
import time
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest
from few import few
from PIL import Image

import scalesim as ss
from scalesim.cli.main import main
from scalesim.cli.options import read_chain
from scalesim.core import limits
from scalesim.core.files import read_text
from scalesim.errors import ParameterError, ReadError, ScalesimError, ShapeError
from scalesim.io.clips.write import write_clip
from scalesim.io.pictures.read import read_picture
from scalesim.io.read import read
from scalesim.jobs.compare.captured import Capture

CHAIN = "line-drop lines=24"
FRAME = np.random.RandomState(1).rand(48, 64, 3).astype(np.float32)


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    Image.fromarray((FRAME * 255).astype(np.uint8)).save(tmp_path / "f.png")
    return tmp_path / "f.png"


def refused(capsys: pytest.CaptureFixture[str], *words: object, within: float = 10) -> str:
    """Run a command that ends with 2 and one line; return the line."""
    begin = time.process_time()
    assert main([str(word) for word in words]) == 2
    said = capsys.readouterr()
    assert said.err.startswith("scalesim: ") and said.err.count("\n") == 1 and not said.out, said
    assert "fault of the program" not in said.err
    assert time.process_time() - begin < within
    return said.err


# kinds and sizes


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
@pytest.mark.parametrize(
    "role", ["frame", "clip", "frames", "chain", "study", "display", "reference", "capture"]
)
def test_a_pipe_that_nobody_writes_to_is_refused(
    tmp_path: Path, picture: Path, capsys: pytest.CaptureFixture[str], role: str
) -> None:
    pipe = tmp_path / {
        "frame": "p.png",
        "clip": "p.mkv",
        "frames": "p.mkv",
        "reference": "p.png",
        "capture": "p.png",
    }.get(role, "p.toml")
    os.mkfifo(pipe)
    asked = {
        "frame": ("predict", pipe, "--chain", CHAIN),
        "clip": ("predict", pipe, "--chain", CHAIN),
        "frames": ("compare", pipe, "--chain", CHAIN),
        "chain": ("predict", picture, "--chain", pipe),
        "study": ("compare", "--study", pipe),
        "display": ("predict", picture, "--chain", CHAIN, "--view", "screen", "--display", pipe),
        "reference": ("compare", picture, "--chain", CHAIN, "--reference", pipe),
        "capture": ("compare", picture, "--chain", CHAIN, "--capture", f"a={pipe}"),
    }[role]
    assert "device or pipe" in refused(capsys, *asked, "--out", tmp_path / "o")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_an_endless_device_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    asked = ("predict", "/dev/zero", "--chain", CHAIN, "--out", tmp_path / "o")
    assert "device or pipe" in refused(capsys, *asked)


@pytest.mark.parametrize("role", ["chain", "study", "display"])
def test_a_text_of_three_gigabytes_is_refused_by_its_size(
    tmp_path: Path, picture: Path, capsys: pytest.CaptureFixture[str], role: str
) -> None:
    """The file is sparse: it takes no room on the disk."""
    big = tmp_path / "big.toml"
    with open(big, "wb") as file:
        file.truncate(3 * 10**9)
    asked = {
        "chain": ("predict", picture, "--chain", big),
        "study": ("compare", "--study", big),
        "display": ("predict", picture, "--chain", CHAIN, "--view", "screen", "--display", big),
    }[role]
    assert "3000 MB; the limit is 1 MB" in refused(capsys, *asked, "--out", tmp_path / "o")


def test_every_limit_says_why() -> None:
    """A number of `limits` without the sentence below it is not finished."""
    text = Path(limits.__file__).read_text(encoding="utf-8")
    names = [name for name in vars(limits) if name.isupper()]
    assert len(names) >= 10
    for name in names:
        assert f"\n{name} = " in text and text.split(f"\n{name} = ")[1].split("\n")[1].startswith('"""'), name


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ('name = "é"\n'.encode("latin-1"), "no text in UTF-8 .byte 8 is 0xe9.: save the chain file as UTF-8"),
        (b'[[stage]]\nkind="line-drop"\nlines=24\n\0', "character 36 is a zero, as in a text in UTF-16"),
    ],
)
def test_chain_files_that_are_no_text(tmp_path: Path, data: bytes, words: str) -> None:
    (tmp_path / "c.toml").write_bytes(data)
    with pytest.raises(ScalesimError, match=words):
        ss.Chain.from_toml(read_text(tmp_path / "c.toml", "chain", 1))


def test_chain_files_with_a_mark_in_front(tmp_path: Path) -> None:
    """RFC 3629, section 6: EF BB BF at the front of a text is a signature, not a part of it."""
    (tmp_path / "c.toml").write_bytes(b'\xef\xbb\xbfname = "a"\r\n[[stage]]\r\nkind = "interlace"\r\n')
    assert str(read_chain(str(tmp_path / "c.toml"))) == "a: interlace"


# clips


def test_a_clip_of_huge_pictures_is_refused_before_it_is_decoded(tmp_path: Path) -> None:
    """Decoders hold some twenty pictures at a time: the stated size is looked at first."""
    import tracemalloc

    large = tmp_path / "l.mkv"
    write_clip(large, [np.zeros((3200, 3200, 3), np.uint8)], Fraction(60))
    tracemalloc.start()
    with pytest.raises(ReadError, match=r"3200x3200 is 10.2 megapixels; the limit is 9.5 .of a clip"):
        ss.read(large)
    assert tracemalloc.get_traced_memory()[1] < 5e6
    tracemalloc.stop()


def test_a_list_of_further_files_is_no_clip(tmp_path: Path) -> None:
    """FFmpeg would open what such a list names, over the network too."""
    write_clip(tmp_path / "a.mkv", [np.zeros((48, 64, 3), np.uint8)] * 3, Fraction(60))
    (tmp_path / "l.mkv").write_text("ffconcat version 1.0\nfile a.mkv\n", encoding="utf-8")
    with pytest.raises(ReadError, match="cannot be read as a clip"):
        ss.read(tmp_path / "l.mkv")
    (tmp_path / "m.mkv").write_text("#EXTM3U\n#EXTINF:1,\na.mkv\n#EXT-X-ENDLIST\n", encoding="utf-8")
    with pytest.raises(ReadError, match="cannot be read as a clip"):
        ss.read(tmp_path / "m.mkv")


def test_a_codec_that_is_not_known(tmp_path: Path) -> None:
    """The codec's name in the file is replaced by one that nobody has (RFC 9559, CodecID)."""
    write_clip(tmp_path / "a.mkv", [np.zeros((48, 64, 3), np.uint8)] * 3, Fraction(60))
    data = (tmp_path / "a.mkv").read_bytes()
    assert b"V_MPEG4/ISO/AVC" in data
    (tmp_path / "b.mkv").write_bytes(data.replace(b"V_MPEG4/ISO/AVC", b"V_NOSUCH/XX/YYY"))
    with pytest.raises(ReadError, match="codec that is not known"):
        ss.read(tmp_path / "b.mkv")


def test_a_clip_that_cannot_be_so_long_is_refused_at_the_start(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Image.fromarray(np.zeros((480, 640, 3), np.uint8)).save(tmp_path / "f.png")
    asked = ("predict", tmp_path / "f.png", "--chain", "line-drop lines=240", "--clip", "webp")
    line = refused(capsys, *asked, "--seconds", "60", "--out", tmp_path / "o")
    assert ".webp takes at most" in line and not (tmp_path / "o").exists()


# damaged pictures


def smooth(lines: int = 120, samples: int = 160) -> np.ndarray:
    rough = np.random.RandomState(3).randint(0, 256, (lines, samples, 3)).astype(np.uint8)
    return cv2.normalize(cv2.GaussianBlur(rough, (0, 0), 3), None, 0, 255, cv2.NORM_MINMAX)


def jpeg(codes: np.ndarray, **how: object) -> bytes:
    packed = io.BytesIO()
    Image.fromarray(codes).save(packed, "JPEG", **how)
    return packed.getvalue()


HOW = [
    {"quality": 90},
    {"quality": 100, "subsampling": 0},
    {"quality": 30, "optimize": True},
    {"quality": 75, "subsampling": 1},
    {"quality": 90, "restart_marker_rows": 1},
    {"quality": 90, "restart_marker_blocks": 3},
    {"quality": 90, "progressive": True},
]


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize("size", [(1, 1), (7, 9), (16, 16), (17, 33), (119, 160)])
def test_whole_jpegs_are_read(tmp_path: Path, how: dict[str, object], size: tuple[int, int]) -> None:
    part = np.ascontiguousarray(smooth()[: size[0], : size[1]])
    for codes in (part, np.ascontiguousarray(part[..., 0])):
        (tmp_path / "a.jpg").write_bytes(jpeg(codes, **how))
        assert read_picture(tmp_path / "a.jpg").values.shape == (*size, 3)


@pytest.mark.parametrize("how", few(HOW, 3))
def test_damaged_jpegs_are_refused(tmp_path: Path, how: dict[str, object]) -> None:
    """Of 60 with 40 bytes set to 0 somewhere, at least a third; the others have their blocks all there."""
    data = jpeg(smooth(), **how)
    begin = data.find(b"\xff\xda") + 14
    dice = np.random.RandomState(5)
    refusals = 0
    for _ in range(60):
        at = dice.randint(begin, len(data) - 42)
        (tmp_path / "a.jpg").write_bytes(data[:at] + bytes(40) + data[at + 40 :])
        try:
            read_picture(tmp_path / "a.jpg")
        except ReadError as error:
            refusals += 1
            assert "damaged or cut short" in str(error)
    assert refusals >= 20


@pytest.mark.parametrize("where", ["front", "before the scan"])
def test_a_jpeg_full_of_fill_bytes_is_refused_in_time(tmp_path: Path, where: str) -> None:
    """60 million of them took a decoder 107 s."""
    data = jpeg(smooth())
    at = 2 if where == "front" else data.find(b"\xff\xda")
    (tmp_path / "a.jpg").write_bytes(data[:at] + b"\xff" * 60_000_000 + data[at:])
    begin = time.process_time()
    with pytest.raises(ReadError, match="65536 bytes between its segments"):
        read_picture(tmp_path / "a.jpg")
    assert time.process_time() - begin < 5


@pytest.mark.parametrize("packed", ["tiff_lzw", "tiff_adobe_deflate"])
def test_damaged_tiff_strips_are_refused_and_nothing_is_printed(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], packed: str
) -> None:
    """40 bytes set to 0 in the middle of packed data: refused nine times in ten at least."""
    import tifffile

    Image.fromarray(smooth()).save(tmp_path / "a.tif", compression=packed)
    assert read_picture(tmp_path / "a.tif").values.shape == (120, 160, 3)
    data = (tmp_path / "a.tif").read_bytes()
    with tifffile.TiffFile(tmp_path / "a.tif") as tiff:
        first, count = tiff.pages[0].dataoffsets[0], tiff.pages[0].databytecounts[0]
    refusals, dice = 0, np.random.RandomState(5)
    for _ in range(30):
        at = dice.randint(first, first + count - 40)
        (tmp_path / "b.tif").write_bytes(data[:at] + bytes(40) + data[at + 40 :])
        try:
            read_picture(tmp_path / "b.tif")
        except ReadError:
            refusals += 1
    assert refusals >= 27
    assert capfd.readouterr().err == ""


def test_a_tiff_strip_that_is_short_is_refused(tmp_path: Path) -> None:
    """Its missing end would read as black: TIFF 6.0 has as many bytes in a strip as its rows take."""
    import tifffile

    tifffile.imwrite(tmp_path / "a.tif", smooth(), photometric="rgb", metadata=None)
    with tifffile.TiffFile(tmp_path / "a.tif", mode="r+") as tiff:
        tiff.pages[0].tags[279].overwrite(1000)
    with pytest.raises(ReadError, match="damaged in strip or tile 1"):
        read_picture(tmp_path / "a.tif")


# arrays and names


@pytest.mark.parametrize("bad", [np.nan, np.inf, 255.0])
@pytest.mark.parametrize("job", ["predict", "compare", "tune"])
def test_references_that_are_no_picture(bad: float, job: str) -> None:
    wrong = FRAME[:24].copy()
    wrong[3, 4, 1] = bad
    source = ss.still_clip(FRAME)
    with pytest.raises(ShapeError, match=r"^reference: holds"):
        if job == "predict":
            ss.predict(source, CHAIN, reference=wrong)
        elif job == "compare":
            ss.compare({"a": CHAIN}, [source], reference=wrong)
        else:
            ss.tune(CHAIN, [source], vary="line-drop.phase=0:1:1", reference=wrong)
    with pytest.raises(ShapeError, match=r"^reference: is"):
        ss.predict(source, CHAIN, reference=FRAME[..., 0])


def test_clips_of_one_name_stay_apart() -> None:
    """Every `still_clip` is named "frame"; their rows must not be taken for one frame's."""
    keys = ["cropped_percent"]
    found = ss.compare(
        {"a": CHAIN}, [ss.still_clip(FRAME), ss.still_clip(1 - FRAME)], by=["lost_lines"], metrics=keys
    )
    assert [row.frame for row in found.rows] == ["frame", "frame (2)"]


def test_a_chain_with_a_captures_name_is_refused() -> None:
    box = Capture("g", lambda: [ss.still_clip(FRAME)])
    with pytest.raises(ParameterError, match="'g, captured' has the name of a capture"):
        ss.compare({"g, captured": CHAIN}, [ss.still_clip(FRAME)], captures=[box])


def test_what_is_no_name_and_no_clip() -> None:
    with pytest.raises(ParameterError, match="name is 5; it must be a text"):
        ss.Chain(CHAIN, name=5)  # type: ignore[arg-type]  # that is the test
    with pytest.raises(ParameterError, match="capture 1 is ndarray"):
        ss.fields([FRAME])  # type: ignore[list-item]  # that is the test


@pytest.mark.parametrize("command", ["compare", "tune"])
def test_a_folder_of_unlike_pictures_among_frames(
    tmp_path: Path,
    picture: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    command: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    Image.new("RGB", (8, 8)).save("g.png")
    more = ("--vary", "line-drop.phase=0:1:1") if command == "tune" else ()
    assert "a sequence has one size" in refused(capsys, command, ".", "--chain", CHAIN, *more)


def test_a_clip_among_frames_is_named(tmp_path: Path) -> None:
    """What is given as a frame in Python is one picture; the command line takes frames out of clips."""
    write_clip(tmp_path / "c.mkv", [np.full((48, 64, 3), 9 * k, np.uint8) for k in range(4)], Fraction(60))
    clip = read(tmp_path / "c.mkv")
    found = ss.compare({"a": CHAIN}, [clip, ss.still_clip(FRAME)], by=["lost_lines"], metrics=["lost_lines"])
    assert [row.frame for row in found.rows] == ["frame"]
    assert "c.mkv: is a clip" in found.failed[clip.name]
    with pytest.raises(ParameterError, match=r"c\.mkv: is a moving clip"):
        ss.tune(CHAIN, [clip], vary="line-drop.phase=0:1:1")


# numbers


@pytest.mark.parametrize("digits", [401, 5000])
def test_numbers_of_hundreds_of_digits(digits: int) -> None:
    many = "1" * digits
    with pytest.raises(ParameterError):
        ss.Chain(f"line-drop lines={many}")
    with pytest.raises(ParameterError):
        ss.Chain.from_toml(f'[[stage]]\nkind="line-drop"\nlines={many}\n')


def test_huge_numbers_in_patterns_and_names(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chain = ("--chain", CHAIN, "--out", tmp_path / "o")
    assert "names hold at most 255" in refused(capsys, "predict", tmp_path / "a-%099999999999d.png", *chain)
    for number in (1, 10**100):
        Image.new("RGB", (64, 48)).save(tmp_path / f"a-{number}.png")
    line = refused(capsys, "predict", tmp_path / "a-%d.png", *chain)
    assert "number 2, 3, 4, 5, 6 and 99999" in line
    notes = ss.read(tmp_path / "a-*.png").notes
    assert any("missing" in note for note in notes)


@pytest.mark.parametrize("pan", ["99999999999999999999,0", "0,-99999999999999999999", "0,28801"])
def test_a_pan_that_passes_the_picture_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pan: str
) -> None:
    Image.fromarray(np.zeros((480, 640, 3), np.uint8)).save(tmp_path / "f.png")
    asked = ("predict", tmp_path / "f.png", "--chain", "line-drop lines=240", "--clip", "mp4")
    line = refused(capsys, *asked, f"--pan={pan}", "--out", tmp_path / "o")
    assert "move it more slowly" in line and not (tmp_path / "o").exists()


@pytest.mark.parametrize("stage", ["level gain=1", "interlace, deinterlace", "position lines=1"])
def test_a_thousand_stages(capsys: pytest.CaptureFixture[str], picture: Path, stage: str) -> None:
    begin = time.process_time()
    for text in (", ".join([stage] * 1000), "\n".join(['[[stage]]\nkind="interlace"'] * 1000)):
        with pytest.raises(ParameterError, match=r"1000 stages; at most 200|2000 stages; at most 200"):
            ss.Chain.from_toml(text) if text.startswith("[") else ss.Chain(text)
    assert time.process_time() - begin < 1


@pytest.mark.parametrize("stage", ["level gain=1", "position lines=1", "quantise bits=8"])
def test_as_many_stages_as_there_may_be(stage: str) -> None:
    chain = ss.Chain(", ".join([stage] * 200))
    assert ss.predict(ss.still_clip(FRAME), chain, metrics=[]).raster.lines == 48


def test_a_chain_that_joins_pictures_for_ever() -> None:
    """Every weave takes two pictures for one: twenty of them ask for a million."""
    with pytest.raises(ParameterError, match="pictures a second; at least 1"):
        ss.Chain(", ".join(["interlace, deinterlace"] * 20)).resolve(ss.Raster(48, 64))

"""Comparison clips: safe areas of SMPTE ST 2046-1, whole dots, layouts, rates, slow motion, fields, captures.

What is written is decoded with PyAV, which is FFmpeg.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import islice, pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.run import run
from scalesim.core.clip import Clip, still_clip
from scalesim.core.codes import to_codes
from scalesim.core.pan import panned
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.draw.captions import without_middle
from scalesim.draw.lettering import INK, PAPER, QUIET
from scalesim.errors import NotIdentifiable, ParameterError
from scalesim.io.clips.guarded import save_clips
from scalesim.io.read import read
from scalesim.jobs.compare.clip.answer import ComparisonClip
from scalesim.jobs.compare.clip.captures import CapturedClip
from scalesim.jobs.compare.clip.clip import comparison_clip
from scalesim.jobs.compare.clip.compose import boxes_of
from scalesim.jobs.compare.clip.layout import LAYOUTS, places_for, safe_area
from scalesim.jobs.compare.clip.part import part_for
from scalesim.result import Code
from scalesim.result import Picture as Picture_

DROP, EVEN = "line-drop lines=240 phase=1", "line-average lines=240"
FIELDS = "line-average lines=480, interlace"
LABELS = (
    "sharp",
    "even",
    "fields",
    "a very long name of a chain that nobody could read on any screen at all",
)


def scene(lines: int = 720, samples: int = 320, seed: int = 3) -> NDArray[np.float32]:
    """Return blocks of colour, unlike at every place."""
    rs = np.random.RandomState(seed)
    small = rs.randint(0, 256, (lines // 5, samples // 8, 3)).astype(np.float32) / 255
    return np.repeat(np.repeat(small, 5, axis=0), 8, axis=1)


@pytest.fixture(scope="module")
def source() -> Clip:
    """A clip of 0.2 s that scrolls."""
    return panned(still_clip(scene(), mode="720p60"), samples=480, lines=0, seconds=0.2)


def chains(*texts: str) -> dict[str, str]:
    return dict(zip(LABELS, texts, strict=False))


def frames(result: ComparisonClip, count: int | None = None) -> list[NDArray]:
    return [frame.copy() for frame in islice(result.moving().pictures, count)]


def test_safe_areas_are_those_of_the_standard() -> None:
    """SMPTE ST 2046-1:2009: 93 % and 90 % of width and height. 1728x972 and 3456x1944 are exact."""
    for size, title in (((1080, 1920), (972, 1728)), ((2160, 3840), (1944, 3456))):
        box = safe_area(size, 0.90)
        assert (box.height, box.width) == title
        assert (box.top, box.left) == ((size[0] - title[0]) // 2, (size[1] - title[1]) // 2)
        action = safe_area(size, 0.93)
        assert 0 <= 0.93 * size[0] - action.height < 2 and 0 <= 0.93 * size[1] - action.width < 2


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("panels", [2, 4])
@pytest.mark.parametrize("size", [1080, 2160])
def test_words_stay_in_the_title_area_and_pictures_in_the_action_area(
    layout: Any, panels: int, size: int, source: Clip
) -> None:
    """Whatever is neither ground nor in a picture's box is letters, and inside 90 % of the frame."""
    texts = (DROP, EVEN, FIELDS, DROP)[:panels]
    result = comparison_clip(chains(*texts), source, layout=layout, size=size, seconds=0.02)
    frame, shown = frames(result, 1)[0], result.shown
    assert frame.shape == (size, size * 16 // 9, 3)
    words = (frame != PAPER).any(axis=-1)
    action = safe_area(shown.places.size, 0.93)
    for box in boxes_of(shown.places, shown.part):
        assert action.top <= box.top < box.bottom <= action.bottom
        assert action.left <= box.left < box.right <= action.right
        words[box.top : box.bottom, box.left : box.right] = False
    rows, columns = np.nonzero(words)
    title = safe_area(shown.places.size, 0.90)
    assert len(rows) > 500
    assert rows.min() >= title.top and rows.max() < title.bottom
    assert columns.min() >= title.left and columns.max() < title.right
    assert frame[words].max() <= max(INK) and any(tuple(dot) == QUIET for dot in frame[words])


def test_lines_are_whole_dots_and_the_same_part_is_shown_of_all(source: Clip) -> None:
    """Every scan line of 240 takes as many dots, of 480 half as many; both show the chain's own codes."""
    result = comparison_clip(chains(EVEN, FIELDS), source, seconds=0.1)
    part = result.shown.part
    assert part.zoom % 2 == 0 and part.box.top % part.zoom == 0
    first, second = boxes_of(result.shown.places, part)
    frame = frames(result, 1)[0]
    picture = frame[first.top : first.bottom, first.left : first.right]
    lines = picture.reshape(-1, part.zoom, *picture.shape[1:])
    assert (lines == lines[:, :1]).all()
    # dots that lie within one sample show its code; a sample of 320 over 4/3 * 240 * zoom dots is `zoom` wide
    chain = Chain(EVEN)
    # the panel begins with the interlaced one, when both of its fields are there: at the second picture
    codes = to_codes(list(run(chain.resolve(source.raster), islice(source.pictures(), 2)))[1].values)
    top, left = part.box.top // part.zoom, part.box.left
    whole = np.repeat(codes, part.zoom, axis=1)[:, left : left + part.box.width]
    assert np.array_equal(lines[:, 0], whole[top : top + len(lines)])
    other = frame[second.top : second.bottom, second.left : second.right]
    half = other.reshape(-1, part.zoom // 2, *other.shape[1:])
    assert (half == half[:, :1]).all() and not (other.reshape(lines.shape) == other[:: part.zoom, None]).all()


def test_the_page_says_which_chain_each_panel_is(source: Clip) -> None:
    """As text that runs: what is copied from the page is the chain, so is what an article lists."""
    found = comparison_clip({"sharp": DROP, "fields": FIELDS}, source)
    codes = {i.label: i.text for part in found.parts() for i in part.items if isinstance(i, Code)}
    assert codes == {"sharp": DROP, "fields": FIELDS} == found.to_dict()["chains"]
    assert all(Chain(text).text == text for text in codes.values())
    (first,) = (i for part in found.parts() for i in part.items if isinstance(i, Picture_))
    assert (
        "sharp and fields, beside each other; as raster" in first.caption
    )  # where a still cuts the names off


def test_crop_and_zoom_are_as_asked(source: Clip) -> None:
    """A crop is seen whole, in its middle; source lines 300..420 of 720 are scan lines 100..140 of 240."""
    result = comparison_clip(chains(DROP, EVEN), source, crop=(300, 40, 120, 100))
    part = result.shown.part
    assert part.box.top // part.zoom == 100 and part.box.height // part.zoom == 40
    assert part.box.left == 40 * part.zoom and part.box.width == 100 * part.zoom
    zoomed = comparison_clip(chains(DROP, EVEN), source, zoom=7).shown.part
    assert zoomed.zoom == 7 and zoomed.box.height % 7 == 0


def test_a_wipe_shows_one_left_of_its_line_and_the_other_right_of_it(source: Clip) -> None:
    """The line crosses in 4 s; the next sweep reveals the next chain."""
    result = comparison_clip(chains(DROP, EVEN, FIELDS), source, layout="wipe", seconds=0.02)
    box = boxes_of(result.shown.places, result.shown.part)[0]

    def at(sweeps: Fraction) -> NDArray:
        frame = next(iter(result.shown.moving(sweeps=sweeps).pictures))
        return frame[box.top : box.bottom, box.left : box.right].copy()

    alone = [at(Fraction(k)) for k in range(3)]
    assert not np.array_equal(alone[0], alone[1])
    middle = box.width // 2
    for k in range(3):
        half = at(k + Fraction(1, 2))
        assert np.array_equal(half[:, : middle - 2], alone[(k + 1) % 3][:, : middle - 2])
        assert np.array_equal(half[:, middle + 2 :], alone[k][:, middle + 2 :])
        assert (half[:, middle - 1 : middle + 1] == INK).all()
        assert (half[:, [middle - 2, middle + 1]] == PAPER).all()


def test_slow_motion_shows_every_picture_as_often(source: Clip) -> None:
    fast = frames(comparison_clip(chains(DROP, EVEN), source))
    slow = frames(comparison_clip(chains(DROP, EVEN), source, slow=3))
    assert len(fast) == 12 and len(slow) == 36
    boxes = boxes_of(
        *((lambda shown: (shown.places, shown.part))(comparison_clip(chains(DROP, EVEN), source).shown))
    )
    for k, frame in enumerate(slow):
        for box in boxes:
            part = np.s_[box.top : box.bottom, box.left : box.right]
            assert np.array_equal(frame[part], fast[k // 3][part])
    assert not np.array_equal(fast[0], fast[1])


def test_fields_alone_leave_the_other_lines_dark() -> None:
    """A white still, interlaced: each picture has the lines of its field, and the next one the others."""
    white = still_clip(np.ones((480, 640, 3), np.float32), mode="480p60")
    result = comparison_clip(chains("interlace", "line-drop lines=240"), white, seconds=0.05, alone=True)
    box, pitch = boxes_of(result.shown.places, result.shown.part)[0], result.shown.part.zoom // 2
    first, second = (
        frame[box.top : box.bottom : pitch, (box.left + box.right) // 2, 0] for frame in frames(result, 2)
    )
    assert set(first[0::2]) == {255} and set(first[1::2]) == {0}
    assert set(second[0::2]) == {0} and set(second[1::2]) == {255}


def test_a_panel_of_fewer_pictures_holds_each(source: Clip) -> None:
    """A chain that weaves its fields has 30 pictures a second beside one of 60."""
    result = comparison_clip(chains(DROP, "line-average lines=480, interlace, deinterlace how=weave"), source)
    assert result.shown.rate == 60 and "30 pictures a second" in result.sentences()[1]
    box = boxes_of(result.shown.places, result.shown.part)[1]
    held = [frame[box.top : box.bottom, box.left : box.right] for frame in frames(result, 8)]
    same = [np.array_equal(a, b) for a, b in pairwise(held)]
    assert same[:6] in ([True, False] * 3, [False, True] * 3)


def captured(source: Clip, chain: str, begin: int, name: str = "box") -> CapturedClip:
    """Return a capture of a chain's output that begins some pictures into the source, 40 samples wider."""
    plan = Chain(chain).resolve(source.raster)
    wide = Raster(plan.output.lines, plan.output.samples, plan.output.rate, plan.output.fields)

    def pictures() -> Iterator[Picture]:
        for index, picture in enumerate(run(plan, source.pictures())):
            if index >= begin:
                yield Picture(picture.values, wide, (index - begin) / wide.rate)

    return CapturedClip(name, Clip(wide, pictures, name))


def art(lines: int = 720, samples: int = 640) -> NDArray[np.float32]:
    """Return a scene with outlines that a capture can be registered by."""
    rs = np.random.RandomState(5)
    values = np.full((lines, samples, 3), 0.5, np.float32)
    for _ in range(80):
        top, left = rs.randint(0, lines - 60), rs.randint(0, samples - 60)
        values[top : top + rs.randint(6, 60), left : left + rs.randint(6, 60)] = rs.rand(3)
    return values


def test_a_capture_is_found_in_time_and_shown_beside_its_chain() -> None:
    """A capture made of the very chain beside it, begun 7 pictures later, shows the same from there on."""
    moving = panned(still_clip(art(), mode="720p60"), samples=1200, lines=0, seconds=0.5)
    result = comparison_clip(chains(EVEN), moving, captures=[captured(moving, EVEN, 7)])
    assert "0.117 s into the source" in result.sentences()[-1]
    assert [panel.label for panel in result.shown.panels] == ["sharp", "box, captured"]
    first, second = boxes_of(result.shown.places, result.shown.part)
    for frame in frames(result, 4):
        ours = frame[first.top : first.bottom, first.left : first.right].astype(int)
        theirs = frame[second.top : second.bottom, second.left : second.right].astype(int)
        assert np.abs(ours - theirs).mean() < 1
    other = still_clip(scene(720, 640, seed=9), mode="720p60")
    strange = CapturedClip("box", still_clip(np.asarray(scene(240, 640, seed=8)), mode="custom"))
    with pytest.raises(NotIdentifiable):
        comparison_clip(chains(EVEN), panned(other, samples=60, lines=0, seconds=0.2), captures=[strange])


def test_the_files_are_exact_and_at_rate(tmp_path: Path, source: Clip) -> None:
    """Decoded by FFmpeg: the exact file's dots are the frames', rate 60000/1001 and size are as told."""
    import av

    slow = source.raster.with_(rate=Fraction(60000, 1001))
    ntsc = Clip(slow, lambda: _retimed(source, slow), length=source.length)
    result = comparison_clip(chains(DROP, EVEN), ntsc, seconds=0.1)
    expected = frames(result)
    saved = save_clips(result.moving, [tmp_path / "a.mkv", tmp_path / "a.mp4"])
    assert [each.file.frames for each in saved] == [len(expected)] * 2 == [6, 6]
    for name, exact in (("a.mkv", True), ("a.mp4", False)):
        with av.open(str(tmp_path / name)) as container:
            stream = container.streams.video[0]
            decoded = list(container.decode(stream))
            assert (stream.width, stream.height) == (1920, 1080)
            assert len(decoded) == 6
            given = [frame.to_ndarray(format="rgb24") for frame in decoded]
        assert read(tmp_path / name).raster.rate == Fraction(60000, 1001)
        apart = max(np.abs(a.astype(int) - b).mean() for a, b in zip(given, expected, strict=True))
        assert apart == 0 if exact else apart < 8


def _retimed(source: Clip, raster: Raster) -> Iterator[Picture]:
    for index, picture in enumerate(source.pictures()):
        yield Picture(picture.values, raster, index / raster.rate)


def test_on_the_glass_the_same_tube_is_in_all_panels(source: Clip) -> None:
    """Grey fields of one level are equally bright in all panels, dimmed so that white does not clip."""
    grey = still_clip(np.full((720, 1280, 3), 0.5, np.float32), mode="720p60")
    texts = chains(DROP, FIELDS)
    result = comparison_clip(texts, grey, display="livingroom-68cm-350", seconds=0.05)
    frame = frames(result, 1)[0].astype(float)
    means = [
        ((frame[box.top + 20 : box.bottom - 20, box.left + 20 : box.right - 20] / 255) ** 2.4).mean()
        for box in boxes_of(result.shown.places, result.shown.part)
    ]
    assert means[0] == pytest.approx(means[1], rel=0.02)
    assert "livingroom" not in result.shown.foot and "living room" in result.shown.foot


def test_captions_that_are_too_long_are_told_apart_by_their_ends(source: Clip) -> None:
    """Two names of 300 letters that differ in their last: their captions stay in their rooms and differ."""
    name = "line average and then a filter " * 10
    texts = {f"{name[:299]}{end}": EVEN for end in "ab"}
    result = comparison_clip(texts, source, seconds=0.02)
    frame, places = frames(result, 1)[0], result.shown.places
    for room, box in zip(places.captions, boxes_of(places, result.shown.part), strict=True):
        below = frame[box.bottom : box.bottom + 2 * room.height, box.left : box.right]
        columns = np.nonzero((below != PAPER).any(axis=(0, 2)))[0]
        assert 0.8 * room.width < columns.max() < room.right - box.left
    shown = [without_middle(label, 26, 600) for label in texts]
    assert [text[-1] for text in shown] == ["a", "b"] and all("…" in text for text in shown)
    assert without_middle("sharp", 26, 600) == "sharp" and without_middle("sharp", 26, 1) == "…"


def test_lines_that_cannot_be_whole_are_told(source: Clip) -> None:
    result = comparison_clip(chains(DROP, "line-average lines=250"), source)
    assert "cannot all be whole dots" in result.sentences()[1] and "sharp" not in result.sentences()[1]


REFUSED: tuple[tuple[dict[str, Any], str], ...] = (
    ({"layout": "round"}, "layout is 'round'"),
    ({"size": 720}, "size is 720"),
    ({"slow": 0}, "slow is 0"),
    ({"slow": 61}, "slow is 61"),
    ({"seconds": 0.0}, "seconds is 0"),
    ({"seconds": float("nan")}, "seconds is nan"),
    ({"zoom": 0}, "zoom is 0"),
    ({"zoom": 5000}, "zoom is 5000"),
    ({"crop": (700, 0, 100, 100)}, "crop is 700,0,100,100"),
    ({"crop": (0, 0, 0, 100)}, "crop is 0,0,0,100"),
    ({"display": "cinema"}, "display is 'cinema'"),
    ({"tube": "5:4"}, "tube is '5:4'"),
)


@pytest.mark.parametrize(("asked", "said"), REFUSED)
def test_what_cannot_be_is_refused_in_a_line(asked: dict[str, Any], said: str, source: Clip) -> None:
    with pytest.raises(ParameterError) as error:
        comparison_clip(chains(DROP, EVEN), source, **asked)
    assert said in str(error.value) and "\n" not in str(error.value)


@pytest.mark.parametrize("count", [0, 1, 5])
def test_two_to_four_are_shown(count: int, source: Clip) -> None:
    texts = {f"chain {k}": DROP for k in range(count)}
    with pytest.raises(
        ParameterError, match=f"2 to 4 chains and captures; {count} {'was' if count == 1 else 'were'} given"
    ):
        comparison_clip(texts, source)


def test_places_and_parts_leave_nothing_outside() -> None:
    """Every layout, number and size has room for a picture; panels do not touch."""
    for layout in LAYOUTS:
        for panels in (2, 3, 4):
            places = places_for(layout, panels, 1080)
            for lines in ([240] * panels, [240, 480] * 2, [576] * panels, [1] * panels):
                from scalesim.core.raster import Window

                part = part_for(lines[:panels], Fraction(4, 3), Window(), places.rooms[0], layout)
                assert part.box.height <= places.rooms[0].height and part.box.width <= places.rooms[0].width
                assert part.box.height > 0 and part.box.width > 0
            if layout != "wipe":
                ends = [(box.bottom, box.right) for box in places.rooms]
                begins = [(box.top, box.left) for box in places.rooms[1:]]
                assert all(a < c or b < d for (a, b), (c, d) in zip(ends, begins, strict=False))

"""Chains run as streams: times, order, memory, odd ends, and pictures that do not belong."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Iterator
from fractions import Fraction
from itertools import count, islice

import numpy as np
import pytest
from hand import lines_of, ramp

from scalesim.chain import Chain
from scalesim.chain.run import _Given, run
from scalesim.core.picture import Picture, still_stream
from scalesim.core.raster import BOTTOM_FIRST, TOP_FIRST, Raster
from scalesim.errors import ShapeError
from scalesim.stages import PictureStage

FRAMES = Raster(8, 2)
FIELDS = Raster(4, 2, Fraction(60000, 1001), TOP_FIRST)


def numbered(raster: Raster, how_many: int | None = None) -> Iterator[Picture]:
    """Yield pictures whose every value is 100 times their number plus the line."""
    for k in count() if how_many is None else range(how_many):
        yield Picture(ramp(raster.lines) + 100 * k, raster, k / raster.rate)


class Watched:
    """A stream that knows how many of its pictures' arrays are still alive."""

    def __init__(self, raster: Raster, how_many: int) -> None:
        self.raster, self.how_many = raster, how_many
        self.refs: list[weakref.ref[np.ndarray]] = []
        self.most = 0

    def __iter__(self) -> Iterator[Picture]:
        for k in range(self.how_many):
            values = np.full((self.raster.lines, self.raster.samples, 3), k / self.how_many, np.float32)
            self.refs.append(weakref.ref(values))
            yield Picture(values, self.raster, k / self.raster.rate)
            del values
            self.refs = [ref for ref in self.refs if ref() is not None]
            self.most = max(self.most, len(self.refs))


LONG = [
    (FRAMES, "line-average lines=4, quantise, line-drop lines=2"),
    (FRAMES, "flicker-filter, interlace, field-only"),
    (FRAMES, "interlace, deinterlace how=weave, line-drop lines=4"),
    (FRAMES, "interlace, deinterlace how=blend, quantise"),
    (FIELDS, "deinterlace how=bob, line-drop lines=4, interlace, keep-field parity=bottom"),
    (FIELDS, "keep-field, level gain=0.5"),
    (FRAMES, "slip rate_out=59, line-average lines=4"),
    (FIELDS, "slip rate_out=61 buffer=frame"),
]


@pytest.mark.parametrize(("raster", "text"), LONG)
def test_memory_is_flat(raster: Raster, text: str) -> None:
    """Three thousand pictures, and never more than a handful of them alive."""
    source = Watched(raster, 3000)
    made = 0
    for picture in Chain(text).run(source):
        made += 1
        assert picture.values.shape[2] == 3
    assert made >= 1499
    assert source.most <= 5, f"{text}: {source.most} source pictures alive at once"
    del picture
    gc.collect()
    assert sum(ref() is not None for ref in source.refs) == 0, "pictures are kept after the end"


def test_the_watch_notices_a_hoarder() -> None:
    """The check above can fail."""
    source = Watched(FRAMES, 100)
    kept = list(Chain("level gain=1 clip=off").run(source))
    hoarded = list(source)
    assert len(kept) == len(hoarded) == 100 and source.most >= 99


def test_only_as_much_is_read_as_is_asked_for() -> None:
    read = 0

    def watched() -> Iterator[Picture]:
        nonlocal read
        for picture in numbered(FRAMES):
            read += 1
            yield picture

    stream = Chain("interlace, deinterlace").run(watched())
    assert read == 0
    next(stream)
    assert read == 2
    list(islice(stream, 3))
    assert read == 8


def test_times_and_rates_are_exact() -> None:
    found = list(Chain("line-average lines=2").run(numbered(FIELDS, 4)))
    assert [p.time for p in found] == [Fraction(1001 * k, 60000) for k in range(4)]
    woven = list(Chain("deinterlace").run(numbered(FIELDS, 6)))
    assert [p.time for p in woven] == [Fraction(1001 * 2 * k, 60000) for k in range(3)]
    assert woven[0].raster.rate == Fraction(30000, 1001)


def test_pictures_come_out_in_order_through_their_phase() -> None:
    found = list(Chain("interlace, position lines=1").run(numbered(FRAMES, 5)))
    assert [lines_of(p) for p in found] == [
        [0, 0, 2, 4],
        [0, 101, 103, 105],
        [0, 200, 202, 204],
        [0, 301, 303, 305],
        [0, 400, 402, 404],
    ]


def test_phase_is_counted_anew_after_a_frame_stage() -> None:
    """Weave halves the pictures: woven frame 1 is made of fields 2 and 3, and becomes a bottom field."""
    found = list(Chain("deinterlace, interlace").run(numbered(FIELDS, 8)))
    assert [lines_of(p)[0] for p in found] == [0, 300, 400, 700]


def test_bottom_first_source() -> None:
    raster = FIELDS.with_(fields=BOTTOM_FIRST)
    (frame,) = Chain("deinterlace").run(numbered(raster, 2))
    assert lines_of(frame) == [100, 0, 101, 1, 102, 2, 103, 3]  # picture 0 is the odd lines


@pytest.mark.parametrize(
    ("text", "fields", "made"), [("deinterlace", 7, 3), ("deinterlace how=blend", 1, 0), ("keep-field", 7, 7)]
)
def test_odd_numbers_of_fields(text: str, fields: int, made: int) -> None:
    assert len(list(Chain(text).run(numbered(FIELDS, fields)))) == made


def test_keep_field_bottom_of_one_field_is_nothing() -> None:
    assert list(Chain("keep-field parity=bottom").run(numbered(FIELDS, 1))) == []


def test_an_empty_clip_gives_an_empty_clip() -> None:
    assert list(Chain("line-drop lines=240").run([])) == []


def test_a_list_of_pictures_will_do() -> None:
    clip = list(numbered(FIELDS, 4))
    assert len(list(Chain("deinterlace").run(clip))) == 2
    assert len(list(run(Chain("deinterlace").resolve(FIELDS), clip))) == 2


def test_pictures_of_another_raster_are_refused() -> None:
    clip = [*numbered(FRAMES, 1), *numbered(FIELDS, 1)]
    stream = Chain("quantise").run(clip)
    next(stream)
    with pytest.raises(ShapeError, match=r"picture has 2 x 4 lines.*this plan is for 8 lines"):
        next(stream)


def test_pictures_that_are_not_their_raster_are_refused() -> None:
    with pytest.raises(ShapeError, match="picture has 6 lines; this operator was built for 8"):
        list(Chain("line-average lines=4").run([Picture(ramp(6), FRAMES)]))


def test_run_still_is_one_cycle() -> None:
    found = Chain("interlace").run_still(FRAMES, still_stream(ramp(8), FRAMES))
    assert [lines_of(p)[0] for p in found] == [0, 1]
    assert [p.raster.scan for p in found] == ["interlaced", "interlaced"]


def test_dtype_is_kept() -> None:
    for dtype in (np.float32, np.float64):
        frame = ramp(8).astype(dtype) / 8
        text = "resample lines=4 samples=3 encoding=light, level gain=0.9, interlace, deinterlace how=blend"
        for picture in Chain(text).run_still(FRAMES, still_stream(frame, FRAMES)):
            assert picture.values.dtype == dtype


def test_only_values_in_memory_that_came_in_are_copied() -> None:
    """A view of the source is copied, new values are handed on as they are; what died is forgotten."""
    given, frame = _Given(), np.zeros((4, 2, 3))
    given.add(frame[::2])
    shown = given.apart_from(frame[1:])
    assert not np.shares_memory(shown, frame) and np.array_equal(shown, frame[1:])
    new = np.zeros((4, 2, 3))
    assert given.apart_from(new) is new
    del frame
    assert not given._alive


class _Telling(PictureStage):
    """Writes the phase it is told into the picture; makes fields of frames by itself, if frames come in."""

    kind = "telling"

    def raster(self, before: Raster) -> Raster:
        return before.with_(fields=TOP_FIRST)

    def apply(self, values: np.ndarray, before: Raster, phase: int = 0) -> np.ndarray:
        return np.full_like(values, phase)


@pytest.mark.parametrize("raster", [FRAMES, FIELDS], ids=["frames", "fields"])
def test_a_stage_on_single_pictures_is_told_their_phase(raster: Raster) -> None:
    """That of the fields before it or after it, whichever there are."""
    found = list(Chain(_Telling()).run(numbered(raster, 5)))
    assert [picture.values[0, 0, 0] for picture in found] == [0, 1, 0, 1, 0]

"""Clips: what one knows of itself, and the still that begins at a picture."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import islice

import numpy as np
import pytest

from scalesim.core.clip import Clip, still_clip
from scalesim.core.picture import Picture
from scalesim.core.raster import BOTTOM_FIRST, PROGRESSIVE, TOP_FIRST, Field, Raster
from scalesim.errors import ParameterError

COUNT = 6


def moving(fields: tuple[Field, ...], length: int | None = COUNT, taken: list[int] | None = None) -> Clip:
    """Return six pictures of 4 lines; picture k is flat at k / 8."""
    raster = Raster(4, 3, Fraction(60), fields)

    def pictures() -> Iterator[Picture]:
        for k in range(COUNT):
            if taken is not None:
                taken.append(k)
            yield Picture(np.full((4, 3, 3), k / 8, np.float32), raster, Fraction(k, 60))

    return Clip(raster, pictures, "take", "custom", ("a note",), length=length)


def test_length() -> None:
    still = still_clip(np.zeros((4, 3, 3), np.float32))
    assert still.length is None and still.is_still
    assert moving(PROGRESSIVE).length == COUNT and not moving(PROGRESSIVE).is_still


def test_still_of_a_progressive_clip() -> None:
    still = moving(PROGRESSIVE).still_at(2)
    assert still.is_still and still.frame is not None and np.all(still.frame == 2 / 8)
    assert (still.name, still.mode, still.notes) == ("take at 2", "custom", ("a note",))


@pytest.mark.parametrize("fields", [TOP_FIRST, BOTTOM_FIRST])
@pytest.mark.parametrize("picture", [0, 1, 4])
def test_still_of_fields(fields: tuple[Field, ...], picture: int) -> None:
    """Lines of the frame by hand: each field's own parity holds its level; time goes on in the same order."""
    still = moving(fields).still_at(picture)
    assert still.frame is not None and still.frame.shape == (8, 3, 3)
    for k in (picture, picture + 1):
        parity = fields[k % 2].parity
        assert np.all(still.frame[parity::2] == k / 8)
    first, second, third = islice(still.pictures(), 3)
    assert [float(p.values[0, 0, 0]) for p in (first, second, third)] == [
        picture / 8,
        (picture + 1) / 8,
        picture / 8,
    ]
    assert still.raster.fields[0] == fields[picture % 2]


def test_a_still_gives_itself() -> None:
    still = still_clip(np.zeros((4, 3, 3), np.float32))
    assert still.still_at(7) is still


def test_it_streams_no_further() -> None:
    taken: list[int] = []
    moving(TOP_FIRST, taken=taken).still_at(1)
    assert taken == [0, 1, 2]


@pytest.mark.parametrize("length", [COUNT, None])
@pytest.mark.parametrize(
    ("fields", "picture", "words"),
    [
        (PROGRESSIVE, 6, "picture is 6; of its 6 pictures the last whole frame begins at 5"),
        (TOP_FIRST, 5, "picture is 5; of its 6 pictures the last whole frame begins at 4"),
        (PROGRESSIVE, -1, "picture is -1; pictures are counted from 0"),
    ],
)
def test_refused(fields: tuple[Field, ...], picture: int, words: str, length: int | None) -> None:
    with pytest.raises(ParameterError, match=words):
        moving(fields, length).still_at(picture)

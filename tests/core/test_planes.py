"""Planes: what they give, against `numpy.interp`, and lines that are mixed before they become colours."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.colours import Coding, Scale
from scalesim.core.planes import CodedPicture, Planes
from scalesim.core.raster import Raster

BT709 = (0.2126, 0.0722)
LINES, SAMPLES = 45, 28
CHAINS = (
    "line-average lines=20",
    "line-drop lines=15 phase=1",
    "resample lines=30 samples=20 edge=black",
    "position lines=7, line-average lines=15",
)


def planes(
    halvings: tuple[int, int] = (1, 1), bits: int = 8, *, weights: bool = True, full: bool = False
) -> Planes:
    """Return planes of noise, chroma of fewer places as a stream has them."""
    rs = np.random.RandomState(7)
    dtype = np.uint8 if bits == 8 else np.uint16
    chroma = tuple(-(-size // 2**half) for size, half in zip((LINES, SAMPLES), halvings, strict=True))
    shapes = ((LINES, SAMPLES), chroma, chroma) if weights else ((LINES, SAMPLES),) * 3
    codes = [rs.randint(0, 2**bits, shape).astype(dtype) for shape in shapes]
    up, half = bits - 8, 2 ** (bits - 1)
    level = Scale(0, 2**bits - 1) if full else Scale(16 << up, 219 << up)
    colour = Scale(half, 2**bits - 1) if full else Scale(half, 224 << up)
    return Planes(codes, Coding(level, colour, BT709 if weights else None, halvings, (0.5, 0.0)))


def by_hand(given: Planes) -> NDArray[np.float64]:
    """Return the code values in float64, chroma by `np.interp` along both axes (clamped at the ends)."""
    coding = given.coding
    y = (given.levels[0].astype(np.float64) - coding.level.zero) / coding.level.span
    cb, cr = ((plane.astype(np.float64) - coding.chroma.zero) / coding.chroma.span for plane in given.colours)
    for axis, size in ((0, LINES), (1, SAMPLES)):
        half = coding.halvings[axis]
        places = (np.arange(size) - (coding.first[axis] if half else 0)) / 2**half
        cb, cr = (
            np.apply_along_axis(lambda line: np.interp(places, np.arange(len(line)), line), axis, plane)  # noqa: B023
            for plane in (cb, cr)
        )
    # ITU-R BT.709-6, items 3.2 to 3.3: E'Y = 0.2126 R' + 0.7152 G' + 0.0722 B', C'B = (B' - Y')/1.8556,
    # C'R = (R' - Y')/1.5748
    red, blue = y + 1.5748 * cr, y + 1.8556 * cb
    return np.stack([red, (y - 0.2126 * red - 0.0722 * blue) / 0.7152, blue], axis=-1)


@pytest.mark.parametrize("halvings", [(0, 0), (0, 1), (1, 1), (0, 2), (2, 2)])
@pytest.mark.parametrize("bits", [8, 10])
def test_values_are_those_of_the_standard(halvings: tuple[int, int], bits: int) -> None:
    given = planes(halvings, bits)
    np.testing.assert_allclose(given.values(), by_hand(given), atol=2e-6)
    wrong = Planes((*given.levels, *given.colours[::-1]), given.coding)
    assert np.abs(wrong.values() - by_hand(given)).max() > 0.5


@pytest.mark.parametrize(("text", "halvings"), list(product(CHAINS, [(0, 0), (1, 1), (2, 2)])))
@pytest.mark.parametrize("full", [False, True])
def test_mixing_planes_is_mixing_colours(text: str, halvings: tuple[int, int], *, full: bool) -> None:
    """What a chain gives of the planes is what it gives of the values, far within 1e-5."""
    given = planes(halvings, full=full)
    operator = Chain(text).operator(Raster(LINES, SAMPLES)).phases[0]
    np.testing.assert_allclose(given.through(operator), operator(given.values()), atol=2e-6)


def test_three_planes_of_colour_and_one_of_grey() -> None:
    given = planes(weights=False, full=True)
    operator = Chain("line-average lines=20").operator(Raster(LINES, SAMPLES)).phases[0]
    values = np.stack(given.levels, axis=-1) / np.float32(255)
    np.testing.assert_allclose(given.values(), values, atol=1e-7)
    np.testing.assert_allclose(given.through(operator), operator(values), atol=1e-6)
    grey = Planes(given.levels[:1], given.coding)
    assert np.array_equal(grey.values(), np.repeat(values[..., :1], 3, axis=-1))
    np.testing.assert_allclose(grey.through(operator), operator(grey.values()), atol=1e-6)


@pytest.mark.parametrize(
    "text", ["line-average lines=20 encoding=light", "line-average lines=90", "resample samples=20"]
)
def test_what_cannot_be_mixed_in_planes_is_not(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Light is no weighted sum of codes; where lines do not get fewer there is nothing to gain."""
    given = planes()
    operator = Chain(text).operator(Raster(LINES, SAMPLES)).phases[0]

    def refuse(self: Planes, *_: object) -> NDArray:
        raise AssertionError

    monkeypatch.setattr(Planes, "mixed", refuse)
    picture = CodedPicture(given, Raster(LINES, SAMPLES), Fraction(0))
    after = picture.after(operator, picture.raster)
    assert np.array_equal(after.values, operator(given.values()))
    with pytest.raises(AssertionError):
        picture.after(Chain(CHAINS[0]).operator(Raster(LINES, SAMPLES)).phases[0], picture.raster)


def test_light_mixed_in_planes_would_be_wrong() -> None:
    given = planes()
    operator = Chain("line-average lines=20 encoding=light").operator(Raster(LINES, SAMPLES)).phases[0]
    assert np.abs(given.through(operator) - operator(given.values())).max() > 0.01

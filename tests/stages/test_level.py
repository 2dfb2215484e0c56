"""Expected numbers of the point stages."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.stages.level import Level, Quantise

RASTER = Raster(1, 1)


def one(stage: Level | Quantise, value: float, dtype: type = np.float64) -> float:
    return float(stage.apply(np.full((1, 1, 3), value, dtype), RASTER)[0, 0, 0])


@pytest.mark.parametrize(
    ("keys", "value", "expected"),
    [
        ({}, 0.3, 0.3),
        ({"gain": 0.5}, 0.3, 0.15),
        ({"lift": 0.1}, 0.3, 0.4),
        ({"gain": 2, "lift": -0.1}, 0.3, 0.5),
        ({"gain": 2}, 0.7, 1.0),
        ({"gain": 2, "clip": "off"}, 0.7, 1.4),
        ({"lift": -0.5}, 0.3, 0.0),
        ({"lift": -0.5, "clip": False}, 0.3, -0.2),
        ({"gain": 0}, 0.3, 0.0),
    ],
)
def test_level(keys: dict[str, object], value: float, expected: float) -> None:
    assert one(Level(**keys), value) == pytest.approx(expected, abs=1e-12)
    assert one(Level(**keys), value, np.float32) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("bits", "value", "code"),
    [
        # floor(V*255 + 1/2): halves go up
        (8, 0.0, 0),
        (8, 1.0, 255),
        (8, 0.5 / 255, 1),
        (8, 0.49999 / 255, 0),
        (8, 1.5 / 255, 2),
        (8, 0.5, 128),  # 127.5 + 0.5
        (8, -0.2, 0),
        (8, 1.7, 255),
        (1, 0.49, 0),
        (1, 0.5, 1),
        (2, 0.5, 2),  # 1.5 + 0.5
        (10, 0.5, 512),
        (16, 0.25, 16384),  # 16383.75 + 0.5
    ],
)
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_quantise(bits: int, value: float, code: int, dtype: type) -> None:
    top = 2**bits - 1
    assert one(Quantise(bits=bits), value, dtype) * top == pytest.approx(code, abs=1e-2)


@pytest.mark.parametrize("bits", [1, 6, 8, 10, 16])
def test_quantise_twice_is_quantise_once_and_keeps_every_code(bits: int) -> None:
    codes = np.arange(2**bits, dtype=np.float32) / np.float32(2**bits - 1)
    values = np.repeat(codes[:, None, None], 3, axis=2)
    once = Quantise(bits=bits).apply(values, Raster(len(values), 1))
    assert np.array_equal(once, values)
    assert np.array_equal(Quantise(bits=bits).apply(once, Raster(len(values), 1)), once)


@pytest.mark.parametrize("stage", [Level(gain=0.5, lift=0.1), Quantise(bits=3)])
def test_point_stages_leave_their_input(stage: Level | Quantise) -> None:
    values = np.full((2, 2, 3), 0.3, np.float32)
    stage.apply(values, Raster(2, 2))
    assert (values == np.float32(0.3)).all()


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Quantise(bits=0), "quantise: bits is 0; it must be at least 1"),
        (lambda: Quantise(bits=17), "quantise: bits is 17; it must be at most 16"),
        (lambda: Quantise(bits=7.5), "quantise: bits is 7.5; it must be a whole number of bits"),
        (lambda: Quantise(bits=True), "quantise: bits is True; it must be a whole number"),
        (lambda: Level(gain=-1), "level: gain is -1; it must be at least 0"),
        (lambda: Level(gain=float("nan")), "level: gain is nan; it must be a finite number"),
        (lambda: Level(clip="yes"), "level: clip is 'yes'; it must be on or off"),
    ],
)
def test_refusals(make: object, words: str) -> None:
    with pytest.raises(ParameterError) as refused:
        make()  # type: ignore[operator]
    assert str(refused.value).startswith(words)

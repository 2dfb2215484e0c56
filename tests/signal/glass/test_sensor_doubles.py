"""Lines of 2.9 pixels in a red picture, through a colour sensor and OpenCV: they come back coarser too."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from scalesim.core.photo import light_of
from scalesim.signal.glass.find import find_lines
from scalesim.signal.glass.impostors import folded


def _photo(period: float, colour: tuple[float, float, float]) -> np.ndarray:
    y, x = np.mgrid[:360, :480].astype(np.float64)
    place = (y + 0.02 * x + 2e-5 * (x - 240) * (y - 180)) / period
    lines = 0.5 + 0.45 * np.cos(2 * np.pi * place)
    content = cv2.resize(np.random.RandomState(3).rand(9, 12), (480, 360), interpolation=cv2.INTER_CUBIC)
    light = (lines * (0.4 + 0.6 * np.clip(content, 0, 1)))[..., None] * np.array(colour)
    raw = np.empty((360, 480))
    for (dy, dx), own in {(0, 0): 0, (0, 1): 1, (1, 0): 1, (1, 1): 2}.items():
        raw[dy::2, dx::2] = light[dy::2, dx::2, own]
    raw += 0.004 * np.random.RandomState(4).standard_normal(raw.shape)
    linear = (
        cv2.cvtColor(np.clip(raw * 60000 + 500, 0, 65535).astype(np.uint16), cv2.COLOR_BAYER_RGGB2RGB) / 65535
    )
    return (255 * linear ** (1 / 2.4) + 0.5).astype(np.uint8)


@pytest.mark.parametrize(("period", "colour"), [(2.9, (0.9, 0.18, 0.05)), (6.4, (0.9, 0.25, 0.1))])
def test_a_sensor_s_double_is_not_taken_for_the_lines(
    period: float, colour: tuple[float, float, float]
) -> None:
    lines = find_lines(light_of(_photo(period, colour))).lines
    assert float(lines.period(np.array(240.0), np.array(180.0))) == pytest.approx(period, rel=0.01)


def test_only_frequencies_that_add_up_to_a_half_are_doubles() -> None:
    assert folded(6.43, 2.9, 0.4, 0.4)
    assert not folded(6.43, 2.9, 0.4, 0.1)  # the errors of demosaicing
    assert not folded(6.0, 2.6, 0.4, 0.4) and not folded(2.9, 6.43, 0.4, 0.4)

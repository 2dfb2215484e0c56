"""Scan lines of a whole picture with its bezel around, as the guide asks for: 8 pixels a line, no corners."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage import data

from scalesim.signal.glass.find import find_lines

PIXELS, LINES = 8, 240


def whole_view(picture: np.ndarray, bezel: float = 0.12, turn: float = 0.7) -> np.ndarray:
    """Return the light of lines 0.45 pitch wide (a Gaussian's half maximum) over a picture, turned."""
    rows, columns = PIXELS * LINES, PIXELS * LINES * 4 // 3
    lines = cv2.resize(picture, (columns, LINES), interpolation=cv2.INTER_AREA).astype(np.float32)
    away = (np.arange(rows) + 0.5) / PIXELS % 1 - 0.5
    profile = np.exp(-4 * np.log(2) * (away / 0.45) ** 2)
    light = np.repeat(lines, PIXELS, axis=0) * profile[:, None].astype(np.float32)
    edge = int(bezel * columns)
    framed = np.pad(light, edge, constant_values=0.01)
    tall, wide = framed.shape
    turned = cv2.getRotationMatrix2D((wide / 2, tall / 2), -turn, 1)
    seen = cv2.warpAffine(framed, turned, (wide, tall), borderValue=0.01)
    noise = np.random.RandomState(3).normal(0, 0.004, seen.shape)
    return np.asarray(cv2.GaussianBlur(seen, (0, 0), 0.8) + noise, np.float32).clip(0)


@pytest.mark.parametrize("name", ["coffee", pytest.param("chelsea", marks=pytest.mark.slow)])
def test_lines_are_found_where_the_whole_tube_is_in_view(name: str) -> None:
    picture = (getattr(data, name)()[..., 1] / 255.0) ** 2.2
    lines = find_lines(whole_view(picture)).lines
    middle = np.array(lines.rows / 2), np.array(lines.columns / 2)
    assert float(lines.period(*middle)) == pytest.approx(PIXELS, rel=0.01)

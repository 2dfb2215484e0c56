"""Code values and light, and the luma weights."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.core.encoding import GAMMA, LUMA_BT709, code_to_light, light_to_code, luma


@pytest.mark.parametrize(
    ("code", "light"),
    # ITU-R BT.1886 (2011) Annex 1 with L_W = 1, L_B = 0: L = V^2.4; figures worked out by hand
    [
        (0.0, 0.0),
        (1.0, 1.0),
        (0.5, 0.189464571),
        (0.25, 0.035896824),
        (0.1, 0.003981072),
        (0.75, 0.501356941),
    ],
)
def test_bt1886(code: float, light: float) -> None:
    assert code_to_light(np.array([code]))[0] == pytest.approx(light, abs=1e-9)
    assert light_to_code(np.array([light]))[0] == pytest.approx(code, abs=1e-6)
    assert GAMMA == 2.4


@pytest.mark.parametrize(("dtype", "tolerance"), [(np.float32, 2e-6), (np.float64, 1e-14)])
def test_there_and_back(dtype: type, tolerance: float) -> None:
    codes = np.linspace(-0.5, 1.5, 401, dtype=dtype)
    back = light_to_code(code_to_light(codes))
    assert back.dtype == dtype
    np.testing.assert_allclose(back, codes, atol=tolerance)


def test_every_8_bit_code_survives_float32() -> None:
    codes = np.arange(256, dtype=np.float32) / np.float32(255)
    back = light_to_code(code_to_light(codes))
    assert np.array_equal(np.floor(back * 255 + 0.5), np.arange(256))


def test_below_black_keeps_its_sign() -> None:
    assert code_to_light(np.array([-0.5]))[0] == pytest.approx(-0.189464571, abs=1e-9)
    assert np.all(np.diff(code_to_light(np.linspace(-1, 1, 100))) > 0)


def test_empty_and_input_untouched() -> None:
    assert code_to_light(np.zeros((0, 3))).shape == (0, 3)
    values = np.array([-0.5, 0.5])
    code_to_light(values)
    assert values.tolist() == [-0.5, 0.5]


def test_luma() -> None:
    """ITU-R BT.709-6 item 3.2: E'Y = 0.2126 E'R + 0.7152 E'G + 0.0722 E'B."""
    assert LUMA_BT709 == (0.2126, 0.7152, 0.0722) and sum(LUMA_BT709) == pytest.approx(1.0)
    picture = np.zeros((2, 1, 3), np.float32)
    picture[0, 0] = (1, 0, 0)
    picture[1, 0] = (0.5, 0.25, 1)
    found = luma(picture)
    assert found.shape == (2, 1) and found.dtype == np.float32
    np.testing.assert_allclose(found[:, 0], [0.2126, 0.1063 + 0.1788 + 0.0722], atol=1e-6)


def test_light_of_single_precision() -> None:
    """Of float32, below black and above white too, against float64: a fine grid and the smallest values."""
    codes = np.concatenate([np.linspace(-0.5, 1.2, 20001), [0.0, -0.0, 1e-30, -1e-30, 1e-45]])
    single = codes.astype(np.float32)
    exact = np.sign(single) * np.abs(single.astype(np.float64)) ** GAMMA
    light = code_to_light(single)
    assert light.dtype == np.float32 and not np.shares_memory(light, single)
    assert np.abs(light - exact).max() < 4e-7
    assert np.abs(light[codes <= 1] - exact[codes <= 1]).max() < 2e-7
    assert np.abs(np.abs(single) ** np.float32(GAMMA) - exact).max() > 0.1  # without the sign

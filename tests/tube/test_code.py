"""Light to code values: both encodings against colour-science, the table, and the clip."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.errors import ParameterError
from scalesim.tube.code import Code

LIGHT = np.linspace(0, 1, 20001)


def test_encodings() -> None:
    """IEC 61966-2-1 and ITU-R BT.1886 with black at 0, by colour-science."""
    import colour

    srgb = np.asarray(colour.models.eotf_inverse_sRGB(LIGHT))
    bt1886 = np.asarray(colour.models.eotf_inverse_BT1886(LIGHT, L_B=0, L_W=1))
    assert np.abs(Code("srgb", 1.0).values(LIGHT) - srgb).max() < 1e-6
    assert np.abs(Code("bt1886", 1.0).values(LIGHT) - bt1886).max() < 1e-6
    assert np.abs(srgb - bt1886).max() > 0.02


@pytest.mark.parametrize("encoding", ["bt1886", "srgb"])
def test_table_is_within_one_code(encoding: str) -> None:
    """Against floor(255 v + 1/2) of the values themselves; nearly all are equal."""
    code = Code(encoding, 0.8)  # type: ignore[arg-type]
    light = (np.random.RandomState(0).rand(64, 64, 3) ** 3 * 1.4).astype(np.float32)
    exact = np.floor(255 * code.values(light) + 0.5)
    out = np.empty(light.shape, dtype=np.uint8)
    code.into(light.copy(), out)
    assert np.abs(out - exact).max() <= 1 and np.mean(out != exact) < 0.02
    assert np.mean(np.abs(out - np.floor(255 * Code(encoding, 1.0).values(light) + 0.5)) > 1) > 0.5  # type: ignore[arg-type]


def test_clip_and_its_share() -> None:
    """A dot counts once, whichever of its channels is too bright; light below 0 is black."""
    light = np.array([[[0.5, 0.5, 0.5], [1.2, 0, 0]], [[1.0, 1.0, 1.0], [-0.1, 0, 2.0]]], dtype=np.float32)
    code = Code("bt1886", 1.0)
    assert code.clipped_percent(light) == 50
    assert Code("bt1886", 0.5).clipped_percent(light) == 0
    assert code.values(light).min() < 1e-9 and code.values(light).max() == 1


@pytest.mark.parametrize("exposure", [0, -1, float("nan"), 1e9, "bright", True, None])
def test_exposure_refused(exposure: object) -> None:
    with pytest.raises(ParameterError, match="exposure is"):
        Code("bt1886", exposure)  # type: ignore[arg-type]


def test_encoding_refused() -> None:
    with pytest.raises(ParameterError, match="valid: bt1886, srgb"):
        Code("sRGB", 1.0)  # type: ignore[arg-type]


def test_what_is_too_bright_keeps_its_hue() -> None:
    """A dot above white comes down to it with the ratios of its light, in both ways of coding."""
    light = np.array([[[0.4, 0.8, 1.6], [0.2, 0.3, 0.4]]], np.float32)
    code = Code("bt1886", 1.0)
    assert code.values(light) ** 2.4 == pytest.approx(
        np.array([[[0.25, 0.5, 1.0], [0.2, 0.3, 0.4]]]), rel=1e-5
    )
    exact = np.floor(255 * code.values(light) + 0.5)
    out = np.empty(light.shape, np.uint8)
    code.into(light.copy(), out)
    assert np.abs(out - exact).max() <= 1

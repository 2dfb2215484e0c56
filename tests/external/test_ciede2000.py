"""Colour difference against published pairs and colour-science.

Source: Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", Color Research and Application 30(1),
2005, Table 1 (pairs from memory, each reproduced to four decimals by colour-science and scikit-image); ITU-R
BT.709-6 items 1.3 and 1.4 and BT.1886 Annex 1 for the way to XYZ. How got: colour-science 0.4.7.
"""

from __future__ import annotations

import warnings
from functools import cache
from typing import Any

import numpy as np
import pytest
from external.chains import Array
from skimage.color import deltaE_ciede2000

from scalesim.metrics.fidelity.colour_difference import ciede2000, code_to_lab, light_to_xyz

PAIRS = [
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 0, 0), (50, -1, 2), 2.3669),
    ((50, 2.49, -0.001), (50, -2.49, 0.0009), 7.1792),
    ((50, -0.001, 2.49), (50, 0.0009, -2.49), 4.8045),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@cache
def science() -> Any:
    """Return colour-science, which is loaded when it is first asked for."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it speaks of optional plotting when imported
        import colour
    return colour


def codes(seed: int = 0) -> Array:
    """Return random code values, and black, white and the primaries."""
    corners = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T
    return np.concatenate([np.random.RandomState(seed).rand(200, 3), corners])


def by_colour_science(values: Array) -> Array:
    """Return CIELAB of BT.709 code values shown by BT.1886 with black at 0, by colour-science."""
    space = science().RGB_COLOURSPACES["ITU-R BT.709"]
    light = science().models.eotf_BT1886(values)
    matrix = science().normalised_primary_matrix(space.primaries, space.whitepoint)
    return np.asarray(science().XYZ_to_Lab(light @ matrix.T, space.whitepoint))


@pytest.mark.parametrize(("one", "other", "difference"), PAIRS)
def test_published_pairs(one: tuple[float, ...], other: tuple[float, ...], difference: float) -> None:
    """The formula that is used reproduces the table; the older difference of 1976 does not."""
    assert float(deltaE_ciede2000(one, other)) == pytest.approx(difference, abs=5e-5)
    assert float(np.linalg.norm(np.subtract(one, other))) != pytest.approx(difference, rel=1e-3)


def test_matrix() -> None:
    """Luminance weights 0.212639, 0.715169, 0.072192 (colorimetry of BT.709's primaries and D65)."""
    assert light_to_xyz()[1] == pytest.approx([0.212639, 0.715169, 0.072192], abs=1e-6)
    space = science().RGB_COLOURSPACES["ITU-R BT.709"]
    assert np.allclose(
        light_to_xyz(), science().normalised_primary_matrix(space.primaries, space.whitepoint), atol=1e-9
    )


def test_lab_of_code_values() -> None:
    """Every code value's CIELAB, within 1e-6 of colour-science's."""
    assert np.allclose(code_to_lab(codes()), by_colour_science(codes()), atol=1e-6)


def test_another_transfer_is_caught() -> None:
    """Guard: sRGB's curve instead of BT.1886 gives other colours."""
    as_srgb = np.asarray(science().XYZ_to_Lab(science().models.eotf_sRGB(codes()) @ light_to_xyz().T))
    assert np.abs(code_to_lab(codes()) - as_srgb).max() > 1


def test_whole_way() -> None:
    """From code values to the difference, by colour-science, within 1e-6."""
    a, b = codes(0), np.clip(codes(0) + 0.1 * (codes(1) - 0.5), 0, 1)
    expected = science().delta_E(by_colour_science(a), by_colour_science(b), method="CIE 2000")
    assert np.allclose(ciede2000(a, b), expected, atol=1e-6)

"""Code values, light and luma weights against colour-science.

Sources: Recommendation ITU-R BT.1886 (2011) Annex 1, L = a (V + b)^2.4 with a and b from the luminance
of black and white; ITU-R BT.709-6 items 3.2 (luma weights) and 1.2 (OETF). How got: colour-science
0.4.7 from PyPI, ``models.eotf_BT1886``, ``models.eotf_inverse_BT1886``, ``WEIGHTS_YCBCR`` run here; the
printed figures were worked out with the same library. Inside a chain L_B = 0 and L_W = 1.
"""

from __future__ import annotations

import numpy as np
import pytest
from external.chains import largest_difference
from numpy.typing import NDArray

from scalesim.core.encoding import LUMA_BT709, code_to_light, light_to_code, luma

CODES = np.linspace(0.0, 1.0, 1021)


def eotf(values: NDArray, black: float = 0.0) -> NDArray:
    import colour

    return np.asarray(colour.models.eotf_BT1886(values, L_B=black, L_W=1.0))


def test_code_to_light() -> None:
    """colour-science eotf_BT1886 with L_B = 0, L_W = 1."""
    assert largest_difference(code_to_light(CODES), eotf(CODES)) < 1e-12


def test_light_to_code() -> None:
    """colour-science eotf_inverse_BT1886, likewise."""
    import colour

    theirs = colour.models.eotf_inverse_BT1886(CODES, L_B=0.0, L_W=1.0)
    assert largest_difference(light_to_code(CODES), np.asarray(theirs)) < 1e-12


@pytest.mark.parametrize(
    ("code", "light"),
    [(0.1, 0.003981072), (0.25, 0.035896824), (0.5, 0.189464571), (0.75, 0.501356941), (0.9, 0.776572528)],
)
def test_printed_figures(code: float, light: float) -> None:
    """BT.1886 Annex 1 with L_B = 0, L_W = 1."""
    assert float(code_to_light(np.array([code]))[0]) == pytest.approx(light, abs=1e-9)
    assert float(light_to_code(np.array([light]))[0]) == pytest.approx(code, abs=1e-7)


def test_float32_pictures_keep_their_dtype_and_its_precision() -> None:
    """The same function on what pictures are made of."""
    light = code_to_light(CODES.astype(np.float32))
    assert light.dtype == np.float32
    assert largest_difference(light, eotf(CODES)) < 5e-7


def test_other_transfer_functions_are_caught() -> None:
    """Guard: sRGB, BT.709's camera curve and a display with a grey black are none of them this one."""
    import colour

    others = [
        colour.models.eotf_sRGB(CODES),
        colour.models.oetf_inverse_BT709(CODES),
        eotf(CODES, black=0.001),
        CODES**2.2,
    ]
    assert all(largest_difference(code_to_light(CODES), np.asarray(other)) > 0.005 for other in others)


def test_luma_weights() -> None:
    """BT.709-6 item 3.2: 0.2126, 0.7152, 0.0722; colour-science gives those of R and B, G is the rest."""
    import colour

    red, blue = colour.WEIGHTS_YCBCR["ITU-R BT.709"]
    assert pytest.approx((red, 1 - red - blue, blue), abs=1e-12) == LUMA_BT709
    other_red, other_blue = colour.WEIGHTS_YCBCR["ITU-R BT.601"]
    assert pytest.approx((other_red, other_blue), abs=0.01) != (LUMA_BT709[0], LUMA_BT709[2])


def test_luma_of_a_picture() -> None:
    """colour-science RGB_to_YCbCr, full range, its Y, on random colours."""
    import colour

    values = np.random.RandomState(0).uniform(0, 1, (16, 16, 3))
    theirs = colour.RGB_to_YCbCr(
        values, K=colour.WEIGHTS_YCBCR["ITU-R BT.709"], in_legal=False, out_legal=False
    )
    assert largest_difference(luma(values), np.asarray(theirs)[..., 0]) < 1e-12
    assert largest_difference(luma(values[..., ::-1]), np.asarray(theirs)[..., 0]) > 0.1

"""Curves of films against colour-science, which has them from the same recommendations."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from colour import models
from numpy.typing import NDArray

from scalesim.core.film_curves import PQ_WHITE, bt709_codes, bt709_light, curve_of, light_table

LUMA = np.linspace(0.001, 1, 1000)


def _pq(v: NDArray) -> NDArray:
    return models.oetf_inverse_BT2100_PQ(v) / models.ootf_inverse_BT2100_PQ(PQ_WHITE)


def _log(v: NDArray) -> NDArray:
    return models.oetf_inverse_H273_Log(v)


@pytest.mark.parametrize(
    ("tag", "reference"),
    [
        (1, models.oetf_inverse_BT709),
        (6, models.oetf_inverse_BT601),
        (7, models.eotf_SMPTE240M),
        (8, lambda v: v),
        (9, _log),
        (10, models.oetf_inverse_H273_LogSqrt),
        (13, models.eotf_sRGB),
        (16, _pq),
        (18, lambda v: models.oetf_inverse_BT2100_HLG(v)),
    ],
)
def test_light_of_luma_is_as_colour_science_has_it(tag: int, reference: Callable[[NDArray], NDArray]) -> None:
    """ITU-T H.273, table 3; ITU-R BT.709-6, BT.601-7, BT.2100-2; IEC 61966-2-1."""
    wanted = np.asarray(reference(LUMA), dtype=float)
    np.testing.assert_allclose(curve_of(tag).light(LUMA), wanted, rtol=0.004, atol=2e-5)
    assert curve_of(tag).named


@pytest.mark.parametrize(
    ("tag", "display"), [(1, lambda v: models.eotf_BT1886(v, L_B=0, L_W=1)), (16, models.eotf_BT2100_PQ)]
)
def test_a_display_adds_contrast_that_a_camera_s_scene_has_not(
    tag: int, display: Callable[[NDArray], NDArray]
) -> None:
    """The whole of camera and display is a power of about 1.2 (ITU-R BT.2100-2, OOTF; BT.1886): a display's
    curve in place of the camera's would draw lines a tenth too thin, and is not taken."""
    v = LUMA[400:800]
    slope = np.polyfit(np.log(curve_of(tag).light(v)), np.log(np.asarray(display(v))), 1)[0]
    assert 1.1 < slope < 1.3
    shown = curve_of(tag).shown(v)
    np.testing.assert_allclose(shown / shown[-1], np.asarray(display(v) / display(v)[-1]), rtol=0.002)


def test_codes_of_light_are_the_inverse_and_unknown_tags_are_said_to_be_assumed() -> None:
    np.testing.assert_allclose(
        bt709_codes(bt709_light(LUMA)), LUMA, atol=3e-4
    )  # its two parts meet to 2.5e-4
    for tag in (0, 2, 3, 17, 99):
        assert curve_of(tag).name == "BT.709" and not curve_of(tag).named
    table = light_table(curve_of(1).light, 64, 876, 1024)
    assert table.dtype == np.float32 and table[64] == 0 == table[0]
    assert table[940] == pytest.approx(1) == table[1023]

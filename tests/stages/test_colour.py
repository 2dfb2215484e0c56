"""chroma: matrices, subsampling by hand, and what passes untouched."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.core.picture import Picture
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.stages.colour import Chroma, ycc_matrix


def test_matrices_are_the_published_ones() -> None:
    """ITU-R BT.601 and BT.709: the inverse factors 1.402, 1.772 and 1.5748, 1.8556."""
    for red, blue, cr_to_r, cb_to_b in ((0.299, 0.114, 1.402, 1.772), (0.2126, 0.0722, 1.5748, 1.8556)):
        back = np.linalg.inv(ycc_matrix(red, blue))
        assert back[0, 2] == pytest.approx(cr_to_r)
        assert back[2, 1] == pytest.approx(cb_to_b)


@pytest.mark.parametrize("sampling", ["422", "420"])
def test_grey_and_flat_colour_pass(sampling: str) -> None:
    """Grey has no chroma and flat colour loses none, whatever the sampling."""
    raster = Raster(48, 64)
    grey = np.repeat(np.random.RandomState(1).rand(48, 64, 1), 3, 2)
    flat = np.broadcast_to([0.8, 0.2, 0.4], (48, 64, 3)).copy()
    for frame in (grey, flat):
        assert np.abs(Chroma(sampling=sampling).apply(frame, raster) - frame).max() < 1e-12


def ycc(frame: np.ndarray, matrix: tuple[float, float] = (0.299, 0.114)) -> np.ndarray:
    """Return Y', Cb, Cr of a frame."""
    return frame @ ycc_matrix(*matrix).T


def test_422_by_hand() -> None:
    """One sample of chroma at an even place: half stays there, a quarter goes to either neighbour.

    Taps 1/2/1 leave 1/2 of it on its own sample, none on samples two away (1/4 of it would come from
    samples one away, which hold none); between, the mean of neighbours: 1/4.
    """
    raster = Raster(4, 16)
    base = np.full((4, 16, 3), 0.5)
    base[:, 8] += np.linalg.inv(ycc_matrix(0.299, 0.114)) @ [0.0, 0.1, 0.0]
    out = ycc(Chroma().apply(base, raster))
    assert out[1, 6:11, 1] == pytest.approx([0, 0.025, 0.05, 0.025, 0], abs=1e-12)
    assert np.abs(out[..., 0] - 0.5).max() < 1e-12, "luma is untouched"


def test_420_by_hand() -> None:
    """Chroma on line 4: its pair 4, 5 keeps half, filled in by 3/4 and 1/4 a quarter line off."""
    raster = Raster(12, 4)
    base = np.full((12, 4, 3), 0.5)
    base[4] += np.linalg.inv(ycc_matrix(0.299, 0.114)) @ [0.0, 0.0, 0.1]
    out = ycc(Chroma(sampling="420").apply(base, raster))[:, 1, 2]
    assert out[2:8] == pytest.approx([0, 0.0125, 0.0375, 0.0375, 0.0125, 0], abs=1e-12)


def test_each_field_by_itself() -> None:
    """On fields the pairs are lines of one field: chroma of odd lines never reaches the even ones."""
    raster = Raster(24, 16, fields=TOP_FIRST)
    top, bottom = np.full((24, 16, 3), 0.5), np.full((24, 16, 3), 0.5)
    bottom[:, :, 0] += 0.3
    pictures = [Picture(top, raster), Picture(bottom, raster)]
    out = list(Chain("chroma sampling=420").run(pictures))
    assert np.abs(out[0].values - 0.5).max() < 1e-12
    assert np.abs(out[1].values - bottom).max() < 1e-12


def test_a_choice_of_lines_does_not_move_past_it() -> None:
    """Dropping after 4:2:0 is not dropping before it: the plan keeps the order."""
    raster = Raster(48, 32)
    frame = np.random.RandomState(2).rand(48, 32, 3)
    chain = Chain("chroma sampling=420, line-drop lines=24 phase=1")
    (out,) = list(chain.run([Picture(frame, raster)]))
    after = Chroma(sampling="420").apply(frame, raster)[1::2]
    before = Chroma(sampling="420").apply(frame[1::2], Raster(24, 32))
    assert np.abs(out.values - after).max() < 1e-12
    assert np.abs(after - before).max() > 0.01

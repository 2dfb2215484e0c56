"""Lines mixed in planes, and luma and light without colours, against the same sums in float64."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import scipy.sparse
from numpy.typing import NDArray
from scipy.sparse import csr_array

from scalesim.chain import Chain
from scalesim.core.clip import CodedStill, still_clip
from scalesim.core.colours import Coding, InPlanes, Scale
from scalesim.core.mix import Mix
from scalesim.core.planes import CodedPicture, Mixed, Planes
from scalesim.core.raster import Raster
from scalesim.jobs.compare.ranking import DEFAULT_BY
from scalesim.jobs.predict.predict import predict

LUMA = (0.2126, 0.7152, 0.0722)
"""ITU-R BT.709-6, item 3.2."""
WEIGHTS = {"BT.709": (0.2126, 0.0722), "BT.601": (0.299, 0.114), "R'G'B'": None}
"""kr and kb: ITU-R BT.709-6, item 3.2; BT.601-7, item 2.5.1."""


def planes(weights: tuple[float, float] | None, lines: int = 90, samples: int = 64) -> Planes:
    """Return planes of noise, 4:2:0 where they have chroma."""
    rs = np.random.RandomState(3)
    half = 2 if weights else 1
    shapes = ((lines, samples), *((lines // half, samples // half),) * 2)
    codes = [rs.randint(0, 256, shape).astype(np.uint8) for shape in shapes]
    halvings = (1, 1) if weights else (0, 0)
    return Planes(codes, Coding(Scale(16, 219), weights=weights, halvings=halvings, first=(0.5, 0.0)))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_a_mix_is_its_matrix(dtype: type) -> None:
    """Rows that look near, far apart, and at nothing."""
    rs = np.random.RandomState(0)
    matrix = scipy.sparse.random(37, 300, 0.02, "csr", random_state=rs).tolil()
    matrix[5] = 0
    matrix[6, [0, 299]] = 0.5
    codes = rs.randint(0, 255, (300, 50)).astype(dtype)
    found = Mix(scipy.sparse.csr_array(matrix))(codes, 16, 219)
    by_hand = matrix.toarray() @ (codes.astype(np.float64) - 16) / 219
    np.testing.assert_allclose(found, by_hand, atol=2e-6)
    assert np.abs(found - matrix.toarray() @ codes / 219).max() > 0.01


@pytest.mark.parametrize("name", WEIGHTS)
def test_luma_and_light_without_colours(name: str) -> None:
    stored = planes(WEIGHTS[name])
    operator = Chain("line-average lines=40").operator(Raster(90, 64)).phases[0]
    for given in (stored, Mixed(stored, operator)):
        values = given.values().astype(np.float64)
        np.testing.assert_allclose(given.luma(), values @ LUMA, atol=1e-6)
        # ITU-R BT.1886 Annex 1: V^2.4; below black the sign is kept
        light = (np.sign(values) * np.abs(values) ** 2.4) @ LUMA
        np.testing.assert_allclose(given.luminance(), light, atol=2e-6)
        assert np.abs(given.luminance() - np.abs(values @ LUMA) ** 2.4).max() > 0.01


def test_means_along_the_line() -> None:
    stored = planes(WEIGHTS["BT.709"], samples=66)
    assert stored.is_luma
    assert not planes(WEIGHTS["BT.601"]).is_luma
    by_hand = stored.luma()[:, :64].reshape(90, 8, 8).mean(axis=2)
    np.testing.assert_allclose(stored.means(8), by_hand, atol=1e-6)


def art(lines: int, samples: int) -> NDArray[np.uint8]:
    """Return noise of dots with lines in it, so that every metric of the ranking has a value."""
    rs = np.random.RandomState(1)
    frame = np.repeat(np.repeat(rs.randint(40, 200, (lines // 9, samples // 8)), 9, axis=0), 8, axis=1)
    frame[::24] = 235
    return frame.astype(np.uint8)


@pytest.mark.parametrize("text", ["line-average lines=240", "line-average lines=480, interlace"])
@pytest.mark.parametrize("name", ["BT.709", "BT.601"])
def test_ranking_metrics_of_planes_need_no_colours(
    text: str, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """They are those of the colours, far within what is resolved, and the colours are never made."""
    rs = np.random.RandomState(2)
    chroma = [np.repeat(rs.randint(110, 146, (60, 640)), 6, axis=0).astype(np.uint8) for _ in range(2)]
    coding = Coding(Scale(16, 219), weights=WEIGHTS[name], halvings=(1, 1), first=(0.5, 0.0))
    still = CodedStill([Planes([art(720, 1280), *chroma], coding)], Raster(720, 1280))
    by_values = predict(still_clip(still.planes[0].values()), text, metrics=DEFAULT_BY)

    def refuse(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr(InPlanes, "fill", refuse)
    found = predict(still, text, metrics=DEFAULT_BY)
    assert not found.why
    assert found.metrics == pytest.approx(by_values.metrics, abs=1e-5)
    with pytest.raises(AssertionError):
        _ = found.landed


@pytest.mark.parametrize(
    "text", ["line-average lines=240", "line-average lines=480, flicker-filter, interlace"]
)
def test_lines_are_mixed_once(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a chain shows and what its weights make of the source are the same lines, of both fields."""
    coding = Coding(Scale(16, 219), weights=WEIGHTS["BT.709"], halvings=(1, 1), first=(0.5, 0.0))
    chroma = [np.full((360, 640), 128, np.uint8)] * 2
    still = CodedStill([Planes([art(720, 1280), *chroma], coding)], Raster(720, 1280))
    mixed, real = [], Mix.__call__

    def counted(self: Mix, codes: NDArray, zero: float, span: float) -> NDArray:
        mixed.append(codes.shape)
        return real(self, codes, zero, span)

    monkeypatch.setattr(Mix, "__call__", counted)
    assert not predict(still, text, metrics=["detail_kept_samples"]).why
    assert mixed == [(720, 1280)]


@pytest.mark.parametrize("first", ["top", "bottom"])
def test_fields_mixed_together_are_fields(first: str) -> None:
    """Luma and chroma of fields of a still, against the same operators on the frame's values."""
    text = f"line-average lines=40, flicker-filter, interlace first={first}"
    stored = planes(WEIGHTS["BT.709"])
    still = CodedStill([stored], Raster(90, 64))
    found = predict(still, text, metrics=())
    phases = Chain(text).operator(Raster(90, 64)).phases
    by_hand = [phase(stored.values().astype(np.float64)) for phase in phases]
    for values, wanted in zip(found.cycle, by_hand, strict=True):
        np.testing.assert_allclose(values, wanted, atol=2e-6)
    assert np.abs(found.cycle[0] - by_hand[1]).max() > 0.1
    order = by_hand if first == "top" else by_hand[::-1]
    np.testing.assert_allclose(found.landed_luma[0::2], order[0] @ LUMA, atol=2e-6)
    np.testing.assert_allclose(found.landed_luma[1::2], order[1] @ LUMA, atol=2e-6)


def test_fields_of_a_clip_are_mixed_apart() -> None:
    """Of moving pictures each field is of another frame: what the other needs is not worked out."""
    phases = Chain("line-average lines=40, interlace").operator(Raster(90, 64)).phases
    one = CodedPicture(planes(WEIGHTS["BT.709"]), Raster(90, 64), Fraction(0))
    again = CodedPicture(planes(WEIGHTS["BT.709"]), Raster(90, 64), Fraction(0), again=True)
    lumas = [picture.after(phases[1], one.raster, phases).luma() for picture in (one, again)]
    assert np.array_equal(*lumas)
    assert [luma.base is None for luma in lumas] == [False, False]
    assert [luma.base.shape for luma in lumas] == [(20, 64), (40, 64)]  # type: ignore[union-attr]


def test_equal_matrices_mix_alike() -> None:
    weights = csr_array(np.eye(3)[[0, 2]])
    other = csr_array(
        (weights.data, weights.indices.astype(np.int64), weights.indptr.astype(np.int64)), (2, 3)
    )
    assert Mix(weights).among(Mix(other)) == slice(0, 2, 1)
    assert Mix(weights).among(Mix(2 * weights)) is None
    assert Mix(weights[[1, 0]]).among(Mix(other)).tolist() == [1, 0]  # type: ignore[union-attr]

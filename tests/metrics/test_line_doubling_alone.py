"""Line doubling from the output alone, against constructed scenes; limits as in `test_line_doubling`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from metrics import scenes
from metrics.scenes import Array, box, errors, noisy, outline_scene, rms, triangle

from scalesim.errors import NotMeasurable, ShapeError
from scalesim.metrics._base import Evidence
from scalesim.metrics.outlines.line_doubling_alone import line_doubling_alone

Kernel = Callable[..., Array]
RMSE = 0.05


def measured(given: Evidence) -> float:
    """Return the value of the landed picture alone."""
    return line_doubling_alone(given.landed_luma)


@pytest.mark.parametrize("name", scenes.PLAIN)
def test_pictures_without_outlines_have_no_value(name: str) -> None:
    """The reason says what is missing and how much is needed."""
    with pytest.raises(NotMeasurable, match=r"too few thin horizontal outlines.*0\.25"):
        line_doubling_alone(box(720, 240, 3) @ scenes.PLAIN[name])


@pytest.mark.parametrize(("rows", "ratio"), [(2, 3.0), (3, 3.0), (3, 4.5), (4, 4.5)])
@pytest.mark.parametrize("kernel", [box, triangle])
def test_alone_matches_truth_up_to_the_ratio(kernel: Kernel, rows: int, ratio: float) -> None:
    """Outlines no thicker than the ratio; noise 2 and texture."""
    assert rms(errors(measured, kernel, rows, ratio)) <= RMSE


def test_alone_cannot_know_what_an_outline_needs() -> None:
    """Its stated limit: outlines of 4/3 lines on two lines are at their best, and it calls them doubled."""
    assert rms(errors(measured, box, 4, 3.0)) > 4 * RMSE


def test_alone_ignores_polarity_gain_and_offset() -> None:
    """Inversion leaves it alone; 0.6 v + 0.2 changes it by at most 0.01."""
    scene = outline_scene(3, 3, 5, residue=1)
    landed = noisy(box(720, 240, 3) @ scene.luma, 2)
    plain = line_doubling_alone(landed)
    assert line_doubling_alone(1 - landed) == pytest.approx(plain, abs=1e-3)
    assert line_doubling_alone(0.6 * landed + 0.2) == pytest.approx(plain, abs=0.01)


def test_alone_refuses_other_shapes() -> None:
    """Colour pictures and pictures of a few lines."""
    with pytest.raises(ShapeError, match="3 axes"):
        line_doubling_alone(np.zeros((240, 720, 3)))
    with pytest.raises(NotMeasurable, match="too small"):
        line_doubling_alone(np.zeros((4, 720)))


def as_defined(m: float, c: float, r: float) -> float:
    """The score of one outline as the docstring has it."""
    return min(1.0, 2 * (min(m, c) + r) / (m + c + 2 * r))


def written_out(
    luma: Array,
    limit: float = 0.02,
    share: Callable[[float, float, float], float] = as_defined,
    strength: Callable[[float, float], float] = min,
) -> float:
    """The output-only form outline by outline, on every eighth sample, with a given limit."""
    blurred = np.stack([np.convolve(line, np.full(7, 1 / 7), "valid") for line in luma])[:, ::8]
    total = weight = 0.0
    for column in np.concatenate((blurred, -blurred), axis=1).T:
        for k in range(2, len(column) - 2):
            outer_above, above, peak, below, outer_below = column[k - 2 : k + 3]
            if not (peak > above and peak >= below):
                continue
            s = strength(peak - outer_above, peak - outer_below) - limit
            a, b = max(0.0, above - outer_above), max(0.0, below - outer_below)
            c = peak - (below if a > b else above)
            if s > 0 and max(a, b) + c > 0:
                total += s * share(max(a, b), c, min(a, b))
                weight += s
    return total / weight


def test_alone_is_as_written_and_wrong_definitions_fail() -> None:
    """Written out it meets the limit; with 4mc/(m + c)^2, or without the minimum in s, it does not.

    Without r, the weaker neighbour, it misses a triangle's tails: 1/9, 7/9, 1/9 reads 2/7 for 4/9.
    """
    scene = outline_scene(3, 3, 3, residue=1, lines=360, samples=320)
    weights = box(360, 120, 3, 0.25)
    truth = scenes.true_doubling(scene, weights)
    landed = noisy(weights @ scene.luma, 2)
    assert written_out(landed) == pytest.approx(line_doubling_alone(landed), abs=0.02)
    assert abs(written_out(landed) - truth) <= RMSE
    assert abs(written_out(landed, share=lambda m, c, r: 4 * m * c / (m + c) ** 2) - truth) > 2 * RMSE
    assert abs(written_out(landed, strength=max) - truth) > 2 * RMSE
    assert as_defined(1 / 9, 6 / 9, 1 / 9) == pytest.approx(4 / 9)
    assert as_defined(1 / 9, 6 / 9, 0) == pytest.approx(2 / 7)

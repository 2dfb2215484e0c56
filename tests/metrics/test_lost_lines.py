"""Lost lines against constructed scenes.

For outlines of t lines on random rows and a drop of one line in n, the share lost is max(0, 1 - t/n):
the closed form of the chance that none of t adjacent lines is the one kept.
"""

from __future__ import annotations

import numpy as np
import pytest
from metrics import scenes
from metrics.evidence import evidence_of
from metrics.scenes import Array, box, drop, evidence, look_of, noisy, outline_scene, triangle

from scalesim.core.affine import Affine
from scalesim.core.raster import TOP_FIRST
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
from scalesim.metrics.outlines.line_doubling import line_doubling
from scalesim.metrics.outlines.lost_lines import lost_lines
from scalesim.metrics.outlines.shares import Outlines, outlines_of


def shown(
    kernel: object, rows: int, ratio: float = 3.0, seed: int = 0, *, known: bool = False, noise: float = 2.0
) -> tuple[Evidence, float]:
    """Return the evidence of outlines on random rows, and the exact share lost."""
    scene = outline_scene(rows, ratio, seed)
    weights: Array = kernel(720, round(720 / ratio), ratio)  # type: ignore[operator]
    landed = noisy(weights @ scene.luma, noise, seed)
    given = evidence(scene.luma, landed, look=look_of(weights, ratio), coverage=weights if known else None)
    return given, scenes.true_lost(scene, weights)


@pytest.mark.parametrize("known", [False, True])
@pytest.mark.parametrize("rows", [1, 2, 3])
def test_drop_loses_what_chance_says(rows: int, known: bool) -> None:
    """2/3, 1/3 and 0 of one, two and three lines at 3:1, and exactly those the drop took."""
    results = [shown(drop, rows, seed=seed, known=known) for seed in range(4)]
    lost = [lost_lines(given)[0] for given, _ in results]
    assert lost == pytest.approx([true for _, true in results], abs=0.005)
    assert np.mean(lost) == pytest.approx(max(0, 1 - rows / 3), abs=0.06)


@pytest.mark.parametrize("rows", [1, 2, 3])
@pytest.mark.parametrize("ratio", [3.0, 4.5])
@pytest.mark.parametrize("kernel", [box, triangle])
def test_averages_lose_nothing(kernel: object, ratio: float, rows: int) -> None:
    """A box and a triangle keep every outline, if faintly."""
    assert lost_lines(shown(kernel, rows, ratio)[0])[0] <= 0.02


def visibility(outlines: Outlines) -> float:
    """The mean contrast left: of each outline its largest share on the nearest scan lines, within 0..1."""
    visible = np.where(outlines.nearest, outlines.shares, 0).max(axis=1)
    return float(np.average(np.clip(visible, 0, 1), weights=outlines.weight))


def test_visibility() -> None:
    """A box at 3:1 and phase 0 leaves one line in three a third of its contrast wherever it falls.

    A drop leaves all or nothing.
    """
    boxed, _ = shown(box, 1)
    assert visibility(outlines_of(boxed)) == pytest.approx(1 / 3, abs=0.02)
    dropped, lost = shown(drop, 1)
    assert visibility(outlines_of(dropped)) == pytest.approx(1 - lost, abs=0.01)


def test_a_quarter_as_limit_would_call_a_triangle_lossy() -> None:
    """A triangle 1/2/3/2/1 leaves 2/9 where a line is off its middle, two lines in three: below 0.25."""
    scene = outline_scene(1, 3, 1)
    outlines = outlines_of(evidence(scene.luma, noisy(triangle(720, 240, 3) @ scene.luma, 2)))
    visible = np.where(outlines.nearest, outlines.shares, 0).max(axis=1)
    assert np.average(visible < 0.25, weights=outlines.weight) > 0.5
    assert np.average(visible < outlines.least_share, weights=outlines.weight) == 0


@pytest.mark.parametrize("kernel", [box, drop])
def test_polarity_gain_and_offset_do_not_matter(kernel: object) -> None:
    """Inverting both pictures, or the output's levels 0.6 v + 0.2, changes it by at most 0.01."""
    scene = outline_scene(1, 3, 5)
    weights: Array = kernel(720, 240, 3)  # type: ignore[operator]
    look, landed = look_of(weights, 3), noisy(weights @ scene.luma, 2)
    plain = lost_lines(evidence(scene.luma, landed, look=look))[0]
    inverted = lost_lines(evidence(1 - scene.luma, 1 - landed, look=look))[0]
    regained = lost_lines(evidence(scene.luma, 0.6 * landed + 0.2, look=look))[0]
    assert inverted == pytest.approx(plain, abs=0.01)
    assert regained == pytest.approx(plain, abs=0.01)


def test_everything_lost_on_one_grey() -> None:
    """Lines that all vanish from one flat grey leave a flat picture: all lost, not unmeasurable."""
    source = np.full((720, 640), 0.5, dtype=np.float32)
    source[25:700:24] = 0.1
    assert lost_lines(evidence(source, drop(720, 240, 3) @ source))[0] == 1.0


def test_interlaced_frame_keeps_what_a_field_drops() -> None:
    """One line in three of 720, dropped to 480 frame lines (two in three kept), loses a third."""
    scene = outline_scene(1, 1.5, 3)
    weights = drop(720, 480, 1.5)
    given = evidence(scene.luma, weights @ scene.luma, look=look_of(weights, 1.5), fields=TOP_FIRST)
    assert lost_lines(given)[0] == pytest.approx(scenes.true_lost(scene, weights), abs=0.001)
    assert lost_lines(given)[0] == pytest.approx(1 / 3, abs=0.1)


def test_picture_moved_away_is_noticed() -> None:
    """The wrong place in the output shows no outlines: the metric looks where the geometry says."""
    source = np.full((720, 640), 0.5, dtype=np.float32)
    for line in range(24, 700, 24):
        source[line : line + 3] = 0.1
    landed = box(720, 240, 3) @ source
    assert lost_lines(evidence(source, landed))[0] == 0
    assert lost_lines(evidence(source, landed, look=Affine(3, 12)))[0] == 1


def test_no_outlines_no_value() -> None:
    """The reason says what is missing."""
    flat = np.full((720, 640), 0.5, dtype=np.float32)
    with pytest.raises(NotMeasurable, match="too few thin horizontal outlines"):
        lost_lines(evidence(flat, flat[::3]))


@pytest.mark.parametrize(
    "chain",
    ["level gain=0", "level gain=16 lift=1", "line-average lines=240", "line-drop lines=240"],
)
def test_a_flat_output_has_lost_everything(chain: str) -> None:
    """Alternate lines of black and white that become black, white or one grey: no line is left."""
    frame = np.zeros((480, 720, 3))
    frame[1::2] = 1
    assert lost_lines(evidence_of(frame, chain, mode="480p"))[0] == pytest.approx(1)
    with pytest.raises(NotMeasurable, match="vanished"):
        line_doubling(evidence_of(frame, chain, mode="480p"))
    assert lost_lines(evidence_of(frame, "level gain=0.5", mode="480p"))[0] == 0

"""Finding outlines in the source, against constructed scenes."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from metrics import scenes
from metrics.scenes import outline_scene

from scalesim.core.affine import Affine
from scalesim.metrics.outlines.source import find_outlines, strip_noise
from scalesim.metrics.outlines.strips import landed_strips, source_strips


def test_found_outlines_are_the_scene() -> None:
    """Every outline of the scene is found on its line, with its thickness, sign and length."""
    scene = outline_scene(3, 3, 9, samples=1280)
    found = find_outlines(source_strips(scene.luma), 4.5)
    true = sorted(scene.outlines, key=lambda o: (o.first, o.left))
    order = np.lexsort((found.strip[found.starts], found.first))
    assert len(found) == len(true)
    assert found.thickness == pytest.approx(3)
    assert found.middle[order] == pytest.approx([o.first + 1.5 for o in true])
    contrast = found.mean(found.contrast)[order]
    assert contrast == pytest.approx([o.contrast for o in true], abs=0.03)
    assert found.pieces[order] * 5 == pytest.approx([o.right - o.left for o in true], abs=10)


def test_strips_agree_between_source_and_output() -> None:
    """An output with other samples gives the source's strips; the sum over all is the picture's mean."""
    luma = np.random.RandomState(0).rand(6, 1280).astype(np.float32)
    same = landed_strips(luma, Affine(1.0), 5, range(256))
    assert same == pytest.approx(source_strips(luma), abs=1e-5)
    repeated = luma.repeat(2, axis=1)
    assert landed_strips(repeated, Affine(0.5), 5, range(256)) == pytest.approx(same, abs=1e-5)


def test_noise_is_measured_and_art_has_none() -> None:
    """Gaussian noise of known sigma; art of repeated lines has none however contrasty."""
    noise = np.random.RandomState(1).normal(0, 0.02, (400, 240))
    assert strip_noise(noise) == pytest.approx(0.02, rel=0.03)
    assert strip_noise(source_strips(scenes.pixel_art(0))) == 0


def by_definition(
    strips: np.ndarray, thickest: float
) -> dict[tuple[int, int, int], tuple[float, list[float]]]:
    """Return outlines found strip by strip in plain loops: (first row, first strip, pieces) -> contrast of
    the first piece and the profile from its first row with a share.
    """
    limit = max(16 / 255, 6 * strip_noise(strips))
    steps = np.diff(strips.astype(float), axis=0)
    pieces = {}
    for strip in range(strips.shape[1]):
        places = [row for row in range(len(steps)) if abs(steps[row, strip]) > limit]
        for above, below in itertools.pairwise(places):
            sign = np.sign(steps[above, strip])
            rows = below - above
            if np.sign(steps[below, strip]) == sign or rows > thickest:
                continue
            levels = strips[:, strip].astype(float)
            level = levels[above + 1 : below + 1].mean()
            sides, shares, least = [], {}, []
            for row, way, goes in ((above, -1, sign), (below, 1, -sign)):
                soft = 0
                while soft < 2 and 0 <= row + way * (soft + 1) < len(steps):
                    step = steps[row + way * (soft + 1), strip]
                    if abs(step) <= limit or np.sign(step) != goes:
                        break
                    soft += 1
                edge = above if way < 0 else below + 1
                ground = levels[edge + way * soft]
                sides.append(ground)
                least.append(sign * (level - ground))
                for k in range(soft):
                    if abs(level - ground) > limit / 2:
                        share = (levels[edge + way * k] - ground) / (level - ground)
                        shares[edge + way * k] = min(1.0, max(0.0, share))
            if min(least) > limit and rows + sum(shares.values()) <= thickest:
                pieces[above + 1, strip, rows, sign] = (level - sum(sides) / 2, shares)
    found = {}
    for first, strip, rows, sign in sorted(pieces):
        if (first, strip - 1, rows, sign) in pieces:
            continue
        run = [(first, strip, rows, sign)]
        while (first, run[-1][1] + 1, rows, sign) in pieces:
            run.append((first, run[-1][1] + 1, rows, sign))
        if len(run) < 2:
            continue
        weights = np.array([pieces[piece][0] ** 2 for piece in run])
        profile = {first + k: 1.0 for k in range(rows)}
        for row in range(first - 2, first + rows + 2):
            mean = np.average([pieces[piece][1].get(row, 0.0) for piece in run], weights=weights)
            if row not in profile and mean > 0:
                profile[row] = float(mean)
        top = min(profile)
        found[top, strip, len(run)] = pieces[run[0]][0], [profile[row] for row in sorted(profile)]
    return found


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("thickest", [2.0, 4.5, 9.0])
def test_found_outlines_are_those_of_plain_loops(seed: int, thickest: float) -> None:
    """Steps, textures and soft edges of every kind, of which most end after a strip or two."""
    random = np.random.default_rng(seed)
    levels = random.choice([0.1, 0.13, 0.3, 0.5, 0.8], (60, 6))
    strips = levels.repeat(random.integers(1, 5, 6), axis=1).astype(np.float32)
    found, expected = find_outlines(strips, thickest), by_definition(strips, thickest)
    ends = np.append(found.starts, len(found.strip))
    told = {}
    for k in range(len(found)):
        shown = np.flatnonzero(found.profile[k])
        key = int(found.first[k] + shown[0]), int(found.strip[ends[k]]), int(ends[k + 1] - ends[k])
        told[key] = found.contrast[ends[k]], found.profile[k][shown]
    assert len(expected) > 5 and told.keys() == expected.keys()
    for key, (contrast, profile) in told.items():
        assert contrast == pytest.approx(expected[key][0], abs=1e-5)
        assert profile == pytest.approx(expected[key][1], abs=1e-5)


def test_thick_outlines_of_tall_pictures() -> None:
    strips = np.full((600, 8), 0.2, np.float32)
    strips[100:400] = 0.7
    found = find_outlines(strips, 310)
    assert found.thickness == pytest.approx([300]) and found.first == [100]

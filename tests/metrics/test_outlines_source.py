"""Finding outlines in the source, against constructed scenes."""

from __future__ import annotations

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

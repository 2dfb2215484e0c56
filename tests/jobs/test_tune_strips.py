"""The quick way against the whole pipeline: the same numbers, candidate by candidate."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.coverage import coverage
from scalesim.core.clip import still_clip
from scalesim.errors import EncodingError, ParameterError
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.settings.compose import Composer
from scalesim.jobs.settings.strips import QUICK, Strips, measure_strips
from scalesim.metrics import METRICS, key_of

NAMES = tuple(name for name in METRICS if key_of(name).needs in QUICK)


def art(lines: int = 240, samples: int = 320, seed: int = 0) -> NDArray:
    """Return coloured blocks with thin outlines, noise of 2 of 255, float32."""
    random = np.random.RandomState(seed)
    frame = np.full((lines, samples, 3), 0.45)
    for _ in range(40):
        top, left = random.randint(4, lines - 30), random.randint(0, samples - 90)
        height, width = random.randint(12, 24), random.randint(40, 90)
        frame[top : top + height, left : left + width] = random.uniform(0.2, 0.8, 3)
        frame[top : top + 3, left : left + width] = random.choice([0.02, 0.95])
    return np.clip(frame + random.normal(0, 2 / 255, frame.shape), 0, 1).astype(np.float32)


FRAME = art()
CASES: list[tuple[str, str, list[Mapping[str, Any]]]] = [
    (
        "line-average lines=160, position, line-drop lines=80",
        "",
        [{"position.lines": k / 4} for k in range(-6, 7)],
    ),
    ("position, line-average lines=80", "", [{"position.lines": k / 2} for k in range(-5, 6)]),
    ("line-drop lines=80", "", [{"line-drop.phase": k / 2} for k in range(-3, 7)]),
    (
        "line-average lines=160, position, flicker-filter, interlace",
        "",
        [{"position.lines": v} for v in (-1.5, 0, 0.25)],
    ),
    ("position, size height=90, line-average lines=80", "", [{"size.height": v} for v in (80, 91, 100)]),
    (
        "fit, resample lines=80 samples=200",
        "",
        [{"fit.how": how} for how in ("squeeze", "crop", "letterbox")],
    ),
    (
        "position, overscan percent=8, line-average lines=80",
        "",
        [{"position.samples": v} for v in (-20, 0, 7.5)],
    ),
    ("position, line-average lines=60", "480i", [{"position.lines": v} for v in (-1, 0.5, 2)]),
    ("resample lines=80, line-repeat", "", [{"resample.lines": v} for v in (60, 80, 90)]),
]


@pytest.mark.parametrize(("text", "mode", "candidates"), CASES, ids=[case[0][:40] for case in CASES])
def test_every_candidate_scores_as_the_whole_pipeline(
    text: str, mode: str, candidates: list[Mapping[str, Any]]
) -> None:
    """Within 1e-4 of `predict` (measured: 1e-6), reasons for none included, and the same best one."""
    frame = art(480, 720) if mode else FRAME
    clip, chain = still_clip(frame, mode=mode or None), Chain(text)
    composer, strips = Composer(chain.stages, list(candidates[0]), clip.raster), Strips(clip, lambda: clip)
    quick, whole = [], []
    for candidate in candidates:
        values, why = measure_strips(strips, composer.compose(candidate), NAMES)
        full = predict(clip, chain.with_keys(candidate), metrics=NAMES)
        assert set(why) == set(full.why), candidate
        for name in NAMES:
            assert values[name] == pytest.approx(full.metrics[name], abs=1e-4), (candidate, name)
        quick.append(values["line_doubling"])
        whole.append(full.metrics["line_doubling"])
    # valleys a period apart are equal but for rounding
    assert np.argmin(np.round(quick, 4)) == np.argmin(np.round(whole, 4))


def test_a_wrong_candidate_is_noticed() -> None:
    """The comparison above fails when the candidate is another one, so it can fail."""
    clip, chain = still_clip(FRAME), Chain(CASES[0][0])
    composer, strips = Composer(chain.stages, ["position.lines"], clip.raster), Strips(clip, lambda: clip)
    values, _ = measure_strips(strips, composer.compose({"position.lines": 0.5}), NAMES)
    full = predict(clip, chain.with_keys({"position.lines": -0.5}), metrics=NAMES)
    assert abs(values["line_doubling"] - full.metrics["line_doubling"]) > 0.05


@pytest.mark.parametrize(
    ("text", "mode"),
    [
        ("position lines=0.5, line-average lines=160", None),
        ("line-average lines=160, interlace", None),
        ("line-average lines=160, interlace first=bottom, field-only pair=up", None),
        ("position lines=1, line-average lines=60", "480i"),
        ("line-average lines=60, interlace, field-only", None),
    ],
)
def test_weights_are_those_of_predict(text: str, mode: str | None) -> None:
    chain = Chain(text)
    clip = still_clip(np.zeros((480, 720, 3), np.float32) if mode else FRAME, mode=mode)
    made = Composer(chain.stages, [f"{chain.stages[0].kind}.lines"], clip.raster).compose({})
    expected = coverage(chain.resolve(clip.raster))
    assert expected is not None
    np.testing.assert_allclose(made.coverage, expected, atol=1e-7)
    plan = chain.resolve(clip.raster)
    assert (made.output, made.geometry, made.cycle) == (plan.output, plan.geometry, plan.cycle)


def test_composing_says_what_does_not_fit() -> None:
    clip = still_clip(FRAME)
    odd = Composer(Chain("line-drop lines=80, interlace").stages, ["line-drop.lines"], clip.raster)
    with pytest.raises(ParameterError, match="must be even"):
        odd.compose({"line-drop.lines": 81})
    mixed = Chain("line-average lines=160 encoding=light, flicker-filter").stages
    with pytest.raises(EncodingError):
        Composer(mixed, ["flicker-filter.taps"], clip.raster).compose({"flicker-filter.taps": "1/2/1"})


def test_light_is_told_apart() -> None:
    clip = still_clip(FRAME)

    def mixes(text: str) -> bool:
        stages = Chain(text).stages
        return Composer(stages, [f"{stages[0].kind}.lines"], clip.raster).compose({}).mixes_light

    assert mixes("line-average lines=80 encoding=light") and mixes("position lines=1, interlace, field-only")
    assert not mixes("line-average lines=80") and not mixes("position lines=1, interlace")


def test_a_frame_can_be_read_again() -> None:
    """Without its luma kept, a chain that does something along the line reads the frame again."""
    clip, reads = still_clip(FRAME), []
    strips = Strips(clip, lambda: reads.append(1) or clip, keep=False)
    kept = Strips(clip, lambda: clip)
    composer = Composer(Chain("position, line-average lines=80").stages, ["position.samples"], clip.raster)
    for shift in (0, 3, 3, 5):
        chain = composer.compose({"position.samples": shift})
        assert measure_strips(strips, chain, NAMES) == measure_strips(kept, chain, NAMES)
    assert len(reads) == 2

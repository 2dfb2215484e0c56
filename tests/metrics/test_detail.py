"""Detail kept and false detail: what must not move them, and what must."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from metrics.evidence import evidence_of
from metrics.scenes import pixel_art

from scalesim.core.affine import Affine
from scalesim.metrics import Evidence, key_of, measure

LINES = ("detail_kept", "false_detail")
SAMPLES = ("detail_kept_samples", "false_detail_samples")
DROP = "line-drop lines=240 phase=1"
AVERAGE = "line-average lines=240"
FILTERED = "line-average lines=480, flicker-filter taps=1/2/1, interlace"


@cache
def frame(lines: int = 720, samples: int = 640) -> np.ndarray:
    """Return blocks and discs, the more the smaller: detail of every size and direction."""
    random = np.random.RandomState(1)
    y, x = np.arange(lines)[:, None], np.arange(samples)[None]
    picture = np.full((lines, samples), 0.5)
    for k in range(500):
        size = 60.0 / (1 + k / 12)
        top, left = random.uniform(-5, lines), random.uniform(-5, samples)
        if k % 2:
            inside = (y - top) ** 2 + (x - left) ** 2 < size**2
        else:
            inside = (abs(y - top) < size / 2) & (abs(x - left + 0.3 * (y - top)) < size)
        picture[inside] = random.uniform(0.1, 0.9)
    return np.repeat(picture[:, :, None], 3, axis=2).astype(np.float32)


def values(evidence: Evidence, names: tuple[str, ...] = LINES) -> tuple[float, ...]:
    """Return the values, all of which must be had."""
    found, why = measure(evidence, names)
    assert not why, why
    return tuple(float(found[name] or 0.0) for name in names)


def of(chain: str, names: tuple[str, ...] = LINES) -> tuple[float, ...]:
    return values(evidence_of(frame(), chain, "custom"), names)


def with_landed(evidence: Evidence, change: Callable[[np.ndarray], np.ndarray]) -> Evidence:
    """Return the evidence with another picture on the screen."""
    return replace(evidence, landed=change(evidence.landed).astype(np.float32))


@pytest.mark.parametrize("chain", [DROP, AVERAGE, FILTERED])
def test_contrast_and_brightness_are_not_sharpness(chain: str) -> None:
    assert of(f"{chain}, level gain=0.4 lift=0.3") == pytest.approx(of(chain), abs=2e-3)


@pytest.mark.parametrize("chain", [DROP, AVERAGE, FILTERED])
def test_lines_that_are_only_mixed_show_nothing_false_along_them(chain: str) -> None:
    """What rounding leaves of a difference of powers is told as its root."""
    kept, false = of(chain, SAMPLES)
    assert kept == pytest.approx(1, abs=1e-6) and false < 5e-6


@pytest.mark.parametrize("lines", [1, 2, -2])
def test_a_picture_a_little_lower_is_not_softer(lines: int) -> None:
    evidence = evidence_of(frame(), AVERAGE, "custom")
    moved = with_landed(evidence, lambda landed: np.roll(landed, lines, axis=0))
    assert values(moved) == pytest.approx(values(evidence), abs=0.02)


@pytest.mark.parametrize(("lines", "times"), [(9, 2.0), (20, 3.0)])
def test_a_picture_far_from_its_map_shows_as_false(lines: int, times: float) -> None:
    """Past the three lines that are taken out, the windows no longer hold the same piece of picture."""
    evidence = evidence_of(frame(), AVERAGE, "custom")
    moved = with_landed(evidence, lambda landed: np.roll(landed, lines, axis=0))
    assert values(moved)[1] > times * values(evidence)[1]


def test_a_wrong_map_shows() -> None:
    """Where the output is said to look at a tenth more of the source, next to nothing is in common."""
    evidence = evidence_of(frame(), AVERAGE, "custom")
    wrong = replace(evidence, geometry=replace(evidence.geometry, lines=(Affine(2.7, 36.0),)))
    assert values(wrong)[0] < 0.4 < values(evidence)[0]


def test_another_picture_has_nothing_in_common() -> None:
    evidence = evidence_of(frame(), AVERAGE, "custom")
    other = with_landed(evidence, lambda landed: landed[:, ::-1])
    kept, false = values(other)
    assert kept < 0.2 and false > 0.7
    assert "contrast could not be taken out" in other.how["detail_kept"]


def test_noise_is_false_detail_of_its_own_power() -> None:
    """Closed form: powers add; white noise has 3/4 of its power from 1/8 to 1/2 cycle, as has the sum."""
    evidence = evidence_of(frame(), AVERAGE, "custom")
    kept, false = values(evidence)
    noise = np.random.RandomState(0).normal(0, 0.04, (240, 640, 1))
    noisy = values(with_landed(evidence, lambda landed: landed + noise))
    louder = values(with_landed(evidence, lambda landed: landed + 2 * noise))
    assert noisy[0] == pytest.approx(kept, abs=0.01)
    first, second = noisy[1] ** 2 - false**2, louder[1] ** 2 - false**2
    assert first > 0.001 and second == pytest.approx(4 * first, rel=0.1)


def test_a_smear_along_the_line_is_told_along_the_line_only() -> None:
    smeared = f"band-limit mhz=3 pixel_clock_mhz=13.5, {DROP}"
    assert of(smeared) == pytest.approx(of(DROP), abs=0.02)
    assert of(smeared, SAMPLES)[0] < 0.75 < 0.98 < of(DROP, SAMPLES)[0]


@pytest.mark.parametrize("chain", [DROP, AVERAGE, FILTERED])
def test_what_happens_to_the_lines_is_not_told_along_the_line(chain: str) -> None:
    assert of(chain, SAMPLES) == pytest.approx((1.0, 0.0), abs=0.01)


@pytest.mark.parametrize(
    "chain", [DROP, AVERAGE, FILTERED, f"band-limit mhz=3 pixel_clock_mhz=13.5, {AVERAGE}"]
)
def test_a_capture_gives_the_same_without_the_weights(chain: str) -> None:
    evidence = evidence_of(frame(), chain, "custom")
    captured = replace(evidence, coverage=None)
    assert values(captured) == pytest.approx(values(evidence), abs=0.03)
    assert values(captured, SAMPLES) == pytest.approx(values(evidence, SAMPLES), abs=0.06)


def test_repeating_art_foretells_its_aliases() -> None:
    """Three lines to the dot, in position: what a drop folds is counted as kept; off position it is not."""
    art = np.repeat(pixel_art(lines=240)[:, :, None], 3, axis=2)
    kept, false = values(evidence_of(art, DROP, "custom"))
    assert kept > 1.05 and false < 0.05
    blended, _ = values(evidence_of(art, "line-average lines=240 phase=1.5", "custom"))
    assert blended < kept - 0.2


def test_it_says_its_band_and_how_many_windows() -> None:
    """Seven windows of a quarter of the height, half overlapping."""
    for chain, line in ((DROP, "per line"), (FILTERED, "per frame line")):
        evidence = evidence_of(frame(), chain, "custom")
        values(evidence, LINES + SAMPLES)
        assert evidence.how["detail_kept"] == f"1/8 to 1/2 cycle {line}"
        assert evidence.how["false_detail_samples"] == "80 to 320 cycles per picture width"
        assert evidence.n == dict.fromkeys(LINES + SAMPLES, 7)


def test_what_the_display_hides_takes_no_part() -> None:
    """A picture ruined where nobody sees it is as sharp as before."""
    evidence = evidence_of(frame(), f"{AVERAGE}, overscan top=20 bottom=0 left=0 right=0", "custom")
    ruined = with_landed(evidence, lambda landed: np.where(np.arange(240)[:, None, None] < 20, 0.1, landed))
    assert values(ruined) == pytest.approx(values(evidence), abs=1e-6)


@pytest.mark.parametrize(
    ("picture", "names"),
    [
        (np.full((720, 640), 0.5), LINES),
        (np.tile(np.sin(np.arange(640)) * 0.3 + 0.5, (720, 1)), LINES),
        (np.tile(np.linspace(0, 1, 720)[:, None], (1, 640)), LINES + SAMPLES),
    ],
)
def test_a_source_without_detail_is_refused_with_its_figure(
    picture: np.ndarray, names: tuple[str, ...]
) -> None:
    flat = np.repeat(picture[:, :, None], 3, axis=2).astype(np.float32)
    evidence = evidence_of(flat, AVERAGE, "custom")
    found, why = measure(evidence, names)
    for name in names:
        assert found[name] is None and "codes of 255" in why[name]
    assert evidence.n == {}


def test_few_lines_or_samples_are_refused() -> None:
    tiny = np.random.RandomState(0).uniform(size=(96, 64, 3)).astype(np.float32)
    _, why = measure(evidence_of(tiny, "line-drop lines=48", "custom"), LINES + SAMPLES)
    assert "too short" in why["detail_kept"] and "64 samples" in why["detail_kept_samples"]


def test_the_source_is_transformed_once_for_chains_that_look_alike() -> None:
    first = evidence_of(frame(), AVERAGE, "custom")
    values(first)
    spectra = [name for name in first.of_source if name.startswith("vertical detail")]
    second = replace(evidence_of(frame(), DROP, "custom"), of_source=first.of_source)
    values(second)
    assert spectra == [name for name in second.of_source if name.startswith("vertical detail")] != []


def test_the_words_fit_the_number() -> None:
    """More than all cannot be kept."""
    assert (
        key_of("detail_kept").sentence(0.92)
        == "92 % of the vertical detail that these lines can carry is kept."
    )
    assert (
        key_of("detail_kept")
        .sentence(1.16)
        .startswith("Vertical detail reads 116 % of the source's: it repeats in step")
    )
    assert key_of("false_detail").sentence(0.28).endswith("adds up to 28 % of the source's detail.")

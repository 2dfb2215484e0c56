"""Edge measures on the test frames: how often they are had, what known blurs read, and the time they take.

``python -m pytest -q -s tests/benchmarks/bench_edges.py`` prints the tables. Nothing here is tuned on
`HELD_BACK`; the two halves are printed apart.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from time import perf_counter

import numpy as np
import pytest
from frames30 import CHOSEN_ON, FRAMES, HELD_BACK
from metrics.blurs import BLURS, Array, blurred_view, true_width
from metrics.evidence import evidence_of

from scalesim.errors import NotMeasurable
from scalesim.metrics import measure
from scalesim.metrics.edges.kernel import detail_of, measured, view_across
from scalesim.metrics.edges.spread_lines import mean_width

CHAINS = {
    "drop": "line-drop lines=240 phase=1",
    "average": "line-average lines=240",
    "average, drop": "line-average lines=480, line-drop lines=240",
    "two-tap": "resample lines=240 kernel=linear antialias=off phase=1/2",
    "Lanczos-3": "resample lines=240 kernel=lanczos3",
    "one set": "line-average lines=480, interlace, field-only pair=down",
    "one set 1/2/1": "line-average lines=480, flicker-filter taps=1/2/1, interlace, field-only pair=down",
    "480i": "line-average lines=480, interlace",
    "480i 1/2/1": "line-average lines=480, flicker-filter taps=1/2/1, interlace",
}
KEYS = ("edge_spread_lines", "edge_spread_samples", "mtf50_lines", "mtf50_samples", "staircase")


def progressive(names: tuple[str, ...]) -> list[str]:
    return [name for name in names if FRAMES[name].mode != "1080i"]


def as_chain(name: str, chain: str) -> str:
    """Return a chain for a frame's mode: an interlaced one is woven first."""
    return "deinterlace how=weave, " + chain if FRAMES[name].mode == "1080i" else chain


@pytest.mark.parametrize(("half", "names"), [("chosen on", CHOSEN_ON), ("held back", HELD_BACK)])
def test_how_often_they_are_had(half: str, names: tuple[str, ...]) -> None:
    """Null at most on 5 % of frames and chains (20 % for the stairs), a drop at 0.80 within 0.01."""
    nulls = dict.fromkeys(KEYS, 0)
    values: dict[tuple[str, str], list[float]] = {}
    for name in names:
        for chain, text in CHAINS.items():
            evidence = evidence_of(FRAMES[name].load(), as_chain(name, text), FRAMES[name].mode)
            found, why = measure(evidence, KEYS)
            for key in KEYS:
                value = found[key]
                if value is None:
                    nulls[key] += 1
                    print(f"  {name}, {chain}: {key}: {why[key]}")
                else:
                    values.setdefault((chain, key), []).append(value)
    count = len(names) * len(CHAINS)
    print(f"\n{half}: {len(names)} frames, {count} pairs of frame and chain")
    for key in KEYS:
        print(f"  {key}: null on {nulls[key]} of {count}")
    for chain in CHAINS:
        row = [
            f"{np.median(of):.3f} ({min(of):.3f}..{max(of):.3f})"
            for of in (values[chain, key] for key in ("edge_spread_lines", "staircase"))
        ]
        print(f"  {chain:15} height {row[0]}   stairs {row[1]}")
    assert max(nulls[key] for key in KEYS[:4]) <= 0.05 * count
    assert nulls["staircase"] <= 0.2 * count
    assert np.abs(np.array(values["drop", "edge_spread_lines"]) - 0.8).max() <= 0.01


def jpeg(quality: int) -> Callable[[Array], Array]:
    def through(picture: Array) -> Array:
        from PIL import Image

        file = io.BytesIO()
        codes = np.rint(np.clip(picture, 0, 1) * 255).astype(np.uint8)
        Image.fromarray(codes).save(file, "jpeg", quality=quality)
        return np.asarray(Image.open(file)).astype(np.float32) / 255

    return through


HARMS: dict[str, Callable[[Array], Array]] = {
    "clean": lambda p: p,
    "8 bit": lambda p: np.rint(p * 255) / 255,
    "noise 2": lambda p: p + np.random.RandomState(1).normal(0, 2 / 255, p.shape),
    "gain 0.8 + 0.05": lambda p: 0.8 * p + 0.05,
    "gamma 0.9": lambda p: np.clip(p, 0, 1) ** 0.9,
    "JPEG q95": jpeg(95),
    "JPEG q85": jpeg(85),
}


@pytest.mark.parametrize(("half", "names"), [("chosen on", CHOSEN_ON), ("held back", HELD_BACK)])
def test_known_blurs_come_back(half: str, names: tuple[str, ...]) -> None:
    """Blurs of source lines by SciPy, taken to 240 lines: the worst error of each harm, beside refusals."""
    print(f"\n{half}: worst error, share beyond 5 %, refused")
    for harm, through in HARMS.items():
        errors, refused, count = [], 0, 0
        for name in progressive(names):
            for blur in BLURS:
                count += 1
                try:
                    errors.append((abs(error_of(name, blur, through)), name, blur))
                except NotMeasurable:
                    refused += 1
        share = np.mean([error > 0.05 for error, *_ in errors])
        print(
            f"  {harm:16} {100 * max(errors)[0]:5.1f} % {100 * share:5.1f} % {refused:4} of {count}  "
            f"{max(errors)[1:]}"
        )


def error_of(name: str, blur: str, through: Callable[[Array], Array]) -> float:
    evidence = evidence_of(FRAMES[name].load(), "line-average lines=240", FRAMES[name].mode)
    view, taps = blurred_view(evidence, blur, through)
    kernel = measured(view, coded=True)
    return mean_width(kernel) / true_width(kernel, taps) - 1


def test_soft_frames() -> None:
    """What the source's lines bend by, the figure refusals go by."""
    for name, frame in FRAMES.items():
        view = view_across(
            evidence_of(frame.load(), as_chain(name, "line-average lines=240"), frame.mode), "lines"
        )
        print(f"  {name}: {detail_of(view.source):.1f} codes")


def test_time() -> None:
    """Printed, not judged: the machine's load counts."""
    for name in ("meadow", "faces"):
        evidence = evidence_of(FRAMES[name].load(), CHAINS["average"], FRAMES[name].mode)
        assert evidence.source_luma.size
        assert evidence.landed_luma.size
        for axis in ("lines", "samples"):
            print(f"  {FRAMES[name].mode} {axis}: {min(times(evidence, axis)):.0f} ms")


def times(evidence, axis) -> Iterator[float]:
    for _ in range(5):
        again = replace(evidence, of_source=dict(evidence.of_source))
        begin = perf_counter()
        measured(view_across(again, axis))
        yield 1000 * (perf_counter() - begin)

"""Loops that may be compiled, against NumPy's way of the same and float64 by the definitions.

Uncompiled they are plain Python, so they are checked where there is no compiler, too.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse import csr_array

from scalesim.chain import Chain
from scalesim.core import colours, compiled, loops, mix, planes
from scalesim.core.clip import CodedStill
from scalesim.core.colours import Coding, Scale
from scalesim.core.compiled import Loops
from scalesim.core.mix import Mix
from scalesim.core.planes import Planes
from scalesim.core.raster import Raster
from scalesim.jobs.predict.predict import predict
from scalesim.metrics import Evidence
from scalesim.metrics.flicker import percent

PLAIN = Loops(**{name: getattr(loops, name) for name in loops.FREE})
WEIGHTS = (0.2126, 0.0722)


def use(given: Loops | None, monkeypatch: pytest.MonkeyPatch) -> None:
    for room in (colours, mix, planes, percent):
        monkeypatch.setattr(room, "compiled", lambda: given)


def stored(halvings: tuple[int, int], first: tuple[float, float], *, deep: bool = False) -> Planes:
    """Return 12 lines of 32 samples of noise, of 8 or of 10 bits, in padded rows."""
    up = 4 if deep else 1
    shapes = [(12, 32), *[(12 >> halvings[0], 32 >> halvings[1])] * 2]
    random = np.random.default_rng(5)
    codes = [random.integers(0, 256 * up, (lines, samples + 8)) for lines, samples in shapes]
    kind = np.uint16 if deep else np.uint8
    coding = Coding(Scale(16 * up, 219 * up), Scale(128 * up, 224 * up), WEIGHTS, halvings, first)
    return Planes([each.astype(kind)[:, :-8] for each in codes], coding)


def test_light_is_the_power() -> None:
    """|V|^2.4 with the sign kept, from far below black to four times white."""
    values = np.concatenate([np.linspace(-1, 4, 401), 10.0 ** np.arange(-30, 0)]).astype(np.float32)
    found = np.array([loops.light(value) for value in values])
    exact = np.sign(values) * np.abs(values.astype(np.float64)) ** 2.4
    assert loops.light(np.float32(0)) == 0
    assert np.abs(found - exact).max() <= 5e-7 * np.abs(exact).max()
    np.testing.assert_allclose(found[np.abs(exact) > 1e-6], exact[np.abs(exact) > 1e-6], rtol=1e-6)


@pytest.mark.parametrize("deep", [False, True])
def test_mixed_lines(monkeypatch: pytest.MonkeyPatch, deep: bool) -> None:
    """Rows of none, one, two and three lines, against SciPy's product in float64."""
    matrix = csr_array(np.array([[0, 0, 0, 0], [0, 1, 0, 0], [0.3, 0, 0.7, 0], [0.25, 0.5, 0, -0.5]]))
    codes = np.random.default_rng(1).integers(0, 1024 if deep else 256, (4, 9))
    codes = codes.astype(np.uint16 if deep else np.uint8)
    exact = matrix @ ((codes - 16.0) / 219)
    for given in (None, PLAIN):
        use(given, monkeypatch)
        found = Mix(matrix)(codes, 16, 219)
        assert found == pytest.approx(exact, abs=2e-6 if deep else 5e-7)
        assert np.array_equal(found[1], (codes[1].astype(np.float32) - 16) / 219)  # chosen: to the last bit


@pytest.mark.parametrize(
    ("halvings", "first"),
    [((0, 0), (0.0, 0.0)), ((1, 1), (0.5, 0.0)), ((1, 1), (0.5, 0.5)), ((0, 2), (0.0, 0.0))],
)
@pytest.mark.parametrize("deep", [False, True])
def test_luminance_of_planes(
    monkeypatch: pytest.MonkeyPatch, halvings: tuple[int, int], first: tuple[float, float], deep: bool
) -> None:
    """Chroma of as many samples, of half and of a quarter, sited with luma's and between them."""
    picture = stored(halvings, first, deep=deep)
    values = picture.values().astype(np.float64)
    exact = (np.sign(values) * np.abs(values) ** 2.4) @ (0.2126, 0.7152, 0.0722)
    for given in (None, PLAIN):
        use(given, monkeypatch)
        assert picture.luminance() == pytest.approx(exact, rel=2e-6, abs=2e-6)


@pytest.mark.parametrize("width", [1, 5, 8])
def test_means_of_codes(monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    picture = stored((1, 1), (0.5, 0.0))
    count = 32 // width
    exact = (picture.levels[0][:, : count * width].reshape(12, count, width).mean(axis=2) - 16) / 219
    for given in (None, PLAIN):
        use(given, monkeypatch)
        assert picture.means(width) == pytest.approx(exact, abs=1e-6)


def fields(chain: str) -> Evidence:
    picture = stored((1, 1), (0.5, 0.0))
    return predict(CodedStill([picture], Raster(12, 32)), Chain(chain), metrics=()).evidence()


CHAINS = ("line-average lines=8, interlace", "line-average lines=8, interlace, field-only")


@pytest.mark.parametrize("chain", CHAINS)
def test_flicker_both_ways(monkeypatch: pytest.MonkeyPatch, chain: str) -> None:
    found = []
    for given in (None, PLAIN):
        use(given, monkeypatch)
        found.append(percent.flicker_percent(fields(chain))[0])
    assert found[0] > 1 and found[1] == pytest.approx(found[0], abs=1e-4)
    assert found[0] == pytest.approx(percent.whole_map(fields(chain)).mean(), abs=1e-4)


def test_flat_fields_are_exactly_steady(monkeypatch: pytest.MonkeyPatch) -> None:
    use(PLAIN, monkeypatch)
    lights = [np.full((4, 16), 0.3, np.float32)] * 2
    raster = fields(CHAINS[0]).raster
    assert not percent._means(lights, raster, slice(2, 14)).any()


def test_no_loops_unless_they_are_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of tasks that overlap, as in a cluster's threads, the first to end takes them from nobody."""
    monkeypatch.setattr(compiled, "_found", lambda _: PLAIN)
    first, second = compiled.wanted(True), compiled.wanted(True)
    assert compiled.compiled() is None
    with compiled.wanted(False):
        assert compiled.compiled() is None
    first.__enter__()
    second.__enter__()
    first.__exit__(None, None, None)
    assert compiled.compiled() is PLAIN
    second.__exit__(None, None, None)
    assert compiled.compiled() is None


def test_a_task_that_fails_leaves_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "_found", lambda _: PLAIN)
    with pytest.raises(ValueError), compiled.wanted(True):
        raise ValueError
    assert compiled.compiled() is None


def test_without_a_compiler_there_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "numba.extending", None)  # as if it were not installed
    assert compiled._found.__wrapped__(loops) is None


def test_where_nothing_can_be_kept_every_process_compiles(monkeypatch: pytest.MonkeyPatch) -> None:
    """A compiler that finds no folder to write to says so when it is asked to keep what it makes."""
    asked: list[dict[str, object]] = []

    def njit(**options: object) -> Callable[[Callable], Callable]:
        asked.append(options)
        if options.get("cache"):
            raise RuntimeError("no locator available")
        return lambda loop: loop

    for name, held in (("numba", {"njit": njit}), ("numba.extending", {"register_jitable": lambda _: None})):
        module = ModuleType(name)
        vars(module).update(held)
        monkeypatch.setitem(sys.modules, name, module)
    assert compiled._found.__wrapped__(loops) == PLAIN
    kept = [options["fastmath"] for options in asked if not options.get("cache")]
    assert kept == list(loops.FREE.values()) and len(asked) == 2 * len(kept)


def test_a_process_without_many_frames_loads_no_compiler() -> None:
    code = "import scalesim.jobs.compare.compare, sys; sys.exit('numba' in sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_compiled_lines_that_are_chosen_are_the_same_to_the_last_bit() -> None:
    pytest.importorskip("numba")
    given, every = compiled._found(loops), np.arange(256, dtype=np.uint8)[None]
    assert given is not None
    found, one = np.empty((1, 256), np.float32), np.ones(1, np.float32)
    scale = np.float32(16), np.float32(219)
    given.mix(np.array([0, 1], np.int32), np.zeros(1, np.int32), one, one, scale, every, found)
    assert np.array_equal(found, (every.astype(np.float32) - 16) / 219)


def test_compiled_they_give_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("numba")
    given = compiled._found(loops)
    assert given is not None and given.mix is not loops.mix
    found: dict[bool, list[NDArray]] = {}
    for by_loops in (False, True):
        use(given if by_loops else None, monkeypatch)
        kinds = [stored((1, 1), (0.5, 0.0), deep=deep) for deep in (False, True)]
        found[by_loops] = [picture.luminance() for picture in kinds]
        found[by_loops] += [picture.means(8) for picture in kinds]
        found[by_loops] += [np.array(percent.flicker_percent(fields(chain))) for chain in CHAINS]
        found[by_loops] += fields(CHAINS[0]).pictures.lumas()  # type: ignore[attr-defined]
    for one, other in zip(found[False], found[True], strict=True):
        np.testing.assert_allclose(one, other, rtol=2e-6, atol=2e-6)

"""What a comparison holds at once: of many chains the picture of one, and little of the others."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any
from weakref import ref

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.core.clip import still_clip
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.measured import in_order
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.views import InTurn, packed
from scalesim.metrics.outlines.line_weights import KnownWeights
from scalesim.page.kept import kept

CHAINS = {f"drop {phase}": f"line-drop lines=48 phase={phase}" for phase in range(3)} | {
    "480i-like": "line-average lines=96, interlace"
}


class NoStore:
    """Takes pictures and keeps none."""

    def add(self, name: str, values: NDArray, palette: Sequence[tuple[int, int, int]] = ()) -> None:
        """Keep nothing."""

    def image(self, name: str) -> str:
        """Return nothing."""
        return ""

    def source(self, name: str) -> str:
        """Return nothing."""
        return ""


def most_alive(compared: Comparison, monkeypatch: pytest.MonkeyPatch) -> int:
    """Return how many predictions with pictures there are at once, at most, while the parts are made."""
    made: list[Callable[[], Any]] = []
    alive = []

    def counted(*given: Any, **named: Any) -> Outcome:
        alive.append(sum(each() is not None for each in made))
        found = predict(*given, **named)
        made.append(ref(found))
        return found

    monkeypatch.setattr("scalesim.jobs.compare.comparison.predict", counted)
    assert all(part.title for part in map(partial(kept, store=NoStore()), compared.parts()))
    assert len(made) >= 2 * len(CHAINS)
    return max(alive) + 1


@pytest.fixture
def compared() -> Comparison:
    """Four chains on a frame of 144 lines."""
    codes = np.random.RandomState(0).rand(36, 64, 3).astype(np.float32)
    return compare(CHAINS, [still_clip(np.kron(codes, np.ones((4, 4, 1), np.float32)))], metrics=["psnr_db"])


def test_pictures_of_chains_are_made_in_turn(compared: Comparison, monkeypatch: pytest.MonkeyPatch) -> None:
    assert most_alive(compared, monkeypatch) == 1


def test_what_holds_all_pictures_is_noticed(compared: Comparison, monkeypatch: pytest.MonkeyPatch) -> None:
    held: list[Outcome] = []

    def hold(turn: InTurn, label: str) -> Outcome:
        held.append(turn._make(label))
        return held[-1]

    monkeypatch.setattr(InTurn, "__call__", hold)
    assert most_alive(compared, monkeypatch) > len(CHAINS)


def test_few_results_wait_to_be_taken() -> None:
    """Of 20 labels no more than the two ahead, and the one that is taken, are worked on."""
    begun, lock = [], threading.Lock()

    def work(label: int) -> int:
        with lock:
            begun.append(label)
        return 10 * label

    with ThreadPoolExecutor(4) as pool:
        for count, (label, found) in enumerate(in_order(work, range(20), pool, 2), start=1):
            assert found() == 10 * label and len(begun) <= count + 2
    assert sorted(begun) == list(range(20))
    assert list(in_order(work, [], pool, 2)) == []


def test_a_packed_map_is_the_same_map() -> None:
    codes = np.random.RandomState(1).randint(0, 255, (30, 40)).astype(np.uint8)
    again = packed(codes[:, ::2])()
    assert again.dtype == np.uint8 and np.array_equal(again, codes[:, ::2])


def test_weights_are_the_same_sparse_or_not() -> None:
    """And of a sparse matrix, which a study keeps, they are found once."""
    outcome = predict(np.full((144, 256, 3), 0.5, np.float32), "line-average lines=64, interlace", metrics=[])
    sparse, dense = outcome.line_weights(), outcome.coverage()
    assert sparse is not None and dense is not None
    once, whole = KnownWeights.of(sparse), KnownWeights.of(dense)
    assert KnownWeights.of(sparse) is once and outcome.line_weights() is sparse
    assert np.array_equal(once.dense, whole.dense) and np.array_equal(once.dense, dense.astype(np.float32))
    assert (once.sparse != whole.sparse).nnz == 0

"""A short version of tests/benchmarks/bench_clear.py: art is clear at its grid, a 3-D scene is not."""

from __future__ import annotations

from clear_trials import CHAINS, VALUES, curve, verdict_of
from frames30 import FRAMES


def test_art_is_clear_and_a_scene_is_not() -> None:
    """The grid of the art is one line down: minus one and every three lines are best."""
    art = curve(FRAMES["coffee"], CHAINS["linear 240"], 1)
    free = curve(FRAMES["crates"], CHAINS["480i"], None)
    assert art is not None and free is not None
    verdict, sure = verdict_of([art])
    assert sure.clear and VALUES[verdict.best[0]] % 3 == 2 and verdict.repeats == 12
    assert not verdict_of([free])[1].clear

"""Landings against a solver of differential equations on the same circuit, and a map.

Run ``pytest -s tests/benchmarks/bench_lock.py``; the table is printed and kept under `outputs/benchmarks/`.
"""

from __future__ import annotations

from itertools import count

from external.test_vertical_circuits import solved
from timing import best_ms, report

from scalesim.core.sync import SYNC_525
from scalesim.core.sync_wave import SyncChange, interlaced_wave
from scalesim.jobs.landing.figures import map_of
from scalesim.tube.lock.circuit import Integrator
from scalesim.tube.lock.landings import land
from scalesim.tube.lock.on_display import landed_of
from scalesim.tube.lock.typical import TYPICAL


def test_landings() -> None:
    """One landing of every kind, all that is told of one, and a map of 100 by 100."""
    numbers = count(1)

    def fresh() -> SyncChange:
        """Return a change of sync whose waveform is not known yet."""
        moved = (0.0, -next(numbers) / 10_000)
        return SyncChange(begin=moved, end=moved)

    wave = interlaced_wave(SYNC_525, fresh())
    solver = best_ms(lambda: [solved(wave, field, Integrator()) for field in (0, 1)], repeats=3)
    rows = [
        (
            f"landing, {name}",
            best_ms(lambda c=circuit: land(interlaced_wave(SYNC_525, fresh()), c)),
            solver,
            "20 ms",
        )
        for name, circuit in TYPICAL.items()
    ]
    rows.append(
        ("all that is told of an integrator", best_ms(lambda: landed_of(wave, Integrator())), solver, "")
    )
    for order in (1, 2):
        circuit = Integrator(order=order)
        time = best_ms(lambda c=circuit: map_of(wave, "map", c), repeats=3)
        rows.append((f"map of 100 x 100, order {order}", time, solver, "5000 ms"))
    report("lock", rows)
    assert all(got < 0.2 * ref for what, got, ref, _ in rows if what.startswith("landing"))

"""Mutated traces and senseless waveforms: each is answered, or refused in one line; never a fault or a hang.

As in `test_fuzz.py`, ``SCALESIM_FUZZ=10000`` gives the number of mutated files of each kind.
"""

from __future__ import annotations

import io
import json
import time
import wave
from pathlib import Path

import numpy as np
import pytest
from few import few
from scope_records import Spec, record
from test_fuzz import ASKED, SLOWEST_S, mutations, tried

from scalesim.core.trace import Trace
from scalesim.errors import ScalesimError
from scalesim.io.traces.read import read_trace
from scalesim.jobs.trace.answer import Traced
from scalesim.jobs.trace.trace import trace


def files() -> dict[str, bytes]:
    """Return small whole files of every kind."""
    volts = record(Spec(ms=1.5, mhz=2.0))
    rows = [f"{k * 5e-7:.7f},{v:.4f},{-v:.4f}" for k, v in enumerate(volts.tolist())]
    plain = "Model,X\nTime (s),CH1 (V),CH2 (mV)\n" + "\n".join(rows) + "\n"
    comma = "s;V;V\n" + "\n".join(row.replace(",", ";").replace(".", ",") for row in rows) + "\n"
    interval = "Sample Interval,5e-07\n" + "\n".join(f"{v:.4f}" for v in volts.tolist()) + "\n"
    array, packed, sound = io.BytesIO(), io.BytesIO(), io.BytesIO()
    np.save(array, np.stack([np.arange(len(volts)) * 5e-7, volts], axis=1))
    np.savez_compressed(packed, dt=5e-7, csync=volts)
    with wave.open(sound, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(2_000_000)
        file.writeframes((volts * 20_000).astype("<i2").tobytes())
    return {
        "a.csv": plain.encode(),
        "b.csv": comma.encode("utf-16"),
        "c.csv": interval.encode("latin-1"),
        "a.npy": array.getvalue(),
        "b.npz": packed.getvalue(),
        "a.wav": sound.getvalue(),
    }


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", few(["a.csv", "b.npz", "b.csv", "c.csv", "a.npy", "a.wav"], 2))
def test_mutated_traces(name: str, tmp_path: Path) -> None:
    whole = files()[name]
    place = tmp_path / name
    place.write_bytes(whole)
    assert read_trace(place).samples == 3000
    for number, damaged in enumerate(mutations(whole, 7, 60)):
        place.write_bytes(damaged)

        def read() -> None:
            found = read_trace(place)
            assert all(np.isfinite(volts).all() for volts in found.channels.values())
            answered(found, None if np.isfinite(found.interval_s) else 2.0)

        tried(read, f"{name}, mutation {number}")


def answered(found: Trace, rate: float | None = None) -> None:
    """Ask for an answer, and for all that is shown of it."""
    answer = trace([found], rate=rate)
    assert isinstance(answer, Traced)
    json.dumps(answer.to_dict(), allow_nan=False)
    assert answer.sentences() and answer.table().rows
    for part in answer.parts():
        assert part.title
    for file in answer.files().values():
        assert file.content


def senseless(dice: np.random.RandomState) -> np.ndarray:
    """Return a waveform of no sense: steps, spikes, sines, noise, rests, bits of sync."""
    size = int(dice.choice([2, 5, 100, 3000, 60_000, 120_000]))
    t = np.arange(size)
    volts = np.zeros(size)
    for _ in range(dice.randint(1, 4)):
        kind = dice.randint(7)
        height = float(dice.choice([1e-6, 0.1, 1.0, 50.0, 1e20]))
        if kind == 0:
            volts += height * np.sin(t * dice.uniform(1e-4, 3))
        elif kind == 1:
            volts += dice.normal(0, height, size)
        elif kind == 2:
            volts += height * (t % dice.randint(2, 2000) < dice.randint(1, 300))
        elif kind == 3:
            volts[dice.randint(size) :] += height
        elif kind == 4:
            volts[dice.randint(0, size, 5)] += height
        elif kind == 5:
            sync = record(Spec(ms=30.0, mhz=2.0, seed=int(dice.randint(99))))
            volts += np.resize(sync, size)
        else:
            volts = np.round(volts / height) * height
    return volts.astype(np.float32)


@pytest.mark.filterwarnings("error")
def test_senseless_waveforms_are_answered() -> None:
    dice = np.random.RandomState(11)
    for number in range(ASKED or 200):
        volts = senseless(dice)
        interval = float(dice.choice([1e-12, 2e-9, 1e-7, 5e-7, 1e-6, 1e-3, 10.0]))
        started = time.process_time()
        try:
            answered(Trace("a.csv", interval, {"CH1": volts, "CH2": volts[::-1].copy()}))
        except ScalesimError as error:
            assert "\n" not in str(error)
        assert time.process_time() - started < SLOWEST_S, number

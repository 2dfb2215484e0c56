"""The sync chart against the standard's table, by a generator that shares no code with it."""

from __future__ import annotations

import numpy as np
import pytest
from scope_records import Spec, record

from scalesim.charts.sync import Bench, sync_chart
from scalesim.errors import ParameterError

IDEAL = {"noise_mv": 0.0, "hum_mv": 0.0, "bits": 0, "ms": 60.0, "mhz": 10.0}
VERTICALS = {
    "standard": {"equalising": True, "broad": "serrated"},
    "serrated": {"equalising": False, "broad": "serrated"},
    "line-rate": {"equalising": False, "broad": "line-rate"},
    "block": {"equalising": False, "broad": "block"},
}


@pytest.mark.parametrize("vertical", VERTICALS)
@pytest.mark.parametrize(
    ("mode", "system", "fields"),
    [
        ("480i", 525, (262.5, 262.5)),
        ("240p", 525, (262,)),
        ("240p@263", 525, (263,)),
        ("576i", 625, (312.5, 312.5)),
        ("288p", 625, (312,)),
    ],
)
def test_composite_sync_is_the_independent_generators(
    mode: str, system: int, fields: tuple[float, ...], vertical: str
) -> None:
    """Both are sampled at 10 MS/s; only the shape of the edges differs, so few samples differ much."""
    made = sync_chart(mode, signal="csync", mhz=10.0, vertical=vertical)  # type: ignore[arg-type]  # a choice
    # it begins 40 half lines into a field, as does the record
    spec = Spec(
        system=system, fields=fields, signal="csync", start_lines=20.0, **VERTICALS[vertical], **IDEAL
    )
    mine, theirs = made.trace.channels["csync"], record(spec)
    if fields[0] % 1 == 0:  # a generator's first field begins on a line; so does every one of these
        lag = 40 * spec.line_us / 2 * 10
        assert lag == pytest.approx(20 * spec.line_us * 10)
    assert np.abs(mine - theirs).max() < 0.06
    assert (np.abs(mine - theirs) > 0.03).mean() < 0.01


def test_a_wrong_width_would_be_noticed() -> None:
    made = sync_chart("480i", signal="csync", mhz=10.0)
    other = record(Spec(signal="csync", start_lines=20.0, equalising=False, **IDEAL))
    assert np.abs(made.trace.channels["csync"] - other).max() > 0.25


def test_levels_are_those_of_the_standards() -> None:
    """700 and 300 mV; composite 525 lines 714.3 and 285.7 mV (CCITT N.60); unterminated twice that."""
    rgb = sync_chart("480i").trace.channels["video"]
    assert (rgb.max(), rgb.min()) == (pytest.approx(0.7), pytest.approx(-0.3))
    composite = sync_chart("480i", levels="composite").trace.channels["video"]
    assert (composite.max(), composite.min()) == (pytest.approx(5 / 7), pytest.approx(-2 / 7))
    made = sync_chart("576i", levels="composite", bench=Bench(load="open", gain=0.5))
    assert (made.picture_mv, made.sync_mv) == (pytest.approx(700), pytest.approx(300))


def test_edges_are_those_of_the_standards() -> None:
    """10 to 90 % of line sync: 140 ns (525), 200 ns (625), at 1000 MS/s."""
    for mode, ns in (("480i", 140), ("576i", 200)):
        volts = sync_chart(mode, signal="csync", seconds=2e-4, mhz=1000).trace.channels["csync"].astype(float)
        edge = np.flatnonzero((volts < -0.03) & (volts > -0.27))
        _, whole, *_ = np.split(edge, np.flatnonzero(np.diff(edge) > 1) + 1)  # the record begins in the first
        assert len(whole) == pytest.approx(ns, abs=2)


def test_the_bench_adds_what_it_says() -> None:
    clean = sync_chart("240p").trace.channels["video"]
    noisy = sync_chart("240p", bench=Bench(noise_mv=10)).trace.channels["video"]
    assert (noisy - clean).std() == pytest.approx(0.010, rel=0.02)
    hum = sync_chart("240p", bench=Bench(hum_mv=100)).trace.channels["video"] - clean
    assert np.ptp(hum) == pytest.approx(0.1, rel=0.01)
    coupled = sync_chart("240p", bench=Bench(coupling_ms=1)).trace.channels["video"]
    assert abs(coupled.mean()) < 0.01 < abs(clean.mean())
    assert len(np.unique(sync_chart("240p", bench=Bench(bits=4)).trace.channels["video"])) <= 16
    again = sync_chart("240p", bench=Bench(noise_mv=10)).trace.channels["video"]
    assert np.array_equal(noisy, again)


@pytest.mark.parametrize(
    ("mode", "keys", "words"),
    [
        ("720p60", {}, "15 kHz mode"),
        ("480i", {"fields": (262, 263)}, "progressive mode"),
        ("240p", {"fields": (100,)}, "200 to 400 lines"),
        ("240p", {"mhz": 1000.0}, "samples"),
        ("240p", {"line": np.array([0.0, np.nan])}, "finite code values"),
    ],
)
def test_what_cannot_be_made_is_refused(mode: str, keys: dict, words: str) -> None:
    with pytest.raises(ParameterError, match=words):
        sync_chart(mode, **keys)

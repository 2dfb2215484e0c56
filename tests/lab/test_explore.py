"""What the page is shown is what `predict` gives, and the newest request wins."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import served
from starlette.testclient import TestClient

import scalesim as ss
from scalesim.core.codes import to_codes
from scalesim.lab.bench import Bench

DROP = "line-drop lines=24"
TWO = "flicker-filter taps=1/2/1, interlace"


def ask(client: TestClient, frame: str, chain: str, **more: object) -> list[tuple[dict, bytes]]:
    return served.asked(client, "/api/explore", tab="t", seq=1, frame=frame, chain=chain, **more)


def pictures(found: list[tuple[dict, bytes]]) -> dict[str, np.ndarray]:
    return {told["name"]: served.dots(packed) for told, packed in found if told["kind"] == "picture"}


@pytest.mark.parametrize("chain", [DROP, TWO, "line-average lines=24 encoding=light, level gain=1.2"])
def test_the_raster_is_the_prediction(client: TestClient, bench: Bench, chain: str) -> None:
    found = ask(client, bench.first, chain)
    expected = ss.predict(bench.frames.clip(bench.first), chain, metrics=[])
    assert np.array_equal(pictures(found)["raster"], to_codes(expected.landed))
    assert found[0][0]["name"] == "raster"  # nothing comes before it
    facts = next(told for told, _ in found if told["kind"] == "facts")
    assert facts["mode_out"] == expected.mode_out and facts["lines"] == expected.raster.lines
    assert found[-1][0]["kind"] == "done"


@pytest.mark.parametrize("chain", ["line-average lines=20", "position lines=1.25, " + TWO])
def test_the_weights_make_the_raster_of_the_source(client: TestClient, bench: Bench, chain: str) -> None:
    """Source lines times the weights that a slice shows are the raster's lines, within rounding."""
    found = ask(client, bench.first, chain, want=["weights"])
    told = found[0][0]
    source, taps = np.float64(to_codes(bench.frames.clip(bench.first).frame)), told["taps"]
    made = np.stack(
        [
            sum(w * source[first + at] for at, w in enumerate(taps["patterns"][use]))
            for use, first in zip(taps["use"], taps["first"], strict=True)
        ]
    )
    raster = pictures(found)["raster"]
    assert made.shape == raster.shape and np.abs(made - raster)[2:-2].max() <= 1.01
    assert np.abs(made[1:] - raster[:-1]).mean() > 5  # another line's would not do
    (scale, offset) = told["looks"]["down"]
    assert scale == 48 / len(raster) and offset == (-1.25 if "position" in chain else 0)


def test_why_there_are_no_weights(client: TestClient, bench: Bench) -> None:
    told = ask(client, bench.first, "line-average lines=24, quantise, level gain=1.2", want=["weights"])[0][0]
    assert ("taps" in told) != bool(told["why"])
    plain = ask(client, bench.first, DROP)[0][0]
    assert not {"taps", "why", "looks"} & set(plain)  # nobody asked


def test_fields_lie_where_they_land(client: TestClient, bench: Bench) -> None:
    """The second field of two begins half a field-line pitch below the first: 960 / 24 / 2 = 20 units."""
    found = ask(client, bench.first, TWO, want=["fields"])
    places = {told["name"]: told["place"]["y"] for told, _ in found if told["kind"] == "picture"}
    assert places["second"] - places["first"] == 20
    expected = ss.predict(bench.frames.clip(bench.first), TWO, metrics=[])
    assert np.array_equal(pictures(found)["second"], to_codes(expected.cycle[1]))


def test_the_difference_from_itself_is_none(client: TestClient, bench: Bench) -> None:
    same = pictures(ask(client, bench.first, DROP, want=["difference"], against=DROP))["difference"]
    other = pictures(
        ask(client, bench.first, DROP, want=["difference"], against="line-average lines=24 phase=1")
    )
    assert len(np.unique(same.reshape(-1, 3), axis=0)) == 1
    assert len(np.unique(other["difference"].reshape(-1, 3), axis=0)) > 5


def test_another_size_is_compared_too(client: TestClient, bench: Bench) -> None:
    found = pictures(ask(client, bench.first, DROP, want=["difference"], against="line-drop lines=12"))
    assert found["difference"].shape == (24, 64, 3)


def test_the_numbers_are_the_predictions(client: TestClient, bench: Bench) -> None:
    told = [told for told, _ in ask(client, bench.first, DROP, numbers=True) if told["kind"] == "numbers"]
    expected = ss.predict(bench.frames.clip(bench.first), DROP).metrics
    assert told[-1]["metrics"] == expected and len(told) > 5
    assert all(set(a["metrics"]) <= set(b["metrics"]) for a, b in pairwise(told))


def test_the_glass_has_the_displays_quantities(client: TestClient, bench: Bench) -> None:
    def glass(**values: str) -> np.ndarray:
        display = {"key": "studio-36cm-800", "values": values}
        found = ask(client, bench.first, "line-average lines=24", want=["glass"], display=display)
        return pictures(found)["glass"]

    narrow, wide = glass(beam_width="0.3"), glass(beam_width="2")
    assert narrow.shape == wide.shape and not np.array_equal(narrow, wide)
    # a narrow beam leaves dark rows between its lines, and a wide one none
    assert narrow.astype(float).mean(axis=(1, 2)).min() < 0.2 * wide.astype(float).mean(axis=(1, 2)).min()


def test_the_newest_wins(client: TestClient, bench: Bench) -> None:
    newer = bench.newest.begin("explore", "t", 5)
    found = ask(client, bench.first, DROP, want=["glass"], numbers=True)
    assert [told["kind"] for told, _ in found] == ["stale"] and not newer()
    assert ask(client, bench.first, DROP)[-1][0]["kind"] == "stale"  # it stays so
    other = served.asked(client, "/api/explore", tab="u", seq=1, frame=bench.first, chain=DROP)
    assert other[-1][0]["kind"] == "done"  # another tab is not concerned


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"frame": "nope"}, "not here any more"),
        ({"frame": "../a.png"}, "not here any more"),
        ({"frame": 3}, "not here any more"),
        ({"chain": "line-dorp lines=24"}, "did you mean 'line-drop'"),
        ({"chain": 3}, "must be a text"),
        ({"chain": "measured file=/etc/passwd"}, "name it on the command line"),
        ({"chain": "measured file='a.json'"}, "name it on the command line"),
        ({"display": {"key": "nope"}}, "display: valid"),
        ({"display": {"key": "studio-36cm-800", "values": {"beam_width": "99"}}}, "beam_width is 99"),
        ({"display": {"key": "studio-36cm-800", "values": {"nope": "1"}}}, "unknown key"),
        ({"want": ["moon"]}, "want is none of"),
        ({"tab": ""}, "tab is"),
        ({"seq": "1"}, "seq is"),
    ],
)
def test_bad_requests_get_one_line(client: TestClient, bench: Bench, table: dict, words: str) -> None:
    good = {"tab": "t", "seq": 1, "frame": bench.first, "chain": DROP}
    done = client.post("/api/explore", json={**good, **table})
    assert done.status_code == 400 and words in done.json()["error"]
    assert "\n" not in done.json()["error"]


def test_what_a_chain_cannot_take_is_told_with_its_place(client: TestClient, bench: Bench) -> None:
    found = ask(client, bench.first, f"{DROP}, field-only")
    assert found[-1][0]["kind"] == "error" and found[-1][0]["place"] == {"stage": 1}


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b"\xff", b'{"a":' * 5000, b"1" * 1_000_001])
def test_what_is_no_request(client: TestClient, body: bytes) -> None:
    done = client.post("/api/explore", content=body)
    assert done.status_code == 400 and done.json()["error"]

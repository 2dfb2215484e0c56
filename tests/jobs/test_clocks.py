"""The clocks job: what it says of pairs, tolerances and two boxes in series."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from scalesim.errors import ParameterError
from scalesim.jobs.clocks.clocks import clocks
from scalesim.saving import save


def test_a_pair_is_told_with_its_figures() -> None:
    found = clocks(source="59.94", display="60")
    (pair,) = found.to_dict()["pairs"]
    assert pair["wrap_s"] == pytest.approx(16.68333) and pair["repeats_per_s"] == pytest.approx(
        0.05994, abs=1e-5
    )
    assert pair["drift_us_per_s"] == pytest.approx(-1000) and pair["drops_per_s"] == 0
    said = found.sentences()[0]
    assert "repeats a picture" in said and "16.7 s" in said and "rolls down" in said
    assert "drops a picture" in clocks(source="60", display="59.94").sentences()[0]


def test_equal_rates_drift_only_as_far_as_crystals_are_off() -> None:
    """By hand: two clocks 50 ppm off differ by 100 µs/s at most, and a 59.94 Hz frame then takes 166.8 s."""
    assert "nothing drifts" in clocks(source="60", display="60").sentences()[0]
    said = clocks(source="59.94", display="480p", ppm=50).sentences()[0]
    assert "100 µs/s" in said and "2 min 47 s" in said
    assert "for ever" in clocks(source="59.94", display="59.9412", ppm=50).sentences()[1]


def test_fifty_and_back_is_told() -> None:
    found = clocks(source="50", box="60", display="50")
    said = " ".join(found.sentences())
    assert "10 hitches a second" in said and "5.7 ms" in said and "30 are lost and 30 shown again" in said
    assert found.to_dict()["fifty_in_sixty"]["starts_that_lose"] == pytest.approx(0.8, abs=0.02)


def test_without_rates_the_table(tmp_path: Path) -> None:
    found = clocks()
    assert len(found.table().rows) == len(found.to_dict()["standard"]) >= 10
    json.dumps(save(found, tmp_path / "out"), allow_nan=False)


@pytest.mark.parametrize("keys", [{"source": "60"}, {"source": "60", "display": "quick"}])
def test_refused(keys: dict[str, str]) -> None:
    with pytest.raises(ParameterError, match=r"two rates|no rate"):
        clocks(**keys)


def test_measured_rates_are_told_as_they_were_given() -> None:
    """60.0005 Hz was told as 60.001; 59.94 stays what people write."""
    found = clocks(source="59.9401", box="60.0005")
    assert "59.9401 Hz into box at 60.0005 Hz" in found.sentences()[0] and "60.0005 Hz" in found.title
    assert "Source at 59.94 Hz into box at 60 Hz" in clocks(source="59.94", box="60").sentences()[0]
    assert "at 60.000001 Hz" in clocks(source="60.000001", box="60").sentences()[0]

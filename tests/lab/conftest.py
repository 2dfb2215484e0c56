"""A lab with one named frame, in a folder of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import served
from lab.browsing import chromium, lab, lab_folder, open_lab
from starlette.testclient import TestClient

from scalesim.lab.begin import bench_of
from scalesim.lab.bench import Bench

__all__ = ["bench", "chromium", "client", "lab", "lab_folder", "open_lab"]


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """A lab that was started with one frame; what it saves lies in a folder of the test's."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "store").mkdir()
    return bench_of([served.picture_file(tmp_path)], {}, tmp_path / "store", None)


@pytest.fixture
def client(bench: Bench) -> Iterator[TestClient]:
    """The page of that lab."""
    with served.client_of(bench) as client:
        yield client

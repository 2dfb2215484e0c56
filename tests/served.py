"""A lab under test without a network: requests as the page makes them, records taken apart."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from starlette.testclient import TestClient

from scalesim.lab.app import make_app
from scalesim.lab.bench import Bench

PORT = 8123
HOME = f"http://127.0.0.1:{PORT}"


def client_of(bench: Bench, **headers: str) -> TestClient:
    """Return what asks as the served page does."""
    own = {"X-Lab-Token": bench.token, "Origin": HOME, **headers}
    return TestClient(make_app(bench, PORT), base_url=HOME, headers=own)


def records(content: bytes) -> list[tuple[dict[str, Any], bytes]]:
    """Return the records of an answer: what each says, and what follows it."""
    found, at = [], 0
    while at < len(content):
        size = int.from_bytes(content[at : at + 4], "little")
        told = json.loads(content[at + 4 : at + 4 + size])
        at += 4 + size + told.get("bytes", 0)
        found.append((told, content[at - told.get("bytes", 0) : at]))
    return found


def asked(client: TestClient, path: str, **table: Any) -> list[tuple[dict[str, Any], bytes]]:
    """Post a table; return the records of the answer."""
    done = client.post(path, json=table)
    assert done.status_code == 200, done.text
    return records(done.content)


def dots(packed: bytes) -> np.ndarray:
    """Return the dots of a picture that was sent."""
    return np.asarray(Image.open(io.BytesIO(packed)).convert("RGB"))


def picture_file(folder: Path, name: str = "a.png", lines: int = 48, samples: int = 64) -> Path:
    """Write a picture of noise blocks; return its path."""
    dice = np.random.RandomState(len(name))
    codes = dice.randint(0, 256, (lines // 4, samples // 4, 3)).astype(np.uint8)
    Image.fromarray(codes.repeat(4, axis=0).repeat(4, axis=1)).save(folder / name)
    return folder / name

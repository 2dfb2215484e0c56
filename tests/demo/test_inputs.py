"""The files in inputs/ are what the package draws and ships."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from few import few
from PIL import Image

from scalesim.chain import Chain
from scalesim.demo.bench import SCENES, Scene, chain_files, display_files
from scalesim.tube.display import Display

INPUTS = Path(__file__).parents[2] / "inputs"


def disagreement(a: np.ndarray, b: np.ndarray) -> float:
    """Return the share of codes that differ; sin and exp may differ in the last bit between machines."""
    return 1.0 if a.shape != b.shape else float((a != b).mean())


@pytest.mark.parametrize("scene", few(SCENES, 2), ids=lambda scene: scene.key)
def test_frames_are_as_drawn(scene: Scene) -> None:
    """Redrawn, at most one code in a thousand differs."""
    stored = np.asarray(Image.open(INPUTS / "frames" / f"{scene.key}.png"))
    drawn = scene.draw()
    assert drawn.dtype == np.uint8
    assert disagreement(stored, drawn) < 1e-3
    assert disagreement(stored, np.roll(drawn, 1, axis=0)) > 1e-3, "the comparison cannot fail"


def test_chain_files_are_the_packages() -> None:
    """Byte for byte, none missing, none more."""
    stored = {path.stem: path.read_text("utf-8") for path in (INPUTS / "chains").glob("*.toml")}
    assert stored == chain_files()


def test_display_files_are_the_packages_and_have_circuits() -> None:
    """Byte for byte, none missing, none more; each says what it is and has a vertical circuit."""
    stored = {path.stem: path.read_text("utf-8") for path in (INPUTS / "displays").glob("*.toml")}
    assert stored == display_files()
    for key, text in stored.items():
        display = Display.from_toml(text)
        assert text.startswith("# ") and display.name.replace(" ", "-") == key
        assert display.vertical is not None


def test_chains_parse_round_trip_and_are_used() -> None:
    """Every chain has a name and a comment, survives both forms, and is shown with some scene."""
    used = {key for scene in SCENES for key in scene.chains}
    assert used == set(chain_files())
    for key, text in chain_files().items():
        chain = Chain.from_toml(text)
        assert text.startswith("# "), key
        assert chain.name, key
        assert Chain(str(chain)) == chain == Chain.from_toml(chain.to_toml())


def test_names_are_unique() -> None:
    """Two chains of one name could not be told apart in a table."""
    names = [Chain.from_toml(text).name for text in chain_files().values()]
    assert len(set(names)) == len(names)

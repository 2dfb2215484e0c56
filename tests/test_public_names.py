"""What a notebook user types: every public name is there, and the snippets of the API run."""

from __future__ import annotations

import numpy as np
import pytest
from hand import taps

import scalesim as ss
from scalesim.stages import STAGES


@pytest.mark.parametrize("name", ss.__all__)
def test_every_public_name_is_there(name: str) -> None:
    assert getattr(ss, name) is not None


def test_names_are_listed_once_and_in_dir() -> None:
    assert len(set(ss.__all__)) == len(ss.__all__)
    assert set(ss.__all__) <= set(dir(ss))


def test_every_stage_is_public() -> None:
    """A stage that a chain's text can name, Python can name too."""
    missing = [cls.__name__ for cls in STAGES.values() if getattr(ss, cls.__name__, None) is not cls]
    assert not missing, f"add {', '.join(missing)} to _STAGES in scalesim/__init__.py"


def test_an_unknown_name_lists_the_known_ones() -> None:
    with pytest.raises(AttributeError, match=r"no name 'LineDrops'.*LineDrop"):
        ss.LineDrops  # noqa: B018
    with pytest.raises(ImportError):
        from scalesim import LineDrops  # noqa: F401


def test_version_is_three_numbers() -> None:
    assert all(part.isdigit() for part in ss.__version__.split(".")) and ss.__version__.count(".") == 2


# the snippets


def test_text_and_stages_make_equal_chains() -> None:
    chain = ss.Chain("line-average lines=480, position lines=1, interlace, field-only")
    assert chain == ss.Chain(ss.LineAverage(lines=480), ss.Position(lines=1), ss.Interlace(), ss.FieldOnly())


def test_the_matrix_itself() -> None:
    """Top-field line 120 is frame line 240, moved down by one: box line 239, span [358.5, 360) of 720."""
    chain = ss.Chain("line-average lines=480, position lines=1, interlace, field-only")
    clip = ss.still_clip(np.zeros((720, 1280, 3), np.float32))
    phase = chain.operator(clip.raster).phases[0]
    assert taps(phase, 120) == pytest.approx({358: 1 / 3, 359: 2 / 3}, abs=2e-9)
    lines, weights = phase.taps(120)
    assert lines.tolist() == [358, 359] and weights.dtype == np.float64


def test_predict_on_an_array() -> None:
    frame = np.random.RandomState(0).uniform(size=(48, 64, 3)).astype(np.float32)
    seen = ss.predict(
        frame, "line-average lines=32, position lines=1, interlace, field-only", metrics=["ssim"]
    )
    assert isinstance(seen, ss.Prediction)
    assert seen.woven.shape == (32, 64, 3) and seen.landed.shape == (16, 64, 3)
    assert set(seen.metrics) == {"ssim"}
    assert seen.raster == ss.Raster(16, 64, seen.raster.rate, seen.raster.fields, seen.raster.aspect)


def test_predict_takes_a_clip_or_a_chain_too() -> None:
    frame = np.random.RandomState(0).uniform(size=(48, 64, 3)).astype(np.float32)
    chain = ss.Chain(ss.LineDrop(lines=16, phase=1))
    one = ss.predict(ss.still_clip(frame), chain, metrics=[])
    other = ss.predict(frame, "line-drop lines=16 phase=1", metrics=[])
    assert np.array_equal(one.landed, other.landed) and np.array_equal(one.landed, frame[1::3])
    assert dict(one.metrics) == {}


def test_errors_are_caught_by_their_base_and_by_their_builtin() -> None:
    for kind in (ss.ScalesimError, ValueError):
        with pytest.raises(kind):
            ss.Chain("line-dorp lines=240")

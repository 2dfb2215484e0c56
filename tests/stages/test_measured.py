"""`measured`: a box known only by its operator file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import properties
import pytest

from scalesim.chain import Chain
from scalesim.core.operator_file import FieldRows, OperatorFile
from scalesim.core.raster import Field, Raster
from scalesim.errors import ParameterError, ReadError
from scalesim.jobs.predict.predict import predict
from scalesim.stages.measured import Measured

LINES = 36


def like(chain: str, lines: int = LINES) -> OperatorFile:
    """Return the operator file of a box that does what a chain's line operator does."""
    parsed = Chain(chain)
    raster = Raster(lines, 8)
    after = parsed.resolve(raster).output
    operator = parsed.operator(raster)
    fields = []
    for own, phase in zip(after.fields, operator.phases, strict=True):
        taps = [phase.taps(r) for r in range(after.lines)]
        rows = tuple((int(c[0]), tuple(np.bincount(c - c[0], w))) for c, w in taps)
        fields.append(FieldRows(Field(own.parity, own.landing), 3.0 * own.parity, rows))
    return OperatorFile("a box", lines, 1, "code", 3.0 * after.period, tuple(fields))


@pytest.fixture
def box(tmp_path: Path) -> Path:
    path = tmp_path / "box.json"
    path.write_text(like("line-average lines=12").to_json(), encoding="utf-8")
    return path


def test_it_does_what_the_box_did(box: Path) -> None:
    """To the digits of the file."""
    frame = np.random.RandomState(1).rand(LINES, 8, 3).astype(np.float32)
    measured, named = (
        predict(frame, c, metrics=[]).woven for c in (f"measured file={box}", "line-average lines=12")
    )
    np.testing.assert_allclose(measured, named, atol=1e-6)
    assert not np.allclose(measured, predict(frame, "line-drop lines=12", metrics=[]).woven, atol=1e-2)


def test_it_can_give_fields(tmp_path: Path) -> None:
    path = tmp_path / "fields.json"
    path.write_text(like("line-average lines=12, interlace").to_json(), encoding="utf-8")
    raster = Raster(LINES, 8)
    assert Measured(file=str(path)).raster(raster).scan == "interlaced"
    frame = np.random.RandomState(2).rand(LINES, 8, 3).astype(np.float32)
    found = predict(frame, f"measured file={path}", metrics=[])
    np.testing.assert_allclose(
        found.woven, predict(frame, "line-average lines=12, interlace", metrics=[]).woven, atol=1e-6
    )


def test_laws(box: Path) -> None:
    stage, raster = Measured(file=str(box)), Raster(LINES, 24)
    properties.keys_round_trip(stage)
    properties.output_is_on_its_raster(stage, raster)
    properties.input_is_untouched(stage, raster)
    properties.text_round_trips(Chain(stage, name="one"))
    properties.toml_round_trips(Chain(stage, name="one"))
    properties.flat_stays_flat(stage, raster)


def test_a_changed_file_is_read_again(box: Path) -> None:
    stage = Measured(file=str(box))
    assert stage.raster(Raster(LINES, 8)).lines == 12
    box.write_text(like("line-average lines=9").to_json(), encoding="utf-8")
    import os

    os.utime(box, ns=(1, 1))
    assert stage.raster(Raster(LINES, 8)).lines == 9


def test_another_source_is_refused(box: Path) -> None:
    with pytest.raises(ParameterError, match="was measured with 36 lines"):
        Measured(file=str(box)).raster(Raster(48, 8))


@pytest.mark.parametrize("name", ["none.json", "\0", "."])
def test_a_file_that_is_not_there(tmp_path: Path, name: str) -> None:
    with pytest.raises((ReadError, ParameterError)) as caught:
        Measured(file=name if name == "\0" else str(tmp_path / name)).raster(Raster(LINES, 8))
    assert "\n" not in str(caught.value)

"""The stage resync: keys, what it refuses, and that it changes no content."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.core.picture import still_stream
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.core.sync_wave import SyncChange
from scalesim.errors import ParameterError
from scalesim.stages.resync import Resync

FIELDS = Raster(240, 4, rate=Fraction(60000, 1001), fields=TOP_FIRST)


def test_content_and_landing_stay() -> None:
    frame = np.random.RandomState(0).uniform(0, 1, (480, 4, 3))
    source = Raster(480, 4)
    plain = Chain("interlace").run_still(source, still_stream(frame, source))
    after = Chain("interlace, resync start=line-start").run_still(source, still_stream(frame, source))
    assert all(np.array_equal(a.values, b.values) for a, b in zip(plain, after, strict=True))
    assert after[0].raster.fields == TOP_FIRST and after[0].raster.sync == SyncChange((0, -0.5), (0, -0.5))


@pytest.mark.parametrize(
    ("keys", "change"),
    [
        ("", SyncChange()),
        ("start=line-start", SyncChange((0, -0.5), (0, -0.5))),
        ("start=line-start moves=edge", SyncChange((0, -0.5), (0, 0))),
        ("start=-0.1", SyncChange((-0.1, -0.1), (-0.1, -0.1))),
        ("start=keep/0.25", SyncChange((0, 0.25), (0, 0.25))),
        ("extra_us=0/12 extra_lines=1.5", SyncChange(extra_us=(0, 12), extra_lines=(1.5, 1.5))),
        (
            "combine=xor broad_lines=2.5 polarity=positive",
            SyncChange(combine="xor", broad_lines=2.5, inverted=True),
        ),
        ("equalising=drop serrations=line-rate", SyncChange(equalising=False, serrations="line-rate")),
    ],
)
def test_keys_by_hand(keys: str, change: SyncChange) -> None:
    (stage,) = Chain(f"resync {keys}").stages
    assert isinstance(stage, Resync) and stage.change() == change
    assert Chain(Chain(stage).text) == Chain(stage) == Chain.from_toml(Chain(stage).to_toml())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("resync start=soon", "start is 'soon'; it must be keep, line-start, a number from -20 to 20"),
        ("resync start=0/1/2", "start is '0/1/2'"),
        ("resync start=0/nan", "start is '0/nan'"),
        ("resync start=99", "start is '99'"),
        ("resync extra_us=-3", "extra_us is '-3'; it must be a number from 0 to 60"),
        ("resync moves=edge", "moves is edge, but start is keep"),
        ("resync combine=or serrations=drop", "serrations is drop with combine=or"),
        ("resync extra_lines=2", "extra_lines is 2 without a pulse"),
        ("resync broad_lines=0", "broad_lines is 0"),
        ("resync phase=1", "unknown key 'phase'"),
    ],
)
def test_bad_keys_are_refused_in_one_line(text: str, words: str) -> None:
    with pytest.raises(ParameterError, match=r"^[^\n]*$") as caught:
        Chain(text)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("resync", "it needs two fields (put interlace before it)"),
        ("interlace, field-only, resync", "leave field-only out"),
        ("interlace, resync start=line-start, field-only", "leave one of them out"),
        ("interlace, resync start=line-start, resync", "say all changes in one resync"),
        ("interlace, resync start=0/3 moves=edge", "leaves 0 lines of vertical sync of 3"),
    ],
)
def test_what_cannot_stand_together(text: str, words: str) -> None:
    with pytest.raises(ParameterError, match=r"^[^\n]*$") as caught:
        Chain(text).resolve(Raster(480, 4))
    assert words in str(caught.value)


def test_it_is_for_15_khz() -> None:
    with pytest.raises(ParameterError, match="it is for 15 kHz fields of 240 or 288 lines"):
        Chain("interlace, resync").resolve(Raster(1080, 4))


def test_a_box_that_makes_other_fields_makes_its_own_sync() -> None:
    changed = "interlace, resync start=line-start"
    assert Chain(changed).resolve(Raster(480, 4)).output.sync is not None
    assert Chain(f"{changed}, level gain=0.9").resolve(Raster(480, 4)).output.sync is not None
    assert Chain(f"{changed}, deinterlace").resolve(Raster(480, 4)).output.sync is None
    assert Chain(f"{changed}, line-drop lines=120").resolve(Raster(480, 4)).output.sync is None


def test_every_raster_knows_its_sync() -> None:
    """525 lines a frame at 60 Hz, 625 at 50; 262 or 263 for a progressive picture by its rate."""
    wave = FIELDS.wave()
    assert round(wave.period_us / wave.line_us) == 525 and wave.verticals_us[1] % wave.line_us > 30
    half = Raster(288, 4, rate=Fraction(50), fields=TOP_FIRST).wave()
    assert round(half.period_us / half.line_us) == 625
    for rate, lines in ((Fraction(1125000, 18733), 262), (Fraction(2250000, 37609), 263)):
        own = Raster(240, 4, rate=rate).wave()
        assert round(own.field_us / own.line_us) == lines and own.verticals_us == own.lines_us

"""From readings to overscan: the stage put where the tube is hides what the person could not see."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from scalesim import Chain, still_clip
from scalesim.charts.seen import overscan_from_seen, parse_readings
from scalesim.core.raster import visible_slices
from scalesim.errors import ParameterError
from scalesim.jobs.predict.predict import predict

READ = {"top": 9, "bottom": 7, "left": 30, "right": 28}


def test_parse() -> None:
    assert parse_readings("top=9,bottom=7,left=30,right=28") == READ
    assert parse_readings(" Top=9 bottom=7.0,  left=30 right=28, ") == READ


@pytest.mark.parametrize(
    "text, says",
    [
        ("top=9,botom=7", r"seen: 'botom' is no side; did you mean 'bottom'"),
        ("top=9,top=8", "seen: top is given twice"),
        ("top=nine", "seen: top is 'nine'; it must be a finite number"),
        ("top", "seen: 'top' is no side=number"),
        ("", "seen: '' is no side=number"),
    ],
)
def test_parse_errors(text: str, says: str) -> None:
    with pytest.raises(ParameterError, match=says) as error:
        parse_readings(text)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(
    "changed, says",
    [
        ({"top": -1}, "seen: top is -1; it must be at least 0"),
        ({"bottom": 361}, "seen: bottom is 361 lines; it must be at most 360"),
        ({"left": 641}, "seen: left is 641 samples; it must be at most 640"),
        ({"right": float("nan")}, "seen: right is nan"),
        ({"upper": 3}, "seen: 'upper' is no side"),
        ({"top": 360, "bottom": 360}, "something must stay visible"),
    ],
)
def test_bad_readings(changed: dict[str, float], says: str) -> None:
    with pytest.raises(ParameterError, match=says) as error:
        overscan_from_seen({**READ, **changed}, "720p")
    assert "\n" not in str(error.value)


def test_a_missing_side() -> None:
    with pytest.raises(ParameterError, match="seen: left, right is missing; read all four"):
        overscan_from_seen({"top": 1, "bottom": 1}, "720p")


def test_the_tube_fed_directly() -> None:
    seen = overscan_from_seen(READ, "720p")
    assert seen.stage == "overscan top=9 bottom=7 left=30 right=28"
    assert seen.percent == pytest.approx(
        {"top": 1.25, "bottom": 0.9722, "left": 2.34375, "right": 2.1875}, 1e-4
    )
    keys = tomllib.loads(seen.display_toml)
    # 2.2222 % of the height and 4.53125 % of the width are hidden, in all
    assert keys == {"overscan_percent": 3.38}


def test_an_interlaced_mode_counts_field_lines() -> None:
    """The rulers of a woven frame count frame lines; a stage on fields counts lines of one field."""
    seen = overscan_from_seen({"top": 20, "bottom": 10, "left": 9, "right": 9}, "480i")
    assert (seen.sides["top"], seen.sides["bottom"], seen.lines) == (10, 5, 240)
    assert seen.percent["top"] == pytest.approx(100 * 20 / 480)


def test_a_stated_ratio() -> None:
    seen = overscan_from_seen(READ, "720p", ratio=(3, 2))
    assert seen.stage == "overscan top=3 bottom=2.3333 left=15 right=14"
    with pytest.raises(ParameterError, match="ratio of lines is 0; it must be above 0"):
        overscan_from_seen(READ, "720p", ratio=(0, 1))


def _numbered(lines: int, samples: int) -> np.ndarray:
    """A frame whose red tells the line and whose green the sample, as shares."""
    frame = np.zeros((lines, samples, 3), np.float32)
    frame[..., 0] = ((np.arange(lines) + 0.5) / lines)[:, None]
    frame[..., 1] = ((np.arange(samples) + 0.5) / samples)[None]
    return frame


@pytest.mark.parametrize(
    "mode, aspect, chain",
    [
        ("720p60", None, "line-average lines=240"),
        ("720p60", "4:3", "fit how=crop, line-average lines=240, resample samples=720"),
        ("720p60", None, "line-average lines=480, interlace"),
        ("480p59.94", None, "size height=90, position lines=6, line-average lines=240"),
    ],
)
def test_the_stage_hides_what_was_not_seen(mode: str, aspect: str | None, chain: str) -> None:
    """Put on the chain's output, the overscan leaves the lines and samples the readings say.

    Seen on the picture: every line carries its own number through the chain, so the first line that is
    left shows the reading to within one output line, and no line above it.
    """
    read = {"top": 36, "bottom": 27, "left": 60, "right": 40}
    lines, samples = (720, 1280) if mode == "720p60" else (480, 720)
    box = predict(still_clip(_numbered(lines, samples), mode=mode), Chain(chain), metrics=())
    seen = overscan_from_seen(read, mode, aspect=aspect, geometry=box.geometry, output=box.raster)
    after = predict(
        still_clip(_numbered(lines, samples), mode=mode), Chain(f"{chain}, {seen.stage}"), metrics=()
    )
    rows, columns = visible_slices(after.raster, *after.landed.shape[:2])
    left = after.landed[rows, columns]
    step, across = lines / after.landed.shape[0], samples / after.landed.shape[1]
    margin = samples // 8 if aspect else 0
    centre = left.shape[1] // 2
    first, last = left[0, centre, 0] * lines, left[-1, centre, 0] * lines
    assert read["top"] - 0.1 <= first - 0.5 * min(step, 1) <= read["top"] + 1.5 * step
    assert lines - read["bottom"] - 1.5 * step <= last + 0.5 * min(step, 1) <= lines - read["bottom"] + 0.1
    middle = left.shape[0] // 2
    begin, end = left[middle, 0, 1] * samples, left[middle, -1, 1] * samples
    assert begin == pytest.approx(margin + read["left"], abs=1.5 * max(across, 1))
    assert end == pytest.approx(samples - margin - read["right"], abs=1.5 * max(across, 1))
    # A reading two output lines off is told apart.
    assert abs(first - (read["top"] + 3 * step)) > step


def test_what_the_chain_cuts_off_itself_is_not_hidden_by_the_tube() -> None:
    """A crop of 12.5 % at each side of 1280: 30 samples in from the edge are long gone."""
    box = predict(still_clip(_numbered(720, 1280), mode="720p60"), Chain("fit how=crop"), metrics=())
    seen = overscan_from_seen(READ, "720p", geometry=box.geometry, output=box.raster)
    assert seen.sides["left"] == 0 and seen.sides["right"] == 0 and seen.sides["top"] == pytest.approx(9)


@pytest.mark.parametrize("phase", [0, 1, 2])
def test_which_line_of_three_is_kept_makes_no_odds(phase: int) -> None:
    """Of 720 lines 36 are hidden: 12 of 240, whichever of its 3 lines each output line shows."""
    chain = Chain(f"line-drop lines=240 phase={phase}")
    box = predict(still_clip(_numbered(720, 1280), mode="720p60"), chain, metrics=())
    read = {"top": 36, "bottom": 36, "left": 0, "right": 0}
    seen = overscan_from_seen(read, "720p", geometry=box.geometry, output=box.raster)
    assert seen.stage == "overscan top=12 bottom=12 left=0 right=0"


def test_a_geometry_needs_its_raster() -> None:
    box = predict(still_clip(_numbered(720, 1280), mode="720p60"), Chain("line-drop lines=240"), metrics=())
    with pytest.raises(ParameterError, match="give both, or a ratio"):
        overscan_from_seen(READ, "720p", geometry=box.geometry)


def test_as_a_document() -> None:
    assert overscan_from_seen(READ, "720p").to_dict()["stage"] == "overscan top=9 bottom=7 left=30 right=28"

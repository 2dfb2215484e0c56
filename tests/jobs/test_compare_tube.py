"""Pictures on the tube: light and places worked out by hand, and what a comparison makes of them.

A display's steady white has the mean light 1 (ITU-R BT.1886 with its own white and black), whatever its beam;
a scan line's light lies about the middle of that line.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.core.clip import still_clip
from scalesim.core.encoding import code_to_light
from scalesim.draw.views import Zoom
from scalesim.errors import ParameterError
from scalesim.figure import Figure
from scalesim.jobs.compare.asked import StillAsked
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.look import face_for
from scalesim.jobs.compare.on_tube import glass_place, part_of_glass, whole_glass
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.predict import predict
from scalesim.result import Picture, Viewer
from scalesim.saving import save
from scalesim.tube.display import Display, display_named

STUDIO = replace(display_named("studio-36cm-800"), overscan_percent=0.0)
HIDDEN = replace(STUDIO, overscan_percent=10.0)
CHAINS = {"drop": "line-drop lines=240", "two fields": "line-average lines=480, interlace"}
WINDOW, ZOOM = (300.0, 400.0, 96.0, 160.0), Zoom(3, 2.25)


def after(values: NDArray, chain: str, mode: str = "720p60") -> Outcome:
    return predict(still_clip(values.astype(np.float32), mode=mode), chain, metrics=[])


def light_of(outcome: Outcome, display: Display = STUDIO) -> tuple[NDArray, float]:
    """Return the light of a part as shown, and at which share."""
    found = part_of_glass(outcome, display, "4:3", WINDOW, ZOOM)
    assert found.codes.shape == (288, 360, 3) and found.codes.dtype == np.uint8
    return code_to_light(found.codes / 255.0), found.shown_at / 100


@pytest.mark.parametrize("chain", CHAINS.values())
def test_white_has_the_displays_mean_light(chain: str) -> None:
    light, share = light_of(after(np.ones((720, 1280, 3)), chain))
    assert light.mean() == pytest.approx(share, rel=0.01)


def test_of_two_fields_the_mean_is_shown() -> None:
    """White on the frame lines of one field only: half of the light of white."""
    values = np.zeros((720, 1280, 3))
    values[0::2] = 1
    light, share = light_of(after(values[:480], "interlace", "custom"))
    assert light.mean() == pytest.approx((0.5 + 0.5 * STUDIO.black) * share, rel=0.02)


@pytest.mark.parametrize(("lines", "chain"), [(240, CHAINS["drop"]), (480, CHAINS["two fields"])])
def test_a_line_is_painted_where_the_lines_of_the_close_look_are(lines: int, chain: str) -> None:
    """Source lines 348 to 350, white: scan line 116 of 240, frame lines 232 and 233 of 480: middle 349.5."""
    values = np.zeros((720, 1280, 3))
    values[348:351] = 1
    light, _ = light_of(after(values, chain))
    over = light[:, 180, 1] - light[:, 180, 1].min()
    middle = float((over * (np.arange(288) + 0.5)).sum() / over.sum())
    assert middle == pytest.approx((349.5 - 300) * 3, abs=0.75), lines


def test_across_the_line_too() -> None:
    """Samples 470 to 489, white: their middle 480 lies (480 - 400) * 2.25 dots from the left."""
    values = np.zeros((720, 1280, 3))
    values[:, 470:490] = 1
    light, _ = light_of(after(values, CHAINS["drop"]))
    over = light[..., 1].mean(axis=0) - light[..., 1].mean(axis=0).min()
    assert float((over * (np.arange(360) + 0.5)).sum() / over.sum()) == pytest.approx(180, abs=0.5)


def test_what_the_display_hides_is_black() -> None:
    """10 % of the height are hidden: 5 % at the top, 36 of 720 lines; the whole glass lies inside."""
    white = after(np.ones((720, 1280, 3)), CHAINS["drop"])
    found = part_of_glass(white, HIDDEN, "4:3", (0.0, 400.0, 96.0, 160.0), ZOOM)
    dark = found.codes.max(axis=(1, 2)) == 0
    assert dark[: 36 * 3].all() and not dark[36 * 3 + 6 :].any()
    face = face_for([white.raster], "4:3")
    place = glass_place(white, HIDDEN, face)
    assert (place.x, place.y, place.width, place.height) == (64, 48, 1152, 864)  # of 1280 by 960
    assert whole_glass(white, HIDDEN, "4:3", face).codes.shape == (864, 1152, 3)


def frame() -> NDArray:
    random = np.random.RandomState(2)
    return np.repeat(np.repeat(random.randint(0, 256, (48, 64, 3)), 15, 0), 20, 1) / 255


def made(**more):  # type: ignore[no-untyped-def]  # options of compare
    clip = still_clip(frame().astype(np.float32), mode="720p60", name="dots")
    return compare(CHAINS, [clip], **{"displays": ["studio-36cm-800", "livingroom-68cm-350"], **more})


def test_a_page_has_every_chain_on_every_display() -> None:
    parts = {part.anchor: part for part in made().parts()}
    part = parts["frame-1-tube"]
    tiles = [item for item in part.items if isinstance(item, Picture)]
    assert len(tiles) == 4 and len({tile.name for tile in tiles}) == 4
    close = [item for item in parts["frame-1"].items if isinstance(item, Picture)][1:]
    pictures = (tile.values() if callable(tile.values) else tile.values for tile in (*tiles, *close))
    shapes = {np.shape(picture) for picture in pictures}
    assert len(shapes) == 1  # the same part at the same scale as the lines
    (viewer,) = [item for item in part.items if isinstance(item, Viewer)]
    assert len(viewer.layers) == 5 and len(viewer.contestants) == 4
    assert not any(layer.fields for layer in viewer.layers)  # nothing alternates
    figures = [item for item in part.items if isinstance(item, Figure)]
    assert len(figures) == 2 and all(len(figure.views) == 3 for figure in figures)
    assert "mean of their light" in part.text[0] and "see Cautions" in part.text[0]
    assert "at 58 % of its light" in part.text[0] and "at 78 % of its light" in part.text[0]
    assert any("living room" in text and "studio" in text for text in parts["model"].text)


def test_without_a_display_there_is_no_glass() -> None:
    parts = list(made(displays=[]).parts())
    assert not [part for part in parts if part.anchor.endswith("tube")]
    assert not [text for part in parts for text in part.text if "On the tube" in text]


def test_asked_stills_are_on_the_tube_too(tmp_path: Path) -> None:
    found = made(stills=[StillAsked("dots", ("two fields",))], displays=[STUDIO])
    written = save(found, tmp_path / "o")
    assert written["displays"] == [STUDIO.name]
    names = {path.name for path in (tmp_path / "o" / "figures").glob("tube-*.png")}
    assert names == {f"tube-01-1{more}-{height}.png" for more in ("", "-2") for height in (1080, 2160)}


def test_an_unknown_display_is_refused() -> None:
    with pytest.raises(ParameterError, match="display is 'studio'"):
        made(displays=["studio"])

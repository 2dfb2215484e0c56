"""The demonstration's look at the glass: one part of one frame on two tubes, after several chains."""

from __future__ import annotations

from scalesim.core.raster import Raster
from scalesim.jobs.demo.scenes import WIDE, SceneResult
from scalesim.jobs.predict.crop import cut
from scalesim.jobs.predict.on_screen import HEIGHT, Glass, OnScreen, on_screen
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.prediction import Prediction
from scalesim.result import Part, Picture, Table
from scalesim.tube.cut import shown_window

SCENE = "kettle_crew"
CHAINS = ("drop-720p", "interlaced-filtered", "one-set-down")
DISPLAYS = ("livingroom-68cm-350", "studio-36cm-800")
FOLDER = "tube"
_SAID = {
    "progressive": "Every line is drawn in every field, with a dark gap between lines.",
    "interlaced": "The bottom field's lines fill the gaps of the top field's.",
    "field-only": "Both fields on one set of lines: the mean of the two is shown, the tube alternates.",
    "uneven": "The fields lie a fraction of a line apart, so their lines stand in pairs.",
}
TEXT = (
    "The living-room set's beam grows until it nearly closes the gaps; the studio monitor shows every line. "
    "The light is the mean of a whole frame, so nothing flickers here; each tube is shown darker than it is, "
    "so that its brightest lines are not clipped.",
)


def tube_part(result: SceneResult) -> Part:
    """Return the same part of a scene on each tube after each chain."""
    pictures: list[Picture] = []
    rows = []
    for display in DISPLAYS:
        height = min(Glass(display).screen(result.predictions[key].raster, HEIGHT).height for key in CHAINS)
        for key in CHAINS:
            prediction = result.predictions[key]
            glass = on_screen(_glass(display, prediction, height), prediction.cycle, prediction.raster)
            pictures.append(_picture(f"{FOLDER}/{key}-{display}", result, prediction, glass))
            rows.append(_row(prediction, glass))
    columns = ("chain", "display", "shown at, % of its light", "mean light of the tube, % of white")
    table = Table(
        "Light of the screens", columns, tuple(rows), ("left", "left", "right", "right"), folded=True
    )
    title = "On the tube: three chains across, two tubes down"
    return Part(title, TEXT, (*pictures, table), FOLDER, result.scene.title, layout="matrix")


def _glass(display: str, prediction: Prediction, height: int) -> Glass:
    """Return the glass at a height that all chains have; its lines take whole rows where that is its own."""
    own = Glass(display)
    same = own.screen(prediction.raster, HEIGHT).height == height
    return own if same else Glass(display, height=height)


def _place(outcome: Outcome, glass: OnScreen, look: tuple[float, float]) -> tuple[float, float]:
    """Return where a place of the source is on the screen's picture, in its dots."""
    raster: Raster = outcome.raster
    frame = outcome.source.frame
    assert frame is not None
    window = shown_window(raster, glass.display)
    line = outcome.geometry.landed(raster).inverse()(look[0] * frame.shape[0]) / raster.landed_lines
    sample = outcome.geometry.samples.inverse()(look[1] * frame.shape[1]) / raster.samples
    height, width = glass.pictures["screen"].shape[:2]
    down = (line - window.top) / (window.bottom - window.top) * height
    return down, (sample - window.left) / (window.right - window.left) * width


def _picture(name: str, result: SceneResult, prediction: Prediction, glass: OnScreen) -> Picture:
    whole = glass.pictures["screen"]
    return Picture(
        f"{name}-look",
        cut(whole, *_place(prediction, glass, result.scene.look), WIDE),
        f"{prediction.chain.name}, {glass.display.name}",
        f"A part of the frame after {prediction.chain.name} on a {glass.display.name} tube",
        _SAID[prediction.raster.scan],
        whole=whole,
        shown=name,
    )


def _row(prediction: Prediction, glass: OnScreen) -> tuple[str, ...]:
    facts = glass.facts
    shown, light = f"{facts['shown_at_percent']:g}", f"{facts['tube_mean_light_percent']:.1f}"
    return prediction.chain.name, glass.display.name, shown, light

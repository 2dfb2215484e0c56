"""Facts of the trade as orderings, on pictures this project did not make and on some it did.

Source: common practice, no published source; only the order is checked, never a figure, save where a
closed form is named. How got: the pictures are scikit-image's (0.26.0 from PyPI, ``skimage.data``, those
inside the wheel, at their own resolution, cropped to a multiple of six lines), frames of this package's
demo, and a 3-D scene of a general-purpose engine's sample models by its software renderer (panda3d
1.10.16 from PyPI). A picture of H lines stands for the console's: H/3 lines progressive, 2H/3 lines in
fields.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib import import_module
from itertools import pairwise

import numpy as np
import pytest
from external.chains import Array
from few import few
from frames30 import FRAMES
from skimage import data

from scalesim.chain import Chain
from scalesim.chain.coverage import coverage
from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.landed import landed
from scalesim.core.raster import Raster
from scalesim.jobs.predict.predict import predict

DROP = "line-drop lines={third} phase=1"
AVERAGE = "line-average lines={third}"
FIELDS = "line-average lines={two_thirds}, flicker-filter taps={taps}, interlace, field-only pair={pair}"

PHOTOS: dict[str, Callable[[], Array]] = {
    "astronaut": data.astronaut,
    "coffee": data.coffee,
    "camera": data.camera,
    "coins": data.coins,
    "page": data.page,
    "logo": data.logo,
    "street": lambda: data.stereo_motorcycle()[0],
}
FEW_EDGES: dict[str, Callable[[], Array]] = {"cat": data.cat, "rocket": data.rocket, "gravel": data.gravel}
"""Pictures with few clean horizontal edges: the measure needs none, so the order holds on them as well."""
DEMO = ("kettle_crew", "deepvault_corridor")
PIXEL_ART = "moss_tower"
"""Art three lines to the dot."""

SHARP = [*PHOTOS, *DEMO, "scene", *FEW_EDGES]
ALL = [*SHARP, PIXEL_ART]


def as_frame(picture: Array) -> Array:
    """Return (lines, samples, 3) float32 code values, lines cut to a multiple of 6."""
    colour = picture[..., None].repeat(3, axis=2) if picture.ndim == 2 else picture[..., :3]
    return colour[: colour.shape[0] // 6 * 6].astype(np.float32) / np.float32(255)


@cache
def frame(name: str) -> Array:
    """Return a picture by its name; skips the test when the 3-D engine is not installed."""
    if name == "scene":
        return FRAMES["meadow"].load()
    photos = PHOTOS | FEW_EDGES
    return as_frame(photos[name]() if name in photos else import_module(f"scalesim.demo.{name}.frame").draw())


@cache
def measured(name: str, chain: str, key: str) -> float:
    """Return one metric of a picture after a chain whose line counts follow from the picture's."""
    picture = frame(name)
    lines = picture.shape[0]
    text = chain.format(third=lines // 3, two_thirds=2 * lines // 3)
    value = predict(picture, text, mode="custom", metrics=[key]).metrics[key]
    assert value is not None
    return value


def fields(taps: str, pair: str = "down") -> str:
    """Return the field-only chain with those taps."""
    return FIELDS.replace("{taps}", taps).replace("{pair}", pair)


def edge_spread(name: str, chain: str) -> float:
    return measured(name, chain, "edge_spread_lines")


def flicker(name: str, taps: str) -> float:
    """Return the mean flicker over both pairings: which one a display takes is chance."""
    return sum(measured(name, fields(taps, pair), "flicker_percent") for pair in ("down", "up")) / 2


def rising(values: list[float]) -> bool:
    return all(a < b for a, b in pairwise(values))


@pytest.mark.parametrize("name", few(SHARP, 4))
def test_drop_is_sharper_than_average_and_that_than_filtered_fields(name: str) -> None:
    """Common practice, no published source: mean edge height drop < average < field-only with 1/2/1."""
    assert rising([edge_spread(name, chain) for chain in (DROP, AVERAGE, fields("1/2/1"))])


def test_art_of_three_lines_to_the_dot_is_the_exception() -> None:
    """Three equal lines average to themselves (3:1, phase 0): drop and average tie, fields are softer."""
    drop, average = (edge_spread(PIXEL_ART, chain) for chain in (DROP, AVERAGE))
    assert drop == pytest.approx(average, abs=1e-3)
    assert average < edge_spread(PIXEL_ART, fields("1/2/1"))


@pytest.mark.parametrize("name", ["coffee", "kettle_crew"])
def test_another_chain_in_that_order_is_caught(name: str) -> None:
    """Guard: a drop posing as the average, or unfiltered fields as filtered ones, breaks the order."""
    assert not rising([edge_spread(name, chain) for chain in (DROP, DROP, fields("1/2/1"))])
    assert not rising([edge_spread(name, chain) for chain in (DROP, fields("1/2/1"), fields("1"))])


@pytest.mark.parametrize("name", few(ALL, 5))
def test_filter_steadies_fields_on_one_set_of_lines(name: str) -> None:
    """Common practice, no published source: 1/2/1 flickers less than 1/6/1, that less than no filter."""
    assert rising([0.0, flicker(name, "1/2/1"), flicker(name, "1/6/1"), flicker(name, "1")])


def test_filter_steadies_all_pictures_together() -> None:
    """The same, averaged over all pictures and both pairings."""
    pictures = [name for name in ALL if name != "scene"]
    filtered, bare = (np.mean([flicker(name, taps) for name in pictures]) for taps in ("1/2/1", "1"))
    assert filtered < 0.9 * bare


@pytest.mark.parametrize("name", ["coffee", "kettle_crew", PIXEL_ART])
def test_paired_lines_do_not_flicker_when_they_share_a_line(name: str) -> None:
    """Both fields carry one content, so pair=down is exactly 0; no other filter or pairing is."""
    assert measured(name, fields("paired"), "flicker_percent") == 0.0
    assert measured(name, fields("paired", "up"), "flicker_percent") > 0.5
    assert measured(name, fields("1/2/1"), "flicker_percent") > 0.5


def outline_shares(text: str, first: int, lines: int = 480) -> list[float]:
    """Return the share, in eighths, that each scan line gets of an outline on frame lines first, first + 1.

    From the chain's operator alone: each field's weights, moved to where the field lands, and the mean
    of the two. (A mean in light is linear in light, so these are shares of light if the filter's are.)
    """
    chain, raster = Chain(text), Raster(lines, 16)
    operator, after = chain.operator(raster), chain.resolve(raster).output
    scan_lines = np.zeros(after.lines + 1)
    for phase, field in enumerate(after.fields):
        matrix = operator.phases[phase].lines
        assert matrix is not None
        down = int(field.landing)
        scan_lines[down : down + after.lines] += matrix.toarray()[:, first : first + 2].sum(axis=1) / 2
    return [round(8 * float(share), 9) for share in scan_lines if share > 0]


TWO_LINES = [
    ("flicker-filter taps=1/2/1, interlace, field-only pair=down", 240, [1, 6, 1]),
    ("flicker-filter taps=1/2/1, interlace, field-only pair=down", 241, [4, 4]),
    ("flicker-filter taps=1/2/1, interlace, field-only pair=up", 241, [1, 6, 1]),
    ("flicker-filter taps=1/2/1, interlace, field-only pair=up", 240, [4, 4]),
    ("interlace, field-only pair=down", 240, [8]),
    ("interlace, field-only pair=down", 241, [4, 4]),
    ("flicker-filter taps=paired, interlace, field-only pair=down", 240, [8]),
    ("flicker-filter taps=1/2/1, interlace first=bottom, field-only pair=down", 240, [1, 6, 1]),
]


@pytest.mark.parametrize(("text", "first", "eighths"), TWO_LINES)
def test_two_line_outline_sits_on_one_scan_line_at_the_right_pairing(
    text: str, first: int, eighths: list[float]
) -> None:
    """Common practice, no published source; the eighths follow from the taps by hand: 1/4 3/4 3/4 1/4."""
    assert outline_shares(text, first) == eighths


@pytest.mark.parametrize(("text", "first", "eighths"), TWO_LINES)
def test_landed_picture_and_coverage_say_the_same(text: str, first: int, eighths: list[float]) -> None:
    """`landed` of fields whose light is the outline's weights, and the weights the metrics are given."""
    chain, raster = Chain(text), Raster(480, 16)
    outline = np.zeros((480, 16, 3))
    outline[first : first + 2] = 1.0
    operator, after = chain.operator(raster), chain.resolve(raster).output
    light = code_to_light(landed([light_to_code(operator(outline, k)) for k in range(2)], after))[:, 0, 0]
    assert 8 * light[light > 1e-9] == pytest.approx(eighths, abs=1e-9)
    weights = coverage(chain.resolve(raster))
    assert weights is not None
    shares = weights[:, first : first + 2].sum(axis=1)
    assert 8 * shares[shares > 0] == pytest.approx(eighths, abs=1e-9)


def jaggedness(text: str, slope: float) -> float:
    """Return the deviation of a slanted edge's 50 % crossings from its true line, in scan lines (RMS).

    A hard-edged 1280x720 frame, as a renderer without anti-aliasing leaves it; the crossing of each
    sample by a straight line between line centres.
    """
    lines, samples = 720, 1280
    x = np.arange(samples) + 0.5
    true = 100.3 + slope * x
    grey = np.where(np.arange(lines)[:, None] + 0.5 > true, 0.8, 0.2).astype(np.float32)
    found = predict(np.repeat(grey[:, :, None], 3, axis=2), text, metrics=[])
    level = (found.landed[..., 0].astype(np.float64) - 0.2) / 0.6
    above = np.argmax((level[:-1] < 0.5) & (level[1:] >= 0.5), axis=0)
    a, b = level[above, np.arange(samples)], level[above + 1, np.arange(samples)]
    crossing = (above + 0.5 + (0.5 - a) / (b - a)) * lines / len(level)
    return float(np.std(crossing - true)) / (lines / found.raster.lines)


@pytest.mark.parametrize("slope", [0.05, 0.11, 0.23, 0.4])
def test_paired_480i_is_more_jagged_than_the_filter(slope: float) -> None:
    """Common practice, no published source: pairs of equal lines halve the steps a slant is drawn with."""
    paired, filtered = (
        jaggedness(f"line-average lines=480, flicker-filter taps={taps}, interlace", slope)
        for taps in ("paired", "1/2/1")
    )
    assert paired > 1.5 * filtered


@pytest.mark.parametrize("slope", [0.05, 0.11, 0.23])
def test_drop_has_the_staircase_of_whole_lines(slope: float) -> None:
    """Closed form: an error evenly spread over one line has the deviation 1/sqrt(12); an average has less."""
    assert jaggedness("line-drop lines=240 phase=1", slope) == pytest.approx(12**-0.5, rel=0.02)
    assert jaggedness("line-average lines=240", slope) < 0.5 * 12**-0.5

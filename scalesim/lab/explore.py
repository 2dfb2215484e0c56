"""A frame after a chain, piece by piece as it is had: the raster first, the glass next, the numbers last.

Everything is what `predict` gives; nothing is worked out here but where a picture lies on the face of the
tube. A request that a newer one of the same tab has overtaken stops between two pieces.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.codes import to_codes
from scalesim.core.encoding import code_to_light, luma
from scalesim.core.raster import Raster, Window
from scalesim.draw import diverging
from scalesim.errors import ParameterError, ScalesimError
from scalesim.jobs.compare.difference import LIMIT, difference
from scalesim.jobs.compare.made_of import looks_of, made_of
from scalesim.jobs.predict.on_screen import CLIP_HEIGHT, Glass
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.prediction import Prediction
from scalesim.jobs.predict.words import signal_sentence
from scalesim.lab.records import bmp, failed, record
from scalesim.metrics import METRICS, measure
from scalesim.page.viewer import taps_options
from scalesim.tube.cut import shown_window
from scalesim.tube.display import Display
from scalesim.tube.screen import Screen
from scalesim.typeset import typeset

FACE = (1280.0, 960.0)
"""Width and height of a 4:3 face, in units: 960 is a whole number of 240 and of 480 lines."""
WANTED = ("raster", "fields", "glass", "difference", "weights")


@dataclass(frozen=True)
class Request:
    """What a page asks for.

    Parameters:
        clip : the frame; chain : its files resolved
        display : of the glass; want : of `WANTED`; numbers : whether metrics are asked for
        against : the chain the difference is taken from, None for the ideal scaling
    """

    clip: Clip
    chain: Chain
    display: Display
    want: Sequence[str]
    numbers: bool = False
    against: Chain | None = None


def explored(request: Request, stale: Callable[[], bool]) -> Iterator[bytes]:
    """Yield the records of a request; the last is "done", "stale" or "error"."""
    begin = time.perf_counter()
    try:
        for piece in _pieces(request):
            if stale():
                yield record({"kind": "stale"})
                return
            yield piece
        yield record({"kind": "done", "ms": round(1000 * (time.perf_counter() - begin), 1)})
    except ScalesimError as error:
        yield record({"kind": "error", **failed(error)})
    except MemoryError:
        short = ParameterError("this needs more memory than there is; take a smaller frame, or fewer lines")
        yield record({"kind": "error", **failed(short)})


def _pieces(request: Request) -> Iterator[bytes]:
    found = predict(request.clip, request.chain, metrics=[])
    weights = _weights(found) if "weights" in request.want else {}
    yield _picture("raster", to_codes(found.landed), _window(Window()), _LABELS["raster"], **weights)
    yield record(_facts(found, request.display))
    if "fields" in request.want and len(found.cycle) == 2:
        yield from _fields(found)
    if "glass" in request.want:
        yield _glass(found, request.display)
    if "difference" in request.want:
        yield _difference(found, request)
    if request.numbers:
        yield from _numbers(found)


_LABELS = {
    "raster": "The picture as its lines land on the screen.",
    "glass": "The mean light of one cycle on the glass.",
}


def _picture(name: str, codes: NDArray, place: dict[str, float], caption: str, **more: Any) -> bytes:
    told = {"kind": "picture", "name": name, "caption": caption, "place": place, "light": True, **more}
    return record(told, bmp(codes))


def _place(x: float, y: float, width: float, height: float) -> dict[str, float]:
    return {"x": x, "y": y, "width": width, "height": height}


def _window(window: Window) -> dict[str, float]:
    """Return where a part of the raster lies on the face, which the whole raster fills."""
    width, height = FACE
    return _place(
        width * window.left,
        height * window.top,
        width * (window.right - window.left),
        height * (window.bottom - window.top),
    )


def _weights(found: Prediction) -> dict[str, Any]:
    """Return what the raster's lines are made of, as the viewer's slice shows it (`static/taps.js`)."""
    taps, why = made_of(found, whole=True)
    down, across = looks_of(found, whole=True)
    told = {"looks": {"down": list(down), "across": list(across)}, "why": why}
    return told if taps is None else {**told, "taps": taps_options(taps)}


_FACTS = ("mode_in", "mode_out", "lines", "frame_lines", "samples", "scan", "rate_hz", "fields")
"""Keys of a prediction's document that say what comes out."""


def _facts(found: Prediction, display: Display) -> dict[str, Any]:
    document = found.to_dict()
    return {
        "kind": "facts",
        **{key: document[key] for key in _FACTS},
        "visible": _window(shown_window(found.raster, display)),
        "sentence": signal_sentence(found.source.mode, found.mode_out, found.raster),
    }


def _fields(found: Prediction) -> Iterator[bytes]:
    """Yield both fields, each line a field-line pitch tall and centred where it lands."""
    raster = found.raster
    for phase, values in enumerate(found.cycle):
        landing = float(raster.fields[phase % raster.period].landing)
        lower = (landing - (1 - float(raster.slot)) / 2) * FACE[1] / raster.lines
        name = ("first", "second")[phase]
        which = ("top", "bottom")[raster.fields[phase].parity] if raster.period == 2 else name
        label = f"{which} field" if raster.period == 2 else f"{which} picture"
        caption = f"The {label}, where the display draws it."
        yield _picture(name, to_codes(values), _place(0, lower, *FACE), caption, label=label.capitalize())


@lru_cache(maxsize=6)
def _screen(raster: Raster, display: Display) -> Screen:
    """Return the glass at its default size; its exposure depends on the display alone, so nothing jumps."""
    return Glass(display).screen(raster, CLIP_HEIGHT)


def _glass(found: Prediction, display: Display) -> bytes:
    screen = _screen(found.raster, display)
    codes = to_codes(screen.code(screen.period(found.cycle)))
    (top, bottom), (left, right) = screen.cut.lines, screen.cut.samples
    raster = found.raster
    window = Window(top / raster.lines, bottom / raster.lines, left / raster.samples, right / raster.samples)
    share = round(100 * screen.exposure, 6)
    caption = f"{_LABELS['glass']} Shown at {share:g} % of its light."
    return _picture("glass", codes, _window(window), caption, light=False)


def _difference(found: Prediction, request: Request) -> bytes:
    """Return the difference in light from the ideal, or from another chain, in the scale's colours."""
    if request.against is None:
        percent, than, place = difference(found), "ideal scaling", found.raster.visible
    else:
        other = predict(request.clip, request.against, metrics=[])
        percent, than, place = _less(found.landed, other.landed), "the pinned chain", Window()
    colours = np.array(diverging.colours(), np.uint8)[diverging.steps_of(percent, LIMIT)]
    typical, most = float(np.abs(percent).mean()), float(np.abs(percent).max())
    caption = (
        f"Difference from {than}: mean {typical:.1f} %, largest {most:.0f} % of white; blue is darker, "
        f"orange lighter; scale ±{LIMIT:.0f} %."
    )
    return _picture("difference", colours, _window(place), caption, light=False)


def _less(one: NDArray, other: NDArray) -> NDArray:
    """Return the difference in luminance, percent of white, on the finer grid of the two, nearest dots."""
    lines, samples = (max(a, b) for a, b in zip(one.shape[:2], other.shape[:2], strict=True))
    a, b = (luma(code_to_light(_on(each, lines, samples))) for each in (one, other))
    return np.float32(100) * (a - b)


def _on(values: NDArray, lines: int, samples: int) -> NDArray:
    down = (np.arange(lines) * 2 + 1) * values.shape[0] // (2 * lines)
    along = (np.arange(samples) * 2 + 1) * values.shape[1] // (2 * samples)
    return values[np.ix_(down, along)]


def _numbers(found: Prediction) -> Iterator[bytes]:
    """Yield all metrics so far, after every one: the quick ones do not wait for the slow."""
    evidence = found.evidence()
    values: dict[str, float | None] = {}
    why: dict[str, str] = {}
    groups: dict[int, list[str]] = {}
    for name in METRICS:
        groups.setdefault(id(METRICS[name]), []).append(name)
    for names in groups.values():
        more, reasons = measure(evidence, names)
        values |= more
        why |= reasons
        yield record({"kind": "numbers", "metrics": values, "why": why, "n": dict(evidence.n)})
    said = replace(found, metrics=values, why=why, n=dict(evidence.n)).sentences()
    yield record({"kind": "sentences", "sentences": [typeset(each) for each in said]})


def checked_want(want: Any) -> tuple[str, ...]:
    """Return what is wanted; raise ParameterError for anything else."""
    if not isinstance(want, list) or not set(want) <= set(WANTED):
        raise ParameterError(f"want is none of {', '.join(WANTED)}")
    return tuple(want)

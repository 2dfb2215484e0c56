"""How a captured picture sits against what a chain is predicted to give, in every respect.

It is registered to the prediction, which tells how it lies along the lines, its size, and where to look for
its position; the position itself is found by synthesis. Then it is registered again to the prediction at
that position: what is left over is how far both ways of looking differ, and half of it is doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.keys import find_key, get_key
from scalesim.core.affine import Affine
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.raster import Raster
from scalesim.errors import NotIdentifiable
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.prediction import Prediction
from scalesim.jobs.settings.carry import carriers_of, carry
from scalesim.jobs.settings.residual import Looks, predicted_views, views_of
from scalesim.jobs.settings.synthesis import Stands, stands_at
from scalesim.signal.registration.register import Registration, register

_MORE = 1.5
"""Source lines beyond one scan line either way within which the position is searched."""


@dataclass(frozen=True, eq=False)
class View:
    """One picture within the capture and its registration to the same picture of the prediction."""

    capture: NDArray
    found: Registration
    predicted: tuple[int, ...]

    @property
    def down(self) -> float:
        """Predicted lines the captured middle sits lower than the predicted one."""
        return self._moved(0, self.found.lines)

    @property
    def right(self) -> float:
        """Predicted samples the captured middle sits further right."""
        return self._moved(1, self.found.samples)

    @property
    def height(self) -> float:
        """Height of the captured picture over the predicted one's."""
        return self.predicted[0] / (self.capture.shape[0] * self.found.lines.scale)

    @property
    def looks(self) -> Looks:
        """Return where the capture looks, were it no lower than predicted."""
        lines = self.found.lines
        return Looks(self.found.samples, Affine(lines.scale, lines.offset + self.down))

    def _moved(self, axis: int, look: Affine) -> float:
        return self.predicted[axis] / 2 - look(self.capture.shape[axis] / 2)


@dataclass(frozen=True, eq=False)
class Sits:
    """How a captured picture sits.

    Parameters:
        predicted : by the chain as it was given
        chain, key : with the position, and the address of its lines
        now : where that position stands, and how sure that is
        told : what the chain says; per_line : source lines for one line of the position
        views : of the capture, registered to the prediction at `now`
        right, right_error : source samples further right than predicted
    """

    predicted: Prediction
    chain: Chain
    key: str
    now: Stands
    told: float
    per_line: float
    views: tuple[View, ...]
    right: float
    right_error: float

    @property
    def lines(self) -> float:
        """Source lines the picture sits lower than the chain puts it."""
        return (self.now.lines - self.told) * self.per_line

    @property
    def lines_error(self) -> float:
        """Its standard error."""
        return self.now.error * abs(self.per_line)

    @property
    def height(self) -> float:
        """Height of the captured picture over the predicted one's."""
        return float(np.mean([view.height for view in self.views]))


def source_per_output(prediction: Prediction) -> tuple[float, float]:
    """Return source frame lines per landed line and source samples per output sample."""
    geometry = prediction.geometry
    return geometry.landed(prediction.raster).scale, geometry.samples.scale


def source_lines_per_line(chain: Chain, source: Raster, key: str) -> float:
    """Return the source lines that one line of a position is, at its place in the chain."""
    at = find_key(chain.stages, key).stage
    plan = chain.resolve(source)
    raster = plan.rasters[at]
    return plan.geometries[at].landed(raster).scale * raster.landed_lines / raster.lines


def sits(values: NDArray, clip: Clip, given: Chain, chain: Chain, key: str, name: str = "capture") -> Sits:
    """Return how a captured picture sits.

    Parameters:
        values : (lines, samples) luma, code values 0..1
        clip : the still that was sent; given : the chain as it is believed to be
        chain, key : the same with a position, and the address of its lines
        name : of the capture, for messages
    Raises: NotIdentifiable when the capture cannot be registered
    """
    first = predict(clip, given, metrics=())
    views = _registered(values, first, None, name)
    per_line = source_lines_per_line(chain, clip.raster, key)
    told = float(get_key(chain.stages, key))
    per_scan, per_sample = source_per_output(first)
    near = told + float(np.mean([_source_lines(v, first) for v in views])) / per_line
    reach = per_scan * first.raster.landed_lines / first.raster.lines + _MORE
    now = stands_at(values, clip, chain, key, near, per_line, [v.looks for v in views], reach)
    there = _at(chain, key, now, clip)
    again = predict(clip, there, metrics=())
    views = _registered(values, again, views, name)
    left = float(np.mean([_source_lines(v, again) for v in views])) / per_line
    fit = float(np.sqrt(np.mean([v.found.error_lines**2 for v in views]) / len(views)))
    known = fit * per_scan * first.raster.landed_lines / views[0].predicted[0] / abs(per_line)
    beyond = max(0.0, abs(left) - 2 * known)
    return Sits(
        predicted=first,
        chain=chain,
        key=key,
        now=Stands(now.lines, float(np.hypot(now.error, beyond / 2)), now.views, now.way, now.width),
        told=told,
        per_line=per_line,
        views=tuple(views),
        right=float(np.mean([v.right for v in views])) * per_sample,
        right_error=float(np.mean([v.found.error_samples for v in views])) * per_sample,
    )


def _at(chain: Chain, key: str, now: Stands, clip: Clip) -> Chain:
    carriers = () if now.way == "output" else carriers_of(chain.stages, [key], clip.raster)
    return chain.with_keys(carry(chain.stages, {key: now.lines}, carriers))


def _source_lines(view: View, prediction: Prediction) -> float:
    """Return the source lines a view sits lower than predicted."""
    per_scan = source_per_output(prediction)[0]
    return view.down * per_scan * prediction.raster.landed_lines / view.predicted[0]


def _registered(
    values: NDArray, prediction: Prediction, before: Sequence[View] | None, name: str
) -> list[View]:
    captured = views_of(values, prediction.raster)
    drawn = predicted_views(prediction.cycle, prediction.raster, values.shape[0])
    starts = [None] * len(captured) if before is None else [(v.looks.lines, v.looks.samples) for v in before]
    return [
        _view(one, luma(other), start, name)
        for one, other, start in zip(captured, drawn, starts, strict=True)
    ]


def _view(capture: NDArray, predicted: NDArray, start: tuple[Affine, Affine] | None, name: str) -> View:
    found = register(capture, predicted, start=start, name=name, source_name="the prediction")
    if found.mirrored:
        which = {"samples": "left to right", "lines": "upside down", "both": "by half a turn"}
        raise NotIdentifiable(
            f"{name}: is mirrored {which[found.mirrored]}; it must be upright "
            "(switch the mirroring off and capture again)"
        )
    return View(capture, found, predicted.shape)

"""Predictions matched to a capture, so that both can be ranked together.

The path of a capture softens along the line, changes gain and black, and adds noise, and every measure
moves with them. So the predictions are taken down the same path: drawn with the capture's samples,
softened as the capture is, given its gain and black. What its noise adds to a measure is found by
giving the predictions the same noise, and is taken off the capture's values. They are measured as the
capture is, without their chains' weights, which moves their figures by itself. A capture does not tell
its box's softness along the line from its path's: measures along the line take no part.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scalesim.core.build import resample_lines
from scalesim.core.encoding import luma
from scalesim.core.operator import Operator
from scalesim.jobs.compare.captured import CapturedPicture
from scalesim.jobs.compare.rows import Row, raster_name, row_of
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.outcome import Outcome
from scalesim.metrics import key_of

ALONG_THE_LINE = "softness along the line was matched, so this tells nothing of the box"
_SAME_SCALE = 0.005
"""Vertical scales further apart than this share show different parts of a frame."""
_SOFTEST = 4.0
_SEED = 8


@dataclass(frozen=True)
class Path:
    """What a capture's path does: softening (standard deviation of a Gaussian, in samples), gain, black."""

    softness: float
    gain: float
    lift: float

    @property
    def bandwidth(self) -> float:
        """Where the softening is 3 dB down, in cycles per sample; infinite without any."""
        return float(np.sqrt(np.log(2)) / (2 * np.pi * self.softness)) if self.softness else float("inf")

    def __call__(self, values: NDArray) -> NDArray:
        """Return (lines, samples, 3) code values after the path, without noise."""
        return np.clip(self.gain * _softened(values, self.softness) + self.lift, 0, 1).astype(np.float32)


@dataclass(frozen=True, eq=False)
class Matching:
    """A capture and the predictions on its raster, for one frame.

    Parameters:
        label, capture : the captured box
        noise : standard deviation of its values' noise, as 0..1
        predicted : label -> prediction of the same frame
        names : metric keys that are ranked by
    """

    label: str
    capture: CapturedPicture
    noise: float
    predicted: Mapping[str, Outcome]
    names: tuple[str, ...]

    @cached_property
    def drawn(self) -> dict[str, Outcome]:
        """Predictions that share the capture's screen and scale, with its samples."""
        own = self.capture.outcome
        return {
            label: _with_samples(outcome, own)
            for label, outcome in self.predicted.items()
            if raster_name(outcome) == raster_name(own) and _same_scale(outcome, own)
        }

    @cached_property
    def explained(self) -> tuple[str, Path]:
        """The prediction that explains the capture best, and the path from it."""
        own = self.capture.outcome
        fits = {
            label: min(
                (_fitted(luma(own.landed), luma(lines)) for lines in _on_lines(each, own)),
                key=lambda fit: fit[0],
            )
            for label, each in self.drawn.items()
        }
        best = min(fits, key=lambda label: fits[label][0])
        return best, fits[best][1]

    @property
    def path(self) -> Path:
        """The path of the capture."""
        return self.explained[1]

    def rows(self, source: FrameSource) -> tuple[list[Row], str]:
        """Return the matched rows, the capture's last, and what was matched; nothing without a prediction."""
        if not self.drawn:
            return [], ""
        across = [name for name in self.names if not _along(name)]
        clean, noisy = {}, {}
        for label, outcome in self.drawn.items():
            pictures = [self.path(values) for values in outcome.cycle]
            clean[label] = replace(outcome, cycle=tuple(pictures)).measured(across)
            noisy[label] = replace(outcome, cycle=self._with_noise(pictures)).measured(across)
        own = self.capture.outcome
        floors = {name: _floor(name, own.metrics.get(name), clean, noisy) for name in across}
        values = {name: _less(own.metrics.get(name), floors[name]) for name in across}
        rows = [self._row(source, label, outcome) for label, outcome in clean.items()]
        rows.append(self._row(source, self.label, replace(own, metrics=values)))
        return rows, self._told(floors)

    def _with_noise(self, pictures: Sequence[NDArray]) -> tuple[NDArray, ...]:
        drawn = np.random.RandomState(_SEED)
        return tuple(
            np.clip(values + drawn.normal(0, self.noise, values.shape), 0, 1).astype(np.float32)
            for values in pictures
        )

    def _row(self, source: FrameSource, label: str, outcome: Outcome) -> Row:
        values = {name: None if _along(name) else outcome.metrics.get(name) for name in self.names}
        why = {name: ALONG_THE_LINE if _along(name) else outcome.why.get(name, "") for name in self.names}
        shown = replace(outcome, metrics=values, why={n: w for n, w in why.items() if values[n] is None})
        row = row_of(source, label, shown, "matched")
        return replace(row, raster=f"{row.raster}, matched to {self.label}")

    def _told(self, floors: Mapping[str, float]) -> str:
        (best, path), raster = self.explained, self.capture.outcome.raster
        soft = f"-3 dB at {path.bandwidth:.2f} cycles a sample" if path.softness else "no softening"
        taken = ", ".join(
            f"{key_of(name).short} {key_of(name).text(floor)}"
            for name, floor in floors.items()
            if key_of(name).number(abs(floor)) != key_of(name).number(0.0)
        )
        added = f", and what that adds was taken off its values: {taken}" if taken else ""
        return (
            f"{self.label}: predictions beside it were drawn with its {raster.samples} samples a line, "
            f"{soft}, gain {path.gain:.3f}, black {255 * path.lift:+.1f} of 255, as fits it best "
            f"from {best}; its noise is {255 * self.noise:.1f} of 255{added}. "
            "Like the capture they were then measured from their pictures alone, as if their chains were not "
            "known, so their figures differ from those of the predictions. "
            "Measures along the line take no part in that ranking."
        )


def _along(name: str) -> bool:
    return name.endswith("_samples")


def _same_scale(one: Outcome, other: Outcome) -> bool:
    scales = [outcome.geometry.landed(outcome.raster).scale for outcome in (one, other)]
    return abs(scales[0] / scales[1] - 1) <= _SAME_SCALE


def _with_samples(outcome: Outcome, like: Outcome) -> Outcome:
    """Return a prediction as its plain picture with another's samples, without its weights."""
    raster = outcome.raster.with_(samples=like.raster.samples)
    to_own = outcome.geometry.samples.inverse()
    samples = like.geometry.samples
    scale = to_own.scale * samples.scale
    along = resample_lines(outcome.raster.samples, raster.samples, scale, to_own(samples(0.0)))
    operator = Operator(None, along, "code")
    return Outcome(
        source=outcome.source,
        raster=raster,
        geometry=replace(outcome.geometry, samples=samples),
        cycle=tuple(operator(values) for values in outcome.cycle),
        tube=outcome.tube,
    )


def _on_lines(outcome: Outcome, like: Outcome) -> Iterator[NDArray]:
    """Yield a picture where another's lines look: by the nearest whole lines, then drawn between its lines.

    A box that is predicted well has the prediction's own lines. Registration is some tenths of a line off for
    lines that were picked and not averaged, and drawn so far between its lines a prediction is softer than
    the box, which reads as too much gain.
    """
    to_own = outcome.geometry.landed(outcome.raster).inverse()
    lines = like.geometry.landed(like.raster)
    count = outcome.raster.landed_lines
    step, begin = to_own.scale * lines.scale, to_own(lines(0.0))
    lower = round(begin + (step - 1) * count / 2)
    for scale, phase in ((1.0, float(lower)), (step, begin)):
        yield np.asarray(Operator(resample_lines(count, count, scale, phase), None, "code")(outcome.landed))


def _softened(values: NDArray, softness: float) -> NDArray:
    """Return (lines, samples) or (lines, samples, 3) after a Gaussian along the line."""
    if not softness:
        return values
    places = np.arange(values.shape[1], dtype=np.float32)
    weights = np.exp(-0.5 * ((places[:, None] - places) / np.float32(softness)) ** 2)
    weights /= weights.sum(axis=1, keepdims=True)
    return np.asarray(np.einsum("st,lt...->ls...", weights, values, optimize=True))


def _fitted(capture: NDArray, predicted: NDArray) -> tuple[float, Path]:
    """Return what is left of a capture after the best path from a prediction, and that path; both luma."""
    steps = np.linspace(0, _SOFTEST, 9)
    for _ in range(3):
        tried = [_at(capture, predicted, float(step)) for step in steps]
        best = min(range(len(tried)), key=lambda k: tried[k][0])
        width = (steps[-1] - steps[0]) / 8
        low, high = max(0.0, steps[best] - width), min(_SOFTEST, steps[best] + width)
        steps = np.linspace(low, high, 9)
    return tried[best]


def _at(capture: NDArray, predicted: NDArray, softness: float) -> tuple[float, Path]:
    soft = _softened(predicted, softness).astype(np.float64).ravel()
    gain, lift = np.polyfit(soft, capture.astype(np.float64).ravel(), 1)
    left = float(np.mean((gain * soft + lift - capture.ravel()) ** 2))
    return left, Path(softness, float(gain), float(lift))


def _floor(
    name: str, value: float | None, clean: Mapping[str, Outcome], noisy: Mapping[str, Outcome]
) -> float:
    """Return what noise adds to a measure, by the prediction that reads nearest to the capture with it."""
    pairs = [(clean[label].metrics.get(name), noisy[label].metrics.get(name)) for label in clean]
    known = [(c, n) for c, n in pairs if c is not None and n is not None]
    if value is None or not known:
        return 0.0
    quiet, loud = min(known, key=lambda pair: abs(pair[1] - value))
    return loud - quiet


def _less(value: float | None, floor: float) -> float | None:
    return None if value is None else max(0.0, value - floor)

"""One device, or one run, of a log: what was studied, in which rate, and in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.study import Study

NAMES = {
    "constant": "constant",
    "jitter": "jitter within a frame",
    "uniform": "anywhere in a frame",
    "two-level": "two levels",
    "drift": "drifts and wraps",
    "drift+jitter": "drifts, with jitter",
    "unknown": "cannot tell",
}
_STRAY = 5.0


@dataclass(frozen=True, eq=False)
class Device:
    """A device.

    Parameters:
        label : its name; study : of its readings; rate : of the frames
        measured : the log itself told that rate
        heights : height in the picture -> (readings, median as read in ms), {} without such a column
        corrected : the scan down to each height was taken out
    """

    label: str
    study: Study
    rate: Fraction
    measured: bool = False
    heights: Mapping[float, tuple[int, float]] = field(default_factory=dict)
    corrected: bool = False

    @property
    def name(self) -> str:
        """What kind of lag it has, in a few words."""
        return NAMES[self.study.found.kind]

    @property
    def astray(self) -> NDArray:
        """(n,) whether a reading lies farther than five spreads from what was fitted; none without a fit."""
        study = self.study
        chosen = study.found.chosen
        none = np.zeros(study.count, dtype=bool)
        if chosen is None:
            return none
        values = chosen.values
        slack = max(_STRAY * values.get("spread", 0.3), 2 * study.step_ms)
        if "low" in values and "high" in values:
            apart = np.minimum(np.abs(study.lags - values["low"]), np.abs(study.lags - values["high"]))
        elif "width" in values and "low" in values:
            middle = values["low"] + values["width"] / 2
            apart, slack = np.abs(study.lags - middle), values["width"] / 2 + 1.5
        elif "at" in values:
            apart = np.abs(study.lags - values["at"])
        else:
            fit = study.fit(study.times)
            if fit is None:
                return none
            rest = study.lags - fit
            apart = np.minimum(
                np.abs(rest), np.minimum(np.abs(rest - study.frame_ms), np.abs(rest + study.frame_ms))
            )
            slack = max(slack, values.get("width", 0.0))
        return np.asarray(apart > slack)

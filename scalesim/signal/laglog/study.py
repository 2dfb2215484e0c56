"""What one log tells: its range, its kind, its drift and wrap, what may alias, and how much longer to log."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor, hypot, isfinite, sqrt

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.circle import FASTEST_MS_PER_S
from scalesim.signal.laglog.verdict import ENOUGH, Verdict

SURE = 0.95
"""Confidence from which a kind is firm."""
FIRM_DRIFT = 0.02
"""Standard error of a drift, of itself, from which it is firm; or `FIRM_US_PER_S`, whichever is larger."""
FIRM_US_PER_S = 1.0
_FAR_US_PER_S = 20_000.0
_MOST_ALIASES = 200
_STRAY = 5.0
_EDGE_MS = 1.5


@dataclass(frozen=True, eq=False)
class Study:
    """What one log tells.

    Parameters:
        times : (n,) s from the first reading on; lags : (n,) ms; frame_ms : of the rate it is told in
        left_out : rows without a finite reading
        step_ms : of the instrument; interval_s : of regular readings, None for irregular ones
        quantiles : minimum, 5 %, median, 95 %, maximum, ms
        found : the verdict on the kind
    """

    times: NDArray
    lags: NDArray
    frame_ms: float
    left_out: int
    step_ms: float
    interval_s: float | None
    quantiles: tuple[float, float, float, float, float]
    found: Verdict

    @property
    def count(self) -> int:
        """Readings."""
        return len(self.lags)

    @property
    def seconds(self) -> float:
        """From the first reading to the last."""
        return float(self.times[-1]) if len(self.times) else 0.0

    @property
    def equal(self) -> bool:
        """Whether all readings are the same number."""
        return self.count > 1 and self.quantiles[0] == self.quantiles[4]

    @property
    def drifts(self) -> bool:
        """Whether the kind is one with drift."""
        return self.found.kind in ("drift", "drift+jitter")

    @property
    def drift_us_per_s(self) -> float | None:
        """Drift, above 0 where lag rises; None where none is told."""
        return 1000 * self.found.turn.drift if self.drifts and self.found.turn else None

    @property
    def drift_error_us_per_s(self) -> float | None:
        """Standard error of the drift, told or not; None for too few readings, and for equal ones.

        How finely equal readings were read is not known, so neither is what drift they hide.
        """
        turn = None if self.equal else self.found.turn
        return 1000 * turn.error if turn is not None and isfinite(turn.error) else None

    @property
    def drift_at_most_us_per_s(self) -> float | None:
        """A drift above it would have shown (three standard errors); None where one is told or cannot be."""
        turn = self.found.turn
        still = self.found.kind in ("constant", "jitter", "two-level")
        if not still or turn is None or not isfinite(turn.error):
            return None
        slow = abs(turn.drift) if abs(turn.drift) < 6 * turn.error else 0.0
        # jumps count as noise here; and how finely equal readings were read is not known
        if self.found.kind == "two-level" or self.equal:
            return None
        # what stays within one step of the instrument shows in none of its readings
        hidden = turn.spread < self.step_ms
        return 1000 * max(slow + 3 * turn.error, self.step_ms / self.seconds if hidden else 0.0)

    @property
    def wrap_s(self) -> float | None:
        """Seconds in which the drift passes one frame."""
        drift = self.drift_us_per_s
        return None if not drift else 1000 * self.frame_ms / abs(drift)

    @property
    def wrap_error_s(self) -> float | None:
        """Standard error of the wrap."""
        wrap, drift, error = self.wrap_s, self.drift_us_per_s, self.drift_error_us_per_s
        return None if not (wrap and drift and error) else wrap * error / abs(drift)

    @property
    def wraps_seen(self) -> bool:
        """Whether the log holds a wrap."""
        chosen = self.found.chosen
        return bool(self.drifts and chosen is not None and chosen.values.get("wraps_seen"))

    @property
    def next_wrap_s(self) -> float | None:
        """Seconds after the last reading until the next wrap; None where no wrap was seen."""
        chosen, turn = self.found.chosen, self.found.turn
        if not self.wraps_seen or chosen is None or turn is None:
            return None
        phase = (turn.at_start + turn.drift * self.seconds) % self.frame_ms
        place = chosen.values["place"]
        ahead = place - phase if turn.drift > 0 else phase - place
        return float(ahead % self.frame_ms) / abs(turn.drift)

    @property
    def next_wrap_error_s(self) -> float | None:
        """Standard error of the next wrap: the gap between readings in which the place of the wrap lies,
        evenly, and the drift's error over the time since the wraps that were seen, in the mean."""
        chosen, turn = self.found.chosen, self.found.turn
        if not self.wraps_seen or chosen is None or turn is None:
            return None
        gap = (chosen.values["place_high"] - chosen.values["place_low"]) / sqrt(12)
        after = self.next_wrap_s or 0.0
        wrap = self.frame_ms / abs(turn.drift)
        seen = floor((self.seconds + after) / wrap) or 1  # wraps before the next one, in the log
        return float(hypot(gap, turn.error * wrap * (seen + 1) / 2)) / abs(turn.drift)

    @property
    def next_wrap_within_s(self) -> float | None:
        """At most so long until the next wrap, where none was seen: a frame less what was travelled.

        At the slowest drift that two standard errors allow; None where they allow none.
        """
        if not self.drifts or self.wraps_seen or self.wrap_s is None or self.wrap_error_s is None:
            return None
        slowest = 1 - 2 * self.wrap_error_s / self.wrap_s
        return max(self.wrap_s / slowest - self.seconds, 0.0) if slowest > 0 else None

    @property
    def alias_step_us_per_s(self) -> float | None:
        """Drifts so far apart look alike at regular readings: frame over interval; None for others."""
        return 1000 * self.frame_ms / self.interval_s if self.interval_s else None

    @property
    def aliases_us_per_s(self) -> tuple[float, ...]:
        """Other drifts that would read the same, up to 20 000 µs/s, the slowest first."""
        step = self.alias_step_us_per_s
        if step is None or self.found.kind in ("unknown", "uniform") or self.found.turn is None:
            return ()
        base = self.drift_us_per_s or 0.0
        reach = min(ceil((_FAR_US_PER_S + abs(base)) / step), _MOST_ALIASES)
        found = [
            base + k * step for k in range(-reach, reach + 1) if k and abs(base + k * step) <= _FAR_US_PER_S
        ]
        return tuple(sorted(found, key=abs))

    @property
    def aliased(self) -> bool:
        """Whether another drift that clocks of one class of rates may have would read the same."""
        return any(abs(each) < 1000 * FASTEST_MS_PER_S for each in self.aliases_us_per_s)

    def fit(self, times: NDArray) -> NDArray | None:
        """Return the fitted sawtooth at times of the log, ms, None where no drift is told."""
        chosen, turn = self.found.chosen, self.found.turn
        if not self.drifts or chosen is None or turn is None:
            return None
        phase = (turn.at_start + turn.drift * times) % self.frame_ms
        frames = chosen.values["frames"] + (phase < chosen.values["place"])
        return np.asarray(phase + self.frame_ms * frames)

    @cached_property
    def astray(self) -> NDArray:
        """(n,) whether a reading lies farther than five spreads from what was fitted; none without a fit."""
        chosen = self.found.chosen
        if chosen is None:
            return np.zeros(self.count, dtype=bool)
        values = chosen.values
        slack = max(_STRAY * values.get("spread", 0.3), 2 * self.step_ms)
        if "low" in values and "high" in values:
            apart = np.minimum(np.abs(self.lags - values["low"]), np.abs(self.lags - values["high"]))
        elif "width" in values and "low" in values:
            apart = np.abs(self.lags - values["low"] - values["width"] / 2)
            slack = values["width"] / 2 + _EDGE_MS
        elif "at" in values:
            apart = np.abs(self.lags - values["at"])
        else:
            fit = self.fit(self.times)
            assert fit is not None
            rest = self.lags - fit
            shifts = (rest, rest - self.frame_ms, rest + self.frame_ms)
            apart = np.min(np.abs(shifts), axis=0)
            slack = max(slack, values.get("width", 0.0))
        return np.asarray(apart > slack)

    @property
    def longer(self) -> tuple[float, str]:
        """How many seconds more to log for a firm answer, and what for; 0 and "" where it is firm."""
        return longer(self)


def longer(found: Study) -> tuple[float, str]:
    """Return (seconds, purpose) of `Study.longer`."""
    kind, seconds, count = found.found.kind, found.seconds, found.count
    pace = seconds / max(count - 1, 1) if seconds > 0 else found.interval_s or 1.0
    wants: list[tuple[float, str]] = []
    if count < ENOUGH:
        wants.append((pace * (ENOUGH - count), f"{ENOUGH} readings"))
    if kind != "unknown" and found.found.confidence < SURE and found.found.lead > 0:
        more = min(max(8.0 / found.found.lead, 1.25), 10.0)
        wants.append(((more - 1) * seconds, f"telling it from {found.found.runner_up}"))
    error, drift = found.drift_error_us_per_s, found.drift_us_per_s
    if drift and error:
        firm = max(FIRM_DRIFT * abs(drift), FIRM_US_PER_S)
        if error > firm:
            wants.append((seconds * ((error / firm) ** (2 / 3) - 1), "a drift known to 2 % or 1 µs/s"))
        if not found.wraps_seen and found.next_wrap_within_s is not None:
            wants.append((1.05 * found.next_wrap_within_s, "the first wrap"))
    elif kind in ("constant", "jitter") and error and 3 * error > FIRM_US_PER_S:
        more = (3 * error / FIRM_US_PER_S) ** (2 / 3)
        wants.append((seconds * (more - 1), "ruling out a drift above 1 µs/s"))
    return max(wants, default=(0.0, ""))

"""`Tuning`: the answer of `tune`, as numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from scalesim.chain import Chain
from scalesim.chain.dial import Dial
from scalesim.chain.vary import Varied
from scalesim.core.raster import Raster
from scalesim.jobs.tune.words import tuning_notes, tuning_sentences, value_text
from scalesim.metrics import key_of
from scalesim.metrics.key import HOLDS
from scalesim.result import Table
from scalesim.schema import key_text
from scalesim.search.objective import Objective


@dataclass(frozen=True)
class Point:
    """One setting: its values, its score (mean over the frames) and each frame's, or why there is none.

    Parameters:
        values : key -> value
        score, per_frame : None when there is none
        metrics : metric key -> mean over the frames
        cropped : percent of the picture pushed out or hidden
        why : reason for no score, else ""
    """

    values: Mapping[str, Any]
    score: float | None
    per_frame: tuple[float | None, ...]
    metrics: Mapping[str, float | None]
    cropped: float | None = None
    why: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the point of a curve; `why` only where there is no score."""
        found = {
            "values": plain_values(self.values),
            "score": self.score,
            "per_frame": list(self.per_frame),
            "metrics": dict(self.metrics),
        }
        return {**found, "why": self.why} if self.why else found


@dataclass(frozen=True, eq=False)
class Tuning:
    """The setting to dial in, how sure it is, and the whole curve; a `Result`.

    Parameters:
        chain : with the best setting; before : as it was given
        source : the raster of the first frame that counted
        dials : what varied
        frames : names of those that counted; left_out : frame -> reason
        objective : what counted as better
        best, present : the chosen setting and the one before
        ties : all settings within a tie of the best score
        margin : how much worse the best setting is that lies beyond the best one's surroundings (the
            settings joined to it within `hold_distance`); None when there is none
        clear : whether the curve says that the setting matters (`Key.is_clear`)
        curve : every setting tried, in the order of the grid
        holds : per numeric key, how far it may be off, (low, high) from the best, with the score within
            `hold_distance`
        how : "fast" (strips) or "full" (whole predictions), and why; the scores mean the same
        whole_grid : False when the dials were searched coarse to fine
    """

    chain: Chain
    before: Chain
    source: Raster
    dials: tuple[Varied, ...]
    frames: tuple[str, ...]
    left_out: Mapping[str, str]
    objective: Objective
    best: Point
    present: Point
    ties: tuple[Point, ...]
    margin: float | None
    clear: bool
    curve: tuple[Point, ...]
    holds: Mapping[str, tuple[float, float]]
    how: str
    how_reason: str
    whole_grid: bool

    kind = "tune"

    @property
    def pictures(self) -> dict[str, Any]:
        """None: the best chain goes through `predict` when its picture is wanted."""
        return {}

    @property
    def score(self) -> float:
        """The score of the best setting."""
        assert self.best.score is not None
        return self.best.score

    @property
    def hold_distance(self) -> float:
        """A setting holds while the score stays this near to the best."""
        return HOLDS * self.objective.tie

    @cached_property
    def presses(self) -> dict[str, int | None]:
        """Key -> steps of the box's dial from the present setting to the best; None off the dial.

        Keys without a dial in the chain are left out.
        """
        dials: dict[str, Dial] = {dial.key: dial for dial in self.before.dials}
        return {
            key: dials[key].presses(self.present.values[key], value)
            for key, value in self.best.values.items()
            if key in dials
        }

    @property
    def worst_frame(self) -> tuple[str, float]:
        """The frame that scores worst at the best setting, and its score."""
        scores = [score for score in self.best.per_frame if score is not None]
        worst = min(scores) if self.objective.higher_is_better else max(scores)
        return self.frames[scores.index(worst)], worst

    @cached_property
    def notes(self) -> list[str]:
        """What to keep in mind: how it was searched, what a box may do otherwise, what was left out."""
        return tuning_notes(self)

    def sentences(self) -> list[str]:
        """Return the answer in a reviewer's words."""
        return [*tuning_sentences(self), *self.notes]

    def table(self) -> Table:
        """Return the present setting, the best one, and the ties with their scores."""
        keys = [dial.key for dial in self.dials]
        others = [tie for tie in self.ties if tie is not self.best]
        named = [("now", self.present), ("best", self.best), *(("as good", tie) for tie in others[:8])]
        rows = []
        for name, point in named:
            shown = [self._metric_text(key, point) for key in self.objective.names]
            score = "none" if point.score is None else f"{point.score:.3f}"
            rows.append((name, *(value_text(point.values[key]) for key in keys), *shown, score))
        heads = [key_of(key).label for key in self.objective.names]
        columns = ("setting", *keys, *heads, "score")
        align = ("left", *("right",) * (len(columns) - 1))
        return Table(f"Settings by {self.objective.text}", columns, tuple(rows), align)

    def _metric_text(self, key: str, point: Point) -> str:
        value = point.metrics.get(key)
        return "none" if value is None else " ".join(key_of(key).number(value))

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        worst, worst_score = self.worst_frame
        return {
            "chain": self.chain.text,
            "chain_before": self.before.text,
            "frames": list(self.frames),
            "left_out": dict(self.left_out),
            "by": self.objective.text,
            "where": {key: list(limit) for key, limit in self.objective.limits.items()},
            "better": "higher" if self.objective.higher_is_better else "lower",
            "best": plain_values(self.best.values),
            "best_presses": dict(self.presses),
            "present": self.present.to_dict(),
            "score": self.score,
            "metrics": dict(self.best.metrics),
            "ties": [plain_values(tie.values) for tie in self.ties],
            "tie_within": self.objective.tie,
            "margin": self.margin,
            "clear": self.clear,
            "holds_within": {key: list(span) for key, span in self.holds.items()},
            "hold_distance": self.hold_distance,
            "worst_frame": {"frame": worst, "score": worst_score},
            "curve": [point.to_dict() for point in self.curve],
            "how": self.how,
            "notes": self.notes,
        }


def plain_values(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as a document holds them: numbers and switches as they are, others as their text."""
    plain = (int, float, type(None))
    return {key: value if isinstance(value, plain) else key_text(value) for key, value in values.items()}

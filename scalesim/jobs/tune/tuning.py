"""`Tuning`: the answer of `tune`."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import fields
from functools import cached_property
from typing import Any

from scalesim.core.clip import Clip
from scalesim.figure import Figure
from scalesim.jobs.predict.art import ArtFound, art_of, art_sentences
from scalesim.jobs.predict.landing import landing_keys, landing_notes, landing_said
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.point import Point, plain_values, value_text
from scalesim.jobs.settings.words import measured_text
from scalesim.jobs.tune.figures import tune_plot
from scalesim.jobs.tune.headline import curve_title, frame_said, headline, stays
from scalesim.jobs.tune.looks import TuneLook, looks_of
from scalesim.jobs.tune.looks_part import look_figure, look_pictures, looks_part
from scalesim.jobs.tune.notes import carried_notes, tuning_notes
from scalesim.jobs.tune.plain import dial_head, dial_unit, score_cell, score_head
from scalesim.jobs.tune.words import tuning_sentences
from scalesim.metrics import key_of
from scalesim.plot import Plot
from scalesim.result import Cell, Code, File, Part, Result, Table
from scalesim.search.certainty import Gain
from scalesim.texts import spreadsheet_cell

_MOST_ROWS = 60
"""Settings up to which a page lists every one."""
_MOST_AS_GOOD = 8


class Tuning(Findings, Result):
    """The setting to dial in, how sure that is, and the whole curve; a `Result`."""

    kind = "tune"

    @classmethod
    def of(cls, found: Findings) -> Tuning:
        """Return what was found as an answer."""
        return cls(**{each.name: getattr(found, each.name) for each in fields(found)})

    @property
    def title(self) -> str:
        """What to do, and what it brings."""
        return headline(self)

    @cached_property
    def clips(self) -> tuple[tuple[str, Clip], ...]:
        """(name, still) of the frames that counted, read again."""
        return tuple((s.name, s.load()) for s in self.sources if s.name in self.frames)

    @cached_property
    def art(self) -> list[ArtFound]:
        """Low-resolution art in the frames, and whether the chain's ratio can give it back."""
        return art_of(self.before, self.clips)

    @cached_property
    def notes(self) -> list[str]:
        """What to keep in mind: art in the frames, how it was searched, what was left out."""
        resolved = self.chain.resolve(self.source)
        landed = (*landing_notes(self.chain, resolved), *landing_said(self.chain, resolved))
        return [*art_sentences(self.art), *tuning_notes(self), *landed]

    def sentences(self) -> list[str]:
        """Return the answer in a reviewer's words."""
        return [*tuning_sentences(self), *self.notes]

    def table(self) -> Table:
        """Return the present setting, the best one, and the first ties with their scores.

        Where the best is the present one, it has one row; a score that is a measure's own is not said twice.
        """
        keys = [dial.key for dial in self.dials]
        others = [tie for tie in self.ties if tie is not self.best]
        as_good = [("as good", tie) for tie in others[:_MOST_AS_GOOD]]
        own = [("now and best", self.best)] if stays(self) else [("now", self.present), ("best", self.best)]
        scored = self.objective.how != "one"
        rows = []
        for name, point in [*own, *as_good]:
            shown = [self._metric_text(key, point) for key in self.objective.names]
            if scored:
                shown.append(score_cell(self.objective, point.score))
            rows.append((name, *(value_text(point.values[key]) for key in keys), *shown))
        heads = [key_of(key).label for key in self.objective.names]
        dials = [Cell(key, dial_unit(self, dial)) for key, dial in zip(keys, self.dials, strict=True)]
        columns = ("setting", *dials, *heads, *(("score",) if scored else ()))
        align = ("left", *("right",) * (len(columns) - 1))
        title = f"The settings to choose from, means of {len(self.frames)} frames"
        if len(self.frames) == 1:
            title = f"The settings to choose from, on {self.frames[0]}"
        if self.objective.how == "mean":
            title += "; score 0 is the best of these settings and 1 the worst"
        if len(others) > _MOST_AS_GOOD:
            title += f"; {_MOST_AS_GOOD} of {len(others)} that are as good, curve.csv has all"
        return Table(title, columns, tuple(rows), align)

    def _metric_text(self, key: str, point: Point) -> str:
        value = point.metrics.get(key)
        return "none" if value is None else measured_text(key, value)

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        worst, worst_score = self.worst_frame
        landing, why_not = landing_keys(self.chain, self.chain.resolve(self.source))
        return {
            **landing,
            **({"why": why_not} if why_not else {}),
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
            "n": len(self.frames),
            "range": [self.score, self.worst_score],
            "matters": self.certainty.matters,
            "gain": {
                "on_worst": _gain(self.certainty.worst),
                "on_typical": _gain(self.certainty.typical),
                "on_present": _gain(self.on_present),
                "on_next_optimum": _gain(self.certainty.rival),
            },
            "repeats_every": self.repeats,
            "fractions_moved_by": {carrier.key: carrier.phase for carrier in self.carriers},
            "softens": self.softens,
            "holds_within": {key: list(span) for key, span in self.holds.items()},
            "hold_distance": self.hold_distance,
            "worst_frame": {"frame": worst, "score": worst_score},
            "curve": [point.to_dict() for point in self.curve],
            "how": self.how,
            "notes": self.notes,
            "art": [each.to_dict() for each in self.art],
        }

    def figures(self) -> tuple[Plot, ...]:
        """Return the curve of one dial or the map of two; none for more."""
        return tune_plot(self)

    @cached_property
    def looks(self) -> list[TuneLook]:
        """Close looks at the frames that gain most, where anything is at fault; else the first alone."""
        found = looks_of(self.before, self.chain, self._gains(), self.clips)
        return [look for look in found if look.at_fault] or found[:1]

    def cover(self) -> Figure | None:
        """Return the source and the place that gains most, before and after, what is at fault marked."""
        if not self.looks:
            return None
        look = self.looks[0]
        said = frame_said(self, look.frame)
        return look_figure(look, headline(self), said, stays=stays(self))

    @property
    def kept_pictures(self) -> dict[str, Any]:
        """Name -> codes of every close look."""
        return {picture.name: picture.values for _, picture in look_pictures(self.looks, stays=stays(self))}

    def parts(self) -> Iterable[Part]:
        """Yield the curve with its figures, more close looks before and after, and the chain."""
        scores = (self._scores(),) if len(self.curve) <= _MOST_ROWS else ()
        yield Part(curve_title(self), items=(*self.figures(), self.table(), *scores), anchor="curve")
        more = looks_part(self.looks, stays=stays(self))
        if more is not None:
            yield more
        yield Part(
            "The chain with the best setting", tuple(carried_notes(self)), items=(Code(self.chain.text),)
        )

    def files(self) -> dict[str, File]:
        """Return the curve as CSV, and the best chain."""

        def best(folder: str) -> str:
            return self.chain.files_for(folder).to_toml()

        return {"csv": File("curve.csv", curve_csv(self)), "chain": File("best.toml", best)}

    def _gains(self) -> list[tuple[str, float]]:
        """Return (frame, how far its score moves from the present setting to the best)."""
        scores = zip(self.frames, self.present.per_frame, self.best.per_frame, strict=False)
        return [(name, abs((now or 0.0) - (best or 0.0))) for name, now, best in scores]

    def _scores(self) -> Table:
        """Return every setting with its score, and why there is none where that is so."""
        keys = [dial.key for dial in self.dials]
        lacking = any(point.why for point in self.curve)
        rows = []
        for point in self.curve:
            score = score_cell(self.objective, point.score)
            why = (point.why,) if lacking else ()
            rows.append((*(value_text(point.values[key]) for key in keys), score, *why))
        reasons = ("why there is none",) if lacking else ()
        columns = (*(dial_head(self, dial) for dial in self.dials), score_head(self.objective), *reasons)
        align = ("right",) * (len(keys) + 1) + ("left",) * len(reasons)
        title = f"All {len(self.curve)} settings with their scores; the same is in curve.csv"
        return Table(title, columns, tuple(rows), align, folded=True)


def _gain(gain: Gain | None) -> dict[str, Any] | None:
    """Return a gain as a document holds it; costs: what is saved is positive whichever way is better.

    One frame has no spread, so its gain has no interval.
    """
    if gain is None:
        return None
    return {
        "mean": gain.mean,
        "interval": [gain.low, gain.high] if gain.frames > 1 else None,
        "better_on": gain.better,
        "n": gain.frames,
    }


def curve_csv(tuning: Findings) -> str:
    """Return one row per setting: its values, the score, every metric, and every frame's score.

    Texts that a spreadsheet would take for a formula have an apostrophe in front.
    """
    keys = [dial.key for dial in tuning.dials]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    head = [*keys, "score", *tuning.objective.names, *tuning.frames, "why"]
    table.writerow([spreadsheet_cell(name) for name in head])
    for point in tuning.curve:
        values = plain_values(point.values)
        row = [*(values[key] for key in keys), point.score, *point.metrics.values(), *point.per_frame]
        table.writerow(["" if cell is None else spreadsheet_cell(cell) for cell in [*row, point.why]])
    return text.getvalue()

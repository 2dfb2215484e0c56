"""`Prediction`: the answer of `predict`."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.best_place import best_place
from scalesim.chain.coverage import coverage, sparse_coverage
from scalesim.chain.resolve import Resolved
from scalesim.core.encoding import Encoding
from scalesim.core.mode import mode_name_for
from scalesim.core.raster import Window
from scalesim.draw.flicker_picture import flicker_picture
from scalesim.errors import NotMeasurable, ScalesimError
from scalesim.jobs.predict.art import ArtFound, art_of, art_sentences
from scalesim.jobs.predict.clips import clip_keys, clip_part
from scalesim.jobs.predict.landing import landing_keys, landing_said
from scalesim.jobs.predict.on_screen import OnScreen
from scalesim.jobs.predict.outcome import Outcome
from scalesim.jobs.predict.words import metric_rows, metric_sentences, signal_sentence
from scalesim.metrics.flicker.percent import SHARP_FLICKER, flicker_map
from scalesim.metrics.outlines.floor import Floor
from scalesim.plot import Plot
from scalesim.result import ClipTold, Code, File, Part, Picture, Result, Table, cautions
from scalesim.tube.cut import shown_window

if TYPE_CHECKING:
    from scipy.sparse import csr_array

VIEWS = {
    "raster": ("field-top", "field-bottom", "woven"),
    "seen": (),
    "screen": ("screen-photo", "screen-macro"),
    "fields": ("screen-top", "screen-bottom", "screen-first", "screen-second"),
    "flicker": (),
}
"""A view and the pictures that come with it."""

_CAPTIONS = {
    "raster": "The raster as it leaves the chain, one dot for a sample; woven when it has fields.",
    "field-top": "The top field: frame lines 0, 2, 4 and so on.",
    "field-bottom": "The bottom field: frame lines 1, 3, 5 and so on.",
    "woven": "Both fields woven by parity.",
    "seen": "At the shape of the tube: whole lines, nearest neighbour, no beam.",
    "screen": "On the glass: the mean light of one cycle.",
    "screen-macro": "A close look at the glass, field lines numbered.",
    "screen-top": "The light of the top field alone.",
    "screen-bottom": "The light of the bottom field alone.",
    "screen-photo": "What a camera sees with the stated shutter.",
    "flicker": "Where the light alternates between fields.",
}


@dataclass(frozen=True, eq=False, kw_only=True)
class Prediction(Outcome, Result):
    """The predicted picture and its scores; a `Result`.

    Parameters:
        chain : what the picture went through
        resolved : how the chain treats the source's raster
        glass : the picture on the tube, when it was asked for
        views : what is written when it is saved, keys of `VIEWS`; None writes all there is but a map of
            flicker
        of_clip : whether the frame was taken out of a moving clip
        study : of the filters against flicker, when it was asked for
        clips : of the views, once they are written; lost_clips : view -> why its clip could not be
    """

    chain: Chain
    resolved: Resolved
    glass: OnScreen | None = None
    views: tuple[str, ...] | None = None
    of_clip: bool = False
    study: Result | None = None
    clips: tuple[ClipTold, ...] = ()
    lost_clips: Mapping[str, str] = field(default_factory=dict)

    kind = "predict"

    @property
    def no_weights(self) -> str:
        """Which stage mixes lines in no fixed weights, "" when none does."""
        return self.resolved.no_line_weights

    @property
    def mixes(self) -> Encoding:
        """What the chain's lines mix, see `Outcome.mixes`."""
        try:
            return self.resolved.operator().phases[0].encoding
        except ScalesimError:
            return "any"  # and there are no weights

    def coverage(self) -> NDArray | None:
        """Return the weights of the chain's lines, (landed lines, source lines), where it is a matrix."""
        return coverage(self.resolved)

    def line_weights(self) -> csr_array | None:
        """Return the same, sparse and found once."""
        return sparse_coverage(self.resolved)

    @property
    def shown(self) -> Window | None:
        """What the display leaves of the picture, when the glass is looked at."""
        return None if self.glass is None else shown_window(self.raster, self.glass.display)

    def floor(self) -> Floor | None:
        """Return how whole the chain leaves an outline at its best place."""
        return best_place(self.chain.stages, self.resolved.source, self.chain.lands)

    @property
    def pictures(self) -> dict[str, NDArray]:
        """The raster (woven when it has fields), each field, the woven frame, and what is seen."""
        found = {"raster": self.woven}
        if self.raster.period == 2:
            for values, own in zip(self.cycle, self.raster.fields, strict=False):
                found["field-top" if own.parity == 0 else "field-bottom"] = values
            found["woven"] = self.woven
        found["seen"] = self.seen
        return found if self.glass is None else {**found, **self.glass.pictures}

    @property
    def mode_out(self) -> str:
        """The trade name of the signal, whatever a display's circuits make of it."""
        sent = self.resolved.signal
        return mode_name_for(sent.lines, sent.scan == "interlaced", sent.rate)

    @property
    def title(self) -> str:
        """What went through what."""
        return f"{self.source.name} after {self.chain.name or self.chain.text}"

    @property
    def kept_pictures(self) -> dict[str, NDArray]:
        """The pictures of the views."""
        if self.views is None:
            return self.pictures
        wanted = {name for view in self.views for name in (view, *VIEWS[view])}
        found = {name: values for name, values in self.pictures.items() if name in wanted}
        if "flicker" in wanted and len(self.cycle) > 1:
            percent = flicker_map(self.cycle, self.raster)
            found["flicker"] = flicker_picture(percent, float(self.raster.aspect), SHARP_FLICKER)
        return found

    @cached_property
    def art(self) -> list[ArtFound]:
        """The grid of the frame, where it is magnified art, and how the chain meets it."""
        return art_of(self.chain, [(self.source.name, self.source)])

    def remarks(self) -> list[str]:
        """Return what to know about frame and files: magnified art, a view without a picture, the study."""
        said = [*self.notes, *art_sentences(self.art)]
        if self.views and "flicker" in self.views and len(self.cycle) < 2:
            said.append(f"no flicker map: {NotMeasurable(_STEADY)}")
        return said if self.study is None else [*said, *self.study.sentences()]

    def figures(self) -> tuple[Plot, ...]:
        """Return the study's plot, when there is one."""
        return () if self.study is None else self.study.figures()

    def parts(self) -> Iterable[Part]:
        """Yield the numbers, the pictures, the study if there is one, and the chain."""
        yield Part("Measured", items=(self.table(),))
        shown = tuple(
            Picture(name, values, name, f"{self.source.name}: {name}", _CAPTIONS.get(name, ""))
            for name, values in self.kept_pictures.items()
        )
        yield Part("Pictures", items=shown)
        if self.clips or self.lost_clips:
            yield clip_part(self.clips, self.lost_clips)
        if self.study is not None:
            yield Part("Flicker against sharpness", tuple(self.study.sentences()), self.study.figures())
        yield Part("The chain", items=(Code(str(self.chain)),))

    def files(self) -> dict[str, File]:
        """Return the study's rows, when there is one."""
        if self.study is None:
            return {}
        text = json.dumps(self.study.to_dict(), indent=2, ensure_ascii=False, allow_nan=False)
        return {"flicker-study-rows": File("flicker-study.json", text + "\n")}

    def sentences(self) -> list[str]:
        """Return the outcome in a reviewer's words."""
        said = [
            signal_sentence(self.source.mode, self.mode_out, self.raster),
            *metric_sentences(self.metrics, self.n, self._said_otherwise()),
        ]
        if len(self.cycle) == 2 and self.raster.period == 1:
            said.append("Two different pictures alternate: raster.png holds the first, seen.png their mean.")
        said += landing_said(self.chain, self.resolved)
        said += [] if self.glass is None else [self.glass.sentence()]
        return [*said, *cautions(self.clips)]

    def _said_otherwise(self) -> dict[str, str]:
        """Return key -> sentence where a metric's own would say more, or less, than was measured."""
        said, cropped = {}, self.metrics.get("cropped_percent")
        overscan = self.glass is not None and self.raster.visible == Window() and self.shown != Window()
        if overscan and cropped is not None:
            said["cropped_percent"] = (
                f"{cropped:.1f} % of the picture is hidden by the display's overscan"
                + (" or pushed out." if self.geometry_crops else ".")
            )
        if self.of_clip and self.metrics.get("flicker_percent") == 0:
            said["flicker_percent"] = (
                "Nothing alternates between fields of this frame held still; motion in the clip is left out."
            )
        return said

    @property
    def geometry_crops(self) -> bool:
        """Whether a stage pushed some of the source out of its raster."""
        whole = (0.0, float(self.source.raster.frame_lines)), (0.0, float(self.source.raster.samples))
        return (self.geometry.kept_lines, self.geometry.kept_samples) != whole

    def table(self) -> Table:
        """Return every metric with its unit, direction and meaning."""
        rows = metric_rows(self.metrics, self.why, self.how)
        return Table(
            "Measured on the predicted picture",
            ("what", "value", "unit", "better"),
            rows,
            ("left", "right", "left", "left"),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        raster = self.raster
        landing, why_not = landing_keys(self.chain, self.resolved)
        return {
            "chain": str(self.chain),
            "source": self.source.name,
            "mode_in": self.source.mode,
            "mode_out": self.mode_out,
            "lines": raster.lines,
            "frame_lines": raster.frame_lines,
            "samples": raster.samples,
            "scan": raster.scan,
            "rate_hz": float(raster.rate),
            "fields": [{"parity": f.parity, "landing": float(f.landing)} for f in raster.fields],
            **landing,
            "tube": self.tube,
            "metrics": dict(self.metrics),
            "why": {**self.why, **why_not},
            "how": dict(self.how),
            "notes": list(self.notes),
            **({} if self.glass is None else {"screen": dict(self.glass.facts)}),
            **clip_keys(self.clips, self.lost_clips),
        }


_STEADY = "nothing alternates between fields: there is no flicker to map"

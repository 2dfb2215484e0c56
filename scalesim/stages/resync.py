"""The stage that models a sync processor: it changes the sync waveform, never the content.

Where the fields land follows from that waveform and the vertical circuit of a display; see
`scalesim.core.sync_wave` for what is done to it and `scalesim.tube.lock` for what becomes of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scalesim.core.operator import FieldOperator, still
from scalesim.core.raster import Raster
from scalesim.core.sync_wave import UNCHANGED, SyncChange, standard_for
from scalesim.errors import ParameterError
from scalesim.schema import param
from scalesim.stages._base import LinearStage, stage

MOST_LINES = 20.0
"""Lines by which vertical sync may be moved, and an extra pulse may go ahead."""
MOST_US = 60.0
"""Of an extra pulse: longer ones run into the next line."""
MOST_15_KHZ = 300
"""Lines of a field: a 15 kHz raster has 240 or 288."""


@stage("resync", example={"start": "line-start"})
@dataclass(frozen=True, kw_only=True)
class Resync(LinearStage):
    """Regenerate the sync of fields; pictures and content stay as they are.

    - `start`: where vertical sync begins: `keep`, `line-start` (that of the bottom field goes ahead to the
      begin of its line: 262 and 263 lines), or lines moved, less than 0 is earlier;
    - `moves`: all of vertical sync (`pulse`), or its leading edge alone (`edge`), its end staying;
    - `equalising`, `serrations`: what is left of the pulses about and the gaps within vertical sync;
    - `combine`: `composite` by the standard, or line and vertical pulses joined by `or` or `xor`;
    - `broad_lines`: how long vertical sync lasts; left out as the standard says;
    - `extra_us`: one more pulse so wide, `extra_lines` ahead of vertical sync;
    - `polarity`: `negative` is usual, `positive` turns sync upside down.

    Two values with a / between are for the top and the bottom field: `0/-0.25`.
    """

    start: str = param(
        "keep",
        type="text",
        doc="where vertical sync begins: keep, line-start, or lines moved (0/-0.25: per field)",
    )
    moves: str = param(
        "pulse", type="choice", choices=("pulse", "edge"), doc="what of vertical sync is moved"
    )
    equalising: str = param(
        "keep", type="choice", choices=("keep", "drop"), doc="the pulses before and after"
    )
    serrations: str = param(
        "keep", type="choice", choices=("keep", "drop", "line-rate"), doc="the gaps within vertical sync"
    )
    combine: str = param(
        "composite",
        type="choice",
        choices=("composite", "or", "xor"),
        doc="how line and vertical pulses are joined",
    )
    broad_lines: float | None = param(
        None, unit="lines", at_least=0.5, at_most=12, doc="length of vertical sync, default the standard's"
    )
    extra_us: str = param(
        "0", type="text", unit="us", doc="width of one more pulse, 0 for none (0/12: per field)"
    )
    extra_lines: str = param(
        "0.5",
        type="text",
        unit="lines",
        doc="how far that pulse begins ahead of vertical sync (per field: 0.5/1)",
    )
    polarity: str = param("negative", type="choice", choices=("negative", "positive"), doc="of sync")

    def __post_init__(self) -> None:
        for name in ("start", "extra_us", "extra_lines"):
            value = getattr(self, name)
            if isinstance(value, int | float) and not isinstance(value, bool):
                object.__setattr__(self, name, f"{value:g}")
        super().__post_init__()
        change = self.change()
        if self.moves == "edge" and change.begin == (0.0, 0.0):
            raise ParameterError(
                f"resync: moves is edge, but start is {self.start}, which moves nothing; say "
                "start=line-start or "
                "lines such as start=0/-0.5"
            )
        if self.combine != "composite" and self.serrations != "keep":
            raise ParameterError(
                f"resync: serrations is {self.serrations} with combine={self.combine}, whose vertical "
                "sync has none; "
                "leave serrations out, or combine=composite"
            )
        if self.extra_lines != "0.5" and change.extra_us == (0.0, 0.0):
            raise ParameterError(
                f"resync: extra_lines is {self.extra_lines} without a pulse; say how wide it is, such "
                "as extra_us=0/12"
            )

    def change(self) -> SyncChange:
        """Return what is done to the waveform, in numbers.

        Raises: ParameterError for a text that is no number, or out of range
        """
        begin = _pair("start", self.start, MOST_LINES, words={"keep": (0.0, 0.0), "line-start": (0.0, -0.5)})
        return SyncChange(
            begin=begin,
            end=begin if self.moves == "pulse" else (0.0, 0.0),
            equalising=self.equalising == "keep",
            serrations=self.serrations,  # type: ignore[arg-type]  # checked by the schema
            combine=self.combine,  # type: ignore[arg-type]  # checked by the schema
            broad_lines=self.broad_lines,
            extra_us=_pair("extra_us", self.extra_us, MOST_US, least=0.0),
            extra_lines=_pair("extra_lines", self.extra_lines, MOST_LINES, least=0.0),
            inverted=self.polarity == "positive",
        )

    def raster(self, before: Raster) -> Raster:
        """Return the raster with its sync changed; refuses what has no fields, or whose fate is stated."""
        if before.period != 2:
            raise ParameterError(
                f"resync: got {before.describe()}; it needs two fields (put interlace before it)"
            )
        if before.scan != "interlaced":
            raise ParameterError(
                "resync: the fields before it land where field-only says; leave field-only out, and a "
                "display's "
                "[vertical] tells where they land"
            )
        if before.sync is not None:
            raise ParameterError("resync: the sync was regenerated already; say all changes in one resync")
        if before.lines > MOST_15_KHZ:
            raise ParameterError(
                f"resync: got {before.describe()}; it is for 15 kHz fields of 240 or 288 lines (scale "
                "before it)"
            )
        change, own = self.change(), standard_for(float(before.rate))
        length = own.halves[1] / 2 if change.broad_lines is None else change.broad_lines
        for begin, end in zip(change.begin, change.end, strict=True):
            if length - begin + end < 0.25:
                raise ParameterError(
                    f"resync: start={self.start} leaves {max(0.0, length - begin + end):g} lines of "
                    "vertical sync of "
                    f"{length:g}; a quarter of a line at least (move it less, or moves=pulse)"
                )
        return before.with_(sync=None if change == UNCHANGED else change)

    def operator(self, before: Raster) -> FieldOperator:
        """Return the identity: only the sync changes."""
        return still()


def _pair(
    key: str,
    text: Any,
    most: float,
    *,
    least: float | None = None,
    words: dict[str, tuple[float, float]] | None = None,
) -> tuple[float, float]:
    """Return the values of both fields that a text gives."""
    words = words or {}
    if text in words:
        return words[text]
    low = -most if least is None else least
    parts = text.split("/")
    try:
        found = tuple(words[part][k] if part in words else float(part) for k, part in enumerate(parts))
    except ValueError:
        found = ()
    if len(parts) > 2 or len(found) != len(parts) or not all(low <= value <= most for value in found):
        told = ", ".join([*words, f"a number from {low:g} to {most:g}"])
        raise ParameterError(
            f"resync: {key} is {text!r}; it must be {told}, or two of these with / between for the top "
            "and the "
            "bottom field (0/-0.25)"
        )
    return (found[0], found[-1])

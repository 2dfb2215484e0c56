"""Flicker study: what each filter before interlacing buys in steadiness and costs in sharpness.

One frame is scaled to the lines of the woven frame (the *base* of a chain: all that comes before it
filters and interlaces), then sent through every filter, landing, pairing and a shift by one line. A
shift brings in one black line at the top, which flickers by itself a little.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.jobs.predict.flicker_figures import carries, flicker_plot
from scalesim.jobs.predict.flicker_row import LANDINGS, FlickerRow
from scalesim.jobs.predict.flicker_words import number, study_sentences
from scalesim.jobs.predict.predict import predict
from scalesim.plot import Plot
from scalesim.result import Result, Table
from scalesim.stages import Stage
from scalesim.stages.fields import FieldOnly, Interlace
from scalesim.stages.geometry import Position
from scalesim.stages.lines import FlickerFilter, LineAverage

TAPS = ("1", "1/6/1", "1/2/1", "1/1/1", "-1/2/6/2/-1", "1/2/2/2/1", "paired")
"""Filters compared: off, three of three taps, one that keeps more detail, a wide one, line pairs."""

MEASURED = ("flicker_percent", "flicker_p95", "flicker_db", "edge_spread_lines")

_ENDS_BASE = ("flicker-filter", "interlace")
_SHIFTS = (0, 1)
_FIFTY_HERTZ = (25, 50)


@dataclass(frozen=True)
class FlickerStudy(Result):
    """All rows of the study; a `Result`.

    Parameters:
        frame : name of the source frame
        base : text of the chain before the filter, "" when the source has the frame's lines already
        rate_hz : fields per second, so light alternates at half of it
        rows : one per landing, pairing, shift and filter, in this order
    """

    frame: str
    base: str
    rate_hz: float
    rows: tuple[FlickerRow, ...]

    kind = "flicker-study"

    title = "Flicker against sharpness"

    def figures(self) -> tuple[Plot, ...]:
        """Return flicker and the height of an edge against the filter, as far as there is any."""
        return (flicker_plot(self.frame, self.rows),) if carries(self.rows) else ()

    def sentences(self) -> list[str]:
        """Return which filter steadies most for what loss, and what the pairing does."""
        return study_sentences(self.rows, self.rate_hz)

    def table(self) -> Table:
        """Return every row."""
        names = ("landing", "moved", "filter", "flicker, %", "worst 20th, %", "weighted, dB", "edge, lines")
        cells = tuple(
            (
                LANDINGS[row.landing, row.pair],
                "1 line" if row.shift == 1 else f"{row.shift} lines",
                row.taps,
                *(number(key, row.metrics[key]) for key in MEASURED),
            )
            for row in self.rows
        )
        return Table("Flicker against sharpness", names, cells, ("left",) * 3 + ("right",) * 4)

    def to_dict(self) -> dict[str, Any]:
        """Return base, rate and rows."""
        return {
            "frame": self.frame,
            "base": self.base,
            "rate_hz": self.rate_hz,
            "rows": [row.to_dict() for row in self.rows],
        }


def flicker_study(
    source: Clip,
    chain: Chain | str | None = None,
    taps: Iterable[str] = TAPS,
    *,
    advance: Callable[[str], None] = lambda _: None,
) -> FlickerStudy:
    """Return flicker and sharpness of a frame for every filter, landing, pairing and shift.

    Parameters:
        source : a still
        chain : its stages before the first `flicker-filter` or `interlace` are the base; None takes
            `line-average` to 480 lines (576 at 50 Hz) for a source of more lines, else nothing
        taps : the filters, each as in `flicker-filter taps=…`
        advance : called with the chain that is worked on next, six times per filter
    Raises: ParameterError for no taps, wrong ones, or a base whose frame cannot be interlaced
    """
    texts = tuple(taps)
    if not texts or isinstance(taps, str):
        raise ParameterError(f"taps is {taps!r}; give a list of filters, such as ['1', '1/2/1']")
    filters = [FlickerFilter(taps=text) for text in texts]
    base = base_stages(source.raster, Chain(chain) if isinstance(chain, str) else chain)
    rows = tuple(
        _row(source, base, filtering, text, pair, shift, advance)
        for pair in ("", "down", "up")
        for shift in _SHIFTS
        for text, filtering in zip(texts, filters, strict=True)
    )
    raster = Chain(*base, Interlace()).resolve(source.raster).output
    return FlickerStudy(source.name, Chain(*base).text if base else "", float(raster.rate), rows)


def base_stages(source: Raster, chain: Chain | None) -> tuple[Stage, ...]:
    """Return the stages before the first filter or interlacing of a chain, or the default for None."""
    if chain is not None:
        kinds = [stage.kind for stage in chain.stages]
        ends = [kinds.index(kind) for kind in _ENDS_BASE if kind in kinds]
        return chain.stages[: min(ends, default=len(kinds))]
    if source.period == 2:
        raise ParameterError(
            f"flicker study: the source is {source.describe()} and no chain was given; "
            "give one that makes frames of it first, such as 'deinterlace how=bob, line-average lines=480'"
        )
    if source.lines < 720:
        return ()
    return (LineAverage(lines=576 if round(source.rate) in _FIFTY_HERTZ else 480),)


def _row(
    source: Clip,
    base: Sequence[Stage],
    filtering: Stage,
    taps: str,
    pair: str,
    shift: int,
    advance: Callable[[str], None],
) -> FlickerRow:
    moved = (Position(lines=shift),) if shift else ()
    landing = (FieldOnly(pair=pair),) if pair else ()
    chain = Chain(*base, *moved, filtering, Interlace(), *landing)
    advance(chain.text)
    found = predict(source, chain, metrics=MEASURED)
    scan = "field-only" if pair else "interlaced"
    return FlickerRow(taps, scan, pair, shift, chain.text, found.metrics, found.why)

"""Vertical detail: how much of the source's is kept, and how much is false."""

from __future__ import annotations

import numpy as np

from scalesim.core.affine import IDENTITY
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.detail.fits import line_by_line, smear, smeared
from scalesim.metrics.detail.places import Compared
from scalesim.metrics.detail.spectra import Detail, detail
from scalesim.metrics.detail.waves import Array, Band, Side, Windows
from scalesim.metrics.key import Key, Resolution, apart_by
from scalesim.metrics.outlines.line_weights import landed_of, nothing_beyond
from scalesim.metrics.outlines.strips import strip_width

LOW, HIGH = 1 / 8, 1 / 2
"""The band in cycles per line of the woven picture."""
_MORE = 1.05
"""Shares kept above this are not gain: the source foretells its own aliases."""
PER_HEIGHT = {"60 Hz": (30.0, 120.0), "50 Hz": (36.0, 144.0)}
"""The band in cycles per height of the source's picture: that of 240 and of 288 lines."""


def _said(kept: float) -> str:
    """Return how much is kept of what these lines can carry; more than all of it needs a word."""
    if kept > _MORE:
        return (
            f"Vertical detail reads {100 * kept:.0f} % of the source's: it repeats in step with the scan "
            "lines, where lines that were lost or doubled cannot be told from detail."
        )
    return f"{100 * kept:.0f} % of the vertical detail that these lines can carry is kept."


@metric(
    Key(
        "detail_kept",
        "0..1 and above",
        "higher",
        "vertical detail kept",
        reading="vertical detail of the source that is still there, from 1/8 to 1/2 cycle per frame line. "
        "Art whose dots are whole source lines repeats in step with its own aliases: it can read "
        "above 1, with "
        "next to no false detail. In a ranking anything above 1 counts as 1",
        family="sharpness",
        needs="strips",
        share="% of the detail",
        resolution=0.005,
        differs=Resolution(0.005, captured=0.02, position=0.082, position_mean=0.016),
        counts="windows",
        enough=1.0,
        clear=apart_by(0.05),
        short="vertical detail kept",
        head="detail kept, %",
        improves="sharper",
        wins="keeps more vertical detail",
        best="most vertical detail kept",
        worst="least vertical detail kept",
        told=True,
        say=_said,
        captions=("{} % of the vertical detail", "{} % of the detail", "{} % detail"),
        judge=lambda evidence: compared_lines(evidence).judged("lost"),
        case="{} % of the detail there is lost, as energy",
    ),
    Key(
        "false_detail",
        "0..1 and above",
        "lower",
        "false vertical detail",
        reading="vertical detail the source does not have there (stair steps, lines lost and found again, "
        "noise), in shares of the source's detail in the same band",
        family="sharpness",
        needs="strips",
        share="% of the detail",
        resolution=0.01,
        differs=Resolution(0.01, captured=0.05, position=0.032, position_mean=0.015),
        counts="windows",
        clear=apart_by(0.1),
        short="false detail",
        head="false detail, %",
        improves="truer",
        wins="shows less false detail",
        best="least false detail",
        worst="most false detail",
        told=True,
        say="False detail (stair steps, lines lost and found again) adds up to {} % of the source's detail.",
        captions=("false detail {} %", "{} % false"),
        judge=lambda evidence: compared_lines(evidence).judged("false"),
        case="false detail of {} % of the energy there",
    ),
)
def detail_of_lines(evidence: Evidence) -> tuple[float, float]:
    """Vertical detail kept and false vertical detail, 0..1 and above, by `spectra`.

    Luma in code values, means along the line of 1/240 of the width (`strips`). The band is 1/8 to 1/2
    cycle per line of the woven picture; with reference "source", where rasters of different line
    counts are compared, 30 to 120 cycles per height of the source's picture (36 to 144 for outputs
    of 288 or 576 lines). What no output line can carry is lost; above the source's own highest
    frequency nothing is asked for. What the chain does along the line is taken out first. Lines and
    strips that are hidden or pushed out take no part. `n` is the number of windows.

    Of art three source lines to the dot, in position at 3:1, a drop and an average alike kept 1.17 and
    showed 0.01 of false detail: such art repeats every line, so its aliases follow from it.

    Raises: NotMeasurable when the source has no vertical detail in the band (under half a code), or
    fewer than 16 lines are seen
    """
    found = compared_lines(evidence).found
    tell(evidence, ("detail_kept", "false_detail"), found, _band(evidence))
    return found.kept, found.false


def compared_lines(evidence: Evidence) -> Compared:
    """Return the detail of the lines, and where its places are; made once per evidence."""
    if "detail of lines" not in evidence.cache:
        evidence.cache["detail of lines"] = _compared(evidence)
    compared: Compared = evidence.cache["detail of lines"]
    return compared


def _compared(evidence: Evidence) -> Compared:
    band = _band(evidence)
    first, last = _seen_lines(evidence)
    windows = Windows.of(first, last, evidence.landed.shape[0])
    strips, seen, landed = both_in_strips(evidence)
    taps = None
    if not nothing_beyond(evidence, strips, seen, landed):
        taps = smear(line_by_line(evidence, seen, landed) @ seen, landed)
    look = evidence.lines.inverse()

    def given(frequencies: Array) -> Side:
        if taps is not None:
            return Side.of(smeared(seen, taps), look, windows, frequencies)
        name = f"vertical detail {look} {windows} {band} {strips}"
        return evidence.once(name, lambda: Side.of(seen, look, windows, frequencies))

    found = detail(given, landed, IDENTITY, band, windows)
    width = strip_width(evidence.source.shape[1])

    def across(columns: Array) -> tuple[Array, Array]:
        samples = (columns + strips.start) * float(width)
        return samples, evidence.samples.inverse()(samples)

    return Compared(found, windows, "lines", evidence.lines, across)


def both_in_strips(evidence: Evidence) -> tuple[range, Array, Array]:
    """Return the strips that are seen, the source (lines, strips) and the landed picture in them."""
    strips = _seen_strips(evidence)
    source = evidence.source_strips
    seen = np.ascontiguousarray(source[:, strips.start : strips.stop])
    return strips, seen, landed_of(evidence, strips)


def tell(evidence: Evidence, names: tuple[str, ...], found: Detail, band: Band) -> None:
    """Note how the values were had and on how many windows they rest."""
    contrast = "" if found.gain is not None else "; contrast could not be taken out"
    for name in names:
        evidence.n[name] = found.windows
        evidence.how[name] = band.words + contrast


def _band(evidence: Evidence) -> Band:
    """Return the band in cycles per landed line, cut at what the source can hold."""
    scale, lines = abs(evidence.lines.scale), evidence.source.shape[0]
    if isinstance(evidence.reference, str) and evidence.reference == "source":
        low, high = PER_HEIGHT["50 Hz" if evidence.landed.shape[0] % 288 == 0 else "60 Hz"]
        band = Band(
            low * scale / lines, high * scale / lines, f"{low:g} to {high:g} cycles per picture height"
        )
    else:
        unit = "frame line" if evidence.raster.scan == "interlaced" else "line"
        band = Band(LOW, HIGH, f"1/8 to 1/2 cycle per {unit}")
    if scale / 2 < band.high - 1e-9:
        if scale / 2 < 1.25 * band.low:
            raise NotMeasurable(
                f"the source's {lines} lines are too few for detail of {band.words} of the output"
            )
        band = Band(band.low, scale / 2, f"{band.words}, up to the source's own half cycle per line")
    return band


def _seen_lines(evidence: Evidence) -> tuple[float, float]:
    """Return the landed lines that are visible and look at what is left of the source."""
    rows, kept = evidence.window[0], evidence.geometry.kept_lines
    ends = sorted(evidence.lines.inverse()(np.array(kept)))
    return max(float(rows.start), ends[0]), min(float(rows.stop), ends[1])


def _seen_strips(evidence: Evidence) -> range:
    """Return the strips of the source that are seen whole."""
    width, seen = strip_width(evidence.source.shape[1]), evidence.window[1]
    shown = evidence.samples(np.array([seen.start, seen.stop], dtype=float))
    kept = evidence.geometry.kept_samples
    first = int(np.ceil(max(shown.min(), kept[0], 0.0) / width - 1e-6))
    last = int(min(shown.max(), kept[1], evidence.source.shape[1]) / width + 1e-6)
    if last - first < 1:
        raise NotMeasurable("nothing of the source is seen along the line")
    return range(first, last)

"""Detail along the line: how much of the source's is kept, and how much is false."""

from __future__ import annotations

import numpy as np

from scalesim.core.affine import IDENTITY
from scalesim.core.landed import is_memory
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.detail.fits import line_by_line
from scalesim.metrics.detail.lines import both_in_strips, tell
from scalesim.metrics.detail.places import Compared
from scalesim.metrics.detail.spectra import detail
from scalesim.metrics.detail.waves import Array, Band, Side, Windows
from scalesim.metrics.key import Key, Resolution, apart_by

_ROWS = 240
"""Lines looked at, about; of more of them every third, fifth ..., so that both fields take part."""
LOW, HIGH = 80.0, 320.0
"""The band in cycles per width of the source's picture: 1/8 to 1/2 cycle per sample of 640."""


@metric(
    Key(
        "detail_kept_samples",
        "0..1 and above",
        "higher",
        "detail kept along the line",
        reading="the same along the line, from 80 to 320 cycles per picture width (about 1.5 to 6 MHz of a "
        "15 kHz line); above 1 counts as 1, too",
        family="sharpness",
        share="% of the detail",
        resolution=0.005,
        differs=Resolution(0.005, captured=0.02),
        counts="windows",
        enough=1.0,
        clear=apart_by(0.05),
        short="detail kept along the line",
        head="detail along the line, %",
        improves="sharper",
        wins="keeps more detail along the line",
        best="most detail kept along the line",
        worst="least detail kept along the line",
        say="{} % of the detail along the line is kept.",
        judge=lambda evidence: compared_samples(evidence)[0].judged("lost"),
    ),
    Key(
        "false_detail_samples",
        "0..1 and above",
        "lower",
        "false detail along the line",
        reading="detail along the line that the source does not have there, in shares of the source's; two "
        "fields that mix in light on one set of lines read up to 0.2 by that alone",
        family="sharpness",
        share="% of the detail",
        resolution=0.01,
        differs=Resolution(0.01, captured=0.05),
        counts="windows",
        clear=apart_by(0.1),
        short="false detail along the line",
        head="false along the line, %",
        improves="truer",
        wins="shows less false detail along the line",
        best="least false detail along the line",
        worst="most false detail along the line",
        say="False detail along the line adds up to {} % of the source's detail.",
        judge=lambda evidence: compared_samples(evidence)[0].judged("false"),
    ),
)
def detail_of_samples(evidence: Evidence) -> tuple[float, float]:
    """Detail kept and false detail along the line, 0..1 and above, by `spectra` with the axes exchanged.

    What each output line shows of the source's lines is taken out first: by the chain's weights, or,
    where they are not known, by the mixture of source lines that is nearest to it. The band is 80
    to 320 cycles per width of the source's picture, whatever the samples: half a period takes 6.3 to 1.6
    thousandths of it. `n` is the number of windows, of a quarter of the width.

    Two fields mixed in light on one set of lines are no mixture of the source's code values: that alone
    read up to 0.2 of false detail (median 0.08, filtered 1/2/1 0.03) on 35 frames.

    Raises: NotMeasurable when the source has no detail along the line in the band (under half a code), or
    fewer than 200 samples, or fewer than 64 samples are seen
    """
    compared, band = compared_samples(evidence)
    found = compared.found
    tell(evidence, ("detail_kept_samples", "false_detail_samples"), found, band)
    return found.kept, found.false


def compared_samples(evidence: Evidence) -> tuple[Compared, Band]:
    """Return the detail along the line and where its places are, and the band; made once per evidence."""
    if "detail of samples" not in evidence.cache:
        evidence.cache["detail of samples"] = _compared(evidence)
    compared: tuple[Compared, Band] = evidence.cache["detail of samples"]
    return compared


def _compared(evidence: Evidence) -> tuple[Compared, Band]:
    look = evidence.samples.inverse()
    samples = evidence.source.shape[1]
    highest = min(HIGH, samples / 2)
    if highest < 1.25 * LOW:
        raise NotMeasurable(
            f"the source has {samples} samples a line; detail along the line needs {2.5 * LOW:.0f}"
        )
    scale = abs(evidence.samples.scale)
    words = f"{LOW:g} to {highest:g} cycles per picture width"
    band = Band(LOW * scale / samples, highest * scale / samples, words)
    rows, columns = evidence.window
    some = slice(rows.start, rows.stop, max(1, (rows.stop - rows.start) // _ROWS * 2 - 1))
    ends = sorted(look(np.array(evidence.geometry.kept_samples)))
    first, last = max(float(columns.start), ends[0]), min(float(columns.stop), ends[1])
    windows = Windows.of(first, last, evidence.landed.shape[1])
    _, seen, in_strips = both_in_strips(evidence)
    on_lines = evidence.source_lines(line_by_line(evidence, seen, in_strips), some)

    def given(frequencies: Array) -> Side:
        return Side.of(on_lines.T, look, windows, frequencies)

    landed = evidence.landed_luma[some]
    # of a chain that only mixes lines they are the same: spectra of one will do
    same = look == IDENTITY and (is_memory(on_lines, landed) or np.array_equal(on_lines, landed))
    found = detail(given, landed.T, IDENTITY, band, windows, same=same)

    def across(columns: Array) -> tuple[Array, Array]:
        lines = np.minimum(rows.start + columns * float(some.step), float(rows.stop))
        return evidence.lines(lines), lines

    return Compared(found, windows, "samples", evidence.samples, across), band

"""Predicted against captured: what the identified box makes of the chart, beside what was captured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.kernel import kernel_chart
from scalesim.core.build import average_lines
from scalesim.core.encoding import code_to_light, light_to_code, luma
from scalesim.draw import diverging
from scalesim.jobs.identify.findings import Findings
from scalesim.jobs.predict.predict import predict
from scalesim.metrics.fidelity.likeness import structural_similarity
from scalesim.signal.kernel.along_line import blurred

LIMITS = (1, 2, 4, 8, 16, 32, 64, 128)
"""Codes of 255 at which the colours of the residual may end: the least that holds 999 of 1000 samples."""

_BLOCKS = (6, 8)
_STANDS_OUT, _LEAST_CODES = 3.0, 8.0
"""A part whose residual is so many times the median of all parts, and so many codes, is named."""


@dataclass(frozen=True, eq=False)
class IdentifyCheck:
    """The capture, the same predicted, and what is left.

    Parameters:
        captured, predicted : (lines, samples) luma code values, woven when there are two fields
        ssim : likeness of the two, Wang's
        rms_codes : root mean square difference, codes of 255
        rms_fields : the same of each field, the top one first
        stands_out : parts of the picture where they disagree most, as (top, left) shares and rms codes
    """

    captured: NDArray
    predicted: NDArray
    ssim: float
    rms_codes: float
    rms_fields: tuple[float, ...]
    stands_out: tuple[tuple[float, float, float], ...]

    @property
    def apart(self) -> NDArray:
        """(lines, samples) captured less predicted, codes of 255."""
        return 255 * (self.captured - self.predicted)

    @property
    def limit(self) -> int:
        """Codes at the ends of the residual's colours."""
        most = float(np.quantile(np.abs(self.apart), 0.999))
        return next((each for each in LIMITS if each >= most), LIMITS[-1])

    @property
    def pictures(self) -> dict[str, NDArray]:
        """Both, and their difference in the colours of a signed one, (lines, samples, 3)."""
        named = {"captured": self.captured, "predicted": self.predicted}
        found = {name: np.repeat(values[..., None], 3, axis=2) for name, values in named.items()}
        residual = diverging.palette()[diverging.steps_of(self.apart, self.limit)]
        return {**found, "residual": residual / np.float32(255)}

    def sentences(self) -> list[str]:
        """Return how well the prediction meets the capture, and where it does not."""
        said = [
            f"Played through this answer, the chart differs from the capture by {self.rms_codes:.1f} codes "
            f"of 255 (rms over the whole picture, the edges between the chart's cells included; 'left "
            f"unexplained' is of the cells' insides alone); SSIM {self.ssim:.3f}."
        ]
        if len(self.rms_fields) == 2:
            said.append("Field by field: {:.1f} and {:.1f} codes.".format(*self.rms_fields))
        if self.stands_out:
            places = "; ".join(
                _place(top, left) + f" ({rms:.0f} codes)" for top, left, rms in self.stands_out
            )
            said.append(
                f"It disagrees most {places}: tearing, parts that the box treats by motion, or a picture "
                "laid over the chart would do that."
            )
        return said

    def to_dict(self) -> dict[str, Any]:
        """Return the figures by name."""
        parts = [{"top": t, "left": x, "rms_codes": r} for t, x, r in self.stands_out]
        return {
            "ssim": self.ssim,
            "rms_codes": self.rms_codes,
            "rms_codes_fields": list(self.rms_fields),
            "stands_out": parts,
        }


def check_identification(found: Findings) -> IdentifyCheck:
    """Return the chart through an identified box and its capture path, against the mean capture.

    A chain of named stages is run by `predict`; measured weights are applied as they are. The path's gain,
    lift and gamma, its place and blur along the line are those that were found.
    """
    chart = kernel_chart(found.mode, page=found.page, aspect=found.aspect).frame
    captured = found.captured
    parts = _by_weights(luma(chart), found) if found.method == "unknown" else _by_chain(chart, found)
    lines = np.empty((len(parts) * parts[0].shape[0], chart.shape[1]), np.float32)
    for k, part in enumerate(parts):
        lines[k :: len(parts)] = part
    times = max(1, round(captured.shape[0] / lines.shape[0]))
    captured = captured[times // 2 :: times][: lines.shape[0]]
    predicted = _captured_as(lines, captured.shape[1], found)[: captured.shape[0]]
    apart = captured - predicted
    return IdentifyCheck(
        captured,
        predicted,
        structural_similarity(predicted, captured),
        255 * float(np.sqrt(np.mean(apart**2))),
        tuple(255 * float(np.sqrt(np.mean(apart[k :: len(parts)] ** 2))) for k in range(len(parts))),
        _stands_out(apart),
    )


def _by_chain(chart: NDArray, found: Findings) -> list[NDArray]:
    """Return the lines of each field as `predict` makes them, the top field first."""
    woven = luma(predict(chart, found.chain, mode=found.mode, metrics=[]).woven)
    chain_fields = len(woven) // found.rows[0].shape[0] if len(found.rows) == 2 else 1
    parts = [woven[0::2], woven[1::2]] if chain_fields >= 2 else [woven] * len(found.rows)
    return [part.astype(np.float32) for part in parts]


def _by_weights(chart: NDArray, found: Findings) -> list[NDArray]:
    """Return the lines of each field by its weights, (lines, chart samples), the top field first."""
    if found.encoding == "light":
        light = code_to_light(chart)
        return [light_to_code(np.maximum(rows.astype(np.float32) @ light, 0)) for rows in found.rows]
    return [rows.astype(np.float32) @ chart for rows in found.rows]


def _captured_as(lines: NDArray, samples: int, found: Findings) -> NDArray:
    """Return lines of the chart's width as the capture path shows them."""
    along, width = found.along, lines.shape[1]
    # as the registration takes it: every captured sample is the mean of its span
    across = average_lines(width, samples, along.scale * width / samples, along.shift * width)
    values = (across.astype(np.float32) @ lines.T).T
    values = blurred(values, along.blur)
    tone = found.tone
    shown = tone.lift + tone.gain * np.clip(values, 0, None) ** tone.gamma
    return np.clip(shown, max(tone.floor, 0.0), min(tone.ceiling, 1.0)).astype(np.float32)


def _stands_out(apart: NDArray) -> tuple[tuple[float, float, float], ...]:
    """Return the parts whose residual stands out, the worst first, three at most."""
    found = []
    for row, band in enumerate(np.array_split(apart, _BLOCKS[0], axis=0)):
        for column, part in enumerate(np.array_split(band, _BLOCKS[1], axis=1)):
            rms = 255 * float(np.sqrt(np.mean(part**2)))
            found.append((row / _BLOCKS[0], column / _BLOCKS[1], rms))
    middle = float(np.median([rms for *_, rms in found]))
    limit = max(_STANDS_OUT * middle, _LEAST_CODES)
    worst = sorted((part for part in found if part[2] > limit), key=lambda part: -part[2])
    return tuple(worst[:3])


def _place(top: float, left: float) -> str:
    down = "at the top" if top < 1 / 3 else "in the middle" if top < 2 / 3 else "at the bottom"
    across = "left" if left < 1 / 3 else "centre" if left < 2 / 3 else "right"
    return f"{down}, {across}"

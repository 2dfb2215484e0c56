"""Fidelity to the ideal: SSIM and PSNR on BT.709 luma, after a residual vertical shift is removed.

The reference is moved, not the picture under test, so that no interpolation touches what is judged.
Fidelity does not see flicker or field order: an unfiltered interlaced picture equals its ideal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.build import resample_lines
from scalesim.core.encoding import code_to_light, luma
from scalesim.core.operator import Operator
from scalesim.errors import NotMeasurable, ShapeError
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.fidelity.reference import Ideal, ThroughBeam, refined_shift
from scalesim.metrics.fidelity.windows import WINDOW, similarity_terms
from scalesim.metrics.key import LESS_MISSING, SHARE_TIE, Key, apart_by

_FITS = 0.5 / 255
"""A root mean square misfit below this is rounding: no need to try mixing code values."""


@dataclass(frozen=True, eq=False)
class Registered:
    """The landed picture and its ideal, both inside the visible window.

    Parameters:
        test, reference : (lines, samples) float64 luma of the landed picture and of its ideal
        shift : landed lines the ideal was moved down by, None when it could not be told
        test_colours, reference_colours : (lines, samples, 3) code values of both
    """

    test: NDArray
    reference: NDArray
    shift: float | None
    test_colours: NDArray
    reference_colours: NDArray


def registered(evidence: Evidence) -> Registered:
    """Return landed and ideal luma after the residual shift is removed; made once per evidence."""
    found = evidence.cache.get("registered")
    if found is None:
        found = evidence.cache["registered"] = _register(evidence)
    return found


def _register(evidence: Evidence) -> Registered:
    if isinstance(evidence.reference, str):
        return _against_source(evidence) if evidence.reference == "source" else _against_ideal(evidence)
    return _against_picture(evidence, evidence.reference)


def source_light(evidence: Evidence) -> NDArray:
    """Return the source in light, worked out once for all chains."""
    return evidence.once("light", lambda: code_to_light(np.asarray(evidence.source)))


def _against_ideal(evidence: Evidence) -> Registered:
    shape = (evidence.landed.shape[0], evidence.landed.shape[1])
    blocks = evidence.geometry.landed_blocks(evidence.raster)
    ideal = Ideal(source_light(evidence), blocks, evidence.samples, shape)
    window = _kept_window(evidence, blocks)
    in_code = Ideal(evidence.source_luma[:, :, None], blocks, evidence.samples, shape, encoding="code")
    return _shifted(
        np.asarray(evidence.landed)[window],
        lambda lower: ideal.picture(lower)[window],
        lambda lower: in_code.picture(lower)[window][:, :, 0],
    )


def _against_source(evidence: Evidence) -> Registered:
    beam = ThroughBeam(source_light(evidence))
    window = _source_window(evidence)
    test = beam.output(np.asarray(evidence.landed), evidence.lines, evidence.samples)[window]
    found = _shifted(test, lambda lower: beam.source(lower)[window])
    shift = None if found.shift is None else found.shift / abs(evidence.lines.scale)
    return replace(found, shift=shift)


def _against_picture(evidence: Evidence, reference: NDArray) -> Registered:
    if reference.shape != evidence.landed.shape:
        lines, samples = evidence.landed.shape[:2]
        raise ShapeError(
            f"reference picture is {reference.shape[1]}x{reference.shape[0]}, the output {samples}x{lines}: "
            "give a reference of the output's size, or use ideal or source"
        )
    window = evidence.window
    landed = np.asarray(evidence.landed)[window]
    reference = reference.astype(landed.dtype)[window]
    return _shifted(landed, lambda lower: _moved(reference, lower))


def _moved(picture: NDArray, lower: float) -> NDArray:
    if lower == 0:
        return picture
    lines = picture.shape[0]
    return Operator(resample_lines(lines, lines, 1.0, -lower, kernel="cubic"))(picture)


def _shifted(
    test: NDArray,
    reference: Callable[[float], NDArray],
    in_code: Callable[[float], NDArray] | None = None,
) -> Registered:
    """Return both with the reference moved down by the shift that fits best.

    Parameters:  test : (lines, samples, 3) code values; reference : the same, moved down by so many lines;
                 in_code : the luma of a reference that mixes code values, if the chain may have done so. A
                 bright line is wider mixed in light: against the other kind edges would seem to have moved
    """
    if test.size == 0:
        raise NotMeasurable("nothing of the picture is visible")
    colours = reference(0.0)
    test_luma, reference_luma = (luma(values).astype(np.float64) for values in (test, colours))
    wide = refined_shift(lambda lower: luma(reference(lower)) if lower else reference_luma, test_luma)
    shift = wide.lines
    if in_code is not None and wide.misfit > _FITS**2:
        other = refined_shift(in_code, test_luma)
        shift = other.lines if other.misfit < wide.misfit else shift
    if shift is not None and abs(shift) > 0.005:
        colours = reference(shift)
        reference_luma = luma(colours).astype(np.float64)
    return Registered(test_luma, reference_luma, shift, test, colours)


def _kept_window(evidence: Evidence, blocks: Affine) -> tuple[slice, slice]:
    """Return the visible landed lines and samples that stand for source, whole ones only.

    Bars, and lines a scaler repeats beyond the picture's edge, are not judged.
    """
    lines, samples = evidence.window
    geometry = evidence.geometry
    down, along = blocks.inverse(), evidence.samples.inverse()
    return _inner(lines, down, geometry.kept_lines), _inner(samples, along, geometry.kept_samples)


def _inner(seen: slice, to_output: Affine, kept: tuple[float, float]) -> slice:
    first = max(seen.start, ceil(to_output(kept[0]) - 1e-6))
    return slice(first, max(first, min(seen.stop, floor(to_output(kept[1]) + 1e-6))))


def _source_window(evidence: Evidence) -> tuple[slice, slice]:
    """Return the source lines and samples that are kept and not hidden, whole ones only."""
    lines, samples = evidence.window
    geometry = evidence.geometry
    low, high = evidence.lines(float(lines.start)), evidence.lines(float(lines.stop))
    left, right = evidence.samples(float(samples.start)), evidence.samples(float(samples.stop))
    return (
        slice(ceil(max(low, geometry.kept_lines[0])), max(1, floor(min(high, geometry.kept_lines[1])))),
        slice(ceil(max(left, geometry.kept_samples[0])), max(1, floor(min(right, geometry.kept_samples[1])))),
    )


@metric(
    Key(
        "displacement_lines",
        "lines",
        "neither",
        "picture lower than ideal (− is higher)",
        reading="shift that is left after the chain's own placement, in scan lines; it is removed before "
        "likeness is measured",
        family="fidelity",
        digits=2,
    )
)
def displacement_lines(evidence: Evidence) -> tuple[float]:
    """Residual vertical shift of the landed picture against its ideal, in field-line pitches, + is lower."""
    shift = registered(evidence).shift
    if shift is None:
        raise NotMeasurable(
            "the picture has no vertical detail that tells one place from another, so no shift can be found"
        )
    return (shift * evidence.raster.landed_pitch,)


@metric(
    Key(
        "ssim",
        "0…1",
        "higher",
        "likeness to the ideal (SSIM)",
        reading="likeness to an ideal scaling with the same placement: every line the exact area mean in "
        "light of the piece of source it stands for. Knows nothing of flicker, so never judge by it alone",
        family="fidelity",
        digits=4,
        resolution=SHARE_TIE / 10,
        clear=LESS_MISSING,
        head="SSIM",
    )
)
def ssim(evidence: Evidence) -> tuple[float]:
    """Structural similarity on luma, visible window.

    Wang, Bovik, Sheikh, Simoncelli, IEEE Trans. Image Processing 13(4), 2004: 11x11 Gaussian window,
    sigma 1.5, K1 0.01, K2 0.03, data range 1, mean over the positions where the window fits.
    """
    pair = registered(evidence)
    return (structural_similarity(pair.reference, pair.test),)


def structural_similarity(reference: NDArray, test: NDArray) -> float:
    """Return the SSIM of two (lines, samples) float64 pictures of data range 1.

    Raises: NotMeasurable when a side is shorter than the window
    """
    if min(reference.shape) < WINDOW:
        raise NotMeasurable(
            f"the picture is {reference.shape[1]}x{reference.shape[0]}; SSIM's window is {WINDOW} square"
        )
    return similarity_terms(reference, test)[0]


@metric(
    Key(
        "psnr_db",
        "dB",
        "higher",
        "likeness to the ideal (PSNR)",
        reading="ratio of the peak to the error against the same ideal; knows nothing of flicker either",
        family="fidelity",
        clear=apart_by(3, "dB"),  # half the error's energy
    )
)
def psnr_db(evidence: Evidence) -> tuple[float]:
    """10*log10(1 / mean squared error) on luma, visible window, data range 1."""
    pair = registered(evidence)
    error = float(np.mean((pair.reference - pair.test) ** 2))
    if error < 1e-12:
        raise NotMeasurable("the picture equals its ideal: the ratio is infinite")
    return (float(10.0 * np.log10(1.0 / error)),)

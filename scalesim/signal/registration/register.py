"""Registration: which place of the source each line and sample of a capture shows.

A line-locked capture differs from its source by one straight line per axis, a gain and a lift. They
are found from the pictures alone: a guess by correlation over a grid of scales, then Gauss-Newton on
finer and finer grids, the source low-passed to the capture's pitch first. What is no such capture is
refused by name: a turned one, a picture of another frame, one without detail. A mirrored one is
registered with a negative scale and says so.

Measured on captures of 240 to 720 lines that mix lines, noise up to 4 codes and JPEG: nine in ten have
their scales within 1.2e-4 and their middle within 0.015 capture lines, the worst of 113 within 3.5e-4 and
0.045. A box that drops lines is seen only to within what it drops: on art of three lines to a line, its
place is off by up to a line of the source without a sign in the stated error. Nor is the place along
bare stripes, when the only thing that varies along them is the picture's own border.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan, degrees, floor

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.raster import Window
from scalesim.errors import NotIdentifiable
from scalesim.signal.registration.align import Fit, fit, reduced, warped
from scalesim.signal.registration.coarse import NEAR, WIDE, capture_blocks, guesses, small
from scalesim.signal.registration.telling import check_telling, checked, stated_errors

MOST_ROTATION_DEG = 0.2
LEAST_CORRELATION = 0.6
"""Below this the capture shows something else: other frames reach 0.3, poor right ones 0.85."""
_SURE, _SURE_MIRRORED = 0.9, 0.75
"""From here on no other scale is tried, and a mirrored picture is believed."""
_MIRRORED_LEAD = 0.15
"""By so much it must fit better than upright: a single box is its own mirror image."""
_CERTAIN = 0.97
"""From here on the other guesses are not looked at."""
_SURELY = 3.0
"""Standard errors by which a rotation must exceed the most that is allowed to be refused."""
_MIRRORS = ("", "samples", "lines", "both")
_FINE_LINES = 480
_FINE_SAMPLES = 360


@dataclass(frozen=True)
class Registration:
    """Where a capture looks on its source.

    Parameters:
        lines, samples : capture coordinate -> source coordinate, edges at integers; the scale is
            negative on an axis that is mirrored
        gain, lift : capture code = lift + gain * source code, both as 0..1
        rotation_deg : estimated rotation, at most 0.2 or registration is refused
        mirrored : "", "samples" (left and right swapped), "lines" (upside down) or "both"
        correlation : of both pictures' detail where they overlap, 0..1
        error_lines, error_samples : standard errors of the place the capture's middle looks at, in
            source lines and samples
        scale_error_lines, scale_error_samples : standard errors of the scales
        crop : the part of the source the capture shows, as shares of its height and width
        condition : condition number of the fit's six motions, each in its own unit; 1 is best
    """

    lines: Affine
    samples: Affine
    gain: float
    lift: float
    rotation_deg: float
    mirrored: str
    correlation: float
    error_lines: float
    error_samples: float
    scale_error_lines: float
    scale_error_samples: float
    crop: Window
    condition: float


def register(
    capture_luma: NDArray,
    source_luma: NDArray,
    *,
    lines_hint: int | None = None,
    start: tuple[Affine, Affine] | None = None,
    name: str = "capture",
    source_name: str = "source",
) -> Registration:
    """Return where a capture looks on its source.

    Parameters:
        capture_luma : (lines, samples) code values 0..1; a woven frame counts frame lines
        source_luma : (lines, samples) likewise
        lines_hint : how many capture lines the source's whole height makes, where known (240); else
            the capture's own number is where the search starts
        start : maps of lines and samples to try before any search, within a few lines of right
        name, source_name : of the two, for messages
    Raises: ShapeError for pictures of fewer than 32 lines or samples; NotIdentifiable when there is
        no detail or none along one axis, when the capture is turned by more than 0.2 degrees, or shows
        something else
    """
    capture, source = (
        checked(values, own) for values, own in ((capture_luma, name), (source_luma, source_name))
    )
    expected = (
        source.shape[0] / (lines_hint or capture.shape[0]),
        source.shape[1] / capture.shape[1],
    )
    first, mirrored = _first_fit(capture, source, expected, start, (name, source_name))
    turned = _turned(source, mirrored)
    fine = _fitted(capture, turned, (first.lines, first.samples), _fine_blocks(capture.shape), 8)
    best = fine if fine is not None and fine.correlation > first.correlation - 0.2 else first
    rotation, doubt = _rotation(first)
    if abs(rotation) > MOST_ROTATION_DEG + _SURELY * doubt:
        raise NotIdentifiable(
            f"{name}: is turned by {rotation:.1f} degrees; it must be below {MOST_ROTATION_DEG:g} "
            "(a photo of a screen or a turned picture cannot serve: give a line-locked capture)"
        )
    check_telling(best, name)
    return _finished(capture, turned, best, rotation, mirrored)


def _turned(source: NDArray, mirrored: str) -> NDArray:
    if mirrored in ("lines", "both"):
        source = source[::-1]
    if mirrored in ("samples", "both"):
        source = source[:, ::-1]
    return np.ascontiguousarray(source)


def _unmirrored(look: Affine, count: int, swapped: bool) -> Affine:
    return Affine(-look.scale, count - look.offset) if swapped else look


def _first_fit(
    capture: NDArray,
    source: NDArray,
    expected: tuple[float, float],
    start: tuple[Affine, Affine] | None,
    names: tuple[str, str],
) -> tuple[Fit, str]:
    """Return the best fit on the reduced grid, near the expected scale, else far from it or mirrored."""
    if start is not None:
        blocks = capture_blocks((capture.shape[0], capture.shape[1]))
        told = _fitted(capture, source, start, blocks, 10)
        if told is not None and told.correlation > _SURE:
            return told, ""
    tries = ((NEAR, ""), (WIDE, ""), *((NEAR, mirror) for mirror in _MIRRORS[1:]))
    best: tuple[Fit, str] | None = None
    for shares, mirrored in tries:
        found = _try(capture, _turned(source, mirrored), expected, shares)
        if found is None or (mirrored and found.correlation < _SURE_MIRRORED):
            continue
        lead = _MIRRORED_LEAD if mirrored else 0.0
        if best is None or found.correlation > best[0].correlation + lead:
            best = found, mirrored
        if best is not None and best[0].correlation > _SURE:
            break
    if best is None or best[0].correlation < LEAST_CORRELATION:
        reached = 0.0 if best is None else max(0.0, best[0].correlation)
        raise NotIdentifiable(
            f"{names[0]}: its detail correlates by {reached:.2f} with {names[1]}, at least "
            f"{LEAST_CORRELATION:g} is needed; it shows another frame or is turned: "
            "give a line-locked capture of this very frame"
        )
    return best


def _try(capture: NDArray, source: NDArray, expected: tuple[float, float], shares: NDArray) -> Fit | None:
    """Return the best fit from the best guesses on the grid `shares`."""
    blocks = capture_blocks((capture.shape[0], capture.shape[1]))
    coarse = blocks if shares is NEAR else (round(1.5 * blocks[0]), round(1.5 * blocks[1]))
    there = [max(1, floor(e * b + 0.5)) for e, b in zip(expected, coarse, strict=True)]
    found = guesses(small(capture, *coarse), small(source, *there), expected, shares, 4)
    best: Fit | None = None
    for guess in found:
        own = _fitted(capture, source, (guess.lines, guess.samples), blocks, 10)
        if own is not None and (best is None or own.correlation > best.correlation):
            best = own
        if best is not None and best.correlation > _CERTAIN:
            break
    return best


def _fine_blocks(size: tuple[int, ...]) -> tuple[int, int]:
    return max(1, -(-size[0] // _FINE_LINES)), max(1, round(size[1] / _FINE_SAMPLES))


def _fitted(
    capture: NDArray, source: NDArray, start: tuple[Affine, Affine], blocks: tuple[int, int], rounds: int
) -> Fit | None:
    """Return the fit on a capture reduced by `blocks` and a source reduced to about its pitch."""
    there = [max(1, floor(m.scale * b * 0.75)) for m, b in zip(start, blocks, strict=True)]
    maps = [Affine(m.scale * b / t, m.offset / t) for m, b, t in zip(start, blocks, there, strict=True)]
    found = fit(reduced(capture, *blocks), reduced(source, *there), (maps[0], maps[1]), rounds)
    if found is None:
        return None
    full = [
        Affine(m.scale * t / b, m.offset * t)
        for m, b, t in zip((found.lines, found.samples), blocks, there, strict=True)
    ]
    units = np.array([there[0], there[0] / blocks[0], there[1], there[1] / blocks[1]])
    ratio = there[0] / there[1]
    turn = np.array([ratio, 1 / ratio])
    return replace(
        found,
        **{"lines": full[0], "samples": full[1], "errors": found.errors * units},
        **{"slopes": found.slopes * turn, "slope_errors": found.slope_errors * turn},
    )


def _rotation(found: Fit) -> tuple[float, float]:
    """Return the rotation and its standard error, degrees: the part of both slopes that does not skew."""
    doubt = float(np.hypot(*found.slope_errors)) / 2
    return degrees(atan((found.slopes[0] - found.slopes[1]) / 2)), degrees(atan(doubt))


def _finished(capture: NDArray, turned: NDArray, best: Fit, rotation: float, mirrored: str) -> Registration:
    size = (capture.shape[0], capture.shape[1])
    gain, lift = _gain(capture, warped(turned, best.lines, best.samples, size), best, turned.shape)
    swapped = (mirrored in ("lines", "both"), mirrored in ("samples", "both"))
    maps = [
        _unmirrored(look, count, swap)
        for look, count, swap in zip((best.lines, best.samples), turned.shape, swapped, strict=True)
    ]
    shares = [
        sorted(min(1.0, max(0.0, float(look(float(end))) / there)) for end in (0, count))
        for look, count, there in zip(maps, size, turned.shape, strict=True)
    ]
    errors = stated_errors(best, _fine_blocks(capture.shape), size)
    return Registration(
        lines=maps[0],
        samples=maps[1],
        gain=gain,
        lift=lift,
        rotation_deg=rotation,
        mirrored=mirrored,
        correlation=max(0.0, best.correlation),
        error_lines=errors[0],
        error_samples=errors[1],
        scale_error_lines=errors[2],
        scale_error_samples=errors[3],
        crop=Window(shares[0][0], shares[0][1], shares[1][0], shares[1][1]),
        condition=best.condition,
    )


def _gain(capture: NDArray, drawn: NDArray, best: Fit, there: tuple[int, ...]) -> tuple[float, float]:
    """Return gain and lift by a robust straight line through means of about 1/60 of the picture."""
    blocks = (max(1, capture.shape[0] // 60), max(1, capture.shape[1] // 60))
    y, x = (reduced(v, *blocks) for v in (capture, drawn))
    keep = []
    for look, count, block, size in zip((best.lines, best.samples), x.shape, blocks, there, strict=True):
        place = look((np.arange(count) + 0.5) * block)
        margin = look.scale * (block + 2)
        keep.append((place > margin) & (place < size - margin))
    inside = np.outer(*keep)
    design = np.stack([x[inside], np.ones(int(inside.sum()), np.float32)], axis=1).astype(np.float64)
    wanted = y[inside].astype(np.float64)
    weight = np.ones(len(wanted))
    answer = np.array([1.0, 0.0])
    for _ in range(6):
        answer = np.linalg.lstsq(design * weight[:, None], wanted * weight, rcond=None)[0]
        missing = np.abs(wanted - design @ answer)
        weight = 1 / np.sqrt(1 + np.square(missing / (2 * float(np.median(missing)) + 1e-4)))
    return float(answer[0]), float(answer[1])

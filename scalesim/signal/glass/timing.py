"""Where successive fields land, from a film: by when its frames, and rows of them, saw which field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.exposure import Landing, unknown
from scalesim.signal.glass.film import Rows

DECAY_S = 0.0012
"""Light of a field's line after it was drawn: decay to 1/e; common practice for the slowest of usual
phosphors."""
LEAST_PITCH = 4.5
"""Pixels a line: below, a film's block grid is mistaken for lines."""
STARTS = 24
READOUTS_S = (0.0, 0.006, 0.011, 0.016, 0.022)
EXPOSURES = (0.1, 0.25, 0.5, 1.0, 1.25)
"""In fields, tried where the shutter is not known; never longer than a frame."""
SURE = 0.12
FEWEST_FRAMES = 6
ACTIVE = 0.92
COHERENT_DOUBLED, COHERENT = 0.8, 0.85
COSTLY = 0.3
"""Cost above which neither answer explains a film: a wrong field rate, or a camera in motion."""
AS_WELL = 0.01
"""Cost within which shutters and readouts explain a film alike."""
STILL_FRAMES = 0.9
TOGETHER = 8
"""Rows of cells that are taken together where single lines waver so much that none holds by itself."""


@dataclass(frozen=True, eq=False)
class Timed:
    """What a film's timing says.

    Parameters:
        landing : the verdict; difference : cost of one set less that of two; rate : fields a second
        readouts, exposures : (shortest, longest) s of the models of two sets that explain the film as well as
            the best one to `AS_WELL`; None where it shows one set or is not told
        phases : (frames,) pitches where each frame's lines lie against the first, 0..1; times : s
        signs : (frames, rows) -1..1 which field prevails, of the best model of two sets; None for one set
    """

    landing: Landing
    difference: float
    rate: float
    readouts: tuple[float, float] | None
    exposures: tuple[float, float] | None
    phases: NDArray[np.float64]
    times: NDArray[np.float64]
    signs: NDArray[np.float64] | None = None


@dataclass(frozen=True)
class _Model:
    cost: float
    coherence: float
    signs: NDArray[np.float64] | None
    readouts: tuple[float, float] | None = None
    exposures: tuple[float, float] | None = None


def timed(
    rows: Sequence[Rows],
    lines: NDArray[np.float64],
    places: NDArray[np.float64],
    *,
    rate: float,
    field_lines: float,
    shutter: float | None,
    pitch: float,
) -> Timed:
    """Return where fields land, of a dozen frames or more.

    For every start, readout and shutter the share of either field in every row of every frame is predicted;
    two sets turn the carrier over where the other field prevails. The cost is the rms of the steps of phase
    from frame to frame (cycles) and twice what is missing from coherence inside the frames. Definition of
    this
    project; the limits were set on a simulated camera.

    Parameters:
        rows : of every frame; lines : (rows,) phase in lines of the rows of cells; places : (rows,) 0..1
        rate : fields a second; field_lines : lines a field lasts, with its blanking; shutter : s
        pitch : pixels a line in the film
    """
    z = np.array([each.z for each in rows])
    times = np.array([each.time for each in rows])
    moved = camera_lines(rows, pitch)
    if moved is not None:
        z = z * np.exp(-2j * np.pi * moved[:, None])
    phases = np.angle(z.sum(axis=1)) / (2 * np.pi) % 1
    nothing = Timed(unknown(""), 0.0, rate, None, None, phases, times)
    wavering = _doubled(z) < COHERENT_DOUBLED
    if wavering:
        z, lines, places = _grouped(z, lines, places)
    doubled = _doubled(z)
    if len(rows) < FEWEST_FRAMES:
        return _with(
            nothing, f"{len(rows)} frames show the lines; {FEWEST_FRAMES} are needed: film two seconds"
        )
    if pitch < LEAST_PITCH:
        return _with(
            nothing,
            f"a line is {pitch:.1f} pixels high; in films {LEAST_PITCH} are needed, below lines and the "
            "file's blocks are mistaken for each other: come closer",
        )
    if doubled < COHERENT_DOUBLED:
        return _with(
            nothing, "the lines do not hold still inside its frames; brace the camera, use a shorter shutter"
        )
    one = _cost(z, None)
    two = _best_two(z, times, lines, places, rate=rate, field_lines=field_lines, shutter=shutter)
    difference = one.cost - two.cost
    better = two if difference > 0 else one
    said = Timed(unknown(""), difference, rate, None, None, phases, times)
    if abs(difference) < SURE or better.coherence < COHERENT or better.cost > COSTLY:
        return _with(said, _undecided(times, rate))
    sure = float(1 / (1 + np.exp(-abs(difference) / 0.06)))
    if better is one:
        off, error = 0.0, 0.02 + one.cost / 2
        return _landing(said, Landing("one", off, error, sure, _ONE, "film"))
    off, error = _offset(z, two)
    assert two.signs is not None
    signs = np.repeat(two.signs, TOGETHER, axis=1) if wavering else two.signs
    said = replace(
        said,
        signs=_as_wide(signs, len(rows[0].z)),
        readouts=two.readouts,
        exposures=two.exposures if shutter is None else (shutter, shutter),
    )
    return _landing(said, Landing("two", off, error, sure, _TWO, "film"))


_ONE = "over the film every field's lines lie in one place"
_TWO = "over the film lines change places as the fields do"


def _undecided(times: NDArray, rate: float) -> str:
    frames = float(1 / np.median(np.diff(times)))
    fields = rate / frames
    if abs(fields / 2 - round(fields / 2)) < 0.02 and round(fields / 2) > 0:
        return (
            f"at {frames:.2f} frames a second each frame shows the same parity of field; film at 60, 50, 24 "
            "or 120 a second"
        )
    return (
        "one set and two explain the film about as well; film at 60, 50 or 120 a second with a shutter of "
        "a field or less, 6 to 10 pixels a line"
    )


def _with(timed_: Timed, reason: str) -> Timed:
    return _landing(timed_, unknown(reason))


def _landing(timed_: Timed, landing: Landing) -> Timed:
    return replace(timed_, landing=landing)


def camera_lines(rows: Sequence[Rows], pitch: float) -> NDArray[np.float64] | None:
    """Return (frames,) lines that the camera moved by; None where the bezel does not say it of most frames.

    Parameters:  pitch : pixels a line in the film
    """
    known = [each.moved is not None for each in rows]
    if not known or np.mean(known) < STILL_FRAMES:
        return None
    down = np.array([np.nan if each.moved is None else each.moved[0] for each in rows])
    at = np.arange(len(rows))
    seen = np.isfinite(down)
    # what lies lower in the frame by d pixels shows a phase less by d / pitch
    return np.asarray(-np.interp(at, at[seen], down[seen]) / pitch)


def _grouped(z: NDArray, lines: NDArray, places: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Return carrier, lines and places of rows of cells together: the waver of single lines cancels."""
    count = max(1, z.shape[1] // TOGETHER)
    used = slice(0, count * TOGETHER)
    parts = z[:, used].reshape(len(z), count, -1).sum(axis=2)
    return parts, *(each[used].reshape(count, -1).mean(axis=1) for each in (lines, places))


def _as_wide(signs: NDArray, width: int) -> NDArray[np.float64]:
    """Return (frames, width) signs, the last one going on where rows were left over."""
    return np.asarray(np.pad(signs, ((0, 0), (0, max(0, width - signs.shape[1]))), mode="edge")[:, :width])


def _doubled(z: NDArray) -> float:
    squared = z**2 / (np.abs(z) + 1e-12)
    return float(np.mean(np.abs(squared.sum(axis=1)) / (np.abs(squared).sum(axis=1) + 1e-12)))


def _cost(z: NDArray, signs: NDArray | None) -> _Model:
    own = z if signs is None else z * signs
    weight = np.abs(z) if signs is None else np.abs(z * signs)
    total = own.sum(axis=1)
    coherence = float((np.abs(total) / (weight.sum(axis=1) + 1e-12)).mean())
    steps = np.angle(total[1:] * np.conj(total[:-1])) / (2 * np.pi)
    cost = float(np.sqrt(np.mean(steps**2))) + 2 * (1 - coherence)
    return _Model(cost, coherence, signs)


_TIED = 1e-9
"""Share of a cost within which two models explain alike, but for rounding."""


def _best_two(
    z: NDArray,
    times: NDArray,
    lines: NDArray,
    places: NDArray,
    *,
    rate: float,
    field_lines: float,
    shutter: float | None,
) -> _Model:
    period = 1 / rate
    longest = 1.02 * float(np.median(np.diff(times)))
    exposures = [shutter] if shutter is not None else [e * period for e in EXPOSURES if e * period <= longest]
    drawn = (lines / field_lines)[None, :] * period
    best: _Model | None = None
    costs: list[tuple[float, float, float]] = []
    for exposure, readout in product(exposures or [longest], READOUTS_S):
        opens = times[:, None] + places[None, :] * readout - drawn
        for start in np.arange(STARTS) / STARTS * 2 * period:
            made = _cost(z, field_signs(opens - start, exposure, period))
            costs.append((made.cost, exposure, readout))
            # a start a field later exchanges even and odd and explains as much: the first counts, always
            if best is None or made.cost < best.cost * (1 - _TIED):
                best = made
    assert best is not None
    alike = [each for each in costs if each[0] <= best.cost + AS_WELL]
    reach = [(min(values), max(values)) for values in list(zip(*alike, strict=True))[1:]]
    return replace(best, exposures=reach[0], readouts=reach[1])


def field_signs(opens: NDArray, exposure: float, period: float) -> NDArray[np.float64]:
    """Return (E - O) / (E + O), the shares of light of even and odd fields, -1..1.

    Field k is drawn at k periods and decays; a row gathers from when it opens for the exposure.

    Parameters:  opens : s after field 0 was drawn there, any shape; exposure, period : s
    """
    even = odd = np.zeros_like(opens)
    k0 = np.floor((opens - 5 * DECAY_S) / period)
    for step in range(int(np.ceil((exposure + 5 * DECAY_S) / period)) + 2):
        number = k0 + step
        since = opens - number * period
        share = np.exp(-np.maximum(since, 0) / DECAY_S) - np.exp(-np.maximum(since + exposure, 0) / DECAY_S)
        parity = number % 2
        even, odd = even + share * (parity == 0), odd + share * (parity == 1)
    return np.asarray((even - odd) / (even + odd + 1e-6))


def _offset(z: NDArray, model: _Model) -> tuple[float, float]:
    """Return how far the two fields lie apart in pitches, and half of its 95 % interval.

    Frames in which one field prevails are compared with both neighbours, which cancels a steady drift.
    """
    assert model.signs is not None
    turned = (z * model.signs).sum(axis=1)
    side = np.sign((np.abs(z) * model.signs).sum(axis=1))
    phase = np.angle(turned) / (2 * np.pi)
    found = []
    for k in range(1, len(phase) - 1):
        if side[k - 1] == side[k + 1] == -side[k]:
            bend = phase[k] - (phase[k - 1] + phase[k + 1]) / 2
            found.append(side[k] * ((bend + 0.5) % 1 - 0.5))
    if len(found) < 3:
        return 0.5, 0.15
    error = float(1.96 * np.std(found) / np.sqrt(len(found) / 2)) + 0.01
    return 0.5 + float(np.median(found)), error

"""One set of lines or two, from a single exposure: by a seam inside it, or by what several fields leave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.find import Found
from scalesim.signal.glass.jitter import height_at

ONE_ABOVE, TWO_BELOW = 0.55, 0.45
"""Limits of rho: measured fundamental over the one that the second harmonic's beam would have."""
PAIRED, ONE_OF_PAIR = 3.0, 0.71
"""Fields below which an exposure holds just two of them, and the limit of rho there: two that lie d pitch
apart leave |cos(pi d)| of the fundamental; a quarter of a pitch apart, by whatever shake, they are as near to
one set as to two."""
SECOND = 0.01
"""Least second harmonic that can be told from noise."""
PITCH_FOR_LANDING = 5.0
FIELDS = 1.9
"""Fields in an exposure from which both parities are in it everywhere."""
THIN = 1.0
"""A fundamental higher than this is more than two sets could leave at their half pitch with any real beam
(2 exp(-2 pi^2 sigma^2 4) for sigma of 0.094 pitch)."""


@dataclass(frozen=True)
class Landing:
    """Where successive fields lie.

    Parameters:
        sets : "one", "two" or "unknown"
        offset, error : pitches of a field's lines between the fields, and half of its 95 % interval; None
        confidence : 0..1; reason : what it rests on, or why it cannot be told, and what would tell
        how : "seam", "exposure", "pair", "film" or ""
    """

    sets: str
    offset: float | None
    error: float | None
    confidence: float
    reason: str
    how: str = ""


def unknown(reason: str) -> Landing:
    """Return "unknown" with its reason."""
    return Landing("unknown", None, None, 0.0, reason)


def seam(found: Found) -> Landing | None:
    """Return two sets when lines above and below a level seam lie half a pitch apart; None without a seam.

    An exposure of about a field shows one field above where the beam was when the shutter opened and the next
    below. The phase is fitted squared, so that both parts agree; here its sign is looked at.
    """
    fit = found.fit
    if not fit.squared or not fit.used.any():
        return None
    z, used = fit.cells.z, fit.used
    side = np.sign(z.real) * used
    rows = side.sum(axis=1)
    count = used.sum(axis=1)
    seen = count >= max(3, 0.15 * used.shape[1])
    sign = np.sign(rows[seen])
    places = np.flatnonzero(seen)
    if len(sign) < 12:
        return None
    best, at = 0.0, 0
    for k in range(4, len(sign) - 4):
        agree = abs(np.sum(rows[seen][:k]) - np.sum(rows[seen][k:])) / np.sum(count[seen])
        best, at = (agree, k) if agree > best else (best, at)
    same = abs(rows[seen].sum()) / count[seen].sum()
    if best < 0.85 or best - same < 0.15:
        return None
    error = fit.error()
    near = 14
    above = error[places[max(0, at - near) : at - 1]], used[places[max(0, at - near) : at - 1]]
    below = error[places[at + 1 : at + near]], used[places[at + 1 : at + near]]
    first, second = above[0][above[1]], below[0][below[1]]
    if min(len(first), len(second)) < 6:
        return None
    offset = 0.5 + float(np.median(second) - np.median(first))
    spread = float(
        np.hypot(np.std(first) / np.sqrt(len(first) / 9), np.std(second) / np.sqrt(len(second) / 9))
    )
    return Landing(
        "two",
        offset,
        1.96 * spread + 0.01,
        float(min(0.99, best)),
        "one photo holds parts of two fields, and their lines lie half a pitch apart at the seam between "
        "them",
        "seam",
    )


def by_exposure(
    found: Found, period: float, pitch: tuple[float, float] | None, fields: float | None
) -> Landing:
    """Return what several fields in one exposure leave.

    With two sets the fundamental of a field's pitch dies out (all of it for an even number of fields, all but
    one in n for an odd n); with one set it stands above its second harmonic as a Gaussian beam's does.

    Parameters:
        period : pixels from line to line as found; pitch : possible pixels a field line, None where unknown
        fields : in the exposure, None where unknown
    """
    if pitch is None:
        if found.amplitude > THIN and fields is not None and fields >= FIELDS:
            return Landing(
                "one", 0.0, _bound(0.0), 0.9, "the lines stand out more than two sets could", "exposure"
            )
        return unknown(
            "how large a field's pitch is in this photo is not known; give --corners, or a film, or a pair "
            "of short exposures with the bezel in view"
        )
    if fields is not None and fields < FIELDS:
        return unknown(
            f"the shutter was open for {fields:.2g} field{'s' * (fields != 1)} and no seam is in view; "
            "expose for 2 or 4 whole fields from a tripod, take several, or film at 60, 50 or 120 pictures "
            "a second"
        )
    halved = period < 0.75 * pitch[0]
    field_pitch = 2 * period if halved else period
    if field_pitch < PITCH_FOR_LANDING:
        return unknown(
            f"a field's line is {field_pitch:.1f} pixels high; from one exposure 5 are needed: come closer"
        )
    first, second = (
        (height_at(found, 0.5), height_at(found, 1.0))
        if halved
        else (height_at(found, 1.0), height_at(found, 2.0))
    )
    rho = first / (2 * (max(second, SECOND) / 2) ** 0.25)
    if halved or (rho < TWO_BELOW and second >= SECOND):
        if rho >= TWO_BELOW:
            return unknown(_BETWEEN)
        off = float(np.arcsin(min(rho, 1.0)) / np.pi)
        return Landing("two", 0.5, off + 0.02, _sure(TWO_BELOW - rho), _TWO, "exposure")
    one_above = ONE_OF_PAIR if fields is not None and fields < PAIRED else ONE_ABOVE
    if rho >= one_above:
        if fields is None:
            return unknown(
                "how long the shutter was open is not known; give --shutter (an exposure of one field "
                "always shows one set)"
            )
        return Landing("one", 0.0, _bound(rho), _sure(rho - one_above), _ONE, "exposure")
    return unknown(_BETWEEN if rho < ONE_ABOVE else _APART)


_TWO = "over several fields the lines lie at half a field's pitch"
_ONE = "over several fields the lines stay at a field's pitch, as high above their harmonic as one beam's are"
_BETWEEN = (
    "the lines are too thick or too blurred to tell whether others lie between them; film it, or take short "
    "exposures with the bezel in view"
)
_APART = (
    "the two fields of this exposure lie about a quarter of a pitch apart, as shake makes them; brace the "
    "camera, or expose four fields"
)


def _bound(rho: float) -> float:
    """Return how far two fields could lie apart before |cos(pi offset)| would show in rho, pitches."""
    return float(np.arccos(np.clip(min(rho, 1.0) if rho else 0.6, 0.5, 1.0)) / np.pi) + 0.02


def _sure(distance: float) -> float:
    """Return the confidence of a rho this far from its limit: logistic, 0.88 at 0.1."""
    return float(1 / (1 + np.exp(-distance / 0.05)))


def row_signs(found: Found) -> NDArray[np.float64]:
    """Return (down,) -1..1: which of two places half a pitch apart the lines of each row of cells take."""
    used = found.fit.used
    signs = np.where(used, np.sign(found.fit.cells.z.real), 0.0).sum(axis=1)
    return np.asarray(signs / np.maximum(used.sum(axis=1), 1))

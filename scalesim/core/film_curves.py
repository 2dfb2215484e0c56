"""From a film's luma to the light that the camera saw, by the curve that the file names.

A tube is the camera's scene: its widths and depths are measured in scene light, which the inverse of a camera
curve (OETF) gives. A display's curve (EOTF) adds its contrast, about the power 1.2, which draws lines a tenth
too thin; where only the place of lines counts, that shown light serves, in which they stand out the more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]
_A, _B, _C = 0.17883277, 0.28466892, 0.55991073
_M1, _M2, _C1, _C2, _C3 = 2610 / 16384, 2523 / 32, 3424 / 4096, 2413 / 128, 2392 / 128
PQ_WHITE = 1000.0
"""cd/m2 on the display at which the light of a PQ film is called 1: the peak that ITU-R BT.2100-2, table 5,
takes for HLG, so that both are on one scale. Brighter light is above 1."""


def bt709_light(v: Values) -> Values:
    """Return light of BT.709's V = 1.099 L^0.45 - 0.099, below 0.018 4.5 L (ITU-R BT.709-6, item 1.2)."""
    return np.where(v < 0.081, v / 4.5, ((np.maximum(v, 0) + 0.099) / 1.099) ** (1 / 0.45))


def bt709_codes(light: NDArray) -> NDArray[np.float32]:
    """Return luma of light: the inverse of `bt709_light`, float32 of the same shape."""
    bent = 1.099 * np.maximum(light, 0) ** 0.45 - 0.099
    return np.where(light < 0.018, 4.5 * light, bent).astype(np.float32)


def hlg_light(v: Values) -> Values:
    """Return E of HLG, 1 at full signal: E'^2 / 3, above 1/2 (exp((E' - c) / a) + b) / 12.

    Source: ITU-R BT.2100-2, table 5 (inverse OETF).
    """
    return np.where(v <= 0.5, v * v / 3, (np.exp((v - _C) / _A) + _B) / 12)


def pq_light(v: Values) -> Values:
    """Return scene light of PQ, 1 where the display gives 1000 cd/m2.

    The camera drew the display's light F (`pq_shown`) by the OOTF F = 100 V^2.4, V = 1.099 (59.5208 E)^0.45 -
    0.099, below E = 0.0003024 267.84 E, which is undone. Source: ITU-R BT.2100-2, table 4; SMPTE ST 2084.
    """
    return _pq_scene(v) / _pq_scene(_PQ_WHITE_CODE)


def pq_shown(v: Values) -> Values:
    """Return light that a display gives, 1 at 1000 cd/m2: 10 (max(E'^(1/m2) - c1, 0) / (c2 - c3
    E'^(1/m2)))^(1/m1).

    Source: ITU-R BT.2100-2, table 4 (EOTF).
    """
    p = v ** (1 / _M2)
    return 10_000 / PQ_WHITE * (np.maximum(p - _C1, 0) / (_C2 - _C3 * p)) ** (1 / _M1)


def _pq_scene(v: Values) -> Values:
    """Return E of BT.2100-2's table 4, 1 at 10000 cd/m2."""
    coded = (PQ_WHITE * pq_shown(v) / 100) ** (1 / 2.4)
    low = coded <= 267.84 * 0.0003024
    return np.where(low, coded / 267.84, ((coded + 0.099) / 1.099) ** (1 / 0.45) / 59.5208)


def _pq_code(candela: float) -> Values:
    """Return E' of cd/m2 on the display (ITU-R BT.2100-2, table 4, inverse EOTF)."""
    y = (candela / 10_000) ** _M1
    return np.array(((_C1 + _C2 * y) / (1 + _C3 * y)) ** _M2)


_PQ_WHITE_CODE = _pq_code(PQ_WHITE)


def _srgb_light(v: Values) -> Values:
    """IEC 61966-2-1:1999, 5.2."""
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def _log_light(decades: float) -> Callable[[Values], Values]:
    """ITU-T H.273, table 3, values 9 and 10: V = 1 + log10(L) / decades, 0 below."""
    return lambda v: np.where(v <= 0, 0.0, 10 ** (decades * (v - 1)))


def bt1886(v: Values) -> Values:
    """Return light that a display gives of luma, V^2.4: ITU-R BT.1886 with black at 0."""
    return v**2.4


def _raised(light: Callable[[Values], Values]) -> Callable[[Values], Values]:
    """Return a display's light of scene light: its power 1.2 (ITU-R BT.2100-2, table 5, OOTF)."""
    return lambda v: light(v) ** 1.2


@dataclass(frozen=True)
class Curve:
    """A film's curve. name : for sentences; light : luma 0..1 to scene light; named : whether by the file.

    shown : luma to the light that a display gives
    plain : whether it is one of standard range, that cameras are also left to write log and flat films under
    """

    name: str
    light: Callable[[Values], Values]
    named: bool = True
    plain: bool = True
    shown: Callable[[Values], Values] = bt1886


BT709 = Curve("BT.709", bt709_light)
_CURVES = {
    **dict.fromkeys((1, 6, 11, 12, 14, 15), BT709),  # the same curve from black to white under six names
    4: Curve("gamma 2.2", lambda v: v**2.2),
    5: Curve("gamma 2.8", lambda v: v**2.8),
    7: Curve(
        "SMPTE 240M",
        lambda v: np.where(v < 0.0912, v / 4, ((np.maximum(v, 0) + 0.1115) / 1.1115) ** (1 / 0.45)),
    ),
    8: Curve("linear light", lambda v: v, plain=False, shown=_raised(lambda v: v)),
    9: Curve("log 100:1", _log_light(2.0), plain=False, shown=_raised(_log_light(2.0))),
    10: Curve("log 316:1", _log_light(2.5), plain=False, shown=_raised(_log_light(2.5))),
    13: Curve("sRGB", _srgb_light),
    16: Curve("PQ", pq_light, plain=False, shown=pq_shown),
    18: Curve("HLG", hlg_light, plain=False, shown=_raised(hlg_light)),
}
"""Transfer characteristics of Recommendation ITU-T H.273, table 3."""


def curve_of(tag: int) -> Curve:
    """Return the curve of a tag of ITU-T H.273, table 3; BT.709's, not named, for what is not known."""
    return _CURVES.get(tag, Curve(BT709.name, bt709_light, named=False))


def light_table(
    light: Callable[[Values], Values], low: float, span: float, count: int
) -> NDArray[np.float32]:
    """Return (count,) float32 light of codes 0..count - 1, those beyond black and white as these."""
    luma = np.clip((np.arange(count) - low) / span, 0, 1)
    return np.asarray(light(luma), dtype=np.float32)

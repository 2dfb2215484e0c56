"""Resistor pads between 75 ohms and 75 ohms: values, loss and return loss.

Source: the textbook formulas for a voltage ratio K = input / output; loss and return loss by chain matrices.
        E24 and E96: IEC 60063.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, inf, log, log10
from typing import Literal

Z = 75.0
Kind = Literal["T", "pi", "L"]
Series = Literal["E24", "E96"]

_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
DECADE: dict[str, tuple[float, ...]] = {
    "E24": tuple(value / 10 for value in _E24),
    "E96": tuple(round(10 ** (k / 96), 2) for k in range(96)),
}


@dataclass(frozen=True)
class Pad:
    """A pad.

    Parameters:
        kind : T (series, shunt, series), pi (shunt, series, shunt), L (series, then shunt at the load)
        series : of its values, "" for exact ones; ohms : in the order of the signal
        db : its gain, negative; return_in_db, return_out_db : return loss seen by source and load, positive
    """

    kind: Kind
    series: str
    ohms: tuple[float, ...]
    db: float
    return_in_db: float
    return_out_db: float

    @property
    def factor(self) -> float:
        """Voltage after over voltage before, both terminated."""
        return float(10 ** (self.db / 20))


def exact_pad(kind: Kind, ratio: float) -> Pad:
    """Return the pad that divides a terminated voltage by `ratio`, above 1, with exact values."""
    k = ratio
    ohms = {
        "T": (Z * (k - 1) / (k + 1), 2 * Z * k / (k * k - 1), Z * (k - 1) / (k + 1)),
        "pi": (Z * (k + 1) / (k - 1), Z * (k * k - 1) / (2 * k), Z * (k + 1) / (k - 1)),
        "L": (Z * (k - 1) / k, Z / (k - 1)),
    }[kind]
    return _made(kind, "", ohms)


def standard_pad(kind: Kind, ratio: float, series: Series) -> Pad:
    """Return the pad with the nearest values of a series."""
    return _made(kind, series, tuple(nearest_value(each, series) for each in exact_pad(kind, ratio).ohms))


def nearest_value(ohms: float, series: Series) -> float:
    """Return the value of a series that is nearest in ratio."""
    decade = 10.0 ** floor(log10(ohms))
    values = [v * decade for v in DECADE[series]] + [10 * decade]
    nearest = min(values, key=lambda value: abs(log(value / ohms)))
    return round(nearest, 4)


def _made(kind: Kind, series: str, ohms: tuple[float, ...]) -> Pad:
    shunts = {"T": (1,), "pi": (0, 2), "L": (1,)}[kind]
    a, b, c, d = 1.0, 0.0, 0.0, 1.0
    for place, value in enumerate(ohms):
        if place in shunts:
            a, c = a + b / value, c + d / value  # times [1 0; 1/value 1]
        else:
            b, d = a * value + b, c * value + d  # times [1 value; 0 1]
    below = a + b / Z + c * Z + d
    s11, s22 = (a + b / Z - c * Z - d) / below, (-a + b / Z - c * Z + d) / below
    return Pad(kind, series, ohms, 20 * log10(2 / below), _loss(s11), _loss(s22))


def _loss(reflection: float) -> float:
    return inf if abs(reflection) < 1e-6 else -20 * log10(abs(reflection))

"""`Display`: what a picture tube is, in physical quantities, and the generic ones shipped with the package.

A display turns code values into light by ITU-R BT.1886 with its own black and white, spreads every
scan line into a beam, blurs along the line, hides a border and may carry a mask.
"""

from __future__ import annotations

import dataclasses
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import GAMMA, code_to_light
from scalesim.errors import ParameterError, nearest

ASPECTS = {"4:3": Fraction(4, 3), "16:9": Fraction(16, 9)}
MASKS = ("none", "stripes", "slots")


@dataclass(frozen=True)
class Limit:
    """Range of a key: `above` is excluded, the others included; `remedy` ends the error."""

    remedy: str
    at_least: float = -math.inf
    above: float = -math.inf
    at_most: float = math.inf

    def words(self) -> str:
        """Return the range in words."""
        low = f"above {self.above:g}" if self.above > -math.inf else f"at least {self.at_least:g}"
        return f"a number {low} and at most {self.at_most:g}"

    def allows(self, number: float) -> bool:
        """Return whether a finite number is inside."""
        return self.above < number <= self.at_most and number >= self.at_least


LIMITS = {
    "diagonal_mm": Limit("680 is a large living-room set", at_least=50, at_most=3000),
    "tv_lines": Limit("350 is a living-room set, 800 a studio monitor", at_least=50, at_most=3000),
    "beam_width": Limit("0.75 leaves a dark gap between lines, 1.2 closes it", at_least=0.1, at_most=3),
    "beam_growth": Limit("1 is a beam of one width, 2 doubles from black to white", at_least=1, at_most=4),
    "white_cd_m2": Limit("100 is a studio monitor", above=0, at_most=10000),
    "black_cd_m2": Limit("0.1 is a set in a dim room", at_least=0, at_most=1000),
    "overscan_percent": Limit("5 hides 2.5 at each edge", at_least=0, at_most=50),
    "mask_pitch_mm": Limit("0.25 is fine, 0.8 coarse", at_least=0.05, at_most=5),
    "decay_ms": Limit("time to 10 %: 1 for a red, 0.1 for green and blue", above=0, at_most=10000),
}


@dataclass(frozen=True, kw_only=True)
class Display:
    """A picture tube. Every number is checked; whole numbers and decimals are taken alike.

    Parameters:
        name : what it is, in words
        diagonal_mm : diagonal of the visible picture, millimetres
        aspect : "4:3" or "16:9", width over height of the visible picture; held as a `Fraction`
        tv_lines : rated horizontal resolution, TV lines per picture height (see `scalesim.tube.response`)
        beam_width : full width at half maximum of a scan line at white, as a share of the field-line pitch
        beam_growth : that width over the width at black; 1 is a beam of one width
        white_cd_m2, black_cd_m2 : luminance of code values 1 and 0, candela per square metre
        overscan_percent : hidden share of each dimension, both edges together
        mask : "none", "stripes" or "slots" (see `scalesim.tube.mask`)
        mask_pitch_mm : distance along a line of phosphors of one colour, millimetres
        decay_ms : time in which the light of red, green and blue falls to 10 %, milliseconds
    Raises: ParameterError naming key, value, limit and remedy
    """

    name: str
    diagonal_mm: float
    aspect: Fraction
    tv_lines: float
    beam_width: float
    beam_growth: float = 1.0
    white_cd_m2: float = 100.0
    black_cd_m2: float = 0.1
    overscan_percent: float = 0.0
    mask: str = "none"
    mask_pitch_mm: float = 0.6
    decay_ms: tuple[float, float, float] = (1.0, 0.1, 0.1)

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise ParameterError(
                f"display: name is {self.name!r}; it must be a text in quotes, such as 'study'"
            )
        place = f"display '{self.name}'"
        for key, limit in LIMITS.items():
            value = getattr(self, key)
            settled: Any = _three(place, value) if key == "decay_ms" else _number(place, key, value, limit)
            object.__setattr__(self, key, settled)
        object.__setattr__(self, "aspect", as_aspect(f"{place}: aspect", self.aspect))
        if not isinstance(self.mask, str) or self.mask not in MASKS:
            raise ParameterError(f"{place}: mask is {self.mask!r}; {nearest(str(self.mask), MASKS)}")
        if self.black_cd_m2 >= self.white_cd_m2:
            raise ParameterError(
                f"{place}: black_cd_m2 is {self.black_cd_m2:g}; it must be below white_cd_m2, "
                f"{self.white_cd_m2:g} (0.1 below a white of 100)"
            )

    @classmethod
    def from_toml(cls, text: str) -> Display:
        """Return the display a TOML text describes by its keys at the top, without any table.

        Raises: ParameterError for what is no TOML, unknown or missing keys, and values out of range
        """
        return _display("display", _document(text))

    @property
    def black(self) -> float:
        """Light of code value 0 as a share of white."""
        return self.black_cd_m2 / self.white_cd_m2

    @property
    def height_mm(self) -> float:
        """Height of the visible picture in millimetres."""
        return self.diagonal_mm / math.hypot(1.0, float(self.aspect))

    def light(self, values: NDArray) -> NDArray:
        """Return the light of code values as a share of white: (a (V + b)^2.4) / L_W of ITU-R BT.1886.

        a = (L_W^(1/2.4) - L_B^(1/2.4))^2.4, b = L_B^(1/2.4) / (L_W^(1/2.4) - L_B^(1/2.4)); a V below -b
        gives no light. Same shape and dtype.
        """
        root = (
            np.float32(self.black ** (1 / GAMMA)) if values.dtype == np.float32 else self.black ** (1 / GAMMA)
        )
        drive = values * (1 - root)
        drive += root
        return code_to_light(np.maximum(drive, 0, out=drive))


def as_aspect(place: str, value: Any) -> Fraction:
    """Return "4:3" or "16:9", or the `Fraction` they stand for; raise ParameterError for anything else."""
    found = ASPECTS.get(value) if isinstance(value, str) else value
    if isinstance(found, Fraction) and found in ASPECTS.values():
        return found
    raise ParameterError(f"{place} is {value!r}; valid: {', '.join(ASPECTS)} (in quotes)")


def _number(place: str, key: str, value: Any, limit: Limit) -> float:
    plain = isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)
    if not plain or not math.isfinite(value) or not limit.allows(value):
        shown = repr(value) if len(repr(value)) <= 40 else repr(value)[:37] + "..."
        raise ParameterError(f"{place}: {key} is {shown}; it must be {limit.words()} ({limit.remedy})")
    return float(value)


def _three(place: str, value: Any) -> tuple[float, ...]:
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ParameterError(
            f"{place}: decay_ms is {value!r}; it must be three numbers, "
            "for red, green and blue ([1, 0.1, 0.1])"
        )
    return tuple(_number(place, "decay_ms", part, LIMITS["decay_ms"]) for part in value)


def displays_from_toml(text: str) -> dict[str, Display]:
    """Return key -> display of a TOML text with one table a display, `[kitchen-36cm-280]`.

    Raises: ParameterError naming the table and the key
    """
    found = {}
    for key, table in _document(text).items():
        if not isinstance(table, dict):
            raise ParameterError(
                f"display file: '{key}' stands outside a table; put it below a heading such as [study]"
            )
        found[key] = _display(f"display file: [{key}]", table)
    if not found:
        raise ParameterError("display file: has no table; begin one with a heading such as [study]")
    return found


def _document(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        reason = " ".join(str(error).split())
        raise ParameterError(f"display file is not valid TOML: {reason}; see the shipped displays") from None


def _display(place: str, keys: Mapping[str, Any]) -> Display:
    fields = {field.name: field for field in dataclasses.fields(Display)}
    for key in keys:
        if key not in fields:
            raise ParameterError(f"{place}: unknown key '{key}'; {nearest(key, fields)}")
    for key, field in fields.items():
        if field.default is dataclasses.MISSING and key not in keys:
            example = f" ({LIMITS[key].remedy})" if key in LIMITS else ""
            raise ParameterError(f"{place}: key '{key}' is missing; add {key} = …{example}")
    given: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in keys.items()
    }
    return Display(**given)


@cache
def _shipped() -> dict[str, Display]:
    text = (resources.files("scalesim.tube") / "displays.toml").read_text(encoding="utf-8")
    return displays_from_toml(text)


class _Shipped(Mapping[str, Display]):
    """The shipped displays by key, read when first asked for."""

    def __getitem__(self, key: str) -> Display:
        return _shipped()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(_shipped())

    def __len__(self) -> int:
        return len(_shipped())


DISPLAYS: Mapping[str, Display] = _Shipped()


def display_named(key: str) -> Display:
    """Return a shipped display by its key, such as ``livingroom-68cm-350``; ParameterError for another."""
    if not isinstance(key, str) or key not in DISPLAYS:
        raise ParameterError(f"display is {key!r}; {nearest(str(key), DISPLAYS)}")
    return DISPLAYS[key]

"""`Display`: what a picture tube is, in physical quantities, and the generic ones shipped with the package.

A display turns code values into light by ITU-R BT.1886 with its own black and white, spreads every
scan line into a beam, blurs along the line, hides a border and may carry a mask.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, dataclass
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import GAMMA, code_to_light
from scalesim.errors import ParameterError, nearest
from scalesim.schema import Param, convert, from_keys, param, settle, toml_document
from scalesim.tube.lock.circuit import Circuit, circuit_of

ASPECTS = ("4:3", "16:9")
MASKS = ("none", "stripes", "slots")


_ASPECT = Param(
    "aspect", bare=True, choices=ASPECTS, remedy="in quotes", doc="width over height of the picture"
)
_PHOSPHOR = Param(
    "number",
    bare=True,
    unit="ms",
    above=0,
    at_most=10000,
    remedy="time to 10 %: 1 for a red, 0.1 for green and blue",
)


def _measure(default: Any = MISSING, **limits: Any) -> Any:
    """Return the field of a number, which a display's file writes as one."""
    return param(default, type="number", bare=True, **limits)


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
        vertical : the vertical circuit, a table of keys or a `Circuit` (see `scalesim.tube.lock.circuit`);
            None lets fields land as content has them
    Raises: ParameterError naming key, value, limit and remedy
    """

    name: str = param(type="text", doc="what it is, in words", remedy="such as 'study'")
    diagonal_mm: float = _measure(
        unit="mm",
        at_least=50,
        at_most=3000,
        doc="diagonal of the visible picture",
        remedy="680 is a large living-room set",
    )
    aspect: Fraction = param(
        type="aspect", bare=True, choices=_ASPECT.choices, remedy=_ASPECT.remedy, doc=_ASPECT.doc
    )
    tv_lines: float = _measure(
        unit="TV lines per picture height",
        at_least=50,
        at_most=3000,
        doc="rated horizontal resolution",
        remedy="350 is a living-room set, 800 a studio monitor",
    )
    beam_width: float = _measure(
        unit="of the field-line pitch",
        at_least=0.1,
        at_most=3,
        doc="full width at half maximum of a scan line at white",
        remedy="0.75 leaves a dark gap between lines, 1.2 closes it",
    )
    beam_growth: float = _measure(
        1.0,
        at_least=1,
        at_most=4,
        doc="beam width at white over that at black",
        remedy="1 is a beam of one width, 2 doubles from black to white",
    )
    white_cd_m2: float = _measure(
        100.0,
        unit="cd/m^2",
        above=0,
        at_most=10000,
        doc="luminance of white",
        remedy="100 is a studio monitor",
    )
    black_cd_m2: float = _measure(
        0.1,
        unit="cd/m^2",
        at_least=0,
        at_most=1000,
        doc="luminance of black",
        remedy="0.1 is a set in a dim room",
    )
    overscan_percent: float = _measure(
        0.0,
        unit="percent",
        at_least=0,
        at_most=50,
        doc="hidden share of each dimension, both edges together",
        remedy="5 hides 2.5 at each edge",
    )
    mask: str = param("none", type="choice", choices=MASKS, doc="pattern of the phosphors")
    mask_pitch_mm: float = _measure(
        0.6,
        unit="mm",
        at_least=0.05,
        at_most=5,
        doc="distance along a line of phosphors of one colour",
        remedy="0.25 is fine, 0.8 coarse",
    )
    decay_ms: tuple[float, float, float] = param(
        (1.0, 0.1, 0.1),
        type="list",
        of=_PHOSPHOR,
        item="number",
        fewest=3,
        most=3,
        doc="time in which the light of red, green and blue falls to 10 %",
        remedy="three numbers, for red, green and blue: [1, 0.1, 0.1]",
    )
    vertical: Circuit | None = param(
        None, type="any", doc="the vertical circuit: a table [vertical] with its kind and keys"
    )

    def __post_init__(self) -> None:
        named = isinstance(self.name, str) and self.name.strip()
        place = f"display '{self.name}'" if named else "display"
        settle(self, place)
        if self.vertical is not None:
            object.__setattr__(self, "vertical", circuit_of(self.vertical, f"{place}: vertical"))
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
        return from_keys(cls, _document(text), "display")

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
    return convert(place, value, _ASPECT)


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
        found[key] = from_keys(Display, table, f"display file: [{key}]")
    if not found:
        raise ParameterError("display file: has no table; begin one with a heading such as [study]")
    return found


def _document(text: str) -> dict[str, Any]:
    return toml_document(text, "display file", "the shipped displays")


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

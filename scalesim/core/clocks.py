"""Two clocks that run free of each other: how far apart they drift, and when that comes round again.

A source of rate f makes a picture every 1/f seconds, an output of rate g takes one every 1/g. Each second the
one gains ``abs(f - g)/f`` seconds on the other; the same moment of the source's picture comes round again
after ``1/abs(f - g)`` seconds. In that time one picture is repeated (g above f) or dropped (g below f), or
the tear passes once through the picture.

Source: arithmetic of two periodic signals (their beat has the difference of the rates as its rate).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm, sqrt
from types import MappingProxyType

from scalesim.core.mode import ALIASES, MODES
from scalesim.errors import ParameterError
from scalesim.schema import Param
from scalesim.schema.numbers import exact

SPOKEN: Mapping[Fraction, Fraction] = MappingProxyType(
    {
        Fraction("23.976"): Fraction(24000, 1001),
        Fraction("23.98"): Fraction(24000, 1001),
        Fraction("29.97"): Fraction(30000, 1001),
        Fraction("59.94"): Fraction(60000, 1001),
        Fraction("119.88"): Fraction(120000, 1001),
    }
)
"""Rates as the trade speaks them, short for n x 1000/1001 (SMPTE ST 318 and CTA-861 write the fractions)."""

_RATE = Param("exact")
LOWEST_HZ, HIGHEST_HZ = 1, 1000
MOST_FOLLOWED = 200_000
"""Pictures that are followed through two boxes: an hour at 60 Hz."""


def spoken_rate(rate: Fraction) -> Fraction:
    """Return the exact rate that is meant: 59.94 stands for 60000/1001, any other number for itself."""
    return SPOKEN.get(rate, rate)


def rate_of(text: str, name: str = "rate") -> Fraction:
    """Return the rate, in pictures a second, of a number (59.94, 60000/1001, 59.9412) or a mode (720p59.94).

    Raises: ParameterError for a word that is neither, or a rate outside 1 to 1000 Hz
    """
    word = text.strip().removesuffix("Hz").strip()
    mode = MODES.get(ALIASES.get(word, word))
    if mode is not None:
        return mode.rate
    try:
        rate = spoken_rate(exact(name, word, _RATE))
    except ParameterError:
        raise ParameterError(
            f"{name}: '{text.strip()[:40]}' is no rate; write a number such as 59.94 or 60000/1001, or a "
            "mode such as 720p59.94"
        ) from None
    if not LOWEST_HZ <= rate <= HIGHEST_HZ:
        raise ParameterError(
            f"{name}: is {float(rate):g} Hz; it must be {LOWEST_HZ} to {HIGHEST_HZ} pictures a second"
        )
    return rate


@dataclass(frozen=True)
class Pair:
    """Pictures of one rate shown at another.

    Parameters:
        source, output : pictures a second, exact
    """

    source: Fraction
    output: Fraction

    @property
    def ratio(self) -> Fraction:
        """Source pictures for each output picture."""
        return self.source / self.output

    @property
    def drift_us_per_s(self) -> Fraction:
        """By how many µs the output falls behind the source each second; below 0 it gains.

        ``(source - output)/source``: in the time of a wrap that adds up to one source picture.
        """
        return 1_000_000 * (self.source - self.output) / self.source

    @property
    def wrap_s(self) -> Fraction | None:
        """Seconds until the same moment of the source's picture comes round; None for equal rates."""
        apart = abs(self.source - self.output)
        return 1 / apart if apart else None

    @property
    def repeats_per_s(self) -> Fraction:
        """Pictures that a frame buffer must show twice, each second."""
        return max(self.output - self.source, Fraction(0))

    @property
    def drops_per_s(self) -> Fraction:
        """Pictures that a frame buffer must leave out, each second."""
        return max(self.source - self.output, Fraction(0))

    @property
    def tear_heights_per_s(self) -> Fraction:
        """Picture heights that the tear of one buffer moves each second: downward above 0.

        The source's next picture begins ``output/source`` of an output picture after the last one did, so
        the tear moves by ``output/source - 1`` heights from picture to picture: downward when the output is
        the quicker one.
        """
        return (self.output / self.source - 1) * self.output

    @property
    def hitches_per_s(self) -> Fraction:
        """Pictures shown twice or left out, each second."""
        return abs(self.source - self.output)

    @property
    def judder_rms_ms(self) -> float:
        """How far a frame buffer's pictures are from where steady motion would be, root mean square, ms.

        Output picture k shows source picture ``floor(k r)``, r = p/q in lowest terms: it is late by the
        fraction of ``k r``, which takes q values evenly spread over one source period T, so that the
        deviation from their mean is ``T sqrt((1 - 1/q^2)/12)``.
        """
        steps = self.ratio.denominator
        return float(1000 / self.source) * sqrt((1 - 1 / steps**2) / 12)

    @property
    def judder_peak_ms(self) -> float:
        """The same from end to end: ``T (1 - 1/q)``, ms."""
        return float(1000 / self.source * (1 - Fraction(1, self.ratio.denominator)))


def there_and_back(outer: Pair, back: Pair, start: Fraction) -> tuple[int, int, int]:
    """Return what two frame buffers in series do to a cycle, at most an hour: (pictures, lost, repeated).

    Parameters:
        outer : the first box; back : the second, which takes the first one's output
        start : how far the first box is ahead when the second begins, in pictures between them
    """
    if outer.output != back.source:
        raise ParameterError("clocks: the second box must take the rate that the first one gives")
    whole = lcm(outer.ratio.denominator, back.ratio.denominator, (outer.ratio * back.ratio).denominator)
    count = min(whole * back.ratio.denominator, MOST_FOLLOWED)
    a, b = back.ratio.numerator * start.denominator, start.numerator * back.ratio.denominator
    c = back.ratio.denominator * start.denominator
    p, q = outer.ratio.numerator, outer.ratio.denominator
    shown = [(b + k * a) // c * p // q for k in range(count + 1)]
    # pictures rise, so each change is another one; a cycle may begin amid the showings of one
    seen = sum(one != two for one, two in pairwise(shown))
    asked = shown[-1] - shown[0]
    return asked, max(asked - seen, 0), count - seen

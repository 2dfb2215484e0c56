"""What was seen on displays, out of a text."""

from __future__ import annotations

from scalesim.errors import ParameterError, nearest
from scalesim.texts import echoed
from scalesim.tube.lock.fits import OF_SEEN, Observation

WHEN = ("cold", "sometimes", "always")
MOST = 12


def observations(text: str) -> tuple[Observation, ...]:
    """Return what a text such as "A=one/cold,B=two" says was seen.

    Raises: ParameterError for a display without a name or given twice, and words that are none
    """
    found: dict[str, Observation] = {}
    for part in text.split(","):
        label, equals, rest = (each.strip() for each in part.partition("="))
        what, _, when = rest.partition("/")
        if not equals or not label:
            raise ParameterError(
                f"landing: seen has {echoed(part.strip())}; write it as DISPLAY=WHAT, such as A=one,B=two"
            )
        if what not in OF_SEEN:
            raise ParameterError(
                f"landing: seen on {echoed(label)} is '{echoed(what)}'; {nearest(what, OF_SEEN)}"
            )
        if when and when not in WHEN:
            raise ParameterError(f"landing: seen on {echoed(label)} /{echoed(when)}; {nearest(when, WHEN)}")
        if label in found:
            raise ParameterError(f"landing: {echoed(label)} is seen twice; give every display once")
        found[label] = Observation(label, what, when)  # type: ignore[arg-type]  # checked just now
    if len(found) > MOST:
        raise ParameterError(f"landing: seen has {len(found)} displays; at most {MOST}")
    return tuple(found.values())

"""What the words on the command line of ``scalesim predict`` mean."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from scalesim.cli.options import words
from scalesim.texts import echoed

if TYPE_CHECKING:
    from scalesim.jobs.predict.on_screen import Glass, OnScreen


def views_of(view: str | None) -> list[str]:
    """Return the views asked for; raise ParameterError for an unknown one."""
    from scalesim.errors import ParameterError, nearest
    from scalesim.jobs.predict.prediction import VIEWS

    asked = words(view)
    if asked is None:
        return ["raster", "seen"]
    for name in asked:
        if name not in VIEWS:
            raise ParameterError(f"--view: unknown picture '{name}'; {nearest(name, VIEWS)}")
    if not asked:
        raise ParameterError(f"--view names no picture; give some of {', '.join(VIEWS)}")
    return asked


def glass_of(
    views: list[str],
    display: str,
    height: int | None,
    macro: str | None,
    coloured: bool,
    exposure: str | None,
) -> Glass | None:
    """Return how to look at the tube, None when no view needs it."""
    from scalesim.cli.named import display_of
    from scalesim.errors import ParameterError
    from scalesim.jobs.predict.on_screen import Glass

    if not {"screen", "fields"} & set(views):
        for name, given in (("--macro", macro is not None), ("--exposure", exposure is not None)):
            if given:
                raise ParameterError(f"{name} applies to the screen; add --view screen")
        return None
    shutter = None if exposure is None else float(number("--exposure", exposure, "1/30"))
    line, sample = (None, None) if macro is None else macro_of(macro)
    return Glass(
        display_of(display),
        height=height,
        macro_line=line,
        macro_sample=sample,
        coloured=coloured,
        shutter_s=shutter,
    )


def as_the_stills(glass: Glass | None, stills: OnScreen | None) -> Glass | None:
    """Return how to look at the tube of a clip: shown at the same share of its light as the stills."""
    if glass is None or stills is None:
        return glass
    return replace(glass, shown_at=stills.facts["shown_at_percent"] / 100)


def macro_of(text: str) -> tuple[int, float | None]:
    """Return (line at the top, sample at the left or None) of a close look."""
    from scalesim.errors import ParameterError

    line, _, sample = text.partition(",")
    try:
        top = int(line)
    except ValueError:
        raise ParameterError(
            f"--macro {echoed(text)}: write it as LINE or LINE,SAMPLE, such as 100,320"
        ) from None
    return top, float(number("--macro", sample, "100,320")) if sample else None


def pan_of(text: str) -> tuple[float, float]:
    """Return (samples, lines) a second of a pan."""
    from scalesim.errors import ParameterError

    parts = text.split(",")
    if len(parts) != 2:
        raise ParameterError(f"--pan {echoed(text)}: write it as SAMPLES,LINES a second, such as --pan 120,0")
    samples, lines = (float(number("--pan", part, "120,0")) for part in parts)
    return samples, lines


def number(option: str, text: str, example: str) -> Fraction:
    """Return a number written as a decimal or a fraction; raise ParameterError for anything else."""
    from scalesim.errors import ParameterError

    try:
        if len(text) > 32 or "e" in text.lower():
            raise ValueError
        return Fraction(text.strip())
    except (ValueError, ZeroDivisionError):
        raise ParameterError(f"{option} is {text!r}; it must be a number such as {example}") from None

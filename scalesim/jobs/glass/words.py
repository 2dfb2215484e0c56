"""A reading in words: what was found, what it rests on, and what would tell what was not."""

from __future__ import annotations

from scalesim.jobs.glass.measured import Measured
from scalesim.jobs.glass.read import Filmed, Read
from scalesim.signal.glass.exposure import Landing
from scalesim.signal.glass.field_jitter import FieldJitter
from scalesim.signal.glass.jitter import LineJitter

CAUTION = (
    "Film of a tube is film of flicker, which can trigger seizures: look at clips small and in a lit room. "
    "Nobody opens a set."
)
_SETS = {
    "one": "One set of lines: successive fields land on the same places.",
    "two": "Two sets of lines: successive fields land half a pitch apart.",
}


def title(read: Read) -> str:
    """Return the heading."""
    if read.found is None:
        return "No scan lines can be told"
    what = "photo" if read.film is None else "film"
    kind = "Even" if read.found.grows is False else "Scan"
    return {
        "one": f"The {what} shows one set of lines",
        "two": f"The {what} shows two sets of lines",
        "unknown": f"{kind} lines are seen; one set or two cannot be told",
    }[read.sets]


def sentences(read: Read) -> list[str]:
    """Return the findings, the verdict first."""
    found = read.found
    if found is None:
        return [f"Cannot tell: {read.reason}."]
    said = [_verdict(found), _lines(found)]
    if found.grows is False:
        said.append(f"{_capital(found.why['beam_grows'])}.")
    said += _shape(found, read.film)
    if found.jitter is not None:
        said.append(_jitter(found, read.film))
    if read.film is not None:
        said += _film(read.film)
    for each in found.found.impostors:
        said.append(f"Left out: {each.words}.")
    return said


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _verdict(found: Measured) -> str:
    landing = found.landing
    if landing.sets == "unknown":
        return f"One set or two cannot be told: {landing.reason}."
    where = "" if landing.offset is None else f" ({landing.offset:+.2f} ± {landing.error:.2f} pitch)"
    return f"{_SETS[landing.sets].rstrip('.')}{where}; {landing.reason}."


def _lines(found: Measured) -> str:
    if found.count is None:
        return (
            f"Lines are {found.period:.2f} pixels apart in the middle of the view; how many fill the picture "
            "is not known."
        )
    assert found.lit is not None
    number = f"{found.lit[0]:.1f} ± {max(found.lit[1], 0.1):.1f}"
    apart = f"those that are seen are {found.period:.2f} pixels apart in the middle of the view."
    if found.each_set is None:
        return f"{number} lines are seen over the picture's height, in one set or two; {apart}"
    if found.landing.sets == "two":
        return (
            f"{number} lines are lit over the picture's height, {found.each_set[0]:.1f} in "
            f"each of the two sets; {apart}"
        )
    return f"{number} lines fill the picture's height; {apart}"


def _shape(found: Measured, film: Filmed | None) -> list[str]:
    if film is not None and film.doubt:
        return [f"How wide lines and how dark gaps are is not told: {film.doubt}."]
    said = []
    if found.width is not None and found.width_range is not None:
        low, high = found.width_range
        said.append(
            f"A line is {found.width:.2f} pitch wide at half its light ({low:.2f} to {high:.2f} by how much "
            "the camera blurs), the camera's part taken off."
        )
    if found.depth is not None:
        less = " at least" if found.period < 12 else ""
        said.append(f"Gaps are{less} {100 * found.depth:.0f} % darker than lines, as photographed.")
    if said and film is not None:
        said[-1] = f"{said[-1].rstrip('.')}; {_by_curve(film)}."
    return said


def _by_curve(film: Filmed) -> str:
    """Return what light rests on."""
    if film.curve.named:
        return f"light is by the camera curve of {film.curve.name}, which the film names"
    return f"the film names no curve that is known: light is by that of {film.curve.name}, which was assumed"


def _film(film: Filmed) -> list[str]:
    said = _parts(film)
    ripple = "" if film.ripple_percent is None else f" varies by {film.ripple_percent:.1f} %"
    said.append(
        f"{film.frames} frames at {film.rate:.2f} a second were read; "
        + (f"the mean light of a frame{ripple}, and " if ripple else "")
        + f"flicker faster than {film.rate / 2:.0f} Hz cannot be seen at this rate."
    )
    if film.timed.exposures is not None and film.timed.readouts is not None:
        said.append(_shutter(film.timed.exposures, film.timed.readouts))
    if film.strays is not None:
        said.append(_strays(film.strays))
    return said


def _shutter(exposures: tuple[float, float], readouts: tuple[float, float]) -> str:
    if exposures[1] > 4 * exposures[0]:
        return "How long its shutter was open this film does not tell: short and long ones explain it alike."
    shutters = " to ".join(f"1/{1 / each:.0f} s" for each in sorted(set(exposures)))
    sensors = " to ".join(f"{1000 * each:.0f}" for each in sorted(set(readouts)))
    return f"Of those tried, a shutter of {shutters} and a sensor read in {sensors} ms explain it best."


def _parts(film: Filmed) -> list[str]:
    """Return what is said of a film with cuts: where they are, what each part shows, which one is told."""
    if len(film.parts) < 2:
        return []
    told = film.parts[film.number]
    each = "; ".join(
        f"{part.begins:.2f} to {part.ends:.2f} s, {part.frames} frames: {_short(part.landing)}"
        for part in film.parts[:MOST_TOLD]
    )
    more = f"; and {len(film.parts) - MOST_TOLD} more" if len(film.parts) > MOST_TOLD else ""
    return [
        "The film was split where its picture or its lines change, and every part read by itself "
        f"({each}{more}). All figures are of the part from {told.begins:.2f} to {told.ends:.2f} s."
    ]


CODED = 0.025
"""Pitches rms that simulated films without jitter read up to, at rate factors of 18 to 28 (n = 4)."""
MOST_TOLD = 6
"""Parts of a film that a sentence lists."""


def _short(landing: Landing) -> str:
    return {"one": "one set", "two": "two sets", "unknown": "cannot tell"}[landing.sets]


def resolved_of_fields(found: FieldJitter) -> float:
    """Return up to how much jitter of whole fields, pitches rms, coding and the bezel's place leave alone."""
    return max(2 * found.registration, CODED)


def resolved_of_lines(found: LineJitter) -> float:
    """Return up to how much jitter of single lines, pitches rms, is none."""
    return max(2 * found.error, 0.005)


def _strays(found: FieldJitter) -> str:
    least = resolved_of_fields(found)
    if found.rms <= least:
        return (
            f"Whole fields stand still against the bezel to {least:.3f} pitch rms over {found.frames} frames "
            f"({found.rms:.3f} was read); coding or the bezel's place alone can leave as much in a film."
        )
    return (
        f"Whole fields stray by {found.rms:.3f} ± {found.error:.3f} pitch rms against the bezel, over "
        f"{found.frames} frames; the bezel was placed to {found.registration:.3f} pitch, which is part of it."
    )


def _jitter(found: Measured, film: Filmed | None) -> str:
    jitter = found.jitter
    assert jitter is not None
    where = (
        f"{jitter.lines} lines of one exposure"
        if film is None
        else f"{jitter.lines} lines in {film.stills} frames"
    )
    least = resolved_of_lines(jitter)
    # fields that were exposed over each other even out what their lines waver
    untold = film is None and found.fields is None
    told = ", if one field was exposed, which the photo does not tell" if untold else ""
    if jitter.rms <= least:
        return f"Single lines stand still to {least:.3f} pitch, as far as {where} show{told}."
    return (
        f"Single lines waver by {jitter.rms:.3f} ± {jitter.error:.3f} pitch rms inside one exposure "
        f"({where}){told}."
    )


def photo_caption(read: Read) -> str:
    """Return what is seen in the first picture."""
    what = "photo" if read.film is None else "film's frame"
    if read.found is None:
        return f"The {what} as it was read."
    return (
        f"A close look at the middle of the {what}, its lines level; amber ticks at both sides stand where a "
        "line is."
    )

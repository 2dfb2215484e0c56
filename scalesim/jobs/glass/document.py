"""A reading as keys, as a table of figures, and as a table of lines."""

from __future__ import annotations

from typing import Any

import numpy as np

from scalesim.jobs.glass.measured import Measured
from scalesim.jobs.glass.read import FilmPart, Read
from scalesim.jobs.glass.words import resolved_of_fields, resolved_of_lines
from scalesim.result import Cell, Table
from scalesim.signal.glass.field_jitter import FieldJitter
from scalesim.signal.glass.jitter import LineJitter
from scalesim.signal.glass.profile import BINS

KEYS = (
    "lines",
    "lines_error",
    "lines_per_set",
    "landing_offset",
    "jitter_lines",
    "field_jitter_lines",
    "line_width",
    "gap_depth",
    "tilt_deg",
    "roll_deg",
    "pixels_per_line",
    "beam_grows",
)


def document(read: Read) -> dict[str, Any]:
    """Return the document's keys; null where a value cannot be had, its reason under `why`."""
    found = read.found
    if found is None:
        return {
            "photo": read.name,
            "photos": read.count,
            "sets": "unknown",
            **dict.fromkeys(KEYS),
            "shutter": None,
            "patterns": [],
            "confidence": 0.0,
            "why": dict.fromkeys((*KEYS, "sets", "shutter"), read.reason),
            "notes": list(read.notes),
        }
    landing = found.landing
    why = dict(found.why)
    if found.count is None:
        why["lines_error"] = why["lines_per_set"] = why["lines"]
    elif found.each_set is None:
        why["lines_per_set"] = "one set of lines or two is not known"
    if landing.sets == "unknown":
        why["sets"] = landing.reason
    if landing.offset is None:
        why["landing_offset"] = landing.reason
    return {
        "photo": read.name,
        "photos": read.count,
        "lines": None if found.lit is None else found.lit[0],
        "lines_error": None if found.lit is None else found.lit[1],
        "lines_per_set": None if found.each_set is None else found.each_set[0],
        "sets": landing.sets,
        "landing_offset": _offset(found),
        "jitter_lines": None if found.jitter is None else found.jitter.rms,
        "jitter_error": None if found.jitter is None else found.jitter.error,
        "line_width": found.width,
        "line_width_interval": None if found.width_range is None else list(found.width_range),
        "gap_depth": found.depth,
        "tilt_deg": found.tilt,
        "roll_deg": found.roll,
        "pixels_per_line": found.period,
        "beam_grows": found.grows,
        "shutter": _shutter(read, why),
        **_film(read, why),
        "how": landing.how or None,
        "patterns": [{"kind": each.kind, "period_pixels": each.period} for each in found.found.impostors],
        "profiles": [
            {"brightness": each.share, "width": each.width, "depth": each.depth, "light": list(each.light)}
            for each in found.profiles
        ],
        "confidence": landing.confidence,
        "why": why,
        "notes": list(read.notes),
    }


def _offset(found: Measured) -> dict[str, float] | None:
    landing = found.landing
    if landing.offset is None or landing.error is None:
        return None
    return {
        "value": landing.offset,
        "low": landing.offset - landing.error,
        "high": landing.offset + landing.error,
    }


def _film(read: Read, why: dict[str, str]) -> dict[str, Any]:
    film = read.film
    if film is None:
        why["field_jitter_lines"] = "only a film shows it, with a piece of the bezel in view"
        return {"field_jitter_lines": None, "field_jitter_error": None}
    if film.strays is None:
        why["field_jitter_lines"] = film.why_strays
    if film.ripple_percent is None:
        why["light_ripple_percent"] = film.doubt
    return {
        "frames_read": film.frames,
        "frame_rate": film.rate,
        "field_rate": film.timed.rate,
        "curve": {"name": film.curve.name, "named": film.curve.named, "holds": not film.doubt},
        "light_ripple_percent": film.ripple_percent,
        "drift_lines_per_s": film.drift,
        "field_jitter_lines": None if film.strays is None else film.strays.rms,
        "field_jitter_error": None if film.strays is None else film.strays.error,
        "cuts_s": list(film.cuts),
        "parts": [_part(part, told=number == film.number) for number, part in enumerate(film.parts)],
    }


def _part(part: FilmPart, *, told: bool) -> dict[str, Any]:
    landing = part.landing
    return {
        "from_s": part.begins,
        "to_s": part.ends,
        "frames": part.frames,
        "sets": landing.sets,
        "landing_offset": landing.offset,
        "pixels_per_line": part.period,
        "confidence": landing.confidence,
        "told": told,
        "why": landing.reason,
    }


def _shutter(read: Read, why: dict[str, str]) -> dict[str, Any] | None:
    found = read.found
    assert found is not None
    if read.film is not None:
        timed = read.film.timed
        if timed.exposures is None or timed.readouts is None:
            why["shutter"] = "only a film whose lines change places tells its shutter"
            return None
        return {
            "fields": found.fields,
            "seconds_interval": list(timed.exposures),
            "readout_s_interval": list(timed.readouts),
        }
    if found.fields is None:
        why["shutter"] = "the file does not say how long the shutter was open; give --shutter"
        return None
    return {"fields": found.fields}


def main_table(read: Read) -> Table:
    """Return the main figures with their units."""
    rows: list[tuple[str | Cell, ...]] = [("sets of lines", read.sets, "")]
    found = read.found
    if found is not None:
        if found.lit is not None:
            rows.append(
                ("lines over the picture's height", f"{found.lit[0]:.1f} ± {max(found.lit[1], 0.1):.1f}", "")
            )
        if found.each_set is not None and found.landing.sets == "two":
            rows.append(
                ("lines of each set", f"{found.each_set[0]:.1f} ± {max(found.each_set[1], 0.1):.1f}", "")
            )
        landing = found.landing
        if landing.offset is not None and landing.error is not None:
            rows.append(
                ("offset of successive fields", f"{landing.offset:.2f} ± {landing.error:.2f}", "pitch")
            )
        rows.append(("line pitch in the photo's middle", f"{found.period:.3f}", "pixels"))
        if found.width is not None:
            rows.append(("line width at half its light", f"{found.width:.2f}", "pitch"))
        if found.depth is not None:
            rows.append(("depth of the gaps", f"{found.depth:.2f}", "of the peak"))
        if found.jitter is not None:
            said = _spread(found.jitter, resolved_of_lines(found.jitter))
            rows.append(("jitter of single lines", said, "pitch, rms"))
        if read.film is not None and read.film.strays is not None:
            strays = read.film.strays
            said = _spread(strays, resolved_of_fields(strays))
            rows.append(("jitter of whole fields", said, "pitch, rms"))
        rows.append(("lines fall to the right by", f"{found.roll:.2f}", "degrees"))
        if found.tilt is not None:
            lens = ", if its lens is a phone's" if "tilt_deg" in found.why else ""
            rows.append((f"camera off square by{lens}", f"{found.tilt:.1f}", "degrees"))
        if read.film is not None:
            rows.append(("frames read", str(read.film.frames), f"at {read.film.rate:.2f} a second"))
            rows.append(("drift of the lines", f"{read.film.drift:+.2f}", "pitch a second"))
            ripple = read.film.ripple_percent
            if ripple is not None:
                rows.append(("mean light of frames varies by", f"{ripple:.1f}", "%"))
        rows.append(("confidence in the sets", f"{landing.confidence:.2f}", "0…1"))
    return Table("What the glass shows", ("what", "value", "unit"), tuple(rows), ("left", "right", "left"))


def _spread(found: LineJitter | FieldJitter, least: float) -> str:
    """Return a jitter with its error; where it is no more than what is resolved, that."""
    return f"{found.rms:.3f} ± {found.error:.3f}" if found.rms > least else f"at most {least:.3f}"


def lines_csv(read: Read) -> str:
    """Return the profile by place and the lines' own offsets as a table."""
    out = ["what,place,value,unit"]
    found = read.found
    assert found is not None
    for shape in found.profiles:
        for k, light in enumerate(shape.light):
            out.append(
                f"profile at {shape.share:.2f} of the brightest,{(k + 0.5) / BINS - 0.5:.4f},{light:.5f},mean"
            )
    if found.jitter is not None:
        for place, value in zip(found.jitter.places, found.jitter.offsets, strict=True):
            out.append(f"line off an even pitch,{int(place)},{float(value):.5f},pitch")
    if read.film is not None:
        for time, phase in zip(read.film.times, read.film.phases, strict=True):
            out.append(f"landing of a frame at so many s,{time:.4f},{float(phase):.5f},pitch")
    lines = found.found.lines
    for v in np.linspace(0.05, 0.95, 10):
        y = v * (lines.rows - 1)
        out.append(f"pitch,{y:.1f},{float(lines.period(np.array(lines.centre[0]), np.array(y))):.5f},pixels")
    return "\n".join(out) + "\n"

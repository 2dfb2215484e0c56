"""What to do for a shot of a tube, in plain words, and on a card to print."""

from __future__ import annotations

from scalesim.core.camera import CAMERAS
from scalesim.jobs.glass.shot import Shot
from scalesim.jobs.glass.shots import BEST, NEEDS, Framing, beat, filming, framing, lines_of_mask

BEZEL = (
    "Keep a piece of the bezel in view, 10 to 15 % of the photo's width: it tells the movement of the camera "
    "from that of the picture."
)


def framing_words(shot: Shot) -> str:
    """Return where the camera stands, what that is enough for, and where it should."""
    at, far, near = shot.stands, shot.distance(BEST[0]), shot.distance(BEST[1])
    told = shot.camera.distance_mm is not None
    said = (
        f"{'At ' if told else 'Stand '}{mm(at.distance_mm)}{',' if told else ' away:'} {shot.camera.name} "
        f"{'sees' if told else 'then sees'} {at.pixels_a_line:.1f} pixels from line to line and "
        f"{100 * at.shown:.0f} % of the picture: {_readable(at.pixels_a_line)}."
    )
    if not at.sharp:
        said += f" That is nearer than it is sharp ({mm(shot.camera.nearest_mm)})."
    if not BEST[0] <= at.pixels_a_line <= BEST[1]:
        said += f" {BEST[0]:g} to {BEST[1]:g} pixels a line are best: stand {mm(near)} to {mm(far)} away."
    return said


def shutter_words(shot: Shot) -> list[str]:
    """Return which exposures and which films tell what."""
    field = _shutter(1 / shot.field_rate)
    times = [f"{_shutter(seconds)} ({n} fields)" for n, seconds in shot.exposures]
    said = []
    if times:
        said.append(
            "To see where both fields land, set the camera on a tripod and expose an even number of whole "
            f"fields: {_or(times)}."
        )
    else:
        said.append(
            f"This camera's shutter ({_shutter(shot.camera.fastest_s)} to {_shutter(shot.camera.slowest_s)}) "
            "reaches no even number of whole fields: tell where fields land by film."
        )
    if good := _rates(shot, "good"):
        said.append(
            f"By film: {good} pictures a second, each exposed {field} or less, shutter and focus locked, for "
            f"two seconds. {_film_framing(shot)}"
        )
    if never := _rates(shot, "never"):
        said.append(
            f"Never film at {never}: every picture then shows the same parity of field, and two sets of "
            "lines look like one."
        )
    if slow := _rates(shot, "slow"):
        said.append(
            f"At {slow} pictures a second the parity drifts slowly: film for ten seconds, or take another "
            "rate."
        )
    said.append(f"For how thick the lines are and how still they stand, expose one field, {field}.")
    return said


def _film_framing(shot: Shot) -> str:
    film, at = filming(shot.camera), _film_stands(shot)
    return (
        f"A film has {film.rows} rows: stand {mm(at.distance_mm)} away for it, where a line has "
        f"{at.pixels_a_line:.1f} pixels and {100 * at.shown:.0f} % of the picture is in view."
    )


def _film_stands(shot: Shot) -> Framing:
    film = filming(shot.camera)
    stand = max(film.distance_for(shot.line_mm, BEST[0]), film.nearest_mm)
    return framing(film, shot.line_mm, shot.shown_lines, float(shot.display.aspect), stand)


def beat_words(shot: Shot) -> list[str]:
    """Return what the tube's mask beats with: the sensor, and the lines."""
    said = []
    pitch = shot.stands.pixels_a_line
    if shot.display.mask != "none":
        mask = shot.display.mask_pitch_mm / shot.line_mm * pitch
        long = max(beat(mask), beat(mask, 2.0)) if mask > 0.75 else 0.0  # pixels, and their mosaic
        if min(abs(mask - 1), abs(mask - 2)) < 0.15 and long > 4:
            said.append(
                f"The mask's pitch falls on {mask:.2f} pixels and beats with the sensor every {long:.0f}: "
                "move a tenth nearer or farther."
            )
        else:
            said.append(f"The mask's pitch falls on {mask:.2f} pixels, clear of the sensor's own grid.")
    rows = lines_of_mask(shot.display, shot.line_mm)
    if rows is not None:
        said.append(
            f"The mask's rows stand {rows:.2f} lines apart and beat with the lines every {beat(rows):.1f} "
            "lines: such a pattern is the glass, not the picture."
        )
    return said


def card(shot: Shot) -> str:
    """Return a card to print, in plain words."""
    lines = [
        "PHOTOGRAPHING THE LINES OF A TUBE",
        f"Tube: {shot.display.name}, {shot.lines} lines a field, {shot.field_rate:g} fields a second",
        f"Camera: {shot.camera.name}",
        "",
        f"[ ] Stand {mm(shot.stands.distance_mm)} away ({shot.stands.pixels_a_line:.1f} pixels a line), the "
        "camera square to the glass.",
        "[ ] A piece of the bezel in view. Room dark, no reflection, no flash.",
        "[ ] Night, HDR and portrait modes off; focus and exposure locked; ISO low; no digital zoom.",
        f"[ ] One field for width and steadiness: {_shutter(1 / shot.field_rate)}.",
    ]
    if shot.exposures:
        best = shot.exposures[min(1, len(shot.exposures) - 1)]
        lines.append(
            f"[ ] Tripod and self-timer for where fields land: {_shutter(best[1])}, {best[0]} fields."
        )
    if good := _rates(shot, "good"):
        at = mm(_film_stands(shot).distance_mm)
        lines.append(f"[ ] Or a film of two seconds at {good} a second, from {at} away.")
    if never := _rates(shot, "never"):
        lines.append(f"[ ] Never a film at {never} a second.")
    lines += [
        "[ ] Once, from the same place: the geometry chart, which straightens the photos.",
        "[ ] Keep the camera's own files, uncut and unfiltered.",
        "",
        "Flicker on film can trigger seizures. Nobody opens a set.",
    ]
    return "\n".join(lines) + "\n"


def phone_words(shot: Shot) -> str:
    """Return what a phone can still tell of the same tube."""
    phone = Shot(shot.display, CAMERAS["phone"], shot.lines, shot.field_rate)
    whole = phone.camera.rows / phone.shown_lines
    near = phone.at(phone.camera.nearest_mm)
    return (
        f"A usual phone that holds the whole height of the picture gets {whole:.1f} pixels a line, and from "
        f"its nearest sharp distance, {mm(phone.camera.nearest_mm)}, {near.pixels_a_line:.0f}. So it tells "
        "the number of lines, whether there is one set or two, and from near by "
        f"{_seen(near.pixels_a_line)[-1]}. Its sharpening thickens and thins lines and its "
        "merged exposures blur them: for width and depth take an application that saves single, unsharpened "
        "exposures with a shutter you set."
    )


def mm(length: float) -> str:
    """Return a distance as it is read: millimetres, or metres from one on."""
    return f"{length:.0f} mm" if length < 1000 else f"{length / 1000:.2f} m"


def _readable(pixels: float) -> str:
    can = _seen(pixels)
    return f"enough to see {can[-1]}" if len(can) > 2 else can[-1] if can else "no line can be told"


def _seen(pixels: float) -> list[str]:
    return [what for least, what in NEEDS if pixels >= least]


def _rates(shot: Shot, use: str) -> str:
    return _or([f"{rate:g}" for rate in shot.films(use)])


def _shutter(seconds: float) -> str:
    return f"1/{float(f'{1 / seconds:.3g}'):g} s" if seconds < 0.3 else f"{seconds:.1f} s"


def _or(texts: list[str]) -> str:
    return f"{', '.join(texts[:-1])} or {texts[-1]}" if len(texts) > 1 else "".join(texts)

"""How to take the photo or the film, as a `Result`: distance, shutter, what to beware of, and a card."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from scalesim.core.camera import CAMERAS, Camera
from scalesim.jobs.glass.shots import (
    BEST,
    FOR_DEPTH,
    FOR_WIDTH,
    LEAST,
    NEEDS,
    Framing,
    beat,
    film_use,
    filming,
    framing,
    lines_of_mask,
    long_exposures,
)
from scalesim.plot import Axis, Panel, Plot, Rule, Series
from scalesim.result import Code, File, Part, Result, Table
from scalesim.tube.display import Display, display_named

DEFAULT_DISPLAY = "livingroom-68cm-350"
USUAL_LINES = 240
CAUTIONS = (
    "A filmed tube flickers: clips of it can trigger seizures in people with photosensitive epilepsy. Take "
    "the "
    "photo from outside: nobody opens a set, whose tube holds lethal voltages when off. What is written "
    "here is "
    "computed from the figures given and from simulated photos, not from a real tube.",
)


@dataclass(frozen=True, eq=False)
class ShotPlan(Result):
    """How to take a photo of a tube; a `Result`.

    Parameters:  lines : of one field over the height of the picture; field_rate : fields a second
    """

    display: Display
    camera: Camera
    lines: int = USUAL_LINES
    field_rate: float = 59.94

    kind = "glass"
    title = "How to photograph the lines of a tube"
    foot = CAUTIONS

    @cached_property
    def line_mm(self) -> float:
        """From line to line on the glass, millimetres: what the tube hides is off it."""
        return self.display.height_mm / self.shown_lines

    @property
    def shown_lines(self) -> float:
        """Lines over the glass."""
        return self.lines * (1 - self.display.overscan_percent / 100)

    def at(self, distance_mm: float) -> Framing:
        """Return what the camera sees from a distance."""
        return framing(self.camera, self.line_mm, self.shown_lines, float(self.display.aspect), distance_mm)

    def distance(self, pixels_a_line: float) -> float:
        """Return the distance for so many pixels a line, mm."""
        return self.camera.distance_for(self.line_mm, pixels_a_line)

    @cached_property
    def stands(self) -> Framing:
        """Where the camera stands; where that is not told, for 8 pixels a line, or as near as it can."""
        told = self.camera.distance_mm
        return self.at(told or max(self.distance(FOR_WIDTH), self.camera.nearest_mm))

    @property
    def exposures(self) -> list[tuple[int, float]]:
        """Long exposures, (fields, seconds)."""
        return long_exposures(self.camera, self.field_rate)

    def films(self, use: str) -> list[float]:
        """Return the camera's film rates of one use, "good", "slow" or "never"."""
        return [rate for rate in self.camera.film_rates if film_use(rate, self.field_rate) == use]

    def sentences(self) -> list[str]:
        """Return what to do, the most important first."""
        return [self._framing(), *self._shutter(), *self._beats(), self._bezel()]

    def _framing(self) -> str:
        at, far, near = self.stands, self.distance(BEST[0]), self.distance(BEST[1])
        told = self.camera.distance_mm is not None
        said = (
            f"{'At' if told else 'Stand at'} {_mm(at.distance_mm)}, {self.camera.name} "
            f"{'sees' if told else 'gets'} {at.pixels_a_line:.1f} pixels from line to line and "
            f"{100 * at.shown:.0f} % of the picture: {_readable(at.pixels_a_line)}."
        )
        if not at.sharp:
            said += f" That is nearer than it is sharp ({_mm(self.camera.nearest_mm)})."
        if not BEST[0] <= at.pixels_a_line <= BEST[1]:
            said += (
                f" {BEST[0]:g} to {BEST[1]:g} pixels a line are best: stand {_mm(near)} to {_mm(far)} away."
            )
        return said

    def _shutter(self) -> list[str]:
        field = _shutter(1 / self.field_rate)
        times = [f"{_shutter(seconds)} ({n} fields)" for n, seconds in self.exposures]
        said = []
        if times:
            said.append(
                "To see where both fields land, set the camera on a tripod and expose an even number of "
                "whole "
                f"fields: {_or(times)}."
            )
        else:
            said.append(
                f"This camera's shutter ({_shutter(self.camera.fastest_s)} to "
                f"{_shutter(self.camera.slowest_s)}) "
                "reaches no even number of whole fields: tell where fields land by film."
            )
        good, never, slow = self.films("good"), self.films("never"), self.films("slow")
        if good:
            said.append(
                f"By film: {_or([f'{rate:g}' for rate in good])} pictures a second, each exposed {field} or "
                f"less, shutter and focus locked, for two seconds. {self._film_framing()}"
            )
        if never:
            said.append(
                f"Never film at {_or([f'{rate:g}' for rate in never])}: every picture then shows the same "
                "parity of field, and two sets of lines look like one."
            )
        if slow:
            said.append(
                f"At {_or([f'{rate:g}' for rate in slow])} pictures a second the parity drifts slowly: film "
                "for ten seconds, or take another rate."
            )
        said.append(f"For how thick the lines are and how still they stand, expose one field, {field}.")
        return said

    def _film_framing(self) -> str:
        film = filming(self.camera)
        stand = max(film.distance_for(self.line_mm, BEST[0]), film.nearest_mm)
        at = framing(film, self.line_mm, self.shown_lines, float(self.display.aspect), stand)
        return (
            f"Its {film.rows} rows need {at.pixels_a_line:.1f} pixels a line, too: stand {_mm(stand)} away, "
            f"which holds {100 * at.shown:.0f} % of the picture."
        )

    def _beats(self) -> list[str]:
        said = []
        pitch = self.stands.pixels_a_line
        if self.display.mask != "none":
            mask = self.display.mask_pitch_mm / self.line_mm * pitch
            long = max(beat(mask), beat(mask, 2.0)) if mask > 0.75 else 0.0  # pixels, and their mosaic
            if min(abs(mask - 1), abs(mask - 2)) < 0.15 and long > 4:
                said.append(
                    f"The mask's pitch falls on {mask:.2f} pixels and beats with the sensor every "
                    f"{long:.0f}: move "
                    "a tenth nearer or farther."
                )
            else:
                said.append(f"The mask's pitch falls on {mask:.2f} pixels, clear of the sensor's own grid.")
        rows = lines_of_mask(self.display, self.line_mm)
        if rows is not None:
            said.append(
                f"The mask's rows stand {rows:.2f} lines apart and beat with the lines every "
                f"{beat(rows):.1f} "
                "lines: such a pattern is the glass, not the picture."
            )
        return said

    def _bezel(self) -> str:
        return (
            "Keep a piece of the bezel in view, 10 to 15 % of the photo's width: it tells the movement of "
            "the "
            "camera from that of the picture."
        )

    def card(self) -> str:
        """Return a card to print, in plain words."""
        lines = [
            "PHOTOGRAPHING THE LINES OF A TUBE",
            f"Tube: {self.display.name}, {self.lines} lines a field, {self.field_rate:g} fields a second",
            f"Camera: {self.camera.name}",
            "",
            f"[ ] Stand {_mm(self.stands.distance_mm)} away ({self.stands.pixels_a_line:.1f} pixels a "
            "line), the "
            "camera square to the glass.",
            "[ ] A piece of the bezel in view. Room dark, no reflection, no flash.",
            "[ ] Night, HDR and portrait modes off; focus and exposure locked; ISO low; no digital zoom.",
            f"[ ] One field for width and steadiness: {_shutter(1 / self.field_rate)}.",
        ]
        if self.exposures:
            best = self.exposures[min(1, len(self.exposures) - 1)]
            lines.append(
                f"[ ] Tripod and self-timer for where fields land: {_shutter(best[1])}, {best[0]} fields."
            )
        if self.films("good"):
            good = _or([f"{rate:g}" for rate in self.films("good")])
            lines.append(f"[ ] Or a film of two seconds at {good} a second.")
        if self.films("never"):
            lines.append(
                f"[ ] Never a film at {_or([f'{rate:g}' for rate in self.films('never')])} a second."
            )
        lines += [
            "[ ] Once, from the same place: the geometry chart, which straightens the photos.",
            "[ ] Keep the camera's own files, uncut and unfiltered.",
            "",
            "Flicker on film can trigger seizures. Nobody opens a set.",
        ]
        return "\n".join(lines) + "\n"

    def table(self) -> Table:
        """Return how far to stand for what."""
        rows = []
        for pixels, what in NEEDS:
            at = self.at(self.distance(pixels))
            sharp = "" if at.sharp else ", too near to be sharp"
            rows.append((what, f"{pixels:g}", _mm(at.distance_mm) + sharp, f"{100 * at.shown:.0f} %"))
        names = ("to read", "pixels a line at least", "stand at, at most", "of the picture in view")
        return Table("How near", names, tuple(rows), ("left", "right", "right", "right"), head=0)

    def figures(self) -> tuple[Plot, ...]:
        """Return pixels a line against distance."""
        far = self.distance(LEAST) * 1.1
        near = max(self.camera.focal_mm * 1.5, min(self.distance(20), far / 3))
        places = np.geomspace(near, far, 80)
        curve = Series(
            tuple(float(d / 10) for d in places),
            tuple(self.camera.pixels(self.line_mm, float(d)) for d in places),
            style="line",
        )
        stands = Series(
            (self.stands.distance_mm / 10,), (self.stands.pixels_a_line,), role=1, texts=("here",)
        )
        words = {
            LEAST: "nothing below",
            5.0: "one set or two",
            FOR_WIDTH: "width",
            FOR_DEPTH: "depth of gaps",
        }
        rules = tuple(Rule("y", at, text, dashed=True) for at, text in words.items())
        panel = Panel(
            Axis("distance from lens to glass, cm"),
            Axis("pixels from line to line", 0, 20, grid=True),
            (curve, stands),
            rules,
        )
        return (
            Plot(
                "distance",
                "How large a line is from where",
                f"How many pixels of {self.camera.name} lie between two scan lines. Above a dashed line, "
                "what "
                "stands at it can be read.",
                (panel,),
            ),
        )

    def parts(self) -> Any:
        """Yield the figures and the card."""
        yield Part("Where to stand", items=(self.table(), *self.figures()))
        yield Part("A card to print", items=(Code(self.card(), what="card"),))
        yield Part("What a phone can still tell", (self.phone(),))

    def phone(self) -> str:
        """Return what a phone can still tell, where the camera is none."""
        phone = ShotPlan(self.display, CAMERAS["phone"], self.lines, self.field_rate)
        whole = phone.camera.rows / phone.shown_lines
        near = phone.at(phone.camera.nearest_mm)
        return (
            f"A usual phone that holds the whole height of the picture gets {whole:.1f} pixels a line, and "
            "from its "
            f"nearest sharp distance, {_mm(phone.camera.nearest_mm)}, {near.pixels_a_line:.0f}. So it tells "
            "the "
            f"number of lines and whether there is one set or two, and {_readable(near.pixels_a_line)} from "
            "near "
            "by. Its sharpening thickens and thins lines and its merged exposures blur them: for width and "
            "depth "
            "take an application that saves single, unsharpened exposures with a shutter you set."
        )

    def files(self) -> dict[str, File]:
        """Return the card."""
        return {"card": File("card.txt", self.card())}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        return {
            "plan": {
                "display": self.display.name,
                "camera": self.camera.name,
                "lines": self.lines,
                "field_rate": self.field_rate,
                "line_mm": self.line_mm,
                "distance_mm": self.stands.distance_mm,
                "share_in_view": self.stands.shown,
                "distances": [
                    {"pixels_per_line": pixels, "distance_mm": self.distance(pixels), "for": what}
                    for pixels, what in NEEDS
                ],
                "long_exposures_s": [seconds for _, seconds in self.exposures],
                "film_rates": {use: self.films(use) for use in ("good", "slow", "never")},
                "mask_pixels": None
                if self.display.mask == "none"
                else self.display.mask_pitch_mm / self.line_mm * self.stands.pixels_a_line,
                "mask_rows_lines": lines_of_mask(self.display, self.line_mm),
            },
            "pixels_per_line": self.stands.pixels_a_line,
        }


def planned(
    display: Display | None, camera: Camera | None, *, lines: int | None = None, field_rate: float = 59.94
) -> ShotPlan:
    """Return the plan of a shot; a large living-room tube and a phone where none is told.

    Parameters:  lines : of one field over the picture's height, None for 240; those of a frame are halved
    """
    count = lines or USUAL_LINES
    return ShotPlan(
        display or display_named(DEFAULT_DISPLAY),
        camera or CAMERAS["phone"],
        count // 2 if count > 400 else count,
        field_rate,
    )


def _readable(pixels: float) -> str:
    can = [what for least, what in NEEDS if pixels >= least]
    return f"enough to see {can[-1]}" if len(can) > 2 else can[-1] if can else "no line can be told"


def _mm(length: float) -> str:
    return f"{length:.0f} mm" if length < 1000 else f"{length / 1000:.2f} m"


def _shutter(seconds: float) -> str:
    return f"1/{float(f'{1 / seconds:.3g}'):g} s" if seconds < 0.3 else f"{seconds:.1f} s"


def _or(texts: list[str]) -> str:
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} or {texts[-1]}"

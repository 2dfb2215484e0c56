"""How to take the photo or the film, as a `Result`: what to do, how near to stand for what, and a card."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scalesim.core.camera import CAMERAS, Camera
from scalesim.jobs.glass.plan_words import (
    BEZEL,
    beat_words,
    card,
    framing_words,
    mm,
    phone_words,
    shutter_words,
)
from scalesim.jobs.glass.shot import USUAL_LINES, Shot
from scalesim.jobs.glass.shots import FOR_DEPTH, FOR_WIDTH, LEAST, NEEDS, lines_of_mask
from scalesim.plot import Axis, Panel, Plot, Rule, Series
from scalesim.result import Code, File, Part, Result, Table
from scalesim.tube.display import Display, display_named

DEFAULT_DISPLAY = "livingroom-68cm-350"
CAUTIONS = (
    "A filmed tube flickers: clips of it can trigger seizures in people with photosensitive epilepsy. "
    "Take the photo from outside: nobody opens a set, whose tube holds lethal voltages when off. "
    "What is written here is computed from the figures given and from simulated photos, not from a real "
    "tube.",
)


@dataclass(frozen=True, eq=False)
class ShotPlan(Shot, Result):
    """How to take a photo of a tube; a `Result`."""

    kind = "glass"
    title = "How to photograph the lines of a tube"
    foot = CAUTIONS

    def sentences(self) -> list[str]:
        """Return what to do, the most important first."""
        return [framing_words(self), *shutter_words(self), *beat_words(self), BEZEL]

    def table(self) -> Table:
        """Return how far to stand for what."""
        rows = []
        for pixels, what in NEEDS:
            at = self.at(self.distance(pixels))
            sharp = "" if at.sharp else ", too near to be sharp"
            rows.append((what, f"{pixels:g}", mm(at.distance_mm) + sharp, f"{100 * at.shown:.0f} %"))
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
                f"How many pixels of {self.camera.name} lie between two scan lines. "
                "Above a dashed line, what stands at it can be read.",
                (panel,),
            ),
        )

    def parts(self) -> Any:
        """Yield the figures and the card."""
        yield Part("Where to stand", items=(self.table(), *self.figures()))
        yield Part("A card to print", items=(Code(card(self), what="card"),))
        yield Part("What a phone can still tell", (phone_words(self),))

    def files(self) -> dict[str, File]:
        """Return the card."""
        return {"card": File("card.txt", card(self))}

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

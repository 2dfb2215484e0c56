"""The marks of the geometry chart that survive a photo: nine bright discs at places that are known.

A disc is ten dots high, ten scan lines of 240, on a dark plate: what scan lines, mask, defocus and a tilted
camera do to it leaves its middle where it is. Eight lie evenly about the centre; the ninth stands upper
left, so that no turn and no mirror of the chart looks like another.
"""

from __future__ import annotations

from typing import Any

from scalesim.draw.rulers import INK, PLATE
from scalesim.draw.sheet import Sheet, tidy

DISC_DOTS = 5
PLATE_DOTS = 9
WORDS_DOTS = 53
"""From the centre up to the topmost word."""


def draw_marks(sheet: Sheet, circles: list[dict[str, Any]], ruler_samples: float) -> list[dict[str, Any]]:
    """Draw the discs; return name, line and sample of the middle, and radius of each.

    Parameters:
        circles : the chart's circles: the large one, then those in the corners
        ruler_samples : how far the rulers at the sides reach into the picture
    """
    dot, aspect = sheet.dot_lines, float(sheet.sample_aspect)
    centre = circles[0]
    up = (centre["radius_lines"] + WORDS_DOTS * dot) / 2
    inner = (sheet.samples / 2 - ruler_samples + centre["radius_samples"]) / 2
    y, x = centre["line"], centre["sample"]
    places = [(each["name"], each["line"], each["sample"]) for each in circles[1:]]
    places += [
        ("top", y - up, x),
        ("bottom", y + up, x),
        ("left", y, x - inner),
        ("right", y, x + inner),
        ("upper-left", y - up, x - inner),
    ]
    for _, line, sample in places:
        for dots, tone in ((PLATE_DOTS, PLATE), (DISC_DOTS, INK)):
            sheet.circle(line, sample, (dots - 2) * dot / 2, (dots + 2) * dot, tone)  # no hole
    return [
        {
            "name": name,
            "line": tidy(line),
            "sample": tidy(sample),
            "radius_lines": tidy(DISC_DOTS * dot),
            "radius_samples": tidy(DISC_DOTS * dot / aspect),
        }
        for name, line, sample in places
    ]

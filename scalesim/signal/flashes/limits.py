"""What a count of flashes comes to: the limits, the verdicts and how they are said."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

FLASH_LIMIT = 3
"""Most flashes in any one second (WCAG 2.x SC 2.3.1; ITU-R BT.1702-3)."""

AREA_LIMIT = 0.25
"""Share of a 10-degree field (WCAG), or of the screen (BT.1702-3), up to which flashes do not count."""

STEP_SHARE = 0.10
DARKER_SHARE = 0.80
"""WCAG general flash: least change of relative luminance, and what the darker state is below."""

SDR_WHITE_CD_M2 = 200.0
STEP_CD_M2 = 20.0
DARKER_CD_M2 = 160.0
"""BT.1702-3: white of standard range, least change, and what the darker state is below."""

LONG_S = 5.0
"""Seconds of flashing above which it is a risk even if it is allowed (BT.1702-3)."""


@dataclass(frozen=True)
class Verdict:
    """One standard's counts and whether they are allowed.

    Parameters:
        standard : its name
        field : of what more than a quarter must flash for a flash to count
        general_flashes_per_s : most flashes of luminance in any one second, in halves
        red_flashes_per_s : most flashes to or from saturated red
        area_percent : largest part of the field in which the same places flash more than three times
            within one second
    """

    standard: str
    field: str
    general_flashes_per_s: float
    red_flashes_per_s: float
    area_percent: float

    @property
    def passes(self) -> bool:
        """True when neither count is above three."""
        return max(self.general_flashes_per_s, self.red_flashes_per_s) <= FLASH_LIMIT

    def to_dict(self) -> dict[str, Any]:
        """Return the counts and the verdict."""
        return {**asdict(self), "passes": self.passes}

    def small(self) -> str:
        """Return what to know of faster flashes that are too small to count, "" without any."""
        if not self.passes or self.area_percent <= 0:
            return ""
        return f"Faster flashes fill {self.area_percent:.0f} % of {self.field}, which is small enough."

    def sentence(self) -> str:
        """Return the verdict in words."""
        counts = f"{self.general_flashes_per_s:g} flashes and {self.red_flashes_per_s:g} red flashes"
        verdict = "passes" if self.passes else "does not pass"
        small = f" {self.small()}" if self.small() else ""
        return (
            f"The clip {verdict} {self.standard}: at most {counts} in any one second over more than "
            f"a quarter of {self.field} ({FLASH_LIMIT} are allowed).{small}"
        )


@dataclass(frozen=True)
class FlashReport:
    """The verdicts on a clip as it is shown.

    Parameters:
        wcag, broadcast : the verdicts of WCAG 2.x SC 2.3.1 and of ITU-R BT.1702-3
        flashing_s : longest time from the first to the last change of flashing without a pause: two
            flashes or more within every second, over more than a quarter of the screen
        pictures, seconds : how much was seen
        degrees, white_cd_m2 : the viewing it holds for
    """

    wcag: Verdict
    broadcast: Verdict
    flashing_s: float
    pictures: int
    seconds: float
    degrees: tuple[float, float]
    white_cd_m2: float

    @property
    def passes(self) -> bool:
        """True when both standards' counts are allowed; long flashing is told apart."""
        return self.wcag.passes and self.broadcast.passes

    @property
    def long_flashing(self) -> bool:
        """True when flashing lasts longer than 5 seconds."""
        return self.flashing_s > LONG_S

    @property
    def general_flashes_per_s(self) -> float:
        """Most flashes of luminance in any one second by either standard."""
        return max(self.wcag.general_flashes_per_s, self.broadcast.general_flashes_per_s)

    @property
    def red_flashes_per_s(self) -> float:
        """Most red flashes in any one second by either standard."""
        return max(self.wcag.red_flashes_per_s, self.broadcast.red_flashes_per_s)

    @property
    def area_percent(self) -> float:
        """Largest part of a 10-degree field or of the screen that flashes more than three times a second."""
        return max(self.wcag.area_percent, self.broadcast.area_percent)

    def sentences(self) -> list[str]:
        """Return the verdicts in words, and what they do not cover."""
        return [self.wcag.sentence(), self.broadcast.sentence(), *self._beyond()]

    def remarks(self) -> list[str]:
        """Return what to know beside the counts: small flashes, long flashing, what is not covered."""
        return [*filter(None, (self.wcag.small(), self.broadcast.small())), *self._beyond()]

    def _beyond(self) -> list[str]:
        said = []
        if self.long_flashing:
            said.append(
                f"It flashes for {self.flashing_s:.1f} s on end: more than {LONG_S:g} s is a risk even where "
                "each second is allowed."
            )
        wide, high = self.degrees
        said.append(
            f"This holds for a screen that fills {wide:g} x {high:g} degrees, with white of "
            f"{self.white_cd_m2:g} cd/m². It lowers a risk and is no promise: people differ."
        )
        return said

    def to_dict(self) -> dict[str, Any]:
        """Return the verdicts, counts and limits as plain numbers."""
        return {
            "passes": self.passes,
            "general_flashes_per_s": self.general_flashes_per_s,
            "red_flashes_per_s": self.red_flashes_per_s,
            "area_percent": self.area_percent,
            "wcag": self.wcag.to_dict(),
            "broadcast": self.broadcast.to_dict(),
            "flashing_s": self.flashing_s,
            "long_flashing": self.long_flashing,
            "pictures": self.pictures,
            "seconds": self.seconds,
            "degrees": list(self.degrees),
            "white_cd_m2": self.white_cd_m2,
            "limits": {
                "flashes_per_s": FLASH_LIMIT,
                "area_percent": 100 * AREA_LIMIT,
                "step_share": STEP_SHARE,
                "darker_share": DARKER_SHARE,
                "step_cd_m2": STEP_CD_M2,
                "darker_cd_m2": DARKER_CD_M2,
                "long_s": LONG_S,
            },
        }

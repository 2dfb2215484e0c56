"""All that is said of a metric's value: what it is called, how it reads, when a difference counts.

A metric's own file states its `Key` in full; tables, sentences, captions, plots and the README's table
ask the key alone. What a key leaves out is made from its label and unit.

A *tie* is a difference that says nothing: what the *resolution* of a metric says where it was measured,
else 0.005 of a share or half of the last digit shown. Definitions of this project.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from scalesim.metrics.judged import Judged
from scalesim.texts import capital

Family = Literal["sharpness", "outlines", "slopes", "flicker", "fidelity", "crop", "other"]
Needs = Literal["geometry", "strips", "pictures", "motion"]

SHARE_TIE = 0.005
MINUS = "\N{MINUS SIGN}"
ONE = "0…1"
"""The unit of a plain number from 0 to 1."""
MANY_FRAMES = 6
"""From so many frames on a mean over them is told, and a leader can be named."""
HOLDS = 10
"""A setting holds as long as the score stays within this many ties of the best."""


CAPTURED_TIES = 3.0
"""Ties of a prediction that a capture's noise moves a metric by, where that was not measured (it was of six
metrics: 1 to 12 times, mostly 3 to 5)."""


@dataclass(frozen=True)
class Resolution:
    """When two values of a metric on one frame differ.

    Measured as the 95th percentile of how differences between two chains move when the frame is moved by
    whole scan lines, compressed (JPEG, quality 95) or given noise of one code of 255: on the source for
    predictions, on the chain's output for captures.

    Parameters:
        least : differences of predictions up to this say nothing, in the metric's unit
        share : nor do those up to this share of the larger value
        captured, captured_share : the same where a capture takes part
        position : what moving the frame by part of a scan line changes a difference by on one frame (95th
            percentile): below it a difference holds at this position
        position_mean : the same of a mean over a dozen frames
    """

    least: float
    share: float = 0.0
    captured: float = 0.0
    captured_share: float = 0.0
    position: float = 0.0
    position_mean: float = 0.0


@dataclass(frozen=True)
class Clear:
    """When a metric's best and worst are far enough apart to choose by: the rule and its words.

    Parameters:
        enough : takes best and worst, in the metric's unit
        words : the same rule as a reviewer reads it
    """

    enough: Callable[[float, float], bool]
    words: str


def apart_by(distance: float, unit: str = "") -> Clear:
    """Return the rule that best and worst differ by more than a distance in the metric's unit."""
    words = f"best and worst must be more than {f'{distance:g} {unit}'.strip()} apart"
    return Clear(lambda best, worst: abs(worst - best) > distance, words)


LESS_MISSING = Clear(
    lambda best, worst: abs(worst - best) > 0.3 * (1.0 - worst),
    "what is missing to 1 must shrink by more than 30 %",
)
APART_BY_SHARE = Clear(
    lambda best, worst: abs(worst - best) > 0.3 * max(abs(best), abs(worst)),
    "best and worst must be more than 30 % apart",
)
"""The distance is above 30 % of the larger of the two."""


@dataclass(frozen=True)
class Key:
    """One value a metric gives, and how it is said.

    Parameters:
        name, unit : its key and unit in JSON and CSV
        better : which direction is better, "neither" for a count or a plain fact
        label : what a reviewer calls it, the head of its row
        reading : how to read it, its row in the README
        family : what it tells of; "fidelity" is kept for the appendix of a comparison
        needs : what it looks at: the "geometry" alone, the "strips" outlines are found in, whole
            "pictures", or pictures as they move ("motion")
        digits : digits shown after the point; fine_digits where small differences are studied
        share : unit of a value of 0..1 that is shown in percent, "% of …"
        resolution : the tie of a search where it is not made from digits or share
        differs : when two values of a ranking differ, where it was measured
        clear : how far apart best and worst must be; a share's 0.3 (measured on scenes with and without
            a right position, for `line_doubling`), else 30 % of the larger
        short, plural : its name inside a sentence, and whether that takes a plural verb
        head : its name and unit at the head of a narrow column
        improves : a comparative for better: "sharper"
        wins : what one that is better does, after its name in a title: "keeps more vertical detail"
        best, worst : what the first and the last of several are: "sharpest edges"
        told : whether a prediction says it in a sentence
        say : that sentence, {} standing for the number, or a function of the value
        captions : what a picture's caption says, longest form first; none and it is in no caption
        zero : what a caption says of exactly 0
        counts : what the n of a value counts, in the plural ("outlines")
        counted : whether a sentence says that n
        enough : the value from which on more is no better: a ranking takes what is above for it
        marks : values worth a line on a plot, with their words
        judge : takes the `Evidence` and gives what the value rests on, piece by piece; None where there is
            nothing to point at. May raise NotMeasurable
        case : what is said of one case, {} standing for how badly in percent; "" where finding cases takes
            too long to light them up on a page
    """

    name: str
    unit: str
    better: Literal["lower", "higher", "neither"]
    label: str
    reading: str = ""
    family: Family = "other"
    needs: Needs = "pictures"
    digits: int = 1
    fine_digits: int | None = None
    share: str = ""
    resolution: float | None = None
    differs: Resolution | None = None
    clear: Clear | None = None
    short: str = ""
    plural: bool = False
    head: str = ""
    improves: str = "better"
    wins: str = ""
    best: str = ""
    worst: str = ""
    told: bool = False
    say: str | Callable[[float], str] = ""
    captions: tuple[str, ...] = ()
    zero: str = ""
    counts: str = ""
    counted: bool = False
    enough: float | None = None
    marks: tuple[tuple[float, str], ...] = ()
    judge: Callable[[Any], Judged] | None = None
    case: str = ""

    def __post_init__(self) -> None:
        """Make what was left out from label, unit and name."""
        made = {
            "reading": self.label,
            "short": self.label,
            "head": self.axis,
            "wins": f"is better in {self.short or self.label}",
            "best": f"best {self.name}",
            "worst": f"worst {self.name}",
        }
        for field, default in made.items():
            if not getattr(self, field):
                object.__setattr__(self, field, default)

    @property
    def shown_unit(self) -> str:
        """The unit it is shown in; shares become percent."""
        return self.share or self.unit

    @property
    def axis(self) -> str:
        """Label and unit, for an axis."""
        return f"{self.label}, {self.shown_unit}" if self.shown_unit else self.label

    @property
    def readme_row(self) -> tuple[str, str, str, str]:
        """Key, unit, direction and how to read it, as the README lists them."""
        better = "–" if self.better == "neither" else self.better
        return f"`{self.name}`", self.unit.replace("..", "…"), better, self.reading

    def scaled(self, value: float) -> float:
        """Return a value in the unit it is shown in."""
        return 100 * value if self.share else value

    def number(self, value: float, *, fine: bool = False) -> tuple[str, str]:
        """Return (value, unit) as a reviewer reads them."""
        if self.share:
            return f"{self.scaled(value):.0f}".replace("-", MINUS), self.share
        digits = self.digits if not fine or self.fine_digits is None else self.fine_digits
        text = f"{value:.{digits}f}"
        return (text.removeprefix("-") if not text.strip("-0.") else text.replace("-", MINUS)), self.unit

    def merit(self, value: float) -> float:
        """Return what a ranking takes a value for: what is above `enough` is no better than that."""
        return value if self.enough is None else min(value, self.enough)

    def text(self, value: float) -> str:
        """Return the value with its unit inside a sentence: "0.93 scan lines", "35 %", "0.97 of 1"."""
        number, unit = self.number(value)
        if unit == ONE:
            return f"{number} of 1"
        return f"{number} %" if unit.startswith("%") else f"{number} {unit}"

    def sentence(self, value: float) -> str:
        """Return what the value says, as a sentence."""
        if callable(self.say):
            return self.say(value)
        if self.say:
            return self.say.format(self.number(value)[0])
        return f"{capital(self.label)}: {' '.join(self.number(value)).strip()}."

    def caption(self, value: float, shorten: int = 0) -> str:
        """Return what a caption says of the value, "" when it is in none.

        Parameters:  shorten : 0 for the longest form; past the shortest, that one is taken
        """
        if not self.captions or (value == 0 and self.zero):
            return self.zero if self.captions else ""
        form = self.captions[min(shorten, len(self.captions) - 1)]
        return form.format(self.number(value)[0])

    @property
    def tie(self) -> float:
        """The difference that says nothing, in the metric's unit."""
        if self.resolution is not None:
            return self.resolution
        return SHARE_TIE if self.share else 0.5 * 10.0**-self.digits

    def difference_parts(self, *, captured: bool = False) -> tuple[float, float]:
        """Return (least, share): a difference up to the larger of least and share of the value says nothing.

        Parameters:  captured : whether a capture takes part
        """
        known = self.differs
        if known is None:
            return self.tie * (CAPTURED_TIES if captured else 1.0), 0.0
        return (known.captured, known.captured_share) if captured else (known.least, known.share)

    def position_moves(self, frames: int) -> float:
        """Return what moving the frames by part of a scan line changes a difference by, 0 where not known.

        On fewer than six frames it is that of one; on more, that of a mean.
        """
        if self.differs is None:
            return 0.0
        return self.differs.position if frames < MANY_FRAMES else self.differs.position_mean

    @property
    def clear_rule(self) -> Clear:
        """How far best and worst must lie apart, besides ten ties."""
        return self.clear or (apart_by(0.3) if self.share else APART_BY_SHARE)

    def is_clear(self, best: float, worst: float) -> bool:
        """Return whether best and worst are far enough apart to choose by: by the rule, and over ten ties."""
        return abs(worst - best) > HOLDS * self.tie and self.clear_rule.enough(best, worst)

"""The answer of a photo against predictions, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.jobs.glass.against import CAMERA_PX, Explained
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.difference import difference_layer, difference_scale
from scalesim.jobs.glass.display_file import display_toml
from scalesim.jobs.glass.hypotheses import SETS
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import Box, File, Layer, Part, Result, Table, Viewer, chains_part
from scalesim.signal.explain.odds import CLEAR, MOST, UNEXPLAINED
from scalesim.tube.display import Display

_ROWS = 8


@dataclass(frozen=True, eq=False)
class GlassExplained(Result):
    """Which prediction a photo shows; a `Result`.

    Parameters:  reading : what the photo shows by itself; like : the display whose other figures are kept
    """

    name: str
    explained: Explained
    reading: GlassRead
    like: Display

    kind = "glass"

    @property
    def title(self) -> str:
        """The finding."""
        found = self.explained
        if not found.explains:
            return "None of the predictions explains the photo"
        if len(found.alike) > 1:
            return "Predictions that explain the photo alike"
        return f"The photo shows {found.tried[0].label}"

    @property
    def undecided(self) -> bool:
        """True when no prediction explains it, or more than one does as well."""
        return not self.explained.explains or len(self.explained.alike) > 1

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return (*self.reading.foot,)

    def sentences(self) -> list[str]:
        """Return the verdict, the landing, the tube."""
        found = self.explained
        if not found.explains:
            return [
                f"Cannot tell: the best of {len(found.tried)} predictions, “{found.tried[0].label}”, leaves "
                f"{_percent(found.left[0])} of what is seen (n = {found.tiles} tiles); "
                f"{100 * UNEXPLAINED:.0f} % is the limit. Another chain, another frame, or a photo that was "
                "sharpened or cut would do that."
            ]
        said = [self._verdict()]
        sets = found.odds_of_sets()
        if sets is not None and sets[1] >= CLEAR:
            said.append(f"{SETS[sets[0]].capitalize()}, odds {_odds(sets[1])} to 1.")
        elif sets is not None:
            said.append("One set of lines or two cannot be told from this photo by its predictions.")
        said += [*self._curve(), self._tube()]
        return said

    def _curve(self) -> list[str]:
        curve = self.explained.curve
        if curve is None or curve.linear:
            return []
        return [
            f"Its light rises as the power {curve.exponent:.2f} ± {curve.error:.2f} of the prediction's (n = "
            f"{curve.tiles} tiles): a log curve, tone mapping or merged exposures. Widths, growth and black "
            "are the camera's as much as the tube's, and the odds were not tried on such photos."
        ]

    def _verdict(self) -> str:
        found = self.explained
        rests = f"n = {found.tiles} tiles, {_percent(found.left[0])} left unexplained"
        over, count = found.odds_over_next(), len(found.tried)
        if len(found.alike) > 1:
            names = ", ".join(f"“{each.label}”" for each in found.alike)
            rest = count - len(found.alike)
            beside = f"; they beat the other {rest}, odds {_odds(over)} to 1" if over else ""
            same = all(each.same_as(found.tried[0]) for each in found.alike)
            why = ": they predict the same picture, which no photo tells apart" if same else ""
            return f"Cannot tell {names} apart from this photo{why}{beside} ({rests})."
        if over is None:
            return f"“{found.tried[0].label}” explains the photo; nothing else was tried ({rests})."
        # odds stop at the most: beyond, none of the others is the next
        others = "each of the others" if over >= MOST and count > 2 else f"the next, “{found.tried[1].label}”"
        return (
            f"Of {count} predictions “{found.tried[0].label}” explains the photo best, odds {_odds(over)} "
            f"to 1 over {others} ({rests})."
        )

    @cached_property
    def display(self) -> Display:
        """The tube as the photo shows it."""
        return self.explained.display(self.like)

    def _tube(self) -> str:
        shown, pixels = self.display, self.explained.pixels
        lines, resolved = self.explained.sharpness
        more = "" if resolved else " or more"
        sure = "" if pixels >= 8 else f" At {pixels:.1f} pixels a line the width is rough; 8 are needed."
        return (
            f"The tube it shows: lines {shown.beam_width:.2f} of their distance wide at white (half "
            f"maximum), {shown.beam_growth:.1f} times what they are near black, {lines:.0f} TV "
            f"lines{more} along a line; {CAMERA_PX:g} pixels were taken off for the camera.{sure}"
        )

    def remarks(self) -> list[str]:
        """Return how the photo was read."""
        view = self.explained.view
        told = f"The picture was found in the photo by {view.how} (n = {view.points} places"
        return [*self.reading.notes, f"{told}, {view.residual or 0:.2f} pixels off)."]

    def table(self) -> Table:
        """Return every prediction with its odds."""
        found = self.explained
        rows = tuple(
            (
                each.label,
                each.sets,
                _percent(left),
                "" if k == 0 else f"{_odds(odds)} to 1" if odds >= CLEAR else "not told apart",
            )
            for k, (each, left, odds) in enumerate(zip(found.tried, found.left, found.odds, strict=True))
        )
        names = ("prediction", "sets of lines", "left unexplained", "odds of the first over it")
        return Table("What explains the photo", names, rows, ("left", "left", "right", "right"), head=0)

    def figures(self) -> tuple[Plot, ...]:
        """Return where the photo lies between the best prediction and each other."""
        found = self.explained
        shown = list(zip(found.tried[1:], found.over, found.odds[1:], strict=True))[:_ROWS]
        if not shown:
            return ()
        ends = [
            Series(
                tuple(min(max(over.share + side * over.error, -1), 1) for side in (-1, 1)),
                (float(k), float(k)),
                style="line",
                role="quiet",
            )
            for k, (_, over, _) in enumerate(shown)
        ]
        places = tuple(min(max(over.share, -1.0), 1.0) for _, over, _ in shown)
        dots = Series(places, tuple(map(float, range(len(shown)))), style="dots", role=0, size=7)
        ticks = tuple((float(k), each.label) for k, (each, _, _) in enumerate(shown))
        best = found.tried[0].label
        panel = Panel(
            Axis("", -1, 1, ticks=((-0.5, "the other"), (0, "half way"), (0.5, "the first")), grid=True),
            Axis("", -0.6, len(shown) - 0.4, ticks=ticks, downward=True, line=False),
            (*ends, dots),
        )
        return (
            Plot(
                "between",
                f"Where the photo lies between “{best}” and each other",
                f"Where “{best}” (the first) and another prediction differ, the photo is as the one or as "
                f"the other: the mean of {found.tiles} tiles, eight lines high, with its standard error.",
                (panel,),
                (900, 110 + 44 * len(shown)),
            ),
        )

    @property
    def kept_pictures(self) -> Mapping[str, Any]:
        """The straightened photo and the best prediction, grey."""
        return {"photo": self._shown[0], "predicted": self._shown[1]}

    @cached_property
    def _shown(self) -> tuple[NDArray, NDArray, NDArray]:
        """The photo, the prediction, and photo less prediction in percent of the photo's bright light."""
        light = np.nan_to_num(self.explained.photo.light)
        white = float(np.percentile(light, 99.7)) or 1.0
        painted = self.explained.painted() / white
        light = light / white
        apart = np.where(np.isfinite(self.explained.photo.light), 100 * (light - painted), 0)
        photo, prediction = (_grey(each) for each in (light, painted))
        return photo, prediction, apart

    def parts(self) -> Iterator[Part]:
        """Yield the wipe, the odds, and what the photo shows by itself."""
        table, plots = self.table(), self.figures()
        yield Part("The photo against the best prediction", items=(self._viewer(), table, *plots))
        yield chains_part(self._chains)
        yield Part("What the photo shows by itself", tuple(self.reading.sentences()), (self.reading.table(),))

    @property
    def _chains(self) -> dict[str, str]:
        tried = self.explained.tried
        best = None if self.undecided else tried[0]
        return {each.label: each.chain.text for each in tried if each.given or each is best}

    def _viewer(self) -> Viewer:
        photo, painted, apart = self._shown
        place = Box(0, 0, photo.shape[0] * self.explained.photo.aspect, photo.shape[0])
        label = self.explained.tried[0].label
        layers = (
            Layer("photo", "pictures/photo", to_codes(photo), "The photo", "Straightened, its green.", place),
            Layer(
                "predicted",
                "pictures/predicted",
                to_codes(painted),
                f"Predicted: {label}",
                "With the beam, sharpness and place that fit the photo best.",
                place,
            ),
            difference_layer(apart, "Photo less prediction", "agreement", place, "photo"),
        )
        scale = difference_scale("photo less prediction", "the photo is darker", "as predicted", "lighter")
        middle = (place.width / 2, place.height / 2)
        pair = ("photo", "predicted")
        return Viewer("the photo", "Wipe one against the other", (), layers, pair, middle, scale, mode="wipe")

    def files(self) -> Mapping[str, File]:
        """The tube as a display for later predictions, and the odds."""
        head = "prediction,sets,left_share,odds_of_the_first\n"
        found = self.explained
        rows = "".join(
            f'"{each.label}",{each.sets},{left:.5f},{odds:.2f}\n'
            for each, left, odds in zip(found.tried, found.left, found.odds, strict=True)
        )
        tube = File("display.toml", display_toml(self.display))
        return {"display": tube, "odds": File("odds.csv", head + rows)}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys: those of a reading, and what explains it."""
        found = self.explained
        own = self.reading.to_dict()
        sets = found.odds_of_sets()
        if own["sets"] == "unknown" and sets is not None and sets[1] >= CLEAR:
            own |= {"sets": sets[0], "confidence": sets[1] / (1 + sets[1])}
            own["why"] = {key: reason for key, reason in own["why"].items() if key != "sets"}
        over = found.odds_over_next()
        own["explained"] = {
            "best": None if self.undecided else found.tried[0].label,
            "alike": [each.label for each in found.alike] if found.explains else [],
            "odds": over if found.explains else None,
            "sets_odds": None if sets is None else {"sets": sets[0], "odds": sets[1]},
            "n": found.tiles,
            "most_odds": MOST,
            "tried": [
                {
                    "label": each.label,
                    "chain": each.chain.text,
                    "given": each.given,
                    "sets": each.sets,
                    "left": left,
                    "odds": odds,
                    "share": over and over.share,
                    "share_error": over and over.error,
                }
                for each, left, odds, over in zip(
                    found.tried, found.left, found.odds, (None, *found.over), strict=True
                )
            ],
        }
        own["chains"] = self._chains
        fitted = ("beam_width", "beam_growth", "tv_lines", "black_cd_m2")
        own["display"] = {key: getattr(self.display, key) for key in fitted}
        return own


def _grey(light: NDArray) -> NDArray[np.float32]:
    return np.repeat(np.clip(light, 0, 1)[..., None] ** (1 / 2.4), 3, axis=2).astype(np.float32)


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _odds(odds: float | None) -> str:
    assert odds is not None
    return f"{MOST:.0f} or more" if odds >= MOST else f"{odds:.0f}"

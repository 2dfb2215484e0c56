"""A photo against predictions: which explains it best, how sure that is, and what tube it shows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import hypot, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.encoding import luma
from scalesim.core.photo import Photo, srgb_light
from scalesim.errors import ParameterError
from scalesim.jobs.glass.hypotheses import Hypothesis, hypotheses
from scalesim.signal.explain.choose import chosen_tiles
from scalesim.signal.explain.fit import Fitted, fit, tiles_of
from scalesim.signal.explain.lit import GREEN, LitLines, lit_lines
from scalesim.signal.explain.odds import CLEAR, UNEXPLAINED, odds_of
from scalesim.signal.explain.straight import Straight, straightened
from scalesim.signal.rectify.by_frame import ROWS, sampled_picture, view_by_frame
from scalesim.signal.rectify.view import View
from scalesim.tube.beam import FWHM
from scalesim.tube.display import Display
from scalesim.tube.response import RATED_MODULATION

CAMERA_PX = 0.85
"""Standard deviation, in pixels of the photo, taken for lens, focus and demosaicing: common practice, no
published source. It is taken off the width of the lines."""

_MOST_BLACK = 0.2


@dataclass(frozen=True, eq=False)
class Explained:
    """How a photo is explained.

    Parameters:
        tried : the predictions, best first; fits : of each; odds : of the best over each, 1 for itself
        photo : straightened; tiles : how many it rests on; view : where the picture lies in the photo
    """

    tried: tuple[Hypothesis, ...]
    fits: tuple[Fitted, ...]
    odds: tuple[float, ...]
    photo: Straight
    lit: LitLines
    tiles: int
    view: View

    @property
    def left(self) -> tuple[float, ...]:
        """Share of the tiles' variance that each prediction leaves."""
        return tuple(each.left for each in self.fits)

    @property
    def alike(self) -> tuple[Hypothesis, ...]:
        """The best prediction and all that cannot be told from it."""
        return tuple(each for each, odds in zip(self.tried, self.odds, strict=True) if odds < CLEAR)

    @property
    def explains(self) -> bool:
        """Whether the best prediction explains the photo at all."""
        return self.left[0] < UNEXPLAINED

    def odds_of_sets(self) -> tuple[str, float] | None:
        """Return ("one" or "two", odds over the other); None where one was tried, or nothing explains."""
        best = self.tried[0].sets
        others = [odds for each, odds in zip(self.tried, self.odds, strict=True) if each.sets != best]
        return (best, min(others)) if others and self.explains else None

    def odds_over_next(self) -> float | None:
        """Return the least odds of the best over a prediction it is told from; None where there is none."""
        told = [odds for odds in self.odds[1:] if odds >= CLEAR]
        return min(told) if told else None

    def display(self, like: Display) -> Display:
        """Return the tube that the photo shows: beam, growth, sharpness, black, in a display's ranges."""
        beam, photo = self.fits[0].beam, self.photo
        white, black = (FWHM * self._without_camera(each) for each in (beam.white, beam.black))
        height = photo.aspect  # picture heights in a width
        along = sqrt(max((beam.along * height) ** 2 - (CAMERA_PX / photo.pixels / photo.lines) ** 2, 1e-8))
        lines = sqrt(-2 * log(RATED_MODULATION)) / (pi * along)
        dark = min(max(float(np.median(self.fits[0].black)), 0.0), _MOST_BLACK)
        return replace(
            like,
            name=f"{like.name}, as photographed",
            beam_width=round(min(max(white, 0.1), 3), 3),
            beam_growth=round(min(max(white / max(black, 1e-3), 1), 4), 3),
            tv_lines=round(min(max(lines, 50), 3000)),
            black_cd_m2=round(dark * like.white_cd_m2, 3),
        )

    def _without_camera(self, spread: float) -> float:
        camera = CAMERA_PX / self.photo.pixels
        return sqrt(max(spread**2 - camera**2, 0.05**2))

    def painted(self) -> NDArray[np.float32]:
        """Return the best prediction as the photo would show it, light over the straightened photo."""
        best = self.fits[0]
        beam, bend = best.beam, best.bend
        v: NDArray
        u: NDArray
        v, u = self.photo.places()
        across, down = 2 * u - 1, 2 * v / self.photo.lines - 1
        powers = [(i, total - i) for total in range(4) for i in range(total + 1)]
        for k, (i, j) in enumerate(powers):
            term = across**i * down**j
            v, u = v + np.float32(bend[k]) * term, u + np.float32(bend[len(powers) + k]) * term
        lit = self.lit.smooth(hypot(beam.along, self.photo.along))
        return lit.light(v, u, beam) * np.float32(np.median(best.gain))


def explain(
    photo: Photo,
    source: Clip,
    chains: Sequence[Chain],
    *,
    corners: View | None = None,
    period: float | None = None,
    fields: float | None = None,
    aspect: float = 4 / 3,
    advance: Callable[[str], None] = lambda _: None,
) -> Explained:
    """Return how predictions explain a photo.

    Parameters:
        source : the frame that was sent; chains : what may have made the picture of it
        corners : the view of the picture's corners where they are known
        period : pixels from line to line, where they are known
        fields : how many fields were exposed; None or more than 1.5 takes the mean of all
        aspect : width over height of the picture on the tube
    Raises: NotIdentifiable where the photo does not show the source; ParameterError for unfit chains
    """
    if not chains:
        raise ParameterError("glass: --source without a --chain; say what may have made the picture of it")
    tried = hypotheses(source.still_at(0), chains)
    advance("registering the photo")
    mean = np.mean([sampled_picture(luma(each.landed), ROWS, aspect) for each in tried], axis=0)
    view = view_by_frame(photo.light, mean, aspect=aspect, period=period, name=photo.name, start=corners)
    lits = [lit for each in tried for lit in [_lit(each, fields)]]
    straight = straightened(green_light(photo), view, tried[0].raster.lines, aspect)
    cuts = chosen_tiles(straight, [lit for some in lits for lit in some])
    tiles = tiles_of(straight, cuts)
    found = []
    for each, some in zip(tried, lits, strict=True):
        advance(f"fitting {each.label}")
        fits = [(fit(lit, tiles, straight.along), lit) for lit in some]
        best = min(fits, key=lambda pair: pair[0].score)
        found.append((each, *best))
    found.sort(key=lambda entry: entry[1].score)
    odds = [1.0, *(odds_of(found[0][1].misfit, other[1].misfit) for other in found[1:])]
    return Explained(
        tuple(entry[0] for entry in found),
        tuple(entry[1] for entry in found),
        tuple(odds),
        straight,
        found[0][2],
        len(cuts),
        view,
    )


def _lit(each: Hypothesis, fields: float | None) -> list[LitLines]:
    """Return what a prediction may have shown: the mean of its cycle, or of a short exposure one field."""
    whole = lit_lines(each.cycle, each.raster)
    if fields is None or fields >= 1.5 or len(each.cycle) == 1:
        return [whole]
    count = len(each.cycle)
    alone = [tuple(float(k == j) for j in range(count)) for k in range(count)]
    return [lit_lines(each.cycle, each.raster, shares) for shares in alone]


def green_light(photo: Photo) -> NDArray[np.float32]:
    """Return the linear light of a photo's green, (rows, columns)."""
    green = photo.codes[..., GREEN]
    if green.dtype.kind != "u":
        return srgb_light(green)
    table = srgb_light(np.linspace(0, 1, 2 ** (8 * green.dtype.itemsize)))
    return table[green]

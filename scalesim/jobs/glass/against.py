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
from scalesim.errors import NotIdentifiable, ParameterError
from scalesim.jobs.glass.hypotheses import Hypothesis, hypotheses
from scalesim.signal.explain.between import Between
from scalesim.signal.explain.curve import Curve
from scalesim.signal.explain.fit import Fitted
from scalesim.signal.explain.lit import GREEN, LitLines, lit_lines
from scalesim.signal.explain.odds import CLEAR, UNEXPLAINED, odds_of
from scalesim.signal.explain.ranked import ranked
from scalesim.signal.explain.straight import Straight, straightened
from scalesim.signal.rectify.by_frame import ROWS, sampled_picture, view_by_frame
from scalesim.signal.rectify.view import View
from scalesim.tube.beam import FWHM
from scalesim.tube.display import Display
from scalesim.tube.response import RATED_MODULATION

CAMERA_PX = 0.85
"""Standard deviation, in pixels of the photo, taken for lens, focus and demosaicing: common practice, no
published source. It is taken off the width of the lines."""

LEAST_PIXELS = 4.8
"""Pixels from line to line that predictions are told apart at: no trial had fewer in its middle."""

_MOST_UNEVEN = 0.1
"""How much more of an exposure fields of one parity may have, as a share of it: 15 fields have 0.07."""

_MOST_BLACK = 0.2
_LEAST_BLUR = 1.16
"""Blur of a tube along its lines that can be told, in the camera's: beyond what a camera of 1.3 pixels, the
most that is usual, would show of a tube without any (root of (1.3 / 0.85)^2 - 1)."""


@dataclass(frozen=True, eq=False)
class Explained:
    """How a photo is explained.

    Parameters:
        tried : the predictions, best first; fits : of each; odds : of the best over each, 1 for itself
        photo : straightened; tiles : how many it rests on; view : where the picture lies in the photo
        over : where the photo lies between the best and each of the others
        curve : how the photo's light rises with the best prediction's; None where it cannot be told
    """

    tried: tuple[Hypothesis, ...]
    fits: tuple[Fitted, ...]
    odds: tuple[float, ...]
    photo: Straight
    lit: LitLines
    tiles: int
    view: View
    over: tuple[Between, ...]
    curve: Curve | None = None

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
        beam = self.fits[0].beam
        white, black = (FWHM * self._without_camera(each) for each in (beam.white, beam.black))
        lines, resolved = self.sharpness
        dark = min(max(float(np.median(self.fits[0].black)), 0.0), _MOST_BLACK)
        return replace(
            like,
            name=f"{like.name}, as photographed",
            beam_width=round(min(max(white, 0.1), 3), 3),
            beam_growth=round(min(max(white / max(black, 1e-3), 1), 4), 3),
            tv_lines=round(min(max(lines if resolved else max(lines, like.tv_lines), 50), 3000)),
            black_cd_m2=round(dark * like.white_cd_m2, 3),
        )

    @property
    def sharpness(self) -> tuple[float, bool]:
        """TV lines along a line, and whether they are known: else the tube shows that many or more.

        They are when the blur is more than any usual camera's alone; both are Gaussians.
        """
        seen = self.fits[0].beam.along * self.photo.aspect  # picture heights
        camera = CAMERA_PX / self.photo.pixels / self.photo.lines
        own = sqrt(max(seen**2 - camera**2, 0.0))
        limit = max(own, _LEAST_BLUR * camera)
        return sqrt(-2 * log(RATED_MODULATION)) / (pi * limit), own >= _LEAST_BLUR * camera

    @property
    def pixels(self) -> float:
        """Pixels from line to line of the best prediction, in the picture's middle."""
        return self.photo.pixels * self.photo.lines / self.lit.lines

    def _without_camera(self, spread: float) -> float:
        camera = CAMERA_PX / self.pixels
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
        v = v * np.float32(lit.lines / self.photo.lines)
        return lit.light(v, u, beam, best.apart) * np.float32(np.median(best.gain))


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
        fields : how many fields were exposed; None takes them for an even number
        aspect : width over height of the picture on the tube
    Raises: NotIdentifiable where the photo does not show the source, or shows it too small; ParameterError
        for unfit chains
    """
    if not chains:
        raise ParameterError("glass: --source without a --chain; say what may have made the picture of it")
    tried = hypotheses(source.still_at(0), chains)
    if fields is not None and any(len(each.cycle) > 1 for each in tried):
        _evenly_exposed(fields)
    advance("registering the photo")
    mean = np.mean([sampled_picture(luma(each.landed), ROWS, aspect) for each in tried], axis=0)
    view = view_by_frame(photo.light, mean, aspect=aspect, period=period, name=photo.name, start=corners)
    lines = max(each.raster.lines for each in tried)
    if view.lines_apart(lines) < LEAST_PIXELS:
        raise NotIdentifiable(
            f"{photo.name}: {view.lines_apart(lines):.1f} pixels from line to line; predictions need "
            f"{LEAST_PIXELS:g}: come closer"
        )
    lits = [lit_lines(each.cycle, each.raster) for each in tried]
    straight = straightened(green_light(photo), view, lines, aspect)
    found = ranked(straight, lits, lambda k: advance(f"fitting {tried[k].label}"))
    return Explained(
        tuple(tried[k] for k in found.order),
        found.fits,
        (1.0, *map(odds_of, found.over)),
        straight,
        lits[found.order[0]],
        found.tiles,
        view,
        found.over,
        found.curve,
    )


def _evenly_exposed(fields: float) -> None:
    """Refuse an exposure in which one parity of field has clearly more light than the other."""
    uneven = abs(fields - 2 * max(1, round(fields / 2))) / fields
    if uneven > _MOST_UNEVEN:
        raise NotIdentifiable(
            f"glass: {fields:.1f} fields were exposed, of one parity more than of the other; for chains that "
            "interlace expose an even number of whole fields, such as 1/30 s at 60 fields a second"
        )


def green_light(photo: Photo) -> NDArray[np.float32]:
    """Return the linear light of a photo's green, (rows, columns)."""
    green = photo.codes[..., GREEN]
    if green.dtype.kind != "u":
        return srgb_light(green)
    table = srgb_light(np.linspace(0, 1, 2 ** (8 * green.dtype.itemsize)))
    return table[green]

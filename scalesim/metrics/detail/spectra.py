"""Cross-spectra of source and output: what of a band of detail is kept, and what is there besides.

Source and output are transformed at the same frequencies of the picture, in Hann windows of a quarter of
its height, half overlapping; windows and columns are summed to Sxx, Syy and Sxy. What the output shows of
the source at a frequency has the power |Sxy|^2 / Sxx. The rest of Syy is not in the source there: aliases
(stair steps, lines lost and found again), rounding and noise. Over a band

- kept = sqrt(sum |Sxy|^2 / Sxx / sum Sxx) / gain,
- false = sqrt(sum (Syy - |Sxy|^2 / Sxx) / sum Sxx) / gain,

with gain = sum |Sxy| / sum Sxx at the first two frequencies of a window (up to 8 cycles per picture
height): contrast is not sharpness. Magnitudes do not see where the output lies; a displacement of up to
three lines is found from the phase of Sxy and the windows are laid accordingly.

For a linear chain and a texture of random phase, kept is its response weighted by the source's spectrum
and false its aliases, folded. Art whose dots are whole numbers of source lines is coherent with its own
aliases: what a chain folds is then counted as kept, which may exceed 1, and none of it as false.

Source: the estimate of texture MTF by cross-correlation, published for charts of dead leaves; the two
sums over a band are a definition of this project.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from scalesim.core.affine import Affine
from scalesim.errors import NotMeasurable
from scalesim.metrics.detail.waves import Array, Band, Side, Windows

LEAST_CODES = 0.5
"""Root mean square detail of the source in the band, in codes of 255, below which it is mere rounding."""
_GAIN_BINS = 2
_LEAST_COHERENCE = 0.5
_FARTHEST, _STEP = 3.0, 0.05
_NEAR = 0.1


@dataclass(frozen=True, eq=False)
class Detail:
    """What of the band is kept and what is false, 0..1 and above; the windows it rests on; its gain.

    `gain` is None where the source and output have too little in common to tell, and 1 was taken.
    `by_place` gives (kept, false, whole) energy of every place, (windows, columns) each: of the output what
    follows from the source there, and the rest; of the source at the output's contrast. The first adds up
    to what is kept of the whole, of one place it may be negative.
    """

    kept: float
    false: float
    windows: int
    gain: float | None
    by_place: Callable[[], tuple[Array, Array, Array]]


def detail(
    source: Callable[[Array], Side],
    landed: Array,
    look: Affine,
    band: Band,
    windows: Windows,
    *,
    same: bool = False,
) -> Detail:
    """Return what a landed picture keeps of the source.

    At every frequency the output is the source times one factor, the same everywhere, and a rest.

    Parameters:
        source : gives the source's spectra at frequencies, in the windows
        landed : (lines, columns) of the output, code values
        look : map of its lines to landed lines, of which `windows` and `band` speak
        same : whether the source's spectra are made of the very values of the output
    Raises: NotMeasurable when the source has no detail in the band
    """
    frequencies, below = band.frequencies(windows)
    given = source(frequencies)
    _check(given.power[below:], given.real.shape[1], frequencies[below:], windows.length)
    shown = given if same else Side.of(landed, look, windows, frequencies)
    cross = given.cross(shown)
    lower = _displacement(frequencies, cross, given.power, shown.power)
    if abs(lower) > _NEAR:
        shown = Side.of(landed, Affine(look.scale, look.offset - lower), windows, frequencies)
        cross = given.cross(shown)
    gain = _gain(cross[:_GAIN_BINS], given.power[:_GAIN_BINS], shown.power[:_GAIN_BINS])
    shares = np.ones(len(frequencies) - below)
    shares[[0, -1]] = 0.5  # the ends of the band stand for half a step each
    given_power, shown_power = given.power[below:], shown.power[below:]
    possible = shares * (frequencies[below:] <= 0.5 / look.scale + 1e-9)
    coherent = np.abs(cross[below:]) ** 2 / np.maximum(given_power, 1e-30)
    rest = np.maximum(shown_power - coherent, 0)
    whole = float(shares @ given_power) * (gain or 1.0) ** 2
    kept, false = (float(np.sqrt(possible @ part / whole)) for part in (coherent, rest))

    def by_place() -> tuple[Array, Array, Array]:
        source, output = given.values[below:], shown.values[below:]
        factor = cross[below:] / np.maximum(given_power, 1e-30)
        follows = factor.astype(np.complex64)[:, None] * source
        energies = (
            possible @ (follows.conj() * output).real,
            possible @ _squared(output - follows),
            shares @ _squared(source) * (gain or 1.0) ** 2,
        )
        first, second, third = (energy.reshape(len(windows.starts), -1) for energy in energies)
        return first, second, third

    return Detail(kept, false, len(windows.starts), gain, by_place)


def _squared(values: Array) -> Array:
    squared: Array = values.real**2 + values.imag**2
    return squared


def _check(power: Array, columns: int, frequencies: Array, length: float) -> None:
    """Refuse a source whose detail in the band is mere rounding (Parseval, Hann: mean square 3/8)."""
    spacing = (frequencies[-1] - frequencies[0]) / (len(frequencies) - 1)
    codes = 255 * float(np.sqrt(2 * spacing * power.sum() / columns / (0.375 * length)))
    if codes < LEAST_CODES:
        raise NotMeasurable(
            f"the source has no detail to keep there: {codes:.2f} codes of 255 (root mean square); "
            f"it needs {LEAST_CODES}"
        )


def _displacement(frequencies: Array, cross: Array, given: Array, shown: Array) -> float:
    """Return how many landed lines lower the output lies, -3..3, from the phase of the cross-spectrum."""
    alike = cross / np.sqrt(np.maximum(given * shown, 1e-30))
    moves, turns = _moves(tuple(frequencies))
    found = (turns @ (alike * np.abs(alike))).real  # the sum of |alike|^2 cos(2 pi f move + phase)
    return float(moves[int(found.argmax())])


@lru_cache(maxsize=64)
def _moves(frequencies: tuple[float, ...]) -> tuple[Array, Array]:
    """Return the displacements tried, and what each does to the phase, (displacements, frequencies)."""
    moves = np.arange(-_FARTHEST, _FARTHEST + _STEP / 2, _STEP)
    return moves, np.exp(2j * np.pi * np.array(frequencies) * moves[:, None])


def _gain(cross: Array, given: Array, shown: Array) -> float | None:
    together = np.abs(cross)
    if (together**2).sum() < _LEAST_COHERENCE * (given * shown).sum() or not given.sum() > 0:
        return None
    return float(together.sum() / given.sum())

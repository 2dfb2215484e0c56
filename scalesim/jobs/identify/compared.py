"""Predicted against captured as a part of the page: one wipe, and what is left on a scale of its own."""

from __future__ import annotations

import numpy as np

from scalesim.draw import diverging
from scalesim.jobs.identify.check import IdentifyCheck
from scalesim.result import Box, Layer, Part, Picture, Scale, Viewer

FOLDER = "pictures/"
_MINUS = "\N{MINUS SIGN}"
_SHAPE = 4 / 3
"""Width over height of the face they are shown on."""
_WIDEST = 860
"""Dots of the enlarged part of the residual, about."""
_WORDS, _ACROSS = ("at the top", "in the middle", "at the bottom"), ("left", "centre", "right")


def compared_part(check: IdentifyCheck) -> Part:
    """Return the part: the capture wiped against its prediction, and the residual."""
    lines, samples = check.captured.shape
    # whole units a line, as near to the shape of a screen as they allow
    tall = max(1, round(samples / _SHAPE / lines))
    place = Box(0, 0, samples, lines * tall)
    pictures = check.pictures
    layers = (
        _layer("captured", "captured", "The mean of the captured frames.", place, pictures),
        _layer(
            "predicted",
            "predicted",
            "The chart through the answer, at the capture's levels and place.",
            place,
            pictures,
        ),
        _layer("residual", "captured less predicted", _left(check), place, pictures, light=False),
    )
    viewer = Viewer(
        "the chart",
        "Wipe one against the other",
        (),
        layers,
        ("captured", "predicted"),
        (samples / 2, lines * tall / 2),
        _scale(check.limit),
        mode="wipe",
    )
    title = f"Predicted and captured differ by {check.rms_codes:.1f} codes of 255"
    return Part(title, tuple(check.sentences()), (viewer, _residual(check)), "compared")


def _layer(
    name: str, label: str, caption: str, place: Box, pictures: dict[str, np.ndarray], *, light: bool = True
) -> Layer:
    return Layer(name, f"{FOLDER}{name}", pictures[name], label, caption, place, light=light)


def _residual(check: IdentifyCheck) -> Picture:
    """Return the ninth of the residual where it is largest, enlarged by whole dots."""
    lines, samples = (max(1, size // 3) for size in check.apart.shape)
    parts = [(row, column) for row in range(3) for column in range(3)]

    def cut(part: tuple[int, int]) -> tuple[slice, slice]:
        row, column = part
        return slice(row * lines, (row + 1) * lines), slice(column * samples, (column + 1) * samples)

    worst = max(parts, key=lambda part: round(float(np.mean(check.apart[cut(part)] ** 2)), 9))
    shown = check.pictures["residual"][cut(worst)]
    across, down = max(1, _WIDEST // samples), max(1, round(_WIDEST / samples / _SHAPE * samples / lines))
    return Picture(
        f"{FOLDER}residual-part",
        np.repeat(np.repeat(shown, down, axis=0), across, axis=1),
        f"What is left where it is largest: {_WORDS[worst[0]]}, {_ACROSS[worst[1]]}",
        "Captured less predicted, in colours of the scale above",
        _left(check),
    )


def _left(check: IdentifyCheck) -> str:
    most = float(np.abs(check.apart).max())
    return (
        f"Captured less predicted: {check.rms_codes:.1f} codes rms, largest {most:.0f}; "
        f"scale ± {check.limit}. White is agreement; a pattern shows what the answer does not explain."
    )


def _scale(limit: int) -> Scale:
    codes = f"{limit} code{'' if limit == 1 else 's'} of 255"
    return Scale(
        diverging.colours(),
        (f"{_MINUS}{codes}, captured darker", "0, as predicted", f"+{limit}, captured lighter"),
        f"Scale of captured less predicted: from {codes} darker, blue, over equal, white, to {codes} "
        "lighter, orange",
    )

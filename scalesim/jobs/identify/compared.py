"""Predicted against captured as a part of the page: one wipe, and what is left on a scale of its own."""

from __future__ import annotations

import numpy as np

from scalesim.draw import diverging
from scalesim.jobs.identify.check import IdentifyCheck
from scalesim.result import Box, Layer, Part, Scale, Viewer

FOLDER = "pictures/"
_MINUS = "\N{MINUS SIGN}"
_SHAPE = 4 / 3
"""Width over height of the face they are shown on."""


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
        (("captured", "predicted"), ("residual", "")),
        (samples / 2, lines * tall / 2),
        _scale(check.limit),
    )
    title = f"Predicted and captured differ by {check.rms_codes:.1f} codes of 255"
    return Part(title, tuple(check.sentences()), (viewer,), "compared")


def _layer(
    name: str, label: str, caption: str, place: Box, pictures: dict[str, np.ndarray], *, light: bool = True
) -> Layer:
    return Layer(name, f"{FOLDER}{name}", pictures[name], label, caption, place, light=light)


def _left(check: IdentifyCheck) -> str:
    most = float(np.abs(check.apart).max())
    return (
        f"{check.rms_codes:.1f} codes rms, {most:.0f} at most; the colours end at {check.limit}. White is "
        "agreement; a pattern says what the answer does not explain."
    )


def _scale(limit: int) -> Scale:
    codes = f"{limit} code{'' if limit == 1 else 's'} of 255"
    return Scale(
        diverging.colours(),
        (f"{_MINUS}{codes}, captured darker", "0, as predicted", f"+{limit}, captured lighter"),
        f"Scale of captured less predicted: from {codes} darker, blue, over equal, white, to {codes} "
        "lighter, orange",
    )

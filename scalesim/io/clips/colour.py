"""From a decoded picture's planes to code values, by the stream's own tags; computed here, not by FFmpeg.

FFmpeg's converter works in 8 bits: it rounds, and cuts what lies below black or above white. Here
Y'CbCr becomes float R'G'B' by the definitions of ITU-R BT.601, BT.709 and BT.2020:

    R = Y + 2(1 - kr) Cr,  B = Y + 2(1 - kb) Cb,  G = (Y - kr R - kb B) / (1 - kr - kb)

Chroma of fewer samples is interpolated linearly, along a line from samples that sit on luma samples
(on every second one for 4:2:0), down a picture from lines midway between luma lines; in a field at 1/4
(top) or 3/4 (bottom) of the way (ITU-T H.262 and H.264, chroma sample location 0).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.colours import Coding, Scale
from scalesim.core.planes import Planes
from scalesim.errors import ReadError
from scalesim.io.clips.encoder import HD_LINES

Weights = tuple[float, float]
_BT601, _BT709, _BT2020 = (0.299, 0.114), (0.2126, 0.0722), (0.2627, 0.0593)
# Codes of ITU-T H.273, table 4, matrix coefficients: name, (kr, kb).
_MATRICES: dict[int, tuple[str, Weights]] = {
    1: ("BT.709", _BT709),
    4: ("FCC", (0.30, 0.11)),
    5: ("BT.601", _BT601),
    6: ("BT.601", _BT601),
    7: ("SMPTE 240M", (0.212, 0.087)),
    9: ("BT.2020", _BT2020),
}
_UNSPECIFIED, _LIMITED, _FULL = 2, 1, 2
_LIGHT_CURVES = {8: "linear light", 16: "PQ", 18: "HLG"}


@dataclass(frozen=True)
class Colour:
    """How the codes of a stream become code values.

    planes: "rgb", "yuv" or "grey". repack: FFmpeg's name of a planar format to repack to first, "" if it
    is one already. bits: of a code. shifts: (lines, samples), halvings of chroma. weights: (kr, kb).
    full: codes 0..2^bits - 1 rather than black at 16 and white at 235 (of 8 bits). centred: chroma
    sits midway between luma samples along a line too, as in JPEG.
    """

    planes: str
    repack: str
    bits: int
    shifts: tuple[int, int]
    weights: Weights
    full: bool
    centred: bool = False


def colour_of(frame: Any, name: str, *, limited: bool) -> tuple[Colour, tuple[str, ...]]:
    """Return how a stream's pictures are converted, from its first one, and sentences on what was assumed.

    Parameters:
        frame : a decoded `av.VideoFrame`
        limited : take the codes as limited range whatever the tags say
    Raises: ReadError for a matrix that is not known
    """
    colour, notes = _layout(frame), []
    if colour.planes == "yuv":
        matrix, note = _matrix(frame, name)
        colour = replace(colour, weights=_MATRICES[matrix][1])
        notes.append(note)
    full, note = _range(frame, colour.planes, limited)
    notes.append(note)
    curve = _LIGHT_CURVES.get(int(frame.color_trc))
    if curve:
        notes.append(f"The stream is tagged {curve}: its code values are taken as they are, not converted.")
    if colour.shifts != (0, 0):
        notes.append("Chroma has fewer samples than luma and was interpolated; coloured edges are softened.")
    return replace(colour, full=full), tuple(text for text in notes if text)


def _layout(frame: Any) -> Colour:
    layout = frame.format
    first = layout.components[0]
    bits = 8 if layout.has_palette else int(first.bits)
    deep = f"{bits}le" if bits > 8 else ""
    if layout.has_palette or layout.is_rgb:
        bits = 8 if bits <= 8 else 16
        planar = "gbrp" if bits == 8 else "gbrp16le"
        return Colour("rgb", "" if layout.name == planar else planar, bits, (0, 0), _BT601, True)
    if len(layout.components) < 3:
        planar = f"gray{deep}"
        return Colour("grey", "" if layout.name == planar else planar, bits, (0, 0), _BT601, False)
    shifts = (_halvings(layout.chroma_height(64)), _halvings(layout.chroma_width(64)))
    family = {(0, 0): "444", (0, 1): "422", (1, 1): "420", (0, 2): "411", (1, 0): "440", (2, 2): "410"}
    planar = f"yuv{family.get(shifts, '444')}p{deep}"
    as_it_is = layout.name.replace("yuvj", "yuv").replace("yuva", "yuv") == planar
    if shifts not in family:
        shifts = (0, 0)
    centred = layout.name.startswith("yuvj")
    return Colour("yuv", "" if as_it_is else planar, bits, shifts, _BT601, False, centred)


def _halvings(of_64: int) -> int:
    return {64: 0, 32: 1, 16: 2}.get(of_64, 0)


def _matrix(frame: Any, name: str) -> tuple[int, str]:
    tag = int(frame.colorspace)
    if tag in _MATRICES:
        return tag, ""
    if tag != _UNSPECIFIED:
        raise ReadError(
            f"{name}: its colours are coded by matrix {tag} of ITU-T H.273; BT.601, BT.709 and BT.2020 are "
            "read: convert the clip to one of them"
        )
    guess = 1 if frame.height >= HD_LINES else 6
    side = "at least" if guess == 1 else "below"
    return (
        guess,
        f"The stream does not name its colour matrix: {_MATRICES[guess][0]} assumed ({side} 720 lines).",
    )


def _range(frame: Any, planes: str, limited: bool) -> tuple[bool, str]:
    tag = int(frame.color_range)
    full = tag == _FULL or frame.format.name.startswith("yuvj")
    if limited:
        told = "The stream is tagged full range, but was taken" if full and planes != "rgb" else "Taken"
        return False, f"{told} as limited range, as asked: black is code 16, white 235 of 8 bits."
    if planes == "rgb":
        return tag != _LIMITED, ""
    if full or tag == _LIMITED:
        return full, ""
    return (
        False,
        "The stream does not name its range: limited assumed (black is code 16, white 235 of 8 bits).",
    )


def to_planes(frame: Any, colour: Colour, parity: int | None = None) -> Planes:
    """Return the planes of a picture, or of one of its fields, which give code values.

    Nominally 0..1; limited range keeps values below black and above white.

    Parameters:
        frame : a decoded `av.VideoFrame`
        parity : 0 or 1 for the field of even or odd lines; None for the whole picture
    """
    if colour.repack:
        frame = frame.reformat(format=colour.repack)
    lines = slice(parity or 0, None, 1 if parity is None else 2)
    planes = [_plane(plane, colour.bits)[lines] for plane in frame.planes[:3]]
    if colour.planes == "rgb":
        green, blue, red = planes
        planes = [red, green, blue]
    return Planes(planes, _coding(colour, parity))


def _coding(colour: Colour, parity: int | None) -> Coding:
    most = 2**colour.bits - 1
    level, chroma = Scale(0, most), Scale(2 ** (colour.bits - 1), most)
    if not colour.full:
        up = colour.bits - 8
        level, chroma = Scale(16 << up, 219 << up), Scale(chroma.zero, 224 << up)
    if colour.planes != "yuv":
        return Coding(level)
    lines, samples = colour.shifts
    down = 0.5 if parity is None else 0.25 + 0.5 * parity
    along = (2**samples - 1) / 2 if colour.centred else 0.0
    return Coding(level, chroma, colour.weights, colour.shifts, (down if lines else 0.0, along))


def _plane(plane: Any, bits: int) -> NDArray[Any]:
    dtype = np.dtype(np.uint8 if bits == 8 else "<u2")
    codes = np.frombuffer(plane, dtype=dtype).reshape(plane.height, -1)
    return codes[:, : plane.width]

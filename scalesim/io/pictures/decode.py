"""From a picture file to its stored codes: nothing is scaled, composited or turned here.

Pillow decodes what has 8 bits or fewer. It would cut 16-bit colour to 8 bits without a word, so
16-bit PNG goes through PyAV, whose decoder hands the stored words over unchanged.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ReadError
from scalesim.io.clips.ffmpeg import load_av, misfit
from scalesim.io.pictures.jpeg_stream import check_jpeg
from scalesim.io.pictures.png_chunks import PngFacts, read_png_facts

if TYPE_CHECKING:
    from PIL import Image

PALETTE = "Palette colours were expanded to R, G, B."
PROFILE = "The embedded colour profile was not applied; code values are kept as stored."
SEVERAL = "The file holds several pictures; the first was used."
_LAYOUTS = {1: "gray16", 2: "ya16", 3: "rgb48", 4: "rgba64"}
_ORIENTATION_TAG = 0x0112


@dataclass(frozen=True)
class Decoded:
    """Stored codes, `uint8` or `uint16` (lines, samples, channels).

    Channels: 1 grey, 2 grey and alpha, 3 R'G'B', 4 R'G'B' and alpha. `premultiplied`: the colours
    were already multiplied by alpha. `orientation` is the EXIF value 1 to 8, not yet applied.
    """

    codes: NDArray[np.uint8] | NDArray[np.uint16]
    notes: tuple[str, ...] = ()
    lossy: bool = False
    premultiplied: bool = False
    orientation: int = 1


def decode_simple(path: str, kind: str, name: str) -> Decoded:
    """Decode a PNG, JPEG, WebP or BMP file whose size is already known to be acceptable.

    Raises `ReadError` for colours that are neither grey, palette nor R'G'B', and whatever the
    decoder raises for damaged data.
    """
    if kind == "PNG":
        with open(path, "rb") as file:
            facts = read_png_facts(file, name)
        return _decode_png(path, facts, name)
    if kind == "JPEG":
        check_jpeg(path, name)
    lossy = kind == "JPEG" or (kind == "WebP" and _webp_is_lossy(path, name))
    return replace(decode_pillow(path, kind, name), lossy=lossy)


def decode_pillow(path: str, kind: str, name: str) -> Decoded:
    """Decode a file of at most 8 bits per channel, of this kind only, with Pillow."""
    from PIL import Image

    with warnings.catch_warnings():
        # Sizes were checked against our own limit; the decoder's advice is not for the user.
        warnings.simplefilter("ignore")
        with Image.open(path, formats=[kind]) as picture:
            notes = [SEVERAL] if getattr(picture, "n_frames", 1) > 1 else []
            notes += [PROFILE] if picture.info.get("icc_profile") else []
            orientation = _orientation(picture) if kind in ("JPEG", "WebP") else 1
            codes, expanded = _codes(picture, name)
    return Decoded(codes, (*notes, *expanded), orientation=orientation)


def _codes(picture: Image.Image, name: str) -> tuple[NDArray[np.uint8], list[str]]:
    """Return a Pillow picture's codes (lines, samples, channels) and notes on what was expanded."""
    notes: list[str] = []
    if picture.mode in ("P", "PA"):
        notes.append(PALETTE)
        alpha = picture.mode == "PA" or "transparency" in picture.info
        picture = picture.convert("RGBA" if alpha else "RGB")
    if picture.mode not in ("1", "L", "LA", "RGB", "RGBA"):
        raise ReadError(
            f"{name}: its colours are stored as {picture.mode}; grey, palette and RGB of 8 or 16 bits are "
            "read: convert it to RGB and save it as PNG"
        )
    codes = np.asarray(picture)
    if codes.dtype == np.bool_:
        codes = np.where(codes, np.uint8(255), np.uint8(0))
    return codes.reshape(*codes.shape[:2], -1), notes


def _orientation(picture: Image.Image) -> int:
    value = picture.getexif().get(_ORIENTATION_TAG, 1)
    return value if value in range(1, 9) else 1


def _decode_png(path: str, facts: PngFacts, name: str) -> Decoded:
    """Decode a PNG whose chunks were checked; alpha from a tRNS chunk becomes a channel."""
    from PIL import Image

    if facts.depth == 16:
        with open(path, "rb") as file:
            decoded = Decoded(decode_words(file.read(), "png", name))
    else:
        decoded = decode_pillow(path, "PNG", name)
        if facts.transparency and facts.colour in (0, 2):
            decoded = replace(decoded, codes=_key_to_alpha(decoded.codes, facts))
    notes = [n for n in decoded.notes if n not in (SEVERAL, PROFILE)]
    notes += [SEVERAL] if facts.animated else []
    notes += [PROFILE] if facts.profile else []
    exif = Image.Exif()
    exif.load(facts.exif)
    value = exif.get(_ORIENTATION_TAG, 1)
    return replace(decoded, notes=tuple(notes), orientation=value if value in range(1, 9) else 1)


def _key_to_alpha(codes: NDArray[Any], facts: PngFacts) -> NDArray[Any]:
    """Append alpha 0 where every channel equals the tRNS key, full alpha elsewhere (PNG, 11.3.2.1)."""
    key = np.frombuffer(facts.transparency, ">u2")[: codes.shape[2]].astype(np.int64)
    # Grey of 1, 2 or 4 bits has been expanded to 8, so its key is expanded alike.
    key = key * (255 // (2**facts.depth - 1))
    alpha = np.where((codes == key).all(axis=2), 0, 255).astype(np.uint8)
    return np.dstack((codes, alpha))


def decode_words(data: bytes, codec: str, name: str) -> NDArray[np.uint16]:
    """Decode a 16-bit PNG or TIFF held in memory to its stored words (lines, samples, channels).

    The result is a view of the decoder's picture, without a copy. Raises `ReadError` when the
    decoder's sample layout is not a plain 16-bit one, since anything else would not be exact;
    `LibraryError` for a PyAV that does not fit.
    """
    av = load_av()
    try:
        context = av.CodecContext.create(codec, "r")
        if codec == "png":
            context.options = {"err_detect": "explode"}
        frame = (context.decode(av.Packet(data)) + context.decode(None))[0]
    except Exception as error:  # told apart only: raised again as it is, or as a library that does not fit
        raise misfit(error) or error from None
    layout = frame.format.name
    for channels, stem in _LAYOUTS.items():
        if layout in (f"{stem}be", f"{stem}le"):
            words = np.frombuffer(frame.planes[0], ">u2" if layout.endswith("be") else "<u2")
            words = words.reshape(frame.height, -1)[:, : frame.width * channels]
            return words.reshape(frame.height, frame.width, channels)
    raise ReadError(f"{name}: its 16-bit layout {layout} cannot be read exactly: save it as 16-bit RGB PNG")


def _webp_is_lossy(path: str, name: str) -> bool:
    """Tell lossy from lossless by the picture chunk: 'VP8 ' or 'VP8L' (RFC 9649, section 2)."""
    with open(path, "rb") as file:
        data = file.read()
    end = 8 + int.from_bytes(data[4:8], "little")
    if len(data) < end:
        raise ReadError(f"{name}: the WebP file is cut short: copy or export it again")
    at = 12
    while at + 8 <= end:
        kind, length = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "little")
        if kind in (b"VP8 ", b"VP8L"):
            return kind == b"VP8 "
        # An animation's frame chunk starts with 16 bytes of its own, then holds picture chunks.
        at += 8 + (16 if kind == b"ANMF" else length + length % 2)
    return False

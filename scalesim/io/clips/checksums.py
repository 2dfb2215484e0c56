"""The checksums that FFV1 keeps of every slice: FFmpeg's decoder logs one that fails, and conceals the slice.

Source: RFC 9043, "Slice Footer". A slice ends with its size (24 bits) and, where the file keeps checksums,
an error status (8 bits) and a CRC of 32 bits (polynomial 04C11DB7 hex, beginning at 0, the first bit the
highest) over all of the slice with the CRC itself, which is 0 when nothing was changed.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator
from typing import Any

UNFIT = "a slice does not fit its checksum"
_FOOTER, _SIZE = 8, 3
"""Bytes of a slice's footer with a checksum, and of the size at its begin."""
_TURNED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
"""Every byte with its bits in the other order, in which zlib takes them."""
_ALL_ONES = 0xFFFFFFFF


def slice_check(stream: Any) -> Callable[[Any], bool]:
    """Return a function that tells whether a packet of the stream is broken by its checksums.

    Packets are to be given in order. Where a stream keeps none, none is broken.
    """
    if stream.codec_context.name != "ffv1":
        return lambda packet: False
    kept = False

    def broken(packet: Any) -> bool:
        nonlocal kept
        if not packet.size:
            return False
        slices = list(_slices(bytes(packet)))
        fits = None not in slices
        # Without checksums the sizes lie elsewhere, and what is read for them does not add up.
        kept = kept or fits
        return kept and not (fits and all(_whole(part) for part in slices if part is not None))

    return broken


def _slices(data: bytes) -> Iterator[bytes | None]:
    """Yield a packet's slices, the last one first; None where the sizes do not add up to the packet."""
    end = len(data)
    while end:
        at = end - _FOOTER
        begin = at - int.from_bytes(data[max(0, at) : at + _SIZE], "big")
        if at < 0 or begin < 0:
            yield None
            return
        yield data[begin:end]
        end = begin


def _whole(data: bytes) -> bool:
    """Tell whether a slice fits its CRC."""
    return zlib.crc32(data.translate(_TURNED), _ALL_ONES) == _ALL_ONES

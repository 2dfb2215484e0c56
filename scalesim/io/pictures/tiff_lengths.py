"""How many bytes packed TIFF strips unpack to, found without unpacking: damage mostly changes the number.

Source: TIFF Revision 6.0, sections 9 (PackBits) and 13 (LZW: codes of 9 to 12 bits, most significant first).
"""

from __future__ import annotations

_CLEAR, _END, _FIRST = 256, 257, 258
_MOST_CODES = 4096


def packbits_length(data: bytes) -> int:
    """Return the bytes that PackBits data unpack to, -1 when they break off."""
    at = total = 0
    while at < len(data):
        head = data[at]
        at += 2 + head if head < 128 else 1 if head == 128 else 2
        total += 1 + head if head < 128 else 0 if head == 128 else 257 - head
    return total if at == len(data) else -1


def lzw_length(data: bytes) -> int:
    """Return the bytes that LZW data unpack to, -1 when a code is none or the end is missing."""
    lengths = [1] * 256 + [0, 0]
    total, held, bits, width, before = 0, 0, 0, 9, 0
    for octet in data:
        held = (held << 8 | octet) & 0xFFFFFF
        bits += 8
        if bits < width:
            continue
        bits -= width
        code = held >> bits & (1 << width) - 1
        if code == _END:
            return total
        if code == _CLEAR:
            del lengths[_FIRST:]
            width, before = 9, 0
            continue
        if code > len(lengths) or (code >= _FIRST and not before) or len(lengths) > _MOST_CODES:
            return -1
        own = lengths[code] if code < len(lengths) else before + 1
        total += own
        if before:
            lengths.append(before + 1)
        before = own
        # A code is widened one early: so every encoder does since the first.
        width = min(12, max(9, (len(lengths) + 1).bit_length()))
    return -1

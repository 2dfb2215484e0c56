"""What the offset between fields says, in words: no more than its error allows."""

from __future__ import annotations

from scalesim.signal.field_offset import FieldOffset

ERRORS = 2.0
"""Standard errors by which an offset must lie on its side of a limit, or off the ideal to be said so."""
_OFF = 0.02
"""Field lines by which an offset may miss 0 or 1/2 before it is said to."""
_CODED = 0.07
"""Field lines by which H.264 at crf 23 moved equal fields apart in trials, colour above all."""

_VERDICTS = {
    "interlaced content": "The fields carry lines half a line apart: interlaced content.",
    "progressive": "Both fields carry the same lines: a progressive picture, sent twice.",
}
_NEARLY = {
    "interlaced content": "The fields are nearer to half a line apart than to the same lines, not quite so.",
    "progressive": "The fields are nearer to the same lines than to half a line apart, not quite so.",
}
EACH_ITS_OWN = (
    "Both fields carry the same lines, each its own instant: pictures of one field's lines, one a field. "
    "Interlaced art whose lines are all drawn twice looks the same."
)


def verdict_text(verdict: str, offset: FieldOffset | None, *, whole: bool | None) -> str:
    """Return a verdict in words: reserved where the offset is further off than coding brings."""
    near = offset is not None and not whole and _off(offset) > _CODED
    return (_NEARLY if near else _VERDICTS)[verdict]


def apart(offset: FieldOffset) -> list[str]:
    """Return that an offset is neither 0 nor half a line, where its error leaves no other way."""
    off = _off(offset)
    if not off:
        return []
    said = f"That is {off:.3f} lines off {_ideal(offset):g}, more than twice the error"
    if off <= _CODED:
        return [
            f"{said}: compression can move equal fields as far apart ({_CODED} in trials of H.264, crf 23)."
        ]
    return [f"{said}."]


def _ideal(offset: FieldOffset) -> float:
    return min((0.0, 0.5), key=lambda place: abs(abs(offset.lines) - place))


def _off(offset: FieldOffset) -> float:
    """Return by how many lines an offset misses 0 or 1/2; 0 within its error."""
    off = abs(abs(offset.lines) - _ideal(offset))
    return off if off > max(ERRORS * offset.error, _OFF) else 0.0

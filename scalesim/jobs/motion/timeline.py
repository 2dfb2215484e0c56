"""What every picture of a capture shows, in a few bytes each: a capture may be as long as it likes."""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from scalesim.charts.counter.code import NUMBERS
from scalesim.signal.counter.picture import Part, after
from scalesim.signal.counter.stream import Shown

AHEAD, BACK = 120, 8
"""Steps of more source pictures than these are jumps of the player, which looped or was moved."""
UNREAD = -(10**12)


@dataclass
class Timeline:
    """The pictures of a capture in the order of time.

    Parameters:
        lines : of a picture
        wraps : after how many the source's numbers begin again; 0 when they do not
    Numbers are counted on across the wrap; `first` is the number of most weight in a picture's top part,
    `last` in its lowest, `UNREAD` where nothing could be read; `parts` holds the pictures that do not show
    one number alone, and `woven` which of them are mixtures of the fields of their own frame.
    """

    lines: int = 0
    wraps: int = NUMBERS
    frames: array[int] = field(default_factory=lambda: array("l"))
    parities: array[int] = field(default_factory=lambda: array("b"))
    seconds: array[float] = field(default_factory=lambda: array("d"))
    first: array[int] = field(default_factory=lambda: array("q"))
    last: array[int] = field(default_factory=lambda: array("q"))
    parts: dict[int, tuple[Part, ...]] = field(default_factory=dict)
    woven: set[int] = field(default_factory=set)
    unread_lines: int = 0
    between: dict[int, tuple[float, float]] = field(default_factory=dict)
    """Between which lines the tear of a picture may lie, where that is not one place."""
    _before: int | None = None
    _gap: int = 0

    def __len__(self) -> int:
        return len(self.first)

    def add(self, shown: Shown, *, woven: bool = False) -> None:
        """Take the next picture; `woven` when it is a mixture of the fields of its own frame."""
        if woven:
            self.woven.add(len(self.first))
        self.frames.append(shown.frame)
        self.parities.append(-1 if shown.parity is None else shown.parity)
        self.seconds.append(shown.seconds)
        parts = self._counted(shown.seen.parts)
        self.unread_lines += shown.seen.unread
        if not parts:
            self.first.append(UNREAD)
            self.last.append(UNREAD)
            self._gap += 1
            return
        if len(parts) > 1 or parts[0].second is not None:
            self.parts[len(self.first)] = parts
        self.first.append(parts[0].most)
        self.last.append(parts[-1].most)
        self._gap = 0

    @property
    def by_field(self) -> bool:
        """Whether the pictures are single fields."""
        return any(parity >= 0 for parity in self.parities)

    def of(self, picture: int) -> tuple[Part, ...]:
        """Return a picture's parts, () when nothing could be read."""
        if self.first[picture] == UNREAD:
            return ()
        whole = Part(0, self.lines, self.first[picture])
        return self.parts.get(picture, (whole,))

    def read(self) -> Iterator[int]:
        """Yield the pictures that could be read."""
        return (k for k, number in enumerate(self.first) if number != UNREAD)

    def _counted(self, parts: tuple[Part, ...]) -> tuple[Part, ...]:
        """Return parts with numbers that count on from those before."""
        counted = []
        for part in parts:
            expected = part.number if self._before is None else self._before + self._gap
            number = self._on(part.number, expected)
            second = None if part.second is None else self._on(part.second, number)
            counted.append(replace(part, number=number, second=second))
            self._before = number
        return tuple(counted)

    def _on(self, number: int, expected: int) -> int:
        return expected + after(number, expected) if self.wraps else number


def is_jump(step: int) -> bool:
    """Tell whether a step from picture to picture is one of the player's."""
    return not -BACK <= step <= AHEAD

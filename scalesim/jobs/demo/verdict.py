"""Which of two chains comes out ahead on one frame, in a sentence; a tie is called one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scalesim.metrics import key_of
from scalesim.metrics.key import Key

Values = Mapping[str, float | None]


@dataclass(frozen=True)
class _Weighed:
    """Two values of a measure, and which is better: 0, 1, or None where they tell nothing apart."""

    key: Key
    values: tuple[float, float]
    ahead: int | None

    def clause(self) -> str:
        """Return "less flicker (0.7 % against 3.6 %)", the better one first, or that they tie."""
        texts = [self.key.text(value) for value in self.values]
        if self.ahead is None:
            return f"{self.key.short} ({texts[0]} and {texts[1]})"
        less = "fewer" if self.key.plural else "less"
        more = "more" if self.key.better == "higher" else less
        return f"{more} {self.key.short} ({texts[self.ahead]} against {texts[1 - self.ahead]})"


def verdict(names: tuple[str, str], values: tuple[Values, Values], keys: Sequence[str]) -> str:
    """Return who is ahead by which of the measures, with both figures of each; of one frame.

    Parameters:
        names, values : of the two chains: name, and measure -> value
        keys : the measures to weigh; those that either chain has no value of are left out
    """
    weighed = [found for key in map(key_of, keys) if (found := _weigh(key, values))]
    if not weighed:
        return f"{names[0]} and {names[1]}: nothing that would tell them apart could be measured (1 frame)."
    ties = [each.clause() for each in weighed if each.ahead is None]
    won = [[each.clause() for each in weighed if each.ahead == side] for side in (0, 1)]
    said = [f"{name} has {' and '.join(own)}" for name, own in zip(names, won, strict=True) if own]
    if ties:
        said.append(f"they tie in {' and '.join(ties)}")
    if all(won):
        said[0] = f"neither wins both: {said[0]}"
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]} (1 frame)."


def _weigh(key: Key, values: tuple[Values, Values]) -> _Weighed | None:
    """Return the values of both weighed; they tie where they differ by no more than says nothing."""
    one, other = (each.get(key.name) for each in values)
    if one is None or other is None:
        return None
    merits = key.merit(one), key.merit(other)
    least, share = key.difference_parts()
    if abs(merits[0] - merits[1]) <= max(least, share * max(map(abs, merits))):
        return _Weighed(key, (one, other), None)
    return _Weighed(key, (one, other), int((merits[1] > merits[0]) == (key.better == "higher")))

"""What may have made a photo: each chain, and for chains that interlace each way its fields may land."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.jobs.predict.predict import predict
from scalesim.stages.fields import FieldOnly
from scalesim.tube.beam import line_places

MOST = 24
_SAME = 0.5 / 255
SETS = {"one": "one set of lines", "two": "two sets of lines"}


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """A chain with a landing, and what it makes of the source.

    Parameters:
        label : of the chain, with the landing where it is not the chain's own
        chain : with the landing in it; given : whether it was asked for as it stands
        cycle, raster : its pictures, code values; landed : what is seen, (landed lines, samples, 3)
    """

    label: str
    chain: Chain
    given: bool
    cycle: tuple[NDArray, ...]
    raster: Raster
    landed: NDArray

    @property
    def sets(self) -> str:
        """ "one" or "two" sets of lines."""
        return "two" if self.raster.scan == "interlaced" else "one"

    def same_as(self, other: Hypothesis) -> bool:
        """Whether both put the same light on the same lines, to half a code value of 8 bits."""
        if len(self.cycle) != len(other.cycle) or self.cycle[0].shape != other.cycle[0].shape:
            return False
        return all(
            np.abs(one - two).max() <= _SAME and np.allclose(self._places(k), other._places(k))
            for k, (one, two) in enumerate(zip(self.cycle, other.cycle, strict=True))
        )

    def _places(self, picture: int) -> NDArray:
        return line_places(self.raster, picture % self.raster.period)


def hypotheses(source: Clip, chains: Sequence[Chain]) -> list[Hypothesis]:
    """Return every chain, and beside those that interlace the other landings of their fields.

    Raises: ParameterError for two chains of one label, or too many
    """
    found: list[Hypothesis] = []
    for chain in chains:
        label = chain.name or chain.text
        if any(each.label == label for each in found):
            raise ParameterError(f"chain '{label}' is given twice; give every chain a name of its own")
        found.append(_made(label, chain, source, given=True))
    texts = {each.chain.text for each in found}
    for own in list(found):
        for words, chain in _other_landings(own.chain, own.raster):
            if chain.text not in texts:
                texts.add(chain.text)
                found.append(_made(f"{own.label}, {words}", chain, source, given=False))
    if len(found) > MOST:
        raise ParameterError(f"glass: {len(found)} predictions; {MOST} is the limit, give fewer chains")
    return found


def _made(label: str, chain: Chain, source: Clip, *, given: bool) -> Hypothesis:
    seen = predict(source, chain, metrics=[])
    return Hypothesis(label, chain, given, tuple(seen.cycle), seen.raster, seen.landed)


def _other_landings(chain: Chain, raster: Raster) -> list[tuple[str, Chain]]:
    """Return the chain with its fields on two sets of lines, and on one in both pairings, if it has two."""
    bare = [stage for stage in chain.stages if not isinstance(stage, FieldOnly)]
    if raster.period != 2 or any(stage.kind == "resync" for stage in bare):
        return []
    return [
        ("on two sets", chain.with_stages(bare)),
        ("on one set", chain.with_stages([*bare, FieldOnly()])),
        ("on one set, paired up", chain.with_stages([*bare, FieldOnly(pair="up")])),
    ]

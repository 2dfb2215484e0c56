"""The pictures of one cycle as arrays, each made when it is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import overload

from numpy.typing import NDArray

from scalesim.core.encoding import luma, luminance
from scalesim.core.picture import Picture
from scalesim.core.planes import MixedPicture


class Cycle(Sequence[NDArray]):
    """The values of pictures; who needs their luma or their light alone has it without their colours.

    Parameters:  pictures : in the order of time
    """

    def __init__(self, pictures: Sequence[Picture]) -> None:
        self._pictures = tuple(pictures)

    @property
    def later(self) -> bool:
        """Whether their colours are made only when they are asked for."""
        return all(isinstance(picture, MixedPicture) for picture in self._pictures)

    def __len__(self) -> int:
        """Return the number of pictures."""
        return len(self._pictures)

    @overload
    def __getitem__(self, which: int) -> NDArray: ...

    @overload
    def __getitem__(self, which: slice) -> tuple[NDArray, ...]: ...

    def __getitem__(self, which: int | slice) -> NDArray | tuple[NDArray, ...]:
        """Return the (lines, samples, 3) code values of a picture, or of several."""
        if isinstance(which, slice):
            return tuple(picture.values for picture in self._pictures[which])
        return self._pictures[which].values

    def lumas(self) -> list[NDArray]:
        """Return BT.709 luma of each, (lines, samples)."""
        return [picture.luma() for picture in self._pictures]

    def luminances(self) -> list[NDArray]:
        """Return BT.709 luminance of the light of each, (lines, samples)."""
        return [picture.luminance() for picture in self._pictures]


def luma_of_each(pictures: Sequence[NDArray]) -> list[NDArray]:
    """Return BT.709 luma of pictures, (lines, samples) each."""
    return pictures.lumas() if isinstance(pictures, Cycle) else [luma(values) for values in pictures]


def luminance_of_each(pictures: Sequence[NDArray]) -> list[NDArray]:
    """Return BT.709 luminance of the light of pictures, (lines, samples) each."""
    if isinstance(pictures, Cycle):
        return pictures.luminances()
    return [luminance(values) for values in pictures]

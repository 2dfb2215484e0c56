"""An array that is made when its values are asked for; its shape is known before."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma


class Later:
    """Stands for an array in places that ask for its shape, and perhaps, by `numpy.asarray`, for its values.

    Parameters:
        shape : of the array
        make : gives it
        luma : gives the BT.709 luma of a picture, where that can be had without its colours
    """

    def __init__(
        self, shape: tuple[int, ...], make: Callable[[], NDArray], luma: Callable[[], NDArray] | None = None
    ) -> None:
        self.shape, self._make, self._luma = shape, make, luma

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray:
        """Return the values; NumPy before 2 knows no copy but True and False."""
        made = self._make()
        return np.array(made, dtype=dtype) if copy else np.asarray(made, dtype=dtype)

    def __len__(self) -> int:
        """Return the length of the first axis."""
        return self.shape[0]

    def luma(self) -> NDArray:
        """Return BT.709 luma of a picture (lines, samples, 3), (lines, samples)."""
        return luma(self._make()) if self._luma is None else self._luma()


def luma_of(picture: NDArray | Later) -> NDArray:
    """Return BT.709 luma of a picture, (lines, samples)."""
    return picture.luma() if isinstance(picture, Later) else luma(picture)

"""An array that is made when its values are asked for; its shape is known before."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray


class Later:
    """Stands for an array in places that ask for its shape, and perhaps, by `numpy.asarray`, for its values.

    Parameters:  shape : of the array; make : gives it
    """

    def __init__(self, shape: tuple[int, ...], make: Callable[[], NDArray]) -> None:
        self.shape, self._make = shape, make

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray:
        """Return the values; NumPy before 2 knows no copy but True and False."""
        made = self._make()
        return np.array(made, dtype=dtype) if copy else np.asarray(made, dtype=dtype)

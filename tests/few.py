"""Cases of a test that takes long: a few run by default, the rest with the slow ones."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def few(cases: Iterable[Any], by_default: int) -> list[Any]:
    """Return the cases of one parameter, all but the first `by_default` marked slow."""
    return [
        case if k < by_default else pytest.param(case, marks=pytest.mark.slow) for k, case in enumerate(cases)
    ]

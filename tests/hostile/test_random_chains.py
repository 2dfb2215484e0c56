"""Random chains of every kind of stage on a small frame: a picture, or one line; never a fault or a NaN.

60 chains by default; ``SCALESIM_FUZZ=3000`` gives their number instead, and ``-s`` prints the counts.
"""

from __future__ import annotations

import os
import warnings
from collections import Counter

import numpy as np
import random_chains
from hypothesis import assume, given, settings

import scalesim as ss
from scalesim.errors import ScalesimError

FRAME = np.random.RandomState(6).rand(48, 32, 3).astype(np.float32)
MOST_DOTS = 10**6
"""Larger rasters are passed by: they take long, and nothing else happens on them."""
COUNTED: Counter[str] = Counter()


@settings(max_examples=int(os.environ.get("SCALESIM_FUZZ", "60")))
@given(random_chains.chains)
def test_random_chains(chain: ss.Chain) -> None:
    before = FRAME.copy()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            rasters = chain.resolve(ss.Raster(48, 32)).rasters
            assume(all(r.lines * r.samples < MOST_DOTS for r in rasters))
            found = ss.predict(FRAME, chain, metrics=["lost_lines", "flicker_percent"])
        except ScalesimError as error:
            COUNTED["refused"] += 1
            assert str(error) and "\n" not in str(error)
            return
    COUNTED["predicted"] += 1
    assert np.isfinite(found.landed).all() and found.sentences()
    assert all(value is None or np.isfinite(value) for value in found.metrics.values())
    assert np.array_equal(FRAME, before)


def test_both_were_met() -> None:
    print(f"\nrandom chains: {dict(COUNTED)}")
    assert COUNTED["predicted"] >= 5 and COUNTED["refused"] >= 5

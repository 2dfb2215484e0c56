"""How often an answer like this one is right: confidence, set on simulated boxes.

Right is: weights within 0.10 of the true ones (mean sum of differences a line, of 0..2), and the fields'
relation, the name, light or code values, and the chain right. The two curves are logistic; their constants
were set on random boxes made by general libraries, captured well and badly, and checked on other ones.
"""

from __future__ import annotations

import numpy as np

from scalesim.signal.kernel.evidence import Evidence

_EVEN = 2.2
"""Log odds of 9 to 1 ..."""
_UNEXPLAINED = 0.035
"""... for a named method that leaves this share of the lines' variance,"""
_MEASURED = 1.0
_NOISE, _RATIO = 0.02, 3.0
"""and log odds `_MEASURED` for measured weights known to 0.02 where the best name leaves 3 times the misfit."""
_LEAST = 1e-4
_NO_RELATION = 3.0


def confidence_of(seen: Evidence, relation: str) -> float:
    """Return 0..1.

    A named method is the surer the less of the lines' variance it leaves unexplained, and the less the
    weights of those differ that fit as well; measured weights the smaller their errors are, and the worse
    the best name fits. Fields that lie neither on the same lines nor half a line apart count against both.
    """
    if seen.reproduced:
        left = max(seen.unexplained, _LEAST)
        odds = _EVEN - 3.0 * np.log(left / _UNEXPLAINED) - 10.0 * seen.doubt
    else:
        noise = max(seen.noise, _LEAST)
        odds = _MEASURED + 2.0 * np.log(seen.ratio / _RATIO) - 1.5 * np.log(noise / _NOISE)
    odds -= _NO_RELATION * (relation == "unknown")
    return float(1 / (1 + np.exp(-np.clip(odds, -30, 30))))

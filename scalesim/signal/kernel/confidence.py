"""How often an answer like this one is right: confidence, set on simulated boxes.

Right is: weights within 0.10 of the true ones (mean sum of differences a line, of 0..2), and the fields'
relation, the name, light or code values, and the chain right. The two curves are logistic; their constants
were set on random boxes made by general libraries, captured well and badly, and checked on other ones.
"""

from __future__ import annotations

import numpy as np

from scalesim.signal.kernel.evidence import Evidence

_EVEN, _UNEXPLAINED, _STEEP, _DOUBT = 2.2, 0.035, 3.0, 10.0
"""Log odds (9 to 1) of a named method that leaves this share of the lines' variance, and their slopes."""
_MEASURED, _RATIO, _NOISE = 1.0, 3.0, 0.02
"""Log odds of measured weights where the best name leaves 3 times the misfit and noise gives 0.02 a line."""
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
        odds = _EVEN - _STEEP * np.log(left / _UNEXPLAINED) - _DOUBT * seen.doubt
    else:
        noise = max(seen.noise, _LEAST)
        odds = _MEASURED + 2.0 * np.log(seen.ratio / _RATIO) - 1.5 * np.log(noise / _NOISE)
    odds -= _NO_RELATION * (relation == "unknown")
    return float(1 / (1 + np.exp(-np.clip(odds, -30, 30))))

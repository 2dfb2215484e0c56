"""Every metric, in the order a reviewer reads them. Importing this package registers them all."""

from scalesim.metrics import (  # noqa: F401, I001  registers them in this order
    edges,
    edges_samples,
    mtf,
    line_doubling,
    lost_lines,
    staircase,
    flicker,
    flicker_db,
    combing,
    fidelity,
    ms_ssim,
    colour_difference,
    crop,
)
from scalesim.metrics._base import METRICS, Evidence, Key, key_of, measure

__all__ = ["METRICS", "Evidence", "Key", "key_of", "measure"]

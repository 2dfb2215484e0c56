"""Every metric, in the order a reviewer reads them. Importing this package registers them all."""

from scalesim.metrics.edges import spread_lines, spread_samples, mtf  # noqa: F401, I001  registers in order
from scalesim.metrics.outlines import line_doubling, lost_lines  # noqa: F401
from scalesim.metrics.edges import staircase  # noqa: F401
from scalesim.metrics.flicker import percent, decibel, combing  # noqa: F401
from scalesim.metrics.fidelity import likeness, ms_ssim, colour_difference  # noqa: F401
from scalesim.metrics import crop  # noqa: F401
from scalesim.metrics._base import METRICS, Evidence, Key, check_metrics, key_of, measure

__all__ = ["METRICS", "Evidence", "Key", "check_metrics", "key_of", "measure"]

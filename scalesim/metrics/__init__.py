"""Every metric, in the order a reviewer reads them. Importing this package registers them all."""

from scalesim.metrics import edges, line_doubling, lost_lines, flicker, fidelity, crop  # noqa: F401, I001
from scalesim.metrics._base import METRICS, Evidence, Key, key_of, measure

__all__ = ["METRICS", "Evidence", "Key", "key_of", "measure"]

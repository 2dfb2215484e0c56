# ruff: noqa: F401, I001  a metric is registered by importing its file; one line each, in the order of the table
"""Every metric, in the order a reviewer reads them. Importing this package registers them all."""

import scalesim.metrics.detail.lines
import scalesim.metrics.detail.samples
import scalesim.metrics.edges.spread_lines
import scalesim.metrics.edges.spread_samples
import scalesim.metrics.edges.mtf
import scalesim.metrics.outlines.line_doubling
import scalesim.metrics.outlines.lost_lines
import scalesim.metrics.edges.staircase
import scalesim.metrics.flicker.percent
import scalesim.metrics.flicker.decibel
import scalesim.metrics.flicker.combing
import scalesim.metrics.fidelity.likeness
import scalesim.metrics.fidelity.ms_ssim
import scalesim.metrics.fidelity.colour_difference
import scalesim.metrics.crop
from scalesim.metrics._base import METRICS, Evidence, check_metrics, judged, key_of, measure
from scalesim.metrics.judged import Case, Judged, Profile
from scalesim.metrics.key import Key

__all__ = [
    "METRICS",
    "Case",
    "Evidence",
    "Judged",
    "Key",
    "Profile",
    "check_metrics",
    "judged",
    "key_of",
    "measure",
]

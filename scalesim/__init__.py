"""scalesim: a bench for chains of video scalers that end on a 15 kHz CRT.

``import scalesim as ss`` gives the names of `__all__`; each is loaded when it is first used, so that
importing costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from scalesim.version import __version__

_STAGES = {
    "scalesim.stages.lines": ("LineDrop", "LineAverage", "LineRepeat", "FlickerFilter"),
    "scalesim.stages.resample": ("Resample",),
    "scalesim.stages.fields": ("Interlace", "Deinterlace", "KeepField", "FieldOnly"),
    "scalesim.stages.geometry": ("Position", "Size", "Fit", "Overscan"),
    "scalesim.stages.bandwidth": ("BandLimit",),
    "scalesim.stages.colour": ("Chroma",),
    "scalesim.stages.level": ("Level", "Quantise"),
    "scalesim.stages.measured": ("Measured",),
    "scalesim.stages.slip": ("Slip",),
    "scalesim.stages.resync": ("Resync",),
}
_PLACES = {
    "Chain": "scalesim.chain",
    "Clip": "scalesim.core.clip",
    "Prediction": "scalesim.jobs.predict.prediction",
    "Raster": "scalesim.core.raster",
    "ScalesimError": "scalesim.errors",
    "Dial": "scalesim.chain.dial",
    "Display": "scalesim.tube.display",
    "Glass": "scalesim.jobs.predict.on_screen",
    "Tuning": "scalesim.jobs.tune.tuning",
    "calibrate": "scalesim.jobs.press.press",
    "capture_position": "scalesim.jobs.position.position",
    "chart": "scalesim.jobs.chart.chart",
    "clocks": "scalesim.jobs.clocks.clocks",
    "compare": "scalesim.jobs.compare.compare",
    "comparison_clip": "scalesim.jobs.compare.clip.clip",
    "save_clip": "scalesim.io.clips.guarded",
    "save_clips": "scalesim.io.clips.guarded",
    "fields": "scalesim.jobs.fields.fields",
    "footage": "scalesim.io.footage",
    "identify": "scalesim.jobs.identify.identify",
    "flicker_study": "scalesim.jobs.predict.flicker_study",
    "lag": "scalesim.jobs.lag.lag",
    "motion": "scalesim.jobs.motion.motion",
    "moving": "scalesim.jobs.predict.moving",
    "panned": "scalesim.core.pan",
    "predict": "scalesim.jobs.predict.predict",
    "read": "scalesim.io.read",
    "save_comparison": "scalesim.saving",
    "save_tuning": "scalesim.saving",
    "save": "scalesim.saving",
    "read_saved": "scalesim.io.saved",
    "read_glass": "scalesim.reading",
    "read_photo": "scalesim.io.photos",
    "still_clip": "scalesim.core.clip",
    "trace": "scalesim.jobs.trace.trace",
    "read_lag": "scalesim.io.tables.lag",
    "read_trace": "scalesim.io.traces.read",
    "sync_chart": "scalesim.charts.sync",
    "tune": "scalesim.jobs.tune.tune",
    "write_up": "scalesim.writing",
    **{name: module for module, names in _STAGES.items() for name in names},
}

__all__ = ["__version__", *_PLACES]


def __getattr__(name: str) -> Any:
    if name in _PLACES:
        return getattr(import_module(_PLACES[name]), name)
    raise AttributeError(f"module 'scalesim' has no name '{name}'; it has {', '.join(__all__)}")


def __dir__() -> list[str]:
    return sorted(__all__)

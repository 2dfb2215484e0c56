"""The rows of a comparison: one frame through one chain, or as a real box gave it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.outcome import Outcome
from scalesim.version import __version__


@dataclass(frozen=True)
class Row:
    """One frame through one chain: its metrics, or reasons for none; `n` says how much each rests on.

    `place` is where a study took the frame and how: clip, frame, time_s, setting, display.
    """

    frame: str
    chain: str
    kind: str
    raster: str
    mode_in: str
    mode_out: str
    metrics: Mapping[str, float | None]
    why: Mapping[str, str]
    how: Mapping[str, str]
    n: Mapping[str, int]
    settings: Mapping[str, Any]
    place: Mapping[str, Any] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Return names, metrics by key, `<key>.how`, notes as `note.<key>`, and `n`, `why` by key."""
        return {
            "frame": self.frame,
            "chain": self.chain,
            **self.place,
            "kind": self.kind,
            "raster": self.raster,
            "mode_in": self.mode_in,
            "mode_out": self.mode_out,
            **self.metrics,
            **{f"{key}.how": way for key, way in self.how.items()},
            **{f"note.{key}": value for key, value in self.settings.items()},
            "n": dict(self.n),
            "why": dict(self.why),
            "version": __version__,
        }


def raster_name(outcome: Outcome) -> str:
    """Return what chains must share to be ranked together: scan lines on the screen and rate class."""
    raster = outcome.raster
    scan = raster.scan if raster.scan in ("interlaced", "uneven") else "scan"
    return f"{raster.landed_lines} {scan} lines at {float(raster.rate):.0f} Hz"


def texts_of(outcome: Outcome, kind: str = "predicted") -> tuple[str, str, str, str]:
    """Return kind, raster, mode that went in and mode that came out of a picture."""
    return kind, raster_name(outcome), outcome.source.mode, outcome.mode_out


def row_of(source: FrameSource, label: str, outcome: Outcome, kind: str = "predicted") -> Row:
    """Return the row of a picture, "predicted" or "captured"."""
    return Row(
        source.name,
        label,
        *texts_of(outcome, kind),
        outcome.metrics,
        outcome.why,
        outcome.how,
        outcome.n,
        source.settings,
    )

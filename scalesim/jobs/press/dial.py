"""The `[[dial]]` table of a chain file that a measured dial makes, in the lines of the chain's position."""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np

from scalesim.chain import Chain
from scalesim.chain.keys import find_key, get_key
from scalesim.core.clip import still_clip
from scalesim.core.mode import mode_named
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError, ScalesimError
from scalesim.stages.geometry import Position

_EACH_WAY = 20
"""Presses each way that the dial is written for: how far a box's own goes is not measured."""
_TRIED = ("720p", "1080p", "480p")
"""Sources whose lines a chain is tried on when no mode is said: its own lines may be the same on all."""


@dataclass(frozen=True)
class DialTable:
    """A dial as a chain file holds it.

    Parameters:
        key : the address it turns
        step, error : what a press sets it further by, and the standard error, in `unit`
        present : the value it starts from
        unit : "capture lines" without a chain, else lines of what is in front of the position
        label : what the box calls it
    """

    key: str
    step: float
    error: float
    present: float
    unit: str
    label: str = ""

    @property
    def text(self) -> str:
        """The table as TOML; a comment tells the error, the unit and how far it was written."""
        step, present = round(self.step, 4), round(self.present, 4)
        each = _EACH_WAY
        rows = [
            f"# one press is {self.step:+.4f} {self.unit}, standard error {self.error:.4f};",
            f"# {each} presses each way of where it is now, which the box may not reach",
            "[[dial]]",
            f'key = "{self.key}"',
        ]
        if step > 0:
            first, last = round(present - each * step, 4), round(present + each * step, 4)
            rows += [f"first = {first:g}", f"last = {last:g}", f"step = {step:g}"]
        else:
            steps = ", ".join(f"{round(present + k * step, 4):g}" for k in range(-each, each + 1))
            rows.append(f"steps = [{steps}]")
        if self.label:
            rows.append(f"label = {json.dumps(self.label)}")
        return "\n".join(rows) + "\n"


def dial_of(
    per_press: tuple[float, float],
    capture_lines: int,
    chain: Chain | None,
    *,
    key: str = "position.lines",
    mode: str | None = None,
    label: str | None = None,
) -> DialTable:
    """Return the dial of a press that moves a capture's picture down by `per_press` lines.

    Parameters:
        per_press : capture lines, and their standard error; not 0
        capture_lines : height of the capture; it shows all lines that land
        chain : what was captured; None leaves the step in capture lines
        key : the lines of a position; put in front when the chain has none
        mode : of the source; needed where the chain's lines depend on it
    Raises: ParameterError for a key that is no position's lines, or a chain that needs the mode
    """
    step, error = per_press
    if chain is None:
        return DialTable(key, step, error, 0.0, "capture lines", label or "")
    chain = with_key(chain, key)
    place = find_key(chain.stages, key)
    if not isinstance(chain.stages[place.stage], Position) or place.key != "lines":
        raise ParameterError(f"key is {key}; it must be the lines of a position, such as position.lines")
    share, unit = _lines_per_capture_line(chain, place.stage, capture_lines, mode)
    return DialTable(key, step * share, error * share, float(get_key(chain.stages, key)), unit, label or "")


def with_key(chain: Chain, key: str) -> Chain:
    """Return the chain with a position in front, when it has none and that is what the key means."""
    if key == "position.lines" and not any(isinstance(stage, Position) for stage in chain.stages):
        return Chain(Position(), *chain.stages, name=chain.name)
    return chain


def _lines_per_capture_line(
    chain: Chain, stage: int, capture_lines: int, mode: str | None
) -> tuple[float, str]:
    names = _TRIED if mode is None else (mode,)
    found: dict[str, tuple[float, str]] = {}
    reason = ""
    for name in names:
        raster = _raster(name)
        try:
            found[name] = _share(chain, stage, capture_lines, raster)
        except ScalesimError as error:
            reason = str(error)
    if not found:
        raise ParameterError(f"chain: fits none of the sources {', '.join(names)} ({reason})")
    shares = {(round(share, 9), unit) for share, unit in found.values()}
    if len(shares) > 1:
        told = ", ".join(f"{share:.3g} at {name}" for name, (share, _) in found.items())
        raise ParameterError(
            f"mode: lines of the position per capture line depend on the source ({told}); give its mode, "
            "such as --mode 720p"
        )
    return next(iter(found.values()))


def _raster(name: str) -> Raster:
    mode = mode_named(name)
    return still_clip(np.zeros((mode.frame_lines, mode.samples, 3), np.float32), mode=name).raster


def _share(chain: Chain, stage: int, capture_lines: int, source: Raster) -> tuple[float, str]:
    """Return lines in front of the position per capture line, and what they are called."""
    plan = chain.resolve(source)
    before = plan.rasters[stage]
    landed = plan.geometry.landed(plan.output).scale * plan.output.landed_lines / capture_lines
    own = plan.geometries[stage].landed(before).scale * before.landed_lines / before.lines
    kind = "field lines" if before.period == 2 else "lines"
    return landed / own, f"{kind} of {before.lines}"

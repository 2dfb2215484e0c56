"""The best place for a captured picture, and the move that leads there from where it is now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np

from scalesim.chain import Chain
from scalesim.chain.dial import Dial
from scalesim.chain.keys import find_key
from scalesim.chain.vary import Varied, parse_vary, varied
from scalesim.core.clip import Clip
from scalesim.errors import NotMeasurable, ParameterError
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.settings.best import MOST_CANDIDATES, find_setting
from scalesim.jobs.settings.carry import is_lines
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.sits import Sits
from scalesim.search.objective import make_objective
from scalesim.stages.geometry import Position

_STEP = 0.25
"""Lines between the places tried when nothing is said."""


@dataclass(frozen=True, eq=False)
class Place:
    """Where a picture is on the position of its chain, and where it would be best.

    Parameters:
        key : the position's address; `chain` holds it, put in front when the chain has none
        now : the position that puts the picture where it was captured, in that position's lines
        error : its standard error; per_line : source lines for one of its lines
        found : what trying places found; None where the measure does not exist, which `why` says
        dial : the box's dial of that position, if the chain tells one
    """

    chain: Chain
    key: str
    now: float
    error: float
    per_line: float
    found: Findings | None
    why: str
    dial: Dial | None

    @property
    def best(self) -> float | None:
        """The position at which the frame suffers least, None where that cannot be told."""
        return None if self.found is None else float(self.found.best.values[self.key])

    @property
    def move(self) -> float | None:
        """Lines of the position from here to the best place, down positive.

        0 where no place is better than this one by more than the measure resolves.
        """
        if self.found is None or self.best is None:
            return None
        gain = self.found.on_present
        stays = gain is not None and gain.mean <= self.found.objective.tie
        return 0.0 if stays or not self.found.certainty.matters else self.best - self.now

    @property
    def presses(self) -> int | None:
        """Steps of the dial for that move, to the nearest whole one; None without a dial of even steps."""
        step = None if self.dial is None else even_step(self.dial)
        return None if step is None or self.move is None else round(self.move / step)


def best_place(sat: Sits, error: float, vary: Any = None, by: str = "line_doubling") -> Place:
    """Return the best place of a picture that sits somewhere now.

    Parameters:
        sat : how it sits; error : the standard error of that, in source lines
        vary : places to try, such as "position.lines=-4:4:1/8"; None tries what the chain's dial can reach
            from where the picture is, else every quarter of a line within one repeat
        by : metric keys that decide, as in `tune`
    Raises: ParameterError for metrics that are none
    """
    objective = make_objective(by)
    chain, key, now, clip = sat.chain, sat.key, sat.now.lines, sat.predicted.source
    dial = next(
        (d for d in chain.dials if find_key(chain.stages, d.key) == find_key(chain.stages, key)), None
    )
    tried = _tried(chain, clip, key, vary, now, sat.per_line, dial)
    found: Findings | None = None
    why = ""
    try:
        source = FrameSource(clip.name, lambda: clip)
        found = find_setting(chain, [source], [tried], objective, present={key: now})
    except NotMeasurable as reason:
        why = str(reason)
    return Place(chain, key, now, error / sat.per_line, sat.per_line, found, why, dial)


def even_step(dial: Dial) -> float | None:
    """Return the distance of a dial's steps, None when they are not even."""
    steps = np.diff(np.asarray(dial.steps, float))
    return float(steps.mean()) if len(steps) and np.allclose(steps, steps.mean(), atol=1e-6) else None


def with_position(chain: Chain, vary: Any) -> tuple[Chain, str]:
    """Return the chain with a position, and the address of its lines.

    Raises: ParameterError for a `vary` that is no single position
    """
    told = _keys(vary)
    if not any(isinstance(stage, Position) for stage in chain.stages):
        chain = Chain(Position(), *chain.stages, name=chain.name)
    dialled = [dial.key for dial in chain.dials if is_lines(chain.stages, dial.key)]
    key = (told or dialled or ["position.lines"])[0]
    if len(told) > 1 or not is_lines(chain.stages, key):
        raise ParameterError(
            f"vary {', '.join(told)}: only the lines of one position can be compared with a picture's place; "
            "write position.lines=-4:4:1/8, and use tune for other keys"
        )
    return chain, key


def _keys(vary: Any) -> list[str]:
    if vary is None:
        return []
    if isinstance(vary, Mapping):
        return list(vary)
    return [text.partition("=")[0].strip() for text in ([vary] if isinstance(vary, str) else vary)]


def _tried(
    chain: Chain, clip: Clip, key: str, vary: Any, now: float, per_line: float, dial: Dial | None
) -> Varied:
    if vary is not None:
        return parse_vary(chain.stages, vary, most=MOST_CANDIDATES)[0]
    plan = chain.resolve(clip.raster)
    reach = plan.geometry.landed(plan.output).scale * plan.output.landed_lines / plan.output.lines / per_line
    step = None if dial is None else even_step(dial)
    if step is None:
        far = ceil(reach + 1)
        first = round(now) - far
        return varied(chain.stages, key, first + _STEP * np.arange(int(2 * far / _STEP) + 1))
    most = max(2, ceil((reach + 1) / abs(step)))
    return varied(chain.stages, key, now + step * np.arange(-most, most + 1))

"""Tune: which setting to dial in on the box, how sure that is, and the whole curve."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from numpy.typing import NDArray

from scalesim.chain import Chain, as_chain
from scalesim.core.clip import Clip
from scalesim.core.picture import check_reference
from scalesim.errors import ParameterError
from scalesim.jobs.frames import FrameSource, named_apart
from scalesim.jobs.predict.landing import on_display
from scalesim.jobs.settings.best import as_source, check_count, dials_of, find_setting
from scalesim.jobs.tune.tuning import Tuning
from scalesim.search.objective import make_objective
from scalesim.stages import Stage
from scalesim.tube.display import Display


def tune(
    chain: Chain | str | Stage | Sequence[Stage],
    frames: Iterable[Clip | FrameSource | NDArray],
    *,
    vary: Mapping[str, Any] | str | Iterable[str] | None = None,
    by: str | Iterable[str] | Mapping[str, float] = "line_doubling",
    where: Any = None,
    yes: bool = False,
    reference: str | NDArray = "ideal",
    advance: Callable[[str], None] = lambda _: None,
    display: Display | str | None = None,
) -> Tuning:
    """Return the setting of a chain's keys at which frames score best.

    Parameters:
        chain : a `Chain`, its text, or stages; the keys as they are now are the present setting
        frames : stills, read one at a time
        vary : ``{"position.lines": (-4, 4, 1/8)}`` (first, last, step) or a list of values, or texts
            such as "position.lines=-4:4:1/8"; None varies the chain's dials
        by : a metric key, several (their mean), or key -> weight; see `objective`
        where : limits a candidate must keep to, such as ``{"cropped_percent": (None, 2)}`` or
            "cropped_percent<=2", on the mean over the frames
        yes : try more than 20000 candidates all the same
        reference : what fidelity metrics compare with
        advance : called with what is worked on
        display : a `Display`, or the key of a shipped one, whose vertical circuit lands the fields
    Raises: ParameterError for keys, values, metrics or limits that are none, and when no candidate can
        be had; NotMeasurable when no frame has the metrics at any candidate
    """
    chain, objective = on_display(as_chain(chain), display), make_objective(by, where)
    dials = dials_of(chain, vary, yes)
    check_count(dials, yes)
    check_reference(reference)
    sources = named_apart(as_source(frame, number) for number, frame in enumerate(frames, start=1))
    if not sources:
        raise ParameterError("no frames to tune on; name at least one picture")
    found = find_setting(chain, sources, dials, objective, reference=reference, advance=advance)
    return Tuning.of(found)

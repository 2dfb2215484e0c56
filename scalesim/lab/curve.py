"""The tuning curve of one dial, as `tune` finds it, for the page to draw and click along."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from scalesim.chain.keys import get_key
from scalesim.errors import ParameterError
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.settings.carry import Carrier, carry
from scalesim.jobs.tune.plain import dial_head
from scalesim.jobs.tune.tune import tune
from scalesim.jobs.tune.tuning import Tuning
from scalesim.lab.bench import Bench
from scalesim.lab.tasks import Advance, Ended, told_as_done
from scalesim.metrics import METRICS, key_of
from scalesim.schema import key_text
from scalesim.stages import Stage

_LONGEST = 2001
"""Values that a curve on the page may have."""


def curve(bench: Bench, given: Mapping[str, Any], stale: Callable[[], bool]) -> Iterator[bytes]:
    """Yield the records of a tuning: its progress, then the curve."""

    def work(advance: Advance) -> dict[str, Any]:
        def counted(what: str) -> None:
            if stale():
                raise Ended("a newer curve was asked for")
            advance(what)

        known = bench.frames.known(given.get("frame", ""))
        source = FrameSource(known.name, lambda: bench.frames.still(known.id))
        vary, by = given.get("vary"), given.get("by") or "line_doubling"
        if not isinstance(vary, str) or "=" not in vary:
            raise ParameterError("vary is missing; give one such as position.lines=-4:4:1/8")
        chain = bench.chain_of(given.get("chain"))
        found = tune(chain, [source], vary=[vary], by=by, advance=counted)
        if len(found.curve) > _LONGEST:
            raise ParameterError(f"vary: {len(found.curve)} values; the page draws at most {_LONGEST}")
        return _told(found, chain.stages)

    yield from told_as_done(work, bench.ending)


def _told(found: Tuning, stages: Sequence[Stage]) -> dict[str, Any]:
    key = found.dials[0].key
    names = found.objective.names
    one = key_of(names[0]) if len(names) == 1 and names[0] in METRICS else None
    return {
        "kind": "curve",
        "key": key,
        "dial": dial_head(found, found.dials[0]),
        "points": [
            {
                "value": key_text(p.values[key]),
                "set": _settings(stages, p.values, found.carriers),
                "score": p.score,
                "why": p.why,
            }
            for p in found.curve
        ],
        "best": key_text(found.best.values[key]),
        "ties": [key_text(tie.values[key]) for tie in found.ties],
        "now": key_text(found.present.values[key]),
        "clear": found.clear,
        "better": "higher" if found.objective.higher_is_better else "lower",
        "label": one.label if one else found.objective.text,
        "sentences": found.sentences(),
        "chain": found.chain.text,
    }


def _settings(
    stages: Sequence[Stage], values: Mapping[str, Any], carriers: Sequence[Carrier]
) -> dict[str, str]:
    """Return every key that a point of the curve was measured with, so that the page can set just these."""
    phases = {carrier.phase: get_key(stages, carrier.phase) for carrier in carriers}
    return {key: key_text(value) for key, value in carry(stages, {**phases, **values}, carriers).items()}

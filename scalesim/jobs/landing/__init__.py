"""Landing: where each kind of display draws the fields of a sync, and why."""

from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Input, Job
from scalesim.schema import param


@dataclass(frozen=True, kw_only=True)
class Keys:
    """What it takes besides displays."""

    kind: ClassVar[str] = "landing"
    sync: str | None = param(
        None,
        type="text",
        fewest=0,
        unit="keys of resync",
        doc="What a box does to the sync: keys of the stage resync, such as 'start=0/-0.25 "
        "equalising=drop'; standard for nothing (default: what explains best what was seen, else "
        "start=line-start)",
    )
    system: str = param("525", type="choice", choices=("525", "625"), doc="Lines of the system")
    kinds: str | None = param(
        None,
        type="text",
        unit="kind,...",
        doc="Kinds of circuits with usual values: integrator, ladder, edge, half-line clock, filtered "
        "half-line clock, whole-line clock, oscillator, flywheel, strict countdown, tolerant countdown, "
        "two-field countdown, or all. Those that differ most when left out and no display is given",
    )
    seen: str | None = param(
        None,
        type="text",
        unit="set=what,...",
        doc="What displays drew of one signal, such as 'A=one/cold,B=two,C=two': one (set of lines), "
        "two, uneven or rolls; /cold only after a cold start, /sometimes, /always with every source",
    )


JOB = Job(
    name="landing",
    step=66,
    about="""Tell where each kind of display draws the fields of a sync, and why they differ.

Example: scalesim landing --sync "start=line-start" --seen "A=one,B=two,C=two"

The sync is the standard's, changed as the stage resync says (--sync), or as a --chain with that stage does.
Displays are TOML files with [vertical], or kinds with usual values (--kinds). Shows both vertical syncs
against what each circuit looks at, the instant each field begins, the lines that result, maps over time
constant and threshold, and margins. With --seen it names the kinds and changes that explain what was seen,
and what to measure next; it ends with 1 when none does. Shares are of ranges of values that are engineering
judgement: what can happen, not how likely it is. Real sets vary; nobody needs to open one to find out.""",
    function="scalesim.jobs.landing.landing:landing",
    inputs=(
        Input("display", "displays", "A display whose [vertical] is asked; give several.", True, False),
        Input("chain", "chain", "Boxes in series with a resync, in place of --sync.", True, False),
    ),
    keys=Keys,
)

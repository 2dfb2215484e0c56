"""Landing: one sync on many vertical circuits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from scalesim.chain import Chain
from scalesim.core.sync import SYNC_525, SYNC_625
from scalesim.core.sync_wave import Wave, interlaced_wave
from scalesim.errors import ParameterError, nearest
from scalesim.jobs.landing.answer import Landings
from scalesim.jobs.landing.asked import observations
from scalesim.jobs.landing.explained import explained
from scalesim.stages.resync import Resync
from scalesim.texts import echoed
from scalesim.tube.display import Display
from scalesim.tube.lock.circuit import Circuit
from scalesim.tube.lock.on_display import Landed, landed_of
from scalesim.tube.lock.typical import FEW, TYPICAL

STANDARD = "standard"
USUAL = "start=line-start"
"""The sync that is asked when none is said: vertical sync of one field half a line early."""
MOST = 12


def landing(
    chain: Chain | None = None,
    display: Sequence[Display] = (),
    *,
    sync: str | None = None,
    system: str = "525",
    kinds: str | None = None,
    seen: str | None = None,
    advance: Callable[[str], None] = lambda _: None,
) -> Landings:
    """Return where circuits land the fields of one sync.

    Parameters:
        chain : boxes with a `resync`, in place of `sync`
        display : displays whose vertical circuits are asked
        sync : keys of the stage resync, or "standard"; None takes what explains best what was seen, and
            `USUAL` where nothing does or nothing was seen
        system : "525" or "625"
        kinds : names of typical circuits with commas between, or "all"; None takes those that differ most
            when no display is given
        seen : what displays drew, see `observations`; None leaves the reverse question out
        advance : called with what is worked on
    Raises: ParameterError for keys that the stage refuses, no resync in the chain, an unknown kind, or
        displays without a circuit
    """
    told = _stage(chain, sync)
    standard = SYNC_525 if system == "525" else SYNC_625
    asked = _circuits(display or (), kinds)
    found = explained(observations(seen), standard, advance) if seen else None
    stage = told or (found.fits[0].change.stage if found and found.fits else _stage(None, USUAL))
    assert stage is not None
    wave = interlaced_wave(standard, stage.change())
    return Landings(
        stage=stage, standard=standard, wave=wave, found=_landed(wave, asked, advance), explained=found
    )


def _landed(wave: Wave, circuits: Mapping[str, Circuit], advance: Callable[[str], None]) -> dict[str, Landed]:
    found = {}
    for name, circuit in circuits.items():
        advance(name)
        found[name] = landed_of(wave, circuit)
    return found


def _stage(chain: Chain | None, sync: str | None) -> Resync | None:
    """Return what is done to the sync, None when nothing was said of it."""
    if chain is not None:
        if sync is not None:
            raise ParameterError(
                "landing: both a chain and --sync say what is done to the sync; leave one of them out"
            )
        stages = [stage for stage in chain.stages if isinstance(stage, Resync)]
        if not stages:
            raise ParameterError(
                "landing: the chain has no resync, so its sync is the standard's; say --sync instead"
            )
        return stages[0]
    if sync is None:
        return None
    text = sync.strip()
    if text in ("", STANDARD):
        return Resync()
    found = Chain(f"resync {text}").stages
    if len(found) != 1 or not isinstance(found[0], Resync):
        raise ParameterError(
            f"landing: sync is {echoed(text)}; it must be keys of resync, such as start=line-start"
        )
    return found[0]


def _circuits(displays: Sequence[Display], kinds: str | None) -> Mapping[str, Circuit]:
    """Return name -> circuit: those of the displays first."""
    found: dict[str, Circuit] = {}
    for each in displays:
        if each.vertical is None:
            raise ParameterError(f"landing: {each.name} has no [vertical]; add the table, or leave it out")
        if each.name in found:
            raise ParameterError(f"landing: two displays are named {each.name}; give each a name of its own")
        found[each.name] = each.vertical
    names = list(FEW) if kinds is None and not found else []
    if kinds is not None:
        names = list(TYPICAL) if kinds.strip() == "all" else [each.strip() for each in kinds.split(",")]
    for name in names:
        if name not in TYPICAL:
            raise ParameterError(f"landing: kind '{echoed(name)}'; {nearest(name[:60], [*TYPICAL, 'all'])}")
        found[name] = TYPICAL[name]
    if len(found) > MOST:
        raise ParameterError(f"landing: {len(found)} circuits; at most {MOST} are shown together")
    return found

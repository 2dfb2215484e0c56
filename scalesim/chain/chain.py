"""`Chain`: boxes in series, from text, TOML or Python."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from scalesim.chain.dial import Dial, make_dial
from scalesim.chain.keys import with_stage_keys
from scalesim.chain.resolve import Lands, Resolved, resolve
from scalesim.chain.run import run, run_still
from scalesim.chain.text import parse_chain, write_chain
from scalesim.chain.toml import parse_toml, write_toml
from scalesim.core.limits import STAGES
from scalesim.core.operator import FieldOperator
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.schema import files_for, files_from
from scalesim.stages import Stage
from scalesim.texts import echoed, readable

_KEPT = 4
"""Rasters a chain remembers how it treats: those of the clips of one study."""


@dataclass(frozen=True, init=False)
class Chain:
    """Stages in series.

    ``Chain("line-average lines=480, interlace")`` and ``Chain(LineAverage(lines=480), Interlace())``
    are equal; the name is only a label and does not count, nor do the dials, which say what the
    controls of the boxes can be set to, nor `lands`, what makes of the raster that leaves the chain the one a
    display draws. Immutable.

    Raises: ParameterError for an empty chain or one of over 200 stages, an unknown kind or key, a value
        outside its range, or a name that is no text
    """

    stages: tuple[Stage, ...]
    name: str = field(default="", compare=False)
    dials: tuple[Dial, ...] = field(default=(), compare=False)
    lands: Lands | None = field(default=None, compare=False, repr=False)

    def __init__(
        self, *stages: Stage | str, name: str = "", dials: Iterable[Dial] = (), lands: Lands | None = None
    ) -> None:
        if len(stages) == 1 and isinstance(stages[0], str):
            written, members = parse_chain(stages[0])
        else:
            written, members = "", _only_stages(stages)
        if len(members) > STAGES:
            raise ParameterError(
                f"chain has {len(members)} stages; at most {STAGES} (leave out those that change nothing)"
            )
        if not isinstance(name, str):
            raise ParameterError(f"chain: name is {echoed(repr(name))}; it must be a text such as 'sharp'")
        object.__setattr__(self, "stages", tuple(members))
        object.__setattr__(self, "name", readable(name or written))
        object.__setattr__(self, "dials", _checked_dials(self.stages, dials))
        object.__setattr__(self, "lands", lands)

    @classmethod
    def from_toml(cls, text: str) -> Chain:
        """Return the chain written in TOML; `files_from` says where the files it names lie."""
        name, stages, dials = parse_toml(text)
        return cls(*stages, name=name, dials=dials)

    def to_toml(self) -> str:
        """Return the TOML form, defaults omitted."""
        return write_toml(self.name, self.stages, self.dials)

    def with_stages(self, stages: Iterable[Stage]) -> Chain:
        """Return the chain with other stages, its name and dials kept."""
        return Chain(*stages, name=self.name, dials=self.dials, lands=self.lands)

    def landing(self, lands: Lands | None) -> Chain:
        """Return the chain on a display; `lands` gives the raster it draws of the one that comes out."""
        return Chain(*self.stages, name=self.name, dials=self.dials, lands=lands)

    def files_from(self, folder: str | Path) -> Chain:
        """Return a chain read from a document in `folder`, its files named from the working folder.

        Every document (a chain's file, a study) names files relative to itself.
        """
        return self.with_stages(files_from(stage, folder) for stage in self.stages)

    def files_for(self, folder: str | Path) -> Chain:
        """Return the chain as a document in `folder` writes it: its files named relative to that folder."""
        return self.with_stages(files_for(stage, folder) for stage in self.stages)

    def with_keys(self, values: Mapping[str, Any]) -> Chain:
        """Return the chain with some keys changed, such as ``{"position.lines": 1.25}``; see `chain.keys`."""
        return self.with_stages(with_stage_keys(self.stages, values))

    def __str__(self) -> str:
        return write_chain(self.name, self.stages)

    @property
    def text(self) -> str:
        """The text form without the name, defaults omitted."""
        return write_chain("", self.stages)

    def resolve(self, source: Raster, *, fuse: bool = True) -> Resolved:
        """Return how the chain treats pictures on `source`; raises what the first unfitting stage says."""
        known = self._known.get((source, fuse))
        if known is not None:
            return known
        found = resolve(self.stages, source, fuse=fuse)
        found = found if self.lands is None else found.landing(self.lands)
        if not any(stage.kind == "measured" for stage in self.stages):  # its file may change
            if len(self._known) >= _KEPT:
                self._known.clear()
            self._known[source, fuse] = found
        return found

    @cached_property
    def _known(self) -> dict[tuple[Raster, bool], Resolved]:
        """The last rasters it was resolved on: every frame of a clip asks for the same one."""
        return {}

    def __getstate__(self) -> dict[str, object]:
        """Return what goes to another process: not what it can work out itself."""
        return {name: value for name, value in vars(self).items() if name != "_known"}

    def run(self, pictures: Iterable[Picture]) -> Iterator[Picture]:
        """Yield the pictures after the chain; all must share the first one's raster."""
        stream = iter(pictures)
        first = next(stream, None)
        if first is None:
            return
        yield from run(self.resolve(first.raster), _chained(first, stream))

    def run_still(self, source: Raster, pictures: Iterable[Picture]) -> list[Picture]:
        """Return one cycle of output pictures of a still given as an endless stream."""
        return run_still(self.resolve(source), pictures)

    def operator(self, source: Raster) -> FieldOperator:
        """Return the product of all linear stages per field phase: the chain's matrix.

        Stages that leave every line in its place are left out: those that treat each value alone (level,
        quantise), and those that mix colour differences only (chroma).

        Raises: ParameterError when a frame stage joins two times, or a stage mixes lines in no fixed
        weights; EncodingError when one stage mixes code values and another light
        """
        return self.resolve(source).operator()


def _only_stages(stages: tuple[Stage | str, ...]) -> list[Stage]:
    if not stages:
        raise ParameterError("chain is empty; name at least one stage, such as LineDrop(lines=240)")
    for number, stage in enumerate(stages, start=1):
        if not isinstance(stage, Stage):
            raise ParameterError(
                f"stage {number} of {len(stages)} is {stage!r}; it must be a stage such as "
                "LineDrop(lines=240), or the whole chain one text"
            )
    return [stage for stage in stages if isinstance(stage, Stage)]


def _checked_dials(stages: tuple[Stage, ...], dials: Iterable[Dial]) -> tuple[Dial, ...]:
    found: dict[str, Dial] = {}
    for dial in dials:
        if not isinstance(dial, Dial):
            raise ParameterError(f"dial is {dial!r}; it must be a Dial such as Dial('position.lines', steps)")
        if dial.key in found:
            raise ParameterError(f"dial {dial.key}: is given twice; give it once")
        found[dial.key] = make_dial(stages, dial.key, dial.steps, dial.label)
    return tuple(found.values())


def _chained(first: Picture, rest: Iterator[Picture]) -> Iterator[Picture]:
    yield first
    yield from rest


def as_chain(chain: Chain | str | Stage | Sequence[Stage]) -> Chain:
    """Return a chain of whatever stands for one; raise ParameterError for anything else."""
    if isinstance(chain, Chain):
        return chain
    if isinstance(chain, str | Stage):
        return Chain(chain)
    if isinstance(chain, list | tuple):
        return Chain(*chain)
    raise ParameterError(f"chain is {chain!r}; give a Chain, its text, or stages such as LineDrop(lines=240)")

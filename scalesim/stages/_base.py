"""What a stage is, and the register of all kinds.

Four natures, because four things can be done with a stage:

- *linear*: `operator(before)` gives its matrices per field phase; neighbours are composed;
- *point*: `apply(values, before)` treats each value alone (a rounding, a gain); composition stops
  there, but a pure choice of lines may be taken first;
- *picture*: `apply(values, before, phase)` treats each picture alone but mixes its values in a way that is
  no operator on lines and samples (colour differences, the greatest line of a span); it may change the size
  and treat each field for where it lands; nothing moves past it;
- *frame*: `apply(pictures, before)` is a generator over pictures, for whatever joins two times.

Every stage also says what it leaves: `raster(before)`, and where its output looks on its input:
`maps(before)`, per field phase for the lines and once for the samples, in picture coordinates.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, ClassVar, Literal, TypeVar

from numpy.typing import NDArray

from scalesim.core.affine import IDENTITY
from scalesim.core.geometry import Looks
from scalesim.core.operator import FieldOperator
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.schema import settle

Nature = Literal["linear", "point", "picture", "frame"]
Maps = Looks


@dataclass(frozen=True, kw_only=True)
class Stage:
    """Base of every stage: checked keys, and defaults for a stage that leaves the raster as it is."""

    kind: ClassVar[str]
    example: ClassVar[Mapping[str, Any]]

    def __post_init__(self) -> None:
        settle(self)

    @property
    def nature(self) -> Nature:
        """How the chain runs this stage: "linear", "point", "picture" or "frame"."""
        raise NotImplementedError

    def raster(self, before: Raster) -> Raster:
        """Return the raster after the stage, or raise ParameterError when it cannot take `before`."""
        return before

    def maps(self, before: Raster) -> Maps:
        """Return where the output looks: ((lines per phase), samples), in picture coordinates."""
        return (IDENTITY,), IDENTITY

    def reach(self, before: Raster) -> Maps:
        """Return what of the input each output line stands for, when that is not where it looks."""
        return self.maps(before)

    def pace(self, before: Raster) -> Fraction:
        """Return how many pictures leave the stage for each that comes in."""
        return self.raster(before).rate / before.rate

    def phases_from(self, before: Raster) -> tuple[int, ...] | None:
        """Return the input phases whose pictures go on, or None for all of them."""
        return None


class LinearStage(Stage):
    """A stage that mixes or chooses lines and samples."""

    @property
    def nature(self) -> Nature:
        """Always "linear"."""
        return "linear"

    def operator(self, before: Raster) -> FieldOperator:
        """Return the matrices for pictures on `before`, one per field phase."""
        raise NotImplementedError


class PointStage(Stage):
    """A stage that treats each value alone, wherever it stands."""

    @property
    def nature(self) -> Nature:
        """Always "point"."""
        return "point"

    def apply(self, values: NDArray, before: Raster) -> NDArray:
        """Return the values after the stage; same shape and dtype, the input untouched."""
        raise NotImplementedError


class PictureStage(Stage):
    """A stage that treats each picture alone, but not value by value.

    `keeps_lines` says that the luma of every line stays on its line and takes nothing from another, as when
    only colour differences are mixed. The weights of the chain's lines then are those of its other stages;
    they are unknown when a stage does not say so.
    """

    keeps_lines: ClassVar[bool] = False

    @property
    def nature(self) -> Nature:
        """Always "picture"."""
        return "picture"

    def apply(self, values: NDArray, before: Raster, phase: int = 0) -> NDArray:
        """Return the picture after the stage, the input untouched.

        Parameters:
            values : (before.lines, before.samples, 3) float32 or float64 code values
            phase : number of the picture within one period of the fields before and after the stage; its
                field is ``before.fields[phase % before.period]``, and after the stage likewise
        Returns: same dtype, with the lines and samples of ``raster(before)``; the chain refuses others
        """
        raise NotImplementedError


class FrameStage(Stage):
    """A stage that needs more than one picture."""

    @property
    def nature(self) -> Nature:
        """Always "frame"."""
        return "frame"

    def apply(self, pictures: Iterator[Picture], before: Raster) -> Iterator[Picture]:
        """Yield the pictures after the stage; may change their number, holds few at a time."""
        raise NotImplementedError


STAGES: dict[str, type[Stage]] = {}
"""Every kind of stage by its name in a chain, in the order of the families."""

S = TypeVar("S", bound=type[Stage])


def stage(kind: str, *, example: Mapping[str, Any]) -> Callable[[S], S]:
    """Register a stage class under `kind`; `example` gives keys the law tests can build it with."""

    def register(cls: S) -> S:
        if kind in STAGES and STAGES[kind].__qualname__ != cls.__qualname__:
            raise ParameterError(
                f"stage '{kind}' is there already ({STAGES[kind].__name__}); choose another name"
            )
        cls.kind = kind
        cls.example = dict(example)
        STAGES[kind] = cls
        return cls

    return register

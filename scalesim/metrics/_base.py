"""What a metric is: a pure function of the evidence, registered with its unit and direction.

A metric returns one number per key it is registered for. When a value cannot be had it raises
`NotMeasurable`, whose text becomes the reason; it never returns 0 for "unknown".
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any, TypeVar

from numpy.typing import NDArray

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.clip import StoredFrame
from scalesim.core.geometry import Geometry
from scalesim.core.landed import is_memory
from scalesim.core.later import Later, luma_of
from scalesim.core.mix import Mix
from scalesim.core.raster import Raster, Window, visible_slices
from scalesim.core.same import Same
from scalesim.errors import NotMeasurable, ParameterError, nearest
from scalesim.metrics.judged import Judged
from scalesim.metrics.key import Key
from scalesim.metrics.outlines.floor import Floor
from scalesim.metrics.outlines.strips import source_strips, strip_width

T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Evidence:
    """Everything a spatial metric may look at.

    Parameters:
        source : (source lines, samples, 3) code values of the source frame, woven if it has fields, or what
            gives them later
        source_raster : its raster
        pictures : the chain's output pictures over one cycle, in the order of time, code values
        landed : (landed lines, samples, 3) the picture on the screen, code values, or what gives them later
        raster : the output raster
        geometry : where the output looks on the source
        coverage : (landed lines, source lines) float64 weights of the whole chain's linear part on a still,
            an array or a sparse matrix, when it has one, else None; or what gives them when a metric asks
            (`weights`)
        no_weights : why no weights can say what a landed line holds of which source line, "" when they can
            (coverage may be None all the same: of a capture the weights are there, but not known)
        reference : what fidelity compares with: "ideal", "source", or a picture of the landed size
        floor : how whole the chain leaves an outline at its best position, or what says so when a metric
            asks (`best_whole`); None when the chain is not known
        shown : what a display that is looked at leaves of the output after its overscan; None without one
        of_source : what metrics found out about the source alone, shared between chains
    """

    source: NDArray | Later
    source_raster: Raster
    pictures: Sequence[NDArray]
    landed: NDArray | Later
    raster: Raster
    geometry: Geometry
    coverage: Any = None
    reference: str | NDArray = "ideal"
    of_source: dict[str, Any] = field(default_factory=dict)
    no_weights: str = field(default="", kw_only=True)
    shown: Window | None = field(default=None, kw_only=True)
    floor: Floor | Callable[[], Floor | None] | None = field(default=None, kw_only=True)

    @cached_property
    def source_luma(self) -> NDArray:
        """BT.709 luma of the source, (source lines, samples) float32."""
        return self.once("luma", lambda: luma_of(self.source))

    @property
    def source_strips(self) -> NDArray:
        """Means of the source's luma along the line, (source lines, strips) float32, see `strips`."""
        return self.once("strips along lines", self._source_strips)

    def _source_strips(self) -> NDArray:
        if isinstance(self.source, StoredFrame) and self.source.is_luma:
            return self.source.means(strip_width(self.source.shape[1]))
        return source_strips(self.source_luma)

    def source_lines(self, weights: Any, some: slice) -> NDArray:
        """Return the source's luma on some landed lines by sparse weights, (lines, samples) float32.

        Parameters:  weights : (landed lines, source lines); some : which landed lines
        """
        if isinstance(self.source, StoredFrame) and self.source.is_luma and self.weights is not None:
            return self.source.through(_mix(Same(weights), (some.start, some.stop, some.step)))
        on_lines: NDArray = weights[some] @ self.source_luma
        return on_lines

    def lands_as_mixed(self, weights: Any) -> bool:
        """Return whether the landed luma is the very memory that holds the source's lines by sparse weights.

        Then nothing else can be in it. False where that cannot be told so.
        """
        source = self.source
        if not isinstance(source, StoredFrame) or not source.is_luma or self.samples != IDENTITY:
            return False
        kept = source.kept(_mix(Same(weights), (0, len(self.landed), 1)))
        return kept is not None and is_memory(kept, self.landed_luma)

    @cached_property
    def landed_luma(self) -> NDArray:
        """BT.709 luma of the landed picture."""
        return luma_of(self.landed)

    @cached_property
    def weights(self) -> Any:
        """The weights of `coverage`, worked out when they are first asked for; None without any."""
        return self.coverage() if callable(self.coverage) else self.coverage

    @cached_property
    def best_whole(self) -> Floor | None:
        """The floor of `floor`, worked out when it is first asked for."""
        return self.floor() if callable(self.floor) else self.floor

    @cached_property
    def cache(self) -> dict[str, Any]:
        """What several metrics share (found outlines, the registered ideal), kept by its name."""
        return {}

    @cached_property
    def how(self) -> dict[str, str]:
        """Metric key -> the way it was had, for metrics that have more than one."""
        return {}

    @cached_property
    def n(self) -> dict[str, int]:
        """Metric key -> how much its value rests on (edges, outlines, windows), where that was counted.

        A metric fills it in as it measures; after `measure` it holds only keys that have a value.
        """
        return {}

    def once(self, name: str, find: Callable[[], T]) -> T:
        """Return what `find` makes of the source alone, made once for all chains of a frame."""
        if name not in self.of_source:
            self.of_source[name] = find()
        found: T = self.of_source[name]
        return found

    @cached_property
    def lines(self) -> Affine:
        """Map from landed lines to source frame lines."""
        return self.geometry.landed(self.raster)

    @property
    def samples(self) -> Affine:
        """Map from output samples to source samples."""
        return self.geometry.samples

    @cached_property
    def window(self) -> tuple[slice, slice]:
        """The visible landed lines and samples, whole ones only."""
        return visible_slices(self.raster, *self.landed.shape[:2])


@lru_cache(maxsize=16)
def _mix(weights: Same, some: tuple[int, int, int]) -> Mix:
    """Return some lines of a chain's weights, kept: a clip's frames all go through them."""
    return Mix(weights.held[slice(*some)])


@dataclass(frozen=True)
class Metric:
    """A registered function and the keys it fills."""

    keys: tuple[Key, ...]
    measure: Callable[[Evidence], tuple[float | None, ...]]


METRICS: dict[str, Metric] = {}
"""Every metric by each of its keys, in the order they are shown."""


def metric(*keys: Key) -> Callable[[Callable[[Evidence], tuple[float | None, ...]]], Callable]:
    """Register a function that returns one value per key, in the same order."""

    def register(measure: Callable[[Evidence], tuple[float | None, ...]]) -> Callable:
        taken = next((key.name for key in keys if key.name in METRICS), "")
        if taken:
            raise ParameterError(f"metric '{taken}' is there already; choose another name")
        entry = Metric(keys, measure)
        METRICS.update({key.name: entry for key in keys})
        return measure

    return register


def key_of(name: str) -> Key:
    """Return the description of a metric key."""
    return next(key for key in METRICS[name].keys if key.name == name)


def check_metrics(names: Iterable[str] | None) -> tuple[str, ...]:
    """Return the metric keys asked for, all of them for None; raise ParameterError for an unknown one."""
    if isinstance(names, str):
        names = [name.strip() for name in names.split(",")]
    if names is not None and not isinstance(names, Iterable):
        raise ParameterError(f"metrics is {names!r}; give a list of keys, or None for all")
    asked = tuple(METRICS) if names is None else tuple(names)
    for name in asked:
        if name not in METRICS:
            raise ParameterError(f"metrics: unknown key '{name}'; {nearest(str(name), METRICS)}")
    return asked


def measure(evidence: Evidence, names: Iterable[str]) -> tuple[dict[str, float | None], dict[str, str]]:
    """Return ({key: value or None}, {key: reason for None}) for the metrics asked for.

    How each value was had, and how much it rests on, is then in `evidence.how` and `evidence.n`.
    """
    values: dict[str, float | None] = {}
    why: dict[str, str] = {}
    results: dict[int, tuple[float | None, ...] | str] = {}
    for name in names:
        entry = METRICS[name]
        if id(entry) not in results:
            results[id(entry)] = _run(entry, evidence)
        result = results[id(entry)]
        if isinstance(result, str):
            values[name], why[name] = None, result
        else:
            index = [key.name for key in entry.keys].index(name)
            values[name] = result[index]
        if values[name] is None:
            evidence.n.pop(name, None)
    return values, why


def _run(entry: Metric, evidence: Evidence) -> tuple[float | None, ...] | str:
    try:
        return entry.measure(evidence)
    except NotMeasurable as reason:
        return str(reason)


def judged(evidence: Evidence, name: str) -> Judged | None:
    """Return what a metric judged, piece by piece, None where it points at nothing or has no value.

    Parameters:  name : key of the metric, such as "line_doubling"
    """
    judge = key_of(name).judge
    try:
        return None if judge is None else judge(evidence)
    except NotMeasurable:
        return None

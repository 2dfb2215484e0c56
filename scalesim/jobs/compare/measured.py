"""A frame through a chain, measured; and several chains of a frame at once."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import partial
from typing import Any, TypeVar

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.resolve import Resolved
from scalesim.core.clip import Clip
from scalesim.errors import ScalesimError
from scalesim.jobs.compare.captured import reference_on, register_picture
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.prediction import Prediction

K = TypeVar("K")
T = TypeVar("T")


def measured_on(
    clip: Clip,
    chain: Chain,
    names: Sequence[str],
    reference: str | NDArray,
    known: dict[Any, Resolved] | None = None,
) -> Prediction | ScalesimError:
    """Return what a chain makes of a still, with its metrics, or why it cannot.

    Parameters:  known : the chain on the rasters it has met, to be filled; frames of a clip share one
    """
    try:
        met = {} if known is None else known
        resolved = met.get(clip.raster) or met.setdefault(clip.raster, chain.resolve(clip.raster))
        against = _against(reference, clip, resolved)
        return predict(clip, chain, metrics=names, reference=against, resolved=resolved)
    except ScalesimError as error:
        return error


def in_order(
    work: Callable[[K], T], labels: Sequence[K], pool: ThreadPoolExecutor, ahead: int
) -> Iterator[tuple[K, Callable[[], T]]]:
    """Yield each label with what gives its result: the first alone, as it finds what all share, then more.

    Parameters:  ahead : how many results may wait to be taken, so that many labels need no more memory
    """
    if not labels:
        return
    yield labels[0], partial(work, labels[0])
    waiting: deque[tuple[K, Future[T]]] = deque()
    for label in labels[1:]:
        waiting.append((label, pool.submit(work, label)))
        if len(waiting) > ahead:
            yield _first(waiting)
    while waiting:
        yield _first(waiting)


def _first(waiting: deque[tuple[K, Future[T]]]) -> tuple[K, Callable[[], T]]:
    label, future = waiting.popleft()
    return label, future.result


def _against(reference: str | NDArray, clip: Clip, resolved: Resolved) -> str | NDArray:
    """Return the reference for a chain: a picture of another size than its output is taken as a capture."""
    if isinstance(reference, str):
        return reference
    output = resolved.output
    if reference.shape[:2] == (output.landed_lines, output.samples):
        return reference
    if "reference" not in clip.found:
        clip.found["reference"] = register_picture("reference", reference, clip)
    return reference_on(reference, resolved, clip.found["reference"])

"""What is asked of a comparison, settled before it begins: chains, measures, frames, who ranks with whom."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from scalesim.chain import Chain, as_chain
from scalesim.core.clip import Clip
from scalesim.errors import ParameterError, nearest
from scalesim.jobs.compare.captured import Capture
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.frames import FrameSource
from scalesim.metrics import check_metrics, key_of
from scalesim.texts import echoed

REFERENCES = ("ideal", "source")
NOT_NOTED = "not noted"


def check_named(reference: object) -> None:
    """Raise ParameterError for a reference that is a text, and none that is known."""
    if isinstance(reference, str) and reference not in REFERENCES:
        raise ParameterError(f"reference is '{reference}'; {nearest(reference, REFERENCES)}, or a picture")


def group_of(row: Row, reference: str, group_by: str | None, *, apart: bool) -> str:
    """Return with whom a row is ranked: its screen (any, against the source), and its note's value.

    Where predictions and captures stand side by side they are ranked apart: the path of a capture moves
    every measure.
    """
    screen = "all screens" if reference == "source" and row.kind != "matched" else row.raster
    if apart and row.kind != "matched":
        screen += f", {row.kind}"
    return screen if group_by is None else f"{screen}, {group_by} {row.settings.get(group_by, NOT_NOTED)}"


def check_group(group_by: str | None, sources: Sequence[FrameSource]) -> None:
    noted = sorted({key for source in sources for key in source.settings})
    if group_by is not None and group_by not in noted:
        known = nearest(group_by, noted) if noted else "no frame has a note"
        raise ParameterError(f"group_by is '{group_by}', which no frame's note has; {known}")


def parsed_chains(chains: Mapping[str, Chain | str], boxes: Mapping[str, Capture]) -> dict[str, Chain]:
    if not chains and not boxes:
        raise ParameterError("no chains to compare; give at least one, such as 'line-drop lines=240'")
    for label in chains:
        if not isinstance(label, str) or not label.strip():
            raise ParameterError(f"chain label is {echoed(label)}; it must be a text that is not empty")
        if label in boxes:
            raise ParameterError(
                f"chain '{echoed(label)}' has the name of a capture; give one of them another name"
            )
    return {label: as_chain(chain) for label, chain in chains.items()}


def settled_names(metrics: Iterable[str] | None, by: Iterable[str]) -> tuple[str, ...]:
    ranked = check_metrics(by)
    if not ranked:
        raise ParameterError("by is empty; name at least one metric to rank by")
    for name in ranked:
        if key_of(name).better == "neither":
            raise ParameterError(f"by: {name} has no better or worse; rank by another metric")
    asked = check_metrics(metrics)
    return tuple(dict.fromkeys([*asked, *ranked]))


def as_source(frame: Clip | FrameSource) -> FrameSource:
    if isinstance(frame, FrameSource):
        return frame
    if not isinstance(frame, Clip):
        raise ParameterError(f"frame is {type(frame).__name__}; give a clip made by read() or still_clip()")
    return FrameSource(frame.name, lambda: frame)


def warnings_of(frames: Sequence[FrameSource], rows: Sequence[Row]) -> list[str]:
    """Return what differs between frames that a comparison would rather have alike."""
    found = []
    modes = sorted({row.mode_in for row in rows})
    if len(modes) > 1:
        found.append(f"The frames are of different modes ({', '.join(modes)}).")
    keys = sorted({key for frame in frames for key in frame.settings})
    for key in keys:
        values = sorted({str(frame.settings.get(key, NOT_NOTED)) for frame in frames})
        if len(values) > 1:
            found.append(f"The notes differ in {key}: {', '.join(values)}.")
    return found

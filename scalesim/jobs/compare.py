"""Compare: frames times chains, every metric, and a ranking with reasons.

Frames are taken one at a time and only numbers are kept, so memory does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.errors import ParameterError, ScalesimError, nearest
from scalesim.jobs.place import Place
from scalesim.jobs.predict import Prediction, as_chain, check_metrics, predict
from scalesim.jobs.ranking import DEFAULT_BY, rank
from scalesim.jobs.words import comparison_sentences
from scalesim.metrics import METRICS, key_of
from scalesim.result import Table
from scalesim.version import __version__

REFERENCES = ("ideal", "source")
NOT_NOTED = "not noted"


@dataclass(frozen=True)
class FrameSource:
    """A frame to be read when its turn comes.

    Parameters:
        name : for tables and file names
        load : gives the still clip; may raise ScalesimError
        settings : what a note beside it says (box, firmware, source mode …), plain values
    """

    name: str
    load: Callable[[], Clip]
    settings: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Row:
    """One frame through one chain: its metrics, or reasons for none."""

    frame: str
    chain: str
    kind: str
    raster: str
    mode_in: str
    mode_out: str
    metrics: Mapping[str, float | None]
    why: Mapping[str, str]
    how: Mapping[str, str]
    settings: Mapping[str, Any]

    def to_dict(self) -> dict[str, Any]:
        """Return the row flat: names, metrics by key, `<key>.how` they were had, notes as `note.<key>`."""
        return {
            "frame": self.frame,
            "chain": self.chain,
            "kind": self.kind,
            "raster": self.raster,
            "mode_in": self.mode_in,
            "mode_out": self.mode_out,
            **self.metrics,
            **{f"{key}.how": way for key, way in self.how.items()},
            **{f"note.{key}": value for key, value in self.settings.items()},
            "why": dict(self.why),
            "version": __version__,
        }


@dataclass(frozen=True)
class Comparison:
    """All rows and the ranking; a `Result`.

    Parameters:
        chains : label -> chain, in the order given
        frames : the frames that could be read, in order
        rows : one per frame and chain that fit
        ranking : places per output raster, best first
        by : the metric keys the ranking goes by
        reference : "ideal", "source" or the name of a reference picture
        failed : frame or "frame / chain" -> why it is missing
        warnings : what a reader should know before trusting the table
    """

    chains: Mapping[str, Chain]
    frames: tuple[FrameSource, ...]
    rows: tuple[Row, ...]
    ranking: tuple[Place, ...]
    by: tuple[str, ...]
    reference: str
    failed: Mapping[str, str]
    warnings: tuple[str, ...]

    kind = "compare"

    @property
    def pictures(self) -> dict[str, Any]:
        """None: pictures are made frame by frame when they are written."""
        return {}

    def sentences(self) -> list[str]:
        """Return the verdict in a reviewer's words."""
        return comparison_sentences(self.ranking, self.warnings, self.failed)

    def table(self) -> Table:
        """Return the ranking."""
        rows, above = [], ""
        for p in self.ranking:
            rows.append(("" if p.raster == above else p.raster, str(p.rank), p.chain, p.reason))
            above = p.raster
        names = ("screen", "place", "chain", "why")
        align = ("left", "right", "left", "left")
        return Table("Ranking by " + ", ".join(self.by), names, tuple(rows), align)

    def to_dict(self) -> dict[str, Any]:
        """Return rows, ranking and settings."""
        return {
            "chains": {label: str(chain.text) for label, chain in self.chains.items()},
            "frames": [frame.name for frame in self.frames],
            "reference": self.reference,
            "by": list(self.by),
            "rows": [row.to_dict() for row in self.rows],
            "ranking": [place.to_dict() for place in self.ranking],
            "failed": dict(self.failed),
            "warnings": list(self.warnings),
            "units": {name: key_of(name).unit for name in METRICS},
        }


def raster_name(prediction: Prediction) -> str:
    """Return what chains must share to be ranked together: scan lines on the screen and rate class."""
    raster = prediction.raster
    scan = "interlaced" if raster.scan == "interlaced" else "scan"
    return f"{raster.landed_lines} {scan} lines at {float(raster.rate):.0f} Hz"


def compare(
    chains: Mapping[str, Chain | str],
    frames: Iterable[Clip | FrameSource],
    *,
    reference: str | NDArray = "ideal",
    by: Iterable[str] = DEFAULT_BY,
    metrics: Iterable[str] | None = None,
    group_by: str | None = None,
    advance: Callable[[str], None] = lambda _: None,
) -> Comparison:
    """Return every frame through every chain, measured and ranked.

    Parameters:
        chains : label -> chain or its text
        frames : still clips, or `FrameSource`s that are read one at a time
        reference : what SSIM and its kin compare with: "ideal", "source", or a (lines, samples, 3)
            picture of the output rasters' size
        by : metric keys the ranking goes by, all of equal weight
        metrics : keys to measure; None measures all (those of `by` are always measured)
        group_by : key of the frames' notes; frames whose notes differ in it are ranked apart
        advance : called with what is worked on next, once per frame and chain
    Raises: ParameterError for no frames, no chains, unknown keys or a note's key no frame has. What a
        frame or a pair cannot do is reported in `failed`, the rest is done
    """
    named = reference if isinstance(reference, str) else "a picture"
    if isinstance(reference, str) and reference not in REFERENCES:
        raise ParameterError(f"reference is '{reference}'; {nearest(reference, REFERENCES)}, or a picture")
    parsed = _parsed(chains)
    names = _names(metrics, by)
    sources = [_as_source(frame) for frame in frames]
    if not sources:
        raise ParameterError("no frames to compare; name at least one picture")
    _check_group(group_by, sources)
    rows: list[Row] = []
    failed: dict[str, str] = {}
    for source in sources:
        rows += _measured(source, parsed, names, reference, failed, advance)
    read = tuple(source for source in sources if source.name not in failed)
    keys = check_metrics(by)
    places = rank(rows, keys, group=lambda row: _group(row, named, group_by))
    return Comparison(
        parsed, read, tuple(rows), tuple(places), keys, named, failed, tuple(_warnings(read, rows))
    )


def _measured(
    source: FrameSource,
    chains: Mapping[str, Chain],
    names: tuple[str, ...],
    reference: str | NDArray,
    failed: dict[str, str],
    advance: Callable[[str], None],
) -> list[Row]:
    """Return the rows of one frame; what cannot be done is added to `failed`. The frame is let go after."""
    rows: list[Row] = []
    try:
        clip = source.load()
    except ScalesimError as error:
        failed[source.name] = str(error)
        return rows
    for label, chain in chains.items():
        advance(f"{source.name}: {label}")
        try:
            rows.append(_row(source, label, predict(clip, chain, metrics=names, reference=reference)))
        except ScalesimError as error:
            failed[f"{source.name} / {label}"] = str(error)
    return rows


def _group(row: Row, reference: str, group_by: str | None) -> str:
    """Return with whom a row is ranked: its screen (any, against the source), and its note's value."""
    screen = "all screens" if reference == "source" else row.raster
    return screen if group_by is None else f"{screen}, {group_by} {row.settings.get(group_by, NOT_NOTED)}"


def _check_group(group_by: str | None, sources: Sequence[FrameSource]) -> None:
    noted = sorted({key for source in sources for key in source.settings})
    if group_by is not None and group_by not in noted:
        known = nearest(group_by, noted) if noted else "no frame has a note"
        raise ParameterError(f"group_by is '{group_by}', which no frame's note has; {known}")


def _parsed(chains: Mapping[str, Chain | str]) -> dict[str, Chain]:
    if not chains:
        raise ParameterError("no chains to compare; give at least one, such as 'line-drop lines=240'")
    return {label: as_chain(chain) for label, chain in chains.items()}


def _names(metrics: Iterable[str] | None, by: Iterable[str]) -> tuple[str, ...]:
    ranked = check_metrics(by)
    if not ranked:
        raise ParameterError("by is empty; name at least one metric to rank by")
    for name in ranked:
        if key_of(name).better == "neither":
            raise ParameterError(f"by: {name} has no better or worse; rank by another metric")
    asked = check_metrics(metrics)
    return tuple(dict.fromkeys([*asked, *ranked]))


def _as_source(frame: Clip | FrameSource) -> FrameSource:
    if isinstance(frame, FrameSource):
        return frame
    if not isinstance(frame, Clip):
        raise ParameterError(f"frame is {type(frame).__name__}; give a clip made by read() or still_clip()")
    return FrameSource(frame.name, lambda: frame)


def _row(source: FrameSource, label: str, prediction: Prediction) -> Row:
    return Row(
        source.name,
        label,
        "predicted",
        raster_name(prediction),
        prediction.source.mode,
        prediction.mode_out,
        prediction.metrics,
        prediction.why,
        prediction.how,
        source.settings,
    )


def _warnings(frames: Sequence[FrameSource], rows: Sequence[Row]) -> list[str]:
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

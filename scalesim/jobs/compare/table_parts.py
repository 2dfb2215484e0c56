"""The parts of a comparison's page that hold tables and words alone, no pictures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from scalesim.jobs.compare.evidence import Opens
from scalesim.jobs.compare.place import Place, Verdict
from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.tables import (
    failures_table,
    metric_tables,
    ranking_tables,
    settings_table,
    standing_tables,
)
from scalesim.jobs.compare.words import FIDELITY_NOTE, reference_sentence
from scalesim.jobs.frames import FrameSource
from scalesim.result import Part, chains_part


def ranked_part(ranking: Sequence[Place], verdicts: Sequence[Verdict]) -> Part:
    """Return the ranking, and how its places came about."""
    tables = (*ranking_tables(ranking), *standing_tables(verdicts))
    said = (
        "Chains are ranked with those whose pictures have the same lines on the screen. "
        "A mean rank of 1 is first everywhere; differences below what a measure resolves are ties. "
        "Lead is the share of resamples of the frames in which a chain alone is first, told from six "
        "frames on by every measure that decides. What is kept above 100 % counts as 100. A capture "
        "that agrees with a prediction shares its place."
    )
    none = () if tables else ("No chain could be ranked; the appendix says why.",)
    return Part("Ranking", (said, *none), tables, "ranking", quiet_text=True)


def measured_parts(rows: Sequence[Row], matched: Sequence[Row], opens: Opens) -> Iterable[Part]:
    """Yield every figure frame by frame; `matched` are predictions as a capture's path shows them."""
    tables = metric_tables(rows, fidelity=False, opens=opens)
    bold = (
        "Bold is the best on its screen, compared as printed. A dash is a value that cannot be had; "
        "the note below the table says why."
    )
    text = (bold,) if tables else (bold, "Nothing was measured.")
    yield Part("Figures, frame by frame", text, tables, "figures", quiet_text=True)
    if matched:
        said = "Predictions as a capture's path shows them, and the capture less what its noise adds."
        items = metric_tables(matched, fidelity=False)
        yield Part("Matched to captures", (said,), items, "matched", quiet_text=True)


def chains_parts(
    chains: Mapping[str, str], captures: Iterable[str], frames: Sequence[FrameSource]
) -> Iterable[Part]:
    """Yield the chains as text, by their labels, and what was set on the boxes while frames were taken."""
    yield chains_part({**chains, **dict.fromkeys(captures, "a real box, captured")})
    settings = settings_table(frames)
    if settings is not None:
        yield Part("Settings", items=(settings,), anchor="settings")


def appendix_parts(rows: Sequence[Row], reference: str, failed: Mapping[str, str]) -> Iterable[Part]:
    """Yield likeness to the reference, and what could not be done."""
    fidelity = metric_tables(rows, fidelity=True)
    if fidelity:
        said = f"{FIDELITY_NOTE} {reference_sentence(reference)}"
        yield Part("Likeness to the reference", (said,), fidelity, "appendix")
    failures = failures_table(failed)
    if failures is not None:
        yield Part("What could not be done", items=(failures,), anchor="failures")

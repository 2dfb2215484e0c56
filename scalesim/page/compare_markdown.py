"""A comparison's text in Markdown, in the order of the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scalesim.jobs.compare.compare import Comparison
from scalesim.page import markdown as md
from scalesim.page.compare_tables import (
    chains_of,
    columns_of,
    failures_table,
    metric_table,
    ranking_tables,
    settings_table,
)
from scalesim.page.compare_words import (
    CAUTIONS,
    FIDELITY_NOTE,
    MODELLED,
    opening,
    reference_sentence,
    title_of,
)
from scalesim.version import __version__


def comparison_markdown(
    comparison: Comparison, stills: Mapping[str, Sequence[str]], plots: Sequence[tuple[str, str]]
) -> str:
    """Return the document; figures are named by their places beside it."""
    parts = [f"# {md.escaped(title_of(comparison))}", *_said(opening(comparison))]
    parts += ["## Verdict", *_said(comparison.sentences())]
    parts += ["## Ranking", *(md.text_table(table) for table in ranking_tables(comparison))]
    parts += ["## Pictures", *_pictures(stills)]
    if plots:
        parts += ["## Plots", *(md.figure(name, words) for name, words in plots)]
    parts += ["## Figures frame by frame", *_metric_tables(comparison, fidelity=False)]
    parts += ["## The chains", *_chains(comparison)]
    settings = settings_table(comparison)
    if settings is not None:
        parts += ["## Settings", md.text_table(settings)]
    parts += ["## What is modelled, and what is not", *_said(MODELLED)]
    parts += ["## Cautions", *_said(CAUTIONS)]
    parts += ["## Appendix", *_appendix(comparison)]
    return "\n\n".join(parts) + "\n"


def _said(sentences: Sequence[str]) -> list[str]:
    return [md.escaped(sentence) for sentence in sentences]


def _pictures(stills: Mapping[str, Sequence[str]]) -> list[str]:
    return [
        md.figure(names[0], f"{frame}: the same place through the chains") for frame, names in stills.items()
    ]


def _metric_tables(comparison: Comparison, *, fidelity: bool) -> list[str]:
    columns = columns_of(comparison.rows, fidelity=fidelity)
    if not columns:
        return []
    frames = dict.fromkeys(row.frame for row in comparison.rows)
    by_frame = ([row for row in comparison.rows if row.frame == frame] for frame in frames)
    return [
        md.metric_table(metric_table(name, rows, columns))
        for name, rows in zip(frames, by_frame, strict=True)
    ]


def _chains(comparison: Comparison) -> list[str]:
    return [f"**{md.escaped(label)}**\n\n{md.code_block(text)}" for label, text in chains_of(comparison)]


def _appendix(comparison: Comparison) -> list[str]:
    parts = []
    fidelity = _metric_tables(comparison, fidelity=True)
    if fidelity:
        parts += _said([f"{FIDELITY_NOTE} {reference_sentence(comparison)}"]) + fidelity
    failures = failures_table(comparison)
    if failures is not None:
        parts.append(md.text_table(failures))
    return [*parts, f"Made with scalesim {__version__}."]

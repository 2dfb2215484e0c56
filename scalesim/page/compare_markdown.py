"""A comparison's text and tables in Markdown, its figures beside it."""

from __future__ import annotations

from collections.abc import Sequence

from scalesim.jobs.compare import Comparison
from scalesim.page import compare_tables as tables
from scalesim.page import compare_words as said
from scalesim.page.markdown import code_block, escaped, figure, metric_table, text_table


def comparison_markdown(
    comparison: Comparison, stills: Sequence[str], plots: Sequence[tuple[str, str]]
) -> str:
    """Return the document; `stills` are file names in figures/, `plots` (name, caption) of SVGs there."""
    parts = [f"# {escaped(said.title_of(comparison))}"]
    parts += [escaped(text) for text in (*said.opening(comparison), *comparison.sentences())]
    parts += ["## Ranking", *(text_table(table) for table in tables.ranking_tables(comparison))]
    if stills:
        parts += ["## Pictures", figure(f"figures/{stills[0]}", "The same part after each chain")]
    parts += ["## Plots", *(figure(f"figures/{name}.svg", caption) for name, caption in plots)]
    parts += ["## Measured", *_tables(comparison, fidelity=False)]
    parts += [
        "## Chains",
        *(f"{escaped(name)}\n\n{code_block(text)}" for name, text in tables.chains_of(comparison)),
    ]
    for table in (tables.settings_table(comparison), tables.failures_table(comparison)):
        if table is not None:
            parts.append(text_table(table))
    parts += ["## What was modelled", *(escaped(text) for text in said.MODELLED)]
    parts += ["## Cautions", *(escaped(text) for text in said.CAUTIONS)]
    parts += [
        "## Appendix: likeness",
        escaped(said.reference_sentence(comparison)),
        escaped(said.FIDELITY_NOTE),
    ]
    parts += _tables(comparison, fidelity=True)
    return "\n\n".join(parts) + "\n"


def _tables(comparison: Comparison, *, fidelity: bool) -> list[str]:
    found = []
    for frame in comparison.frames:
        rows = [row for row in comparison.rows if row.frame == frame.name]
        columns = tables.columns_of(rows, fidelity=fidelity)
        if rows and columns:
            found.append(metric_table(tables.metric_table(frame.name, rows, columns)))
    return found

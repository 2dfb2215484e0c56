"""What a tuning's plots and tables call dials and scores: plain words with their units, shares in percent."""

from __future__ import annotations

from collections.abc import Callable

from scalesim.chain.keys import find_key
from scalesim.chain.vary import Varied
from scalesim.core.raster import Raster
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.point import value_text
from scalesim.metrics import key_of
from scalesim.metrics.key import ONE
from scalesim.search.objective import Objective

_PLAIN = {
    ("position", "lines"): "picture moved down",
    ("position", "samples"): "picture moved right",
    ("size", "height"): "height of the picture",
    ("size", "width"): "width of the picture",
}
_UNITS = {"percent": "%"}


def dial_name(tuning: Findings, dial: Varied) -> str:
    """Return what a dial does: "picture moved down", "phase of line-average"."""
    place = find_key(tuning.before.stages, dial.key)
    kind = tuning.before.stages[place.stage].kind
    return _PLAIN.get((kind, place.key), f"{place.key.replace('_', ' ')} of {kind}")


def dial_unit(tuning: Findings, dial: Varied) -> str:
    """Return the unit of a dial's values, lines told as what they are there; "" for none."""
    place = find_key(tuning.before.stages, dial.key)
    if tuning.before.stages[place.stage].kind == "position" and place.key == "lines":
        return several_lines(line_name(tuning, place.stage))
    return _UNITS.get(dial.unit, dial.unit)


def period_text(tuning: Findings) -> str:
    """Return "repeats every 3 source lines", or "repeats every source line"."""
    assert tuning.repeats is not None
    count, unit = value_text(tuning.repeats), dial_unit(tuning, tuning.dials[0])
    if count == "1" and unit.endswith("lines"):
        return f"repeats every {unit.removesuffix('s')}"
    return f"repeats every {count} {unit}".rstrip()


def dial_head(tuning: Findings, dial: Varied) -> str:
    """Return name and unit of a dial, for an axis or the head of a column."""
    unit = dial_unit(tuning, dial)
    return f"{dial_name(tuning, dial)}, {unit}" if unit else dial_name(tuning, dial)


def line_name(tuning: Findings, stage: int) -> str:
    """Return what a line is called in front of a stage: of the source, of a field, of a raster."""
    raster: Raster = tuning.chain.resolve(tuning.source).rasters[stage]
    if raster.period == 2:
        return "field line"
    return "source line" if raster.lines == tuning.source.lines else f"line of {raster.lines}"


def several_lines(name: str) -> str:
    """Return the plural: "source lines", "lines of 480"."""
    return name.replace("line", "lines", 1)


def score_head(objective: Objective) -> str:
    """Return what a score is, with its unit and which way is better."""
    better = "higher is better" if objective.higher_is_better else "lower is better"
    names = [key_of(name) for name in objective.keys]
    if objective.how == "one":
        unit = "" if names[0].shown_unit == ONE else f", {names[0].shown_unit}"
        return f"{names[0].label}{unit} ({better})"
    what = ", ".join(key.short for key in names)
    return f"{'mean' if objective.how == 'mean' else 'weighted sum'} of {what} ({better})"


def score_scale(objective: Objective) -> Callable[[float | None], float | None]:
    """Return what puts a score into the unit of `score_head`."""
    if objective.how != "one":
        return lambda score: score
    key = key_of(objective.keys[0])
    return lambda score: None if score is None else key.scaled(score)


def score_cell(objective: Objective, score: float | None) -> str:
    """Return a score as a table's text, in the unit of `score_head`."""
    if score is None:
        return "none"
    if objective.how != "one":
        return f"{score:.3f}"
    key = key_of(objective.keys[0])
    return f"{key.scaled(score):.1f}" if key.share else key.number(score, fine=True)[0]

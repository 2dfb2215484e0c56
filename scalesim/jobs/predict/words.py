"""Results in a reviewer's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scalesim.core.raster import Raster
from scalesim.jobs.compare.place import Place
from scalesim.metrics import key_of

LABELS = {
    "edge_spread_lines": "height of a horizontal edge",
    "edge_count": "edges measured",
    "edge_spread_samples": "width of a vertical edge",
    "edge_samples_count": "vertical edges measured",
    "mtf50_lines": "finest vertical detail (MTF50)",
    "mtf50_samples": "finest horizontal detail (MTF50)",
    "line_doubling": "outlines split over two lines",
    "lost_lines": "thin horizontal detail lost",
    "staircase": "stairs in slanted edges",
    "flicker_percent": "flicker, mean",
    "flicker_p95": "flicker, worst twentieth",
    "flicker_area": "area that flickers by over 10 %",
    "flicker_db": "flicker as the eye weighs it",
    "combing": "line-to-line tearing of motion",
    "ssim": "likeness to the ideal (SSIM)",
    "ms_ssim": "likeness at five scales (MS-SSIM)",
    "delta_e_2000": "colour difference (ΔE2000)",
    "psnr_db": "likeness to the ideal (PSNR)",
    "cropped_percent": "picture cut off",
    "displacement_lines": "picture lies lower than ideal by (− higher)",
}
"""Metric key -> what a reviewer calls it."""

_SHARES = {
    "line_doubling": "% of outlines",
    "lost_lines": "% of thin detail",
    "staircase": "% of a drop's",
    "combing": "% of line changes",
}
DIGITS = {
    "ssim": 4,
    "ms_ssim": 4,
    "edge_samples_count": 0,
    "edge_spread_samples": 2,
    "mtf50_lines": 2,
    "mtf50_samples": 2,
    "delta_e_2000": 2,
    "edge_count": 0,
    "displacement_lines": 2,
    "edge_spread_lines": 2,
}
"""Metric key -> digits shown after the point; others have one."""


def number_text(key: str, value: float) -> tuple[str, str]:
    """Return (value, unit) of a metric as a reviewer reads it; shares become percent."""
    if key in _SHARES:
        return f"{100 * value:.0f}", _SHARES[key]
    text = f"{value:.{DIGITS.get(key, 1)}f}"
    return (text.removeprefix("-") if not text.strip("-0.") else text), key_of(key).unit


def metric_rows(
    metrics: Mapping[str, float | None], why: Mapping[str, str], how: Mapping[str, str] | None = None
) -> tuple[tuple[str, ...], ...]:
    """Return one row per metric: what it is, value, unit (or why there is no value), what is better.

    Where a metric can be had in several ways, `how` names the one taken, beside the unit.
    """
    rows = []
    for key, value in metrics.items():
        better = {"neither": "", "lower": "lower", "higher": "higher"}[key_of(key).better]
        if value is None:
            rows.append((LABELS.get(key, key), "none", f"({why[key]})", better))
        else:
            number, unit = number_text(key, value)
            by = f", by {how[key]}" if how and key in how else ""
            rows.append((LABELS.get(key, key), number, unit + by, better))
    return tuple(rows)


def metric_sentences(metrics: Mapping[str, float | None]) -> list[str]:
    """Return what the metrics say of sharpness, splitting, steadiness and cropping, one sentence each."""
    found = ((say, metrics.get(key)) for key, say in _SAY.items())
    return [say(value) for say, value in found if value is not None]


def signal_sentence(mode_in: str, mode_out: str, raster: Raster) -> str:
    """Return what signal leaves the chain."""
    lines = {
        "progressive": f"{raster.lines} lines, the same ones every picture",
        "interlaced": f"{raster.lines} lines a field, the second field half a line lower",
        "field-only": f"{raster.lines} lines a field, both fields on one set of scan lines",
    }[raster.scan]
    name = "" if mode_out == "custom" else f"{mode_out}: "
    return f"{mode_in} comes out as {name}{lines}, {raster.samples} samples a line."


def _edge(value: float) -> str:
    return (
        f"A horizontal edge is {value:.2f} scan lines tall "
        "(0.8 is the sharpest a progressive picture can be, 0.4 an interlaced one)."
    )


def _split(value: float) -> str:
    return f"{100 * value:.0f} % of the outlines are split over one scan line more than they need."


def _lost(value: float) -> str:
    return f"{100 * value:.0f} % of the thin horizontal detail is gone."


def _flicker(value: float) -> str:
    if value == 0:
        return "The picture stands still: nothing alternates between fields."
    return f"The light alternates by {value:.1f} % of white on average between fields."


def _cropped(value: float) -> str:
    return "Nothing is cut off." if value < 0.05 else f"{value:.1f} % of the picture is hidden or pushed out."


_SAY = {
    "edge_spread_lines": _edge,
    "line_doubling": _split,
    "lost_lines": _lost,
    "flicker_percent": _flicker,
    "cropped_percent": _cropped,
}


_GOOD = {
    "edge_spread_lines": "sharpest edges",
    "edge_spread_samples": "sharpest along the line",
    "line_doubling": "fewest split outlines",
    "lost_lines": "least detail lost",
    "staircase": "smoothest slopes",
    "flicker_percent": "steadiest",
    "cropped_percent": "shows most of the picture",
}
_BAD = {
    "edge_spread_lines": "softest edges",
    "edge_spread_samples": "softest along the line",
    "line_doubling": "most split outlines",
    "lost_lines": "most detail lost",
    "staircase": "most jagged slopes",
    "flicker_percent": "flickers most",
    "cropped_percent": "cuts most of the picture",
}


def place_reason(chain: str, medians: Mapping[str, Mapping[str, float | None]], by: tuple[str, ...]) -> str:
    """Return why a chain has its place: in what it is best and worst of those it is ranked with."""
    if len(medians) == 1:
        return "the only one on its screen"
    best, worst = [], []
    for key in by:
        values = {name: m[key] for name, m in medians.items() if m[key] is not None}
        own = values.get(chain)
        if own is None or len(values) < 2:
            continue
        known = [value for value in values.values() if value is not None]
        low, high = min(known), max(known)
        if high - low <= 1e-6:
            continue
        good, bad = (high, low) if key_of(key).better == "higher" else (low, high)
        shown = " ".join(number_text(key, own))
        if abs(own - good) <= 1e-6:
            best.append(f"{_GOOD.get(key, 'best ' + key)} ({shown})")
        elif abs(own - bad) <= 1e-6:
            worst.append(f"{_BAD.get(key, 'worst ' + key)} ({shown})")
    said = []
    if best:
        said.append(", ".join(best))
    if worst:
        said.append("but " + ", ".join(worst) if best else ", ".join(worst))
    return "; ".join(said) or "in the middle by every measure"


def comparison_sentences(
    ranking: Sequence[Place], warnings: Sequence[str], failed: Mapping[str, str]
) -> list[str]:
    """Return the verdict: the first of each raster and why, then what to keep in mind."""
    said = []
    rasters = list(dict.fromkeys(place.raster for place in ranking))
    for raster in rasters:
        members = [place for place in ranking if place.raster == raster]
        firsts = [place for place in members if place.rank == 1]
        frames = members[0].frames
        over = f"{frames} frame" + ("s" if frames != 1 else "")
        if len(members) == 1:
            said.append(f"On {raster}, there is one chain only: {members[0].chain}.")
        elif len(firsts) > 1:
            names = ", ".join(place.chain for place in firsts)
            said.append(f"On {raster}, {names} share the first place over {over}.")
        else:
            said.append(f"On {raster}, {firsts[0].chain} comes first over {over}: {firsts[0].reason}.")
    if len(rasters) > 1:
        said.append("Screens of different lines are ranked apart, unless the source is the reference.")
    said += list(warnings)
    if failed:
        said.append(f"{len(failed)} could not be done: {'; '.join(f'{k} ({v})' for k, v in failed.items())}")
    return said

"""How much of the picture the display hides or a stage pushed out of its raster."""

from __future__ import annotations

from scalesim.core.affine import Affine
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.key import Key


def _said(value: float) -> str:
    return "Nothing is cut off." if value < 0.05 else f"{value:.1f} % of the picture is hidden or pushed out."


@metric(
    Key(
        "cropped_percent",
        "% of picture area",
        "lower",
        "picture cut off",
        reading="picture that is hidden by the display or pushed out by a stage",
        family="crop",
        needs="geometry",
        short="the picture cut off",
        head="cut off, %",
        wins="cuts off less of the picture",
        best="shows most of the picture",
        worst="cuts most of the picture",
        told=True,
        say=_said,
    )
)
def cropped_percent(evidence: Evidence) -> tuple[float]:
    """100 * (1 - kept height share * kept width share) of the source picture, from the geometry alone.

    Definition of this project: a source line is kept when no stage moved it out of its raster and it
    lies inside the visible window of the output; where a display is looked at, inside what its overscan
    leaves (a chain's own overscan stage takes its place, as on the glass).
    """
    seen, geometry = evidence.shown or evidence.raster.visible, evidence.geometry
    lines, samples = evidence.landed.shape[:2]
    height = _kept_length(
        geometry.landed_blocks(evidence.raster), (seen.top, seen.bottom), lines, geometry.kept_lines
    )
    width = _kept_length(evidence.samples, (seen.left, seen.right), samples, geometry.kept_samples)
    return (100.0 * (1.0 - height / evidence.source.shape[0] * width / evidence.source.shape[1]),)


def _kept_length(look: Affine, seen: tuple[float, float], size: int, kept: tuple[float, float]) -> float:
    """Return the length of source, in its lines or samples, that is kept and inside the window."""
    low = max(kept[0], look(seen[0] * size)) if seen[0] > 0 else kept[0]
    high = min(kept[1], look(seen[1] * size)) if seen[1] < 1 else kept[1]
    return max(0.0, high - low)

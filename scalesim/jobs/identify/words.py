"""What a capture told about a box, in a reviewer's words."""

from __future__ import annotations

from collections.abc import Sequence

from scalesim.jobs.identify.findings import Findings
from scalesim.jobs.identify.plain import plain_method, sure
from scalesim.result import Table

_RELATIONS = {
    "same": "Both fields show the same lines.",
    "half-line": "The bottom field shows content half a line below the top field: a true interlaced picture.",
    "swapped": (
        "The fields are swapped in the capture: what it gives as the top field looks half a line below what "
        "it gives as the bottom field. The chain is for the right order; its pictures here are put "
        "right."
    ),
    "progressive": "It was read as one picture, without fields.",
    "unknown": "The fields' contents lie neither on the same lines nor half a line apart.",
}
_LANDING = (
    "Where the fields land on the screen cannot be seen in a capture: a trace of the sync or a photo of the "
    "tube tells."
)
_MOST_TOLD = 16
"""Names in one sentence; what is beyond them is counted."""
_PATH = "What the capture itself does to lines counts as the box's: it must take them as they come, unscaled."


def sentences(found: Findings) -> list[str]:
    """Return the outcome, first what the box does, then what limits the answer."""
    said = [_method(found), *_ties(found), *_values(found), _RELATIONS[found.field_relation]]
    if found.field_relation != "progressive":
        said.append(_LANDING)
    said += [f"{note[0].upper()}{note[1:]}." for note in found.notes]
    said.append(_PATH)
    return said


def _method(found: Findings) -> str:
    ratio = f"{found.step:.4g} source lines a line"
    if not found.methods:
        return (
            f"None of the methods that were tried fits: the kernel as measured is the answer ({ratio}; the "
            f"nearest name leaves {found.misfit_ratio:.2f} times the misfit of the best kernel; "
            f"{sure(found)})."
        )
    doing = plain_method(found) or f"does this to lines: {found.methods[0]}"
    said = f"The box {doing} ({sure(found)})."
    said += f" As stages: {found.methods[0]}; {ratio}, {_phase(found)}."
    if found.method == "unknown":
        said += " No chain that was tried gives just that, so the chain holds the weights as measured."
    return said


def _phase(found: Findings) -> str:
    if isinstance(found.phase, tuple):
        low, high = (round(end, 3) + 0.0 for end in found.phase)
        return f"phase from {low:g} to {high:g}"
    # rounding must not leave a minus before nothing
    return f"phase {round(found.phase, 3) + 0.0:.3f}" if found.phase is not None else "no phase"


def _phase_cells(found: Findings) -> tuple[str, str]:
    """Return the phase and its unit; none where no name gives it."""
    if found.phase is None:
        return "none, as no name fits", ""
    return _phase(found).removeprefix("phase "), "source lines"


def _signed(value: float, digits: int) -> str:
    """Return a number with its sign; rounding must not leave a minus before nothing."""
    return f"{round(value, digits) + 0.0:+.{digits}f}"


def _ties(found: Findings) -> list[str]:
    others = [name for name in found.methods[1:] if name not in found.same_lines]
    said = []
    if found.same_lines:
        said.append(f"At this ratio the same lines come from: {_listed(found.same_lines)}.")
    if others:
        said.append(
            f"Within this capture's noise these fit as well, though their weights differ by up to "
            f"{found.doubt:.2f} a line (sum of differences): {_listed(others)}."
        )
    if said:
        said.append(f"Play the chart at {other_mode(found)} to tell them apart.")
    return said


def _listed(names: Sequence[str]) -> str:
    """Return names in a row; where they are many, how many more there are and where."""
    told = "; ".join(names[:_MOST_TOLD])
    more = len(names) - _MOST_TOLD
    return f"{told}; and {more} more, in `methods` of result.json" if more > 0 else told


def other_mode(found: Findings) -> str:
    """Return a second source mode whose ratio is another kind of fraction."""
    return "1080p" if found.lines_in != 1080 else "720p"


def _values(found: Findings) -> list[str]:
    return {
        "code": ["It mixes gamma-coded values, not linear light."],
        "light": ["It mixes linear light, not gamma-coded values."],
        "undecidable": ["It only picks lines, so gamma-coded values and linear light give the same result."]
        if found.methods
        else ["Whether it mixes gamma-coded values or linear light could not be told."],
    }[found.encoding]


def _blur(found: Findings) -> str:
    """Return the blur along a line and its standard error; what would have been told where there is none."""
    along = found.along
    if not along.blur:
        return f"none; {along.blur_error:.1f} would be told"
    return f"{along.blur:.2f} ± {max(along.blur_error, 0.01):.2f}"


def table(found: Findings) -> Table:
    """Return the numbers with their units."""
    worse = ", worse field" if len(found.rows) > 1 else ""
    rows = (
        ("source lines per line", f"{found.step:.5f}", "lines"),
        ("phase", *_phase_cells(found)),
        ("width of the capture", f"{100 * found.along.scale:.2f}", "% of the source's"),
        ("begins at the left", _signed(100 * found.along.shift, 2), "% of the width"),
        ("blur along a line", _blur(found), "samples, sigma"),
        ("contrast", f"{found.gain:.3f}", "times"),
        ("black", _signed(255 * found.lift, 1), "of 255"),
        ("gamma of the capture path", f"{found.gamma:.3f}", ""),
        ("left unexplained, rms", f"{found.residual:.2f}", "of 255"),
        (f"misfit against the best kernel{worse}", f"{found.misfit_ratio:.3f}", "times"),
        ("confidence", f"{found.confidence:.2f}", "0…1"),
    )
    return Table("Identified from the capture", ("what", "value", "unit"), rows, ("left", "right", "left"))

"""What a capture told about a box, in a reviewer's words."""

from __future__ import annotations

from scalesim.jobs.identify.findings import Findings
from scalesim.result import Table

_RELATIONS = {
    "same": "Both fields show the same lines.",
    "half-line": "The second field shows content half a line below the first: a true interlaced picture.",
    "progressive": "One picture, no fields.",
    "unknown": "The fields' contents lie neither on the same lines nor half a line apart.",
}
_LANDING = (
    "Where the fields land on the screen cannot be seen in a capture: a trace of the sync or a photo of the "
    "tube tells."
)
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
    if found.method == "unknown":
        return (
            f"No method with a name fits: the kernel as measured is the answer ({ratio}; the nearest name "
            f"leaves {found.misfit_ratio:.2f} times the misfit)."
        )
    return f"The box does this to lines: {found.methods[0]} ({ratio}, {_phase(found)})."


def _phase(found: Findings) -> str:
    if isinstance(found.phase, tuple):
        return f"phase from {found.phase[0]:.3g} to {found.phase[1]:.3g}"
    # rounding must not leave a minus before nothing
    return f"phase {round(found.phase, 3) + 0.0:.3f}" if found.phase is not None else "no phase"


def _ties(found: Findings) -> list[str]:
    if len(found.methods) < 2:
        return []
    others = "; ".join(found.methods[1:5])
    return [
        f"At this ratio the same lines would come from: {others}. "
        f"Play the chart at {other_mode(found)} to tell them apart."
    ]


def other_mode(found: Findings) -> str:
    """Return a second source mode whose ratio is another kind of fraction."""
    return "1080p" if found.lines_in != 1080 else "720p"


def _values(found: Findings) -> list[str]:
    return {
        "code": ["Code values are mixed, not light."],
        "light": ["Light is mixed, not code values."],
        "undecidable": ["Code values or light makes no difference to lines that are only chosen."]
        if found.method != "unknown"
        else ["Whether code values or light is mixed could not be told."],
    }[found.encoding]


def table(found: Findings) -> Table:
    """Return the numbers with their units."""
    rows = (
        ("source lines per line", f"{found.step:.5f}", "lines"),
        ("phase", _phase(found).removeprefix("phase "), "source lines"),
        ("width of the capture", f"{100 * found.along.scale:.2f}", "% of the source's"),
        ("begins at the left", f"{100 * found.along.shift:+.2f}", "% of the width"),
        ("blur along a line", f"{found.along.blur:.2f}", "samples, sigma"),
        ("contrast", f"{found.gain:.3f}", "times"),
        ("black", f"{255 * found.lift:+.1f}", "of 255"),
        ("gamma of the capture path", f"{found.gamma:.3f}", ""),
        ("left unexplained, rms", f"{found.residual:.2f}", "of 255"),
        ("misfit against a free kernel", f"{found.misfit_ratio:.3f}", "times"),
        ("confidence", f"{found.confidence:.2f}", "0…1"),
    )
    return Table("Identified from the capture", ("what", "value", "unit"), rows, ("left", "right", "left"))

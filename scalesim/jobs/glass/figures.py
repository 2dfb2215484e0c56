"""A reading's plots: the line's profile, where lines lie, where they can be trusted."""

from __future__ import annotations

import numpy as np

from scalesim.jobs.glass.measured import Measured
from scalesim.jobs.glass.read import Filmed, Read
from scalesim.plot import Axis, Heat, Panel, Plot, Rule, Series
from scalesim.result import Item
from scalesim.signal.glass.profile import BINS

_NAMES = ("brighter half", "darkest third", "middle", "brightest third")


def figures(read: Read) -> tuple[Plot, ...]:
    """Return every plot."""
    if read.found is None:
        return ()
    shown = (item for _, _, items in sections(read, read.found) for item in items)
    return tuple(item for item in shown if isinstance(item, Plot))


def sections(read: Read, found: Measured) -> list[tuple[str, str, tuple[Item, ...]]]:
    """Return (title, text, plots) of the page's parts."""
    made: list[tuple[str, str, tuple[Item, ...]]] = []
    if read.film is not None:
        made.append(("Where fields land", "", (landing_plot(read.film),)))
    if found.profiles:
        made.append(("A line's profile", "", (profile_plot(found),)))
    if found.jitter is not None:
        made.append(("Where single lines stand", "", (jitter_plot(found),)))
    made.append(("Where lines can be trusted", "", (trust_plot(found),)))
    return made


def landing_plot(film: Filmed) -> Plot:
    """Return where each frame's lines lie over time: against the bezel where it is known."""
    held = film.strays is not None
    times, phases = (film.timed.times, film.timed.phases) if held else (film.times, film.phases)
    steady = phases - np.angle(np.exp(4j * np.pi * phases).mean()) / (4 * np.pi)
    places = (steady + 0.25) % 1 - 0.25
    if np.mean(places > 0.25) > 0.5:  # the place that most frames share is 0
        places = (places + 0.75) % 1 - 0.25
    dots = Series(tuple(map(float, times)), tuple(map(float, places)), size=4)
    panel = Panel(
        Axis("time, s"),
        Axis("place of the lines, pitches", -0.3, 0.8, grid=True),
        (dots,),
        (Rule("y", 0.0, "one place", dashed=True), Rule("y", 0.5, "half a pitch on", dashed=True)),
    )
    where = "the bezel, so that the camera's motion is not in it" if held else "the first frame's"
    but = "" if held else " but for the camera's own motion"
    caption = (
        f"Where each frame's lines lie against {where}. One set keeps to one place"
        f"{but}; two sets change between two places "
        "half a pitch apart as the fields do."
    )
    return Plot("landing", "Where the lines of each frame lie", caption, (panel,), size=(900, 340))


def profile_plot(found: Measured) -> Plot:
    """Return the folded light of a line at several brightnesses."""
    x = tuple((np.arange(-BINS, BINS) + 0.5) / BINS)
    series = tuple(
        Series(
            tuple(float(v) for v in x),
            tuple(float(v) for v in np.tile(shape.light, 2)),
            label=f"{name}, {100 * shape.share:.0f} % of the brightest",
            style="line",
            role=k,
        )
        for k, (name, shape) in enumerate(zip(_NAMES, found.profiles, strict=False))
    )
    panel = Panel(
        Axis("height, line pitches from the middle of a gap"),
        Axis("light, of its mean", 0, None, grid=True),
        series,
        (Rule("x", -0.5, "line", dashed=True), Rule("x", 0.5, "line", dashed=True)),
    )
    caption = (
        "Light over the height of two lines, folded over all lines of the photo, by how bright the picture "
        "is there. Beams grow with brightness; the camera's blur is still in it."
    )
    return Plot("profile", "The light of a line over its height", caption, (panel,), legend=2)


def jitter_plot(found: Measured) -> Plot:
    """Return where single lines lie against an even pitch."""
    jitter = found.jitter
    assert jitter is not None
    places = jitter.places - jitter.places.min()
    dots = Series(tuple(map(float, places)), tuple(map(float, jitter.offsets)), style="stems", size=3)
    reach = max(0.02, 1.2 * float(np.abs(jitter.offsets).max()))
    panel = Panel(
        Axis("line, counted downward in the photo"),
        Axis("off an even pitch, pitches", -reach, reach, grid=True),
        (dots,),
    )
    caption = "Each line's place less an even pitch; what is left moves whole lines inside one exposure."
    return Plot("jitter", "Where single lines stand", caption, (panel,), size=(900, 320))


def trust_plot(found: Measured) -> Plot:
    """Return how far lines can be trusted over the photo."""
    trust, lines = found.found.fit.trust, found.found.lines
    step = max(1, trust.shape[0] // 60, trust.shape[1] // 80)
    rows, columns = (n // step * step for n in trust.shape)
    small = trust[:rows, :columns].reshape(rows // step, step, columns // step, step).mean(axis=(1, 3))
    across = tuple(float(v) for v in np.linspace(0, lines.columns, small.shape[1] + 1))
    down = tuple(float(v) for v in np.linspace(0, lines.rows, small.shape[0] + 1))
    values = tuple(tuple(float(v) for v in column) for column in small.T)
    panel = Panel(
        Axis("photo, pixels across", 0, float(lines.columns)),
        Axis("pixels down", 0, float(lines.rows), downward=True),
        heat=Heat(across, down, values, "trust, 0 to 1"),
    )
    caption = (
        "1 where the lines agree with one even pattern over the photo, 0 where nothing goes up and down as "
        "they do: dark parts, the bezel, reflections."
    )
    return Plot("trust", "Where lines can be trusted", caption, (panel,), size=(760, 480))

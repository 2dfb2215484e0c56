"""Sheets of close looks side by side, as data."""

from __future__ import annotations

from dataclasses import dataclass

from scalesim.result.items import Box, Cell, Links, Picture


@dataclass(frozen=True, eq=False)
class PlatePanel:
    """A view of a plate.

    Parameters:
        picture : its dots as they are shown
        said, drawn : its figures, and how large it is drawn, in small letters
        marks : what points at things in it: points (x, y) in dots, whether they enclose an arrow's head, and
            whether the mark is quiet
        figures : what `said` says, figure by figure, where they open what they rest on
    """

    picture: Picture
    said: str
    drawn: str
    marks: tuple[tuple[tuple[tuple[float, float], ...], bool, bool], ...] = ()
    figures: tuple[Cell, ...] = ()


@dataclass(frozen=True, eq=False)
class Plate:
    """An annotated figure as a page shows it: made from a `Figure` when it is rendered.

    Parameters:
        title, caption, legend : the finding, what the figure shows, and what its marks mean
        panels : in the order they are read
        locator, frame : the whole picture, and the place of the part on it, in its dots; None without one
        stills : links to the same as stills, and where the page has a picture for links, its name
    """

    title: str
    caption: str
    legend: str
    panels: tuple[PlatePanel, ...]
    locator: Picture | None
    frame: Box | None
    stills: Links
    card: str = ""

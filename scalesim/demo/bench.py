"""What the demonstration shows: the club's frames, its boxes in series, and which goes with which.

The Lantern Row Tube Club is invented, and so are its games and its boxes. Its members put modern
games on living-room tubes with whatever chain of boxes they can find, and argue about the result.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module, resources

from numpy.typing import NDArray

CLUB = "Lantern Row Tube Club"


@dataclass(frozen=True)
class Scene:
    """A frame the club tests with.

    Parameters:
        key : name of its module and of its file
        title : the invented game
        mode : the mode the console sends it in
        about : what it is hard for, in a sentence
        look : the place to look at closely, as shares of the height and width
        chains : keys of the chain files that it goes through
        ends : the two of them that are shown beside the source, each better at something or not
        weighs : the measures that the two are weighed by
    """

    key: str
    title: str
    mode: str
    about: str
    look: tuple[float, float]
    chains: tuple[str, ...]
    ends: tuple[str, str]
    weighs: tuple[str, str]

    def draw(self) -> NDArray:
        """Return the frame, (lines, samples, 3) uint8, drawn afresh."""
        painter: Callable[[], NDArray] = import_module(f"scalesim.demo.{self.key}.frame").draw
        return painter()


SCENES = (
    Scene(
        "deepvault_corridor",
        "Deepvault: Lamps under Sill Nine",
        "1080p60",
        "A corridor in perspective at 1080p with gratings that run into the distance and small text: "
        "4.5 source lines to each scan line, and detail no 240 lines can carry.",
        (0.085, 0.095),
        ("overscan-1080p", "average", "blend", "interlaced-filtered", "letterbox"),
        ("blend", "average"),
        ("lost_lines", "line_doubling"),
    ),
    Scene(
        "ninth_lock_menu",
        "Ninth Lock Meridian",
        "480p59.94",
        "A 480p menu with rules one line thick and small text: a dropper loses every rule that falls on "
        "a dropped line.",
        (0.445, 0.175),
        ("drop-480p", "blend-480p", "interlaced", "interlaced-filtered", "interlaced-paired"),
        ("drop-480p", "interlaced"),
        ("lost_lines", "flicker_percent"),
    ),
    Scene(
        "kettle_crew",
        "Kettle Crew at Bellweather Quay",
        "720p60",
        "A hand-drawn look with dark outlines two to four source lines thick: whether an outline falls "
        "on one scan line or on two is a matter of a third of a line.",
        (0.72, 0.38),
        (
            "drop-720p",
            "average-then-drop",
            "average",
            "interlaced",
            "interlaced-filtered",
            "interlaced-paired",
            "one-set-down",
            "one-set-up",
            "one-set-paired-down",
            "one-set-paired-up",
            "one-set-shifted",
            "one-set-paired-shifted",
            "squeeze",
            "letterbox",
        ),
        ("average-then-drop", "interlaced"),
        ("false_detail", "flicker_percent"),
    ),
    Scene(
        "moss_tower",
        "Pellow and the Moss Tower",
        "720p60",
        "Pixel art of 320x240, each dot shown three by three, pillar-boxed in 720p. Every drawn line is "
        "three source lines tall, so a chain of the right ratio and phase can give it back exactly.",
        (0.44, 0.45),
        ("drop-720p", "average-then-drop", "average", "blend", "interlaced", "interlaced-filtered"),
        ("average", "interlaced-filtered"),
        ("detail_kept", "flicker_percent"),
    ),
    Scene(
        "pocket_orchard",
        "Marrowby's Pocket Orchard",
        "480p59.94",
        "A handheld's picture of 240x160 shown two by two in the middle of a 480p frame.",
        (0.505, 0.58),
        ("drop-480p", "average", "interlaced-filtered"),
        ("drop-480p", "average"),
        ("false_detail", "lost_lines"),
    ),
    Scene(
        "marrow_fens",
        "Marrow Fens: A Parish on Stilts",
        "576p50",
        "A 50 Hz frame of 576 lines with thin lines and small text.",
        (0.447, 0.595),
        ("drop-576p", "interlaced-576"),
        ("drop-576p", "interlaced-576"),
        ("lost_lines", "flicker_percent"),
    ),
    Scene(
        "comet_rally",
        "Comet Rally over Glasswater",
        "1080i60",
        "A pair of 1080i fields a sixtieth of a second apart: what moves is in two places at once, what "
        "stands still must line up in both fields after scaling.",
        (0.08, 0.12),
        ("fields-aware", "fields-naive"),
        ("fields-aware", "fields-naive"),
        ("staircase", "line_doubling"),
    ),
)

COMPARED_SCENES = ("kettle_crew", "moss_tower")
COMPARED_CHAINS = (
    "drop-720p",
    "average",
    "average-then-drop",
    "interlaced",
    "interlaced-filtered",
    "one-set-down",
)
"""What the demonstration's last page compares: 720p frames through the chains members argue about."""


def chain_files() -> dict[str, str]:
    """Return the chain files of the package: key -> TOML text, in alphabetical order."""
    return _texts("chains")


def display_files() -> dict[str, str]:
    """Return the files of the club's displays, with their vertical circuits, likewise."""
    return _texts("displays")


def _texts(name: str) -> dict[str, str]:
    folder = resources.files("scalesim.demo") / name
    files = {entry.name: entry for entry in folder.iterdir() if entry.name.endswith(".toml")}
    return {name.removesuffix(".toml"): files[name].read_text(encoding="utf-8") for name in sorted(files)}

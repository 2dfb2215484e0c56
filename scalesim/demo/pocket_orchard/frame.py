"""A frame of the invented handheld game "Marrowby's Pocket Orchard", small art boxed inside a larger frame.

Drawn: a late afternoon in a walled orchard seen from above, with cottage, beds, pond and a dialogue box.
Native size 240 x 160, shown twice enlarged (480 x 320) in the middle of a plain 720 x 480 surround. It tests
window-boxed sources, where the wanted picture is neither as high nor as wide as the frame: a chain must
find the inner raster. Text, fence, washing line and shingles are one dot thick.
"""

from __future__ import annotations

from scalesim.demo.pocket_orchard.cottage import cottage
from scalesim.demo.pocket_orchard.ground import (
    GRASS,
    LEAVES,
    LINES,
    SAMPLES,
    beds,
    hedge,
    meadow,
    path,
    pond,
    shadow,
)
from scalesim.demo.pocket_orchard.sprites import INK, orchard_sprite, portrait
from scalesim.draw.letters import text_width, write
from scalesim.draw.pixelart import (
    Blob,
    Frame,
    boxed,
    enlarged,
    foliage,
    oval,
    paint,
    ramp,
    rgb,
    segment,
    stamp,
)

TIMES = 2
_SURROUND = "0e1013"
_PEAR_LEAVES = ramp("27403a 3d6a3e 649a45 9dc452 d6e070 fbf4ae")
_CREAM, _BROWN = "fdf0d0", "6b4436"


def draw() -> Frame:
    """Return the frame, uint8 (480, 720, 3): the native art times two in a plain dark surround."""
    inner = enlarged(draw_native(), TIMES)
    # A thin lip, as of a screen let into its case; it stays outside the art.
    lip = boxed(boxed(inner, 320 + 4, 480 + 4, "07080a"), 320 + 6, 480 + 6, "23262c")
    return boxed(lip, 480, 720, _SURROUND)


def draw_native() -> Frame:
    """Return the art as it was drawn, uint8 (160, 240, 3)."""
    frame = meadow()
    path(frame)
    beds(frame)
    pond(frame)
    hedge(frame)
    cottage(frame)
    _washing(frame)
    _trees(frame)
    _fence(frame, 60, 92, 134)
    _people(frame)
    _day_panel(frame)
    _dialogue(frame)
    return frame


def _washing(frame: Frame) -> None:
    """Stretch a sagging washing line from the cottage to a pole."""
    frame[30:60, 132:134] = rgb(INK)
    frame[31:60, 132] = rgb("b0763f")
    line_at = [int(34 + 6 * (1 - ((s - 113) / 20) ** 2)) for s in range(93, 134)]
    for offset, line in enumerate(line_at):
        frame[line, 93 + offset] = rgb("fdf0d0")
    for left, width, length, code, dark in (
        (97, 8, 10, "fdf3dc", "cdb9b0"), (108, 6, 8, "e2788a", "a84a68"), (117, 9, 11, "86b4dc", "4f7fb8"),
    ):  # fmt: skip
        top = line_at[left - 93] + 1
        frame[top - 1 : top + length + 1, left - 1 : left + width + 1] = rgb(INK)
        frame[top : top + length, left : left + width] = rgb(code)
        frame[top : top + length, left + width - 2 : left + width] = rgb(dark)
        frame[top + length - 3, left : left + width] = rgb(dark)


def _trees(frame: Frame) -> None:
    """Plant the orchard, back row first."""
    for line, sample, kind, seed in (
        (20, 180, "apple", 21),
        (16, 224, "pear", 22),
        (47, 203, "apple", 23),
        (51, 169, "pear", 25),
        (54, 238, "apple", 24),
    ):
        _tree(frame, line, sample, kind, seed)
    _ladder(frame, 74, 188)


def _ladder(frame: Frame, line: int, sample: int) -> None:
    """Lean a ladder on a tree: two steep rails and rungs, each one dot thick with a dark edge."""
    for shift, code in ((-1, INK), (1, INK), (0, "f2d7a4")):
        for rail in (0, 6):
            segment(frame, (line, sample + rail + shift), (line - 34, sample + rail + 8 + shift), rgb(code))
    for rung in range(3, 34, 4):
        left = int(sample + rung * 8 / 34 + 0.5) + 1
        frame[line - rung, left : left + 5] = rgb("dcb47e")
        frame[line - rung + 1, left : left + 5] = rgb(INK)


def _tree(frame: Frame, line: int, sample: int, kind: str, seed: int) -> None:
    """Draw one fruit tree: ground shadow, trunk, crown of domes, fruit."""
    shadow(frame, (line + 23, sample + 5, 6, 19))
    frame[line + 10 : line + 24, sample - 4 : sample + 5] = rgb(INK)
    frame[line + 10 : line + 23, sample - 3 : sample + 4] = rgb("6b4436")
    frame[line + 10 : line + 23, sample - 3 : sample - 1] = rgb("a8713a")
    for step, reach in enumerate((7, 5, 3)):
        frame[line + 23 - step, sample - reach : sample + reach + 1 : 2] = GRASS[3 if step == 1 else 1]
    domes: list[Blob] = [
        (line + 5, sample - 9, 9, 10), (line + 6, sample + 9, 9, 10), (line + 8, sample, 8, 11),
        (line - 3, sample - 6, 10, 11), (line - 2, sample + 7, 10, 10), (line - 7, sample, 9, 10),
    ]  # fmt: skip
    colours = LEAVES if kind == "apple" else _PEAR_LEAVES
    foliage(frame, domes, colours, seed, outline="1c3034")
    for dy, dx in ((-9, -5), (-4, 6), (2, -13), (4, 2), (8, 11), (9, -6)):
        stamp(frame, orchard_sprite(kind), line + dy - 2, sample + dx - 2)


def _fence(frame: Frame, line: int, left: int, right: int) -> None:
    """Set a picket fence: two rails and posts with pale tops."""
    for rail in (line + 3, line + 8):
        frame[rail - 1 : rail + 2, left:right] = rgb(INK)
        frame[rail, left:right] = rgb("e8d2a8")
    for sample in range(left, right - 2, 7):
        frame[line - 1 : line + 13, sample - 1 : sample + 4] = rgb(INK)
        frame[line : line + 12, sample : sample + 3] = rgb("fdf0d0")
        frame[line : line + 12, sample + 2] = rgb("bfa080")


def _people(frame: Frame) -> None:
    """Bring in the keeper, the old badger, the hens and the cat."""
    for name, line, sample, flip in (
        ("skep", 12, 110, False), ("skep", 15, 124, False), ("sunflower", 55, 2, False),
        ("sunflower", 52, 93, False), ("hen", 94, 152, False), ("hen", 76, 66, True), ("cat", 71, 22, False),
        ("keeper", 76, 112, False), ("gran", 78, 134, False), ("basket", 92, 125, False),
    ):  # fmt: skip
        art = orchard_sprite(name, flip=flip)
        high, wide = art.solid.shape
        if not name.startswith("sun"):
            shadow(frame, (line + high - 1.5, sample + wide / 2 + 1, 3, wide / 2))
        stamp(frame, art, line, sample)
    for line, sample in ((14, 105), (10, 122), (27, 121), (22, 137), (32, 106)):
        frame[line, sample : sample + 2] = rgb("2b1b2e"), rgb("ffe27a")
        frame[line - 1, sample] = rgb("ffffff")


def _panel(frame: Frame, top: int, left: int, bottom: int, right: int) -> None:
    """Draw a paper panel with a double border and clipped corners."""
    for inset, code in ((0, INK), (1, "b0763f"), (2, "f2d7a4"), (3, "8a5230"), (4, _CREAM)):
        box = frame[top + inset : bottom - inset, left + inset : right - inset]
        corners = box[[0, 0, -1, -1], [0, -1, 0, -1]].copy()
        box[:] = rgb(code)
        box[[0, 0, -1, -1], [0, -1, 0, -1]] = corners


def _day_panel(frame: Frame) -> None:
    """Show day, hour and purse in the corner."""
    _panel(frame, 3, 158, 29, 237)
    write(frame, "Day 12", 8, 165, rgb("84303f"))
    write(frame, "16:40", 8, 232 - text_width("16:40"), rgb(_BROWN))
    frame[16, 163:232] = rgb("dcb47e")
    write(frame, "2480", 18, 232 - text_width("2480"), rgb(_BROWN))
    paint(frame, oval(LINES, SAMPLES, (21, 168, 3.4, 3.4)), rgb("b0763f"))
    paint(frame, oval(LINES, SAMPLES, (20.6, 167.6, 2.4, 2.4)), rgb("ffe27a"))


def _dialogue(frame: Frame) -> None:
    """Let the badger speak: portrait, name tab, three lines of text and a prompt."""
    _panel(frame, 111, 3, 158, 237)
    frame[115:155, 8:48] = rgb("8a5230")
    frame[117:153, 10:46] = portrait()
    _panel(frame, 102, 50, 118, 50 + 14 + text_width("Old Marrowby"))
    write(frame, "Old Marrowby", 106, 57, rgb("84303f"))
    speech = ("The late pears are ready, dear!", "Fill two baskets before dusk", "and I will bake us a tart.")
    for row, text in enumerate(speech):
        write(frame, text, 121 + 11 * row, 53, rgb("3d2430"), shadow=rgb("e8d2a8"))
    for step in range(4):
        frame[147 + step, 224 + step : 231 - step] = rgb("b54743")

"""What the demonstration says of itself."""

from __future__ import annotations

from scalesim.demo.bench import CLUB

OVERVIEW_SCENE = "kettle_crew"
OVERVIEW_CHAINS = {
    "drop-720p": "240p, lines dropped 3:1",
    "average": "240p, lines averaged",
    "interlaced-filtered": "480i, lines filtered 1/2/1",
}
OVERVIEW_WEIGHS = ("line_doubling", "false_detail")
"""What its verdict weighs."""

COLUMNS = (
    "edge_spread_lines",
    "line_doubling",
    "lost_lines",
    "flicker_percent",
    "flicker_area",
    "cropped_percent",
    "ssim",
)

OPENING = (
    f"The {CLUB} is invented, and so are its games and boxes. Its members send games through chains of "
    "boxes to televisions that draw 240 lines, or 480 as two fields.",
)
ABOUT_LOOKS = (
    "Each picture is cut from the predicted one at the shape of a 4:3 tube, its lines as they land, without "
    "beam or glow; follow it to see the whole. Two fields are shown with their lines in turn, or as their "
    "mean in light where they share one set of lines: nothing on this page flickers."
)

ABOUT_LAB = (
    'Drag the dials yourself: scalesim lab --chain "line-average lines=480, position lines=0, interlace" '
    "opens a page in your browser, served by your own machine to itself alone."
)

CLOSING = (
    "What is modelled: the lines and samples each box keeps, mixes or drops, its rounding, where the "
    "fields land, what the tube hides; on the tube, its beam and sharpness. What is not: geometry and "
    "glass, noise and lag. A prediction is a model; look at the real thing before you "
    "spend money.",
    "How to read the numbers: an edge 0.8 scan lines tall is as sharp as a progressive picture can be, "
    "0.4 an interlaced one. A split outline sits on one scan line more than it needs. Flicker is the "
    "change of light between two fields. SSIM is likeness to an ideal scaling and knows nothing of "
    "flicker, so it decides nothing alone.",
    "Alternate lines of light and dark flicker at 25 to 30 Hz on an interlaced display, which can harm "
    "people with photosensitive epilepsy. A tube holds lethal voltages when off: leave its inside to "
    "trained people, and follow the display's manual for input levels.",
)

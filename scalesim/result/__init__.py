"""What a job found, as data; see `answer` for how it is made, the others for what it may show."""

from scalesim.result.answer import FOOT, SCHEMA, Beside, File, Item, Part, Result, chains_part
from scalesim.result.article import Exhibit, Prose, Quote, Sheet, within
from scalesim.result.clips import CAUTION, ClipTold, FlashCount, cautions, flash_table, flash_words
from scalesim.result.items import Box, Cell, Code, Links, Picture, Table, table_html
from scalesim.result.plates import Plate, PlatePanel
from scalesim.result.viewer import Judged, Layer, Pointed, Scale, Taps, Viewer
from scalesim.result.weighing import Weighed, Weighing, Weight

__all__ = [
    "CAUTION",
    "FOOT",
    "SCHEMA",
    "Beside",
    "Box",
    "Cell",
    "ClipTold",
    "Code",
    "Exhibit",
    "File",
    "FlashCount",
    "Item",
    "Judged",
    "Layer",
    "Links",
    "Part",
    "Picture",
    "Plate",
    "PlatePanel",
    "Pointed",
    "Prose",
    "Quote",
    "Result",
    "Scale",
    "Sheet",
    "Table",
    "Taps",
    "Viewer",
    "Weighed",
    "Weighing",
    "Weight",
    "cautions",
    "chains_part",
    "flash_table",
    "flash_words",
    "table_html",
    "within",
]

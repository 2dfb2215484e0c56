"""What the readers take at most, in one place, each with its reason.

They keep any file from taking the memory or the time of the machine; no file of the trade comes near.
"""

from __future__ import annotations

PICTURE_MEGAPIXELS = 36
"""7680x4320 is 33.2; a picture is held as float32, 12 bytes a sample."""

PICTURE_MEGABYTES = 512
"""A plain 16-bit picture of 36 megapixels and four channels is 288."""

CLIP_MEGAPIXELS = 9.5
"""4096x2304 is 9.4; decoders hold some twenty pictures at a time, H.264 alone up to 16 to refer to."""

CLIP_GIGABYTES = 512
"""An hour of 1080p60 stored plainly is 1344, packed without loss about 400; a clip is streamed."""

CLIP_PICTURES = 5_184_000
"""A day at 60 a second; the time stamps of all pictures are looked through first, 8 bytes each."""

SEQUENCE_FILES = 1_000_000
"""Over four hours at 60 a second; the headers of all files are looked through first."""

JPEG_FILL_BYTES = 65_536
"""Fill bytes in the headers of a JPEG, which are read one by one; a sane file has none or a few."""

JPEG_WALKED_MEGABYTES = 8
"""Packed data of a JPEG that are walked through code by code, at most some 4 s; larger ones less strictly."""

TIFF_STRIPS = 100_000
"""One strip a line, each channel apart, of the largest picture is 23 040."""

TEXT_MEGABYTES = 1
"""A chain, display, note or study; the longest of ours is a few kB, and TOML takes seconds a MB to read."""

DOCUMENT_MEGABYTES = 64
"""An operator, or a saved answer; an operator of 1080 lines with 255 weights each is 6."""

SLOWEST_HZ = 1
"""Pictures a second after a chain: every weave halves them, and takes two pictures for one."""

STAGES = 200
"""Stages of a chain: boxes in series are few, and each holds a picture of its own while it runs."""

TRACE_GIGABYTES = 4
"""An oscilloscope's text; it is streamed, and only its values are held."""

TRACE_VALUES = 64_000_000
"""Of all channels together, 4 bytes each: 10 million samples of four channels and a time column are 50."""

PHOTO_MEGAPIXELS = 64
"""Of a camera's photo; it is reduced before it is looked at, and held as 3 bytes a pixel."""

TABLE_GIGABYTES = 2
"""A log of lag; ten million rows with a label are about 300 MB."""

TABLE_ROWS = 20_000_000
"""Of one log; a reading a second for a day is 86 400, and each is held as 8 bytes a column."""

"""One encoder for all kinds of clips: R'G'B' pictures in, packets into a file, by FFmpeg.

Pictures go through a small FFmpeg graph that marks the fields and, for 4:2:0, makes Y'CbCr: within
each field where there are fields, because chroma mixed across fields would comb.

Equal pictures give equal bytes with one version of PyAV: the encoder and the graph work on one thread, since
x264 codes differently, and larger, for every number of threads, and no file takes a random identifier.
Of very small pictures (26x18, 96x64) x264 has coded the very same ones otherwise in 2 to 9 of 1000 runs that
wrote several files at once, of 160x120 in none of 1200.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError
from scalesim.io.clips.ffmpeg import load_av

HD_LINES = 720
"""Pictures with fewer lines are BT.601 by common practice, others BT.709."""


@dataclass(frozen=True)
class Kind:
    """One kind of clip file.

    codec, pixels: FFmpeg's names. options: of the codec. container: of the file. exact: what is read
    back is what was written. fields: can mark interlace. flat: memory does not grow with length.
    tick: seconds its times are whole multiples of, None for exact times. note: what the user should know.
    most: lines and samples it takes (x264's own limit; WebP has 14 bits for each, RFC 9649).
    """

    codec: str
    pixels: str
    options: dict[str, str]
    container: dict[str, str] = field(default_factory=dict)
    exact: bool = True
    fields: bool = False
    flat: bool = True
    tick: Fraction | None = None
    note: str = ""
    most: int = 16384


_APNG = Kind(
    "apng", "rgb24", {"compression_level": "3", "pred": "paeth"}, {"f": "apng", "plays": "0"}, most=2**31 - 1
)
KINDS: dict[str, Kind] = {
    ".mp4": Kind(
        "libx264",
        "yuv420p",
        {"crf": "16", "preset": "veryfast", "g": "60"},
        {"movflags": "+faststart"},
        exact=False,
        fields=True,
        note="H.264 4:2:0 is for looking at: chroma is halved and detail is lossy; measure on .mkv.",
    ),
    ".mkv": Kind("libx264rgb", "rgb24", {"qp": "0", "preset": "ultrafast", "g": "60"}, fields=True),
    ".apng": _APNG,
    ".png": _APNG,
    ".webp": Kind(
        "libwebp_anim",
        "bgra",
        {"lossless": "1", "quality": "0", "compression_level": "0"},
        {"loop": "0"},
        flat=False,
        most=16383,
        tick=Fraction(1, 1000),
        note="WebP times are whole milliseconds: each picture's time is rounded, the error does not add up.",
    ),
}
"""What is written, by the ending of the name."""


def kind_of(path: Path) -> Kind:
    """Return the kind a file's ending asks for. Raises: ParameterError for any other ending."""
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise ParameterError(
            f"{path.name}: {path.suffix or 'no ending'} is no kind of clip that is written; "
            f"valid: {', '.join(KINDS)} (.mkv is exact, .mp4 plays everywhere)"
        )
    return kind


class Encoder:
    """Takes pictures of one size and writes them; `open`, `push` each, `finish`, and always `close`.

    Parameters:
        path : the file to write
        kind : how
        shape : (lines, samples) of the pictures
        rate : pictures per second, exact
        field_order : "top", "bottom" or None
    """

    def __init__(
        self, path: Path, kind: Kind, shape: tuple[int, int], rate: Fraction, field_order: str | None
    ) -> None:
        self.kind, self.path, self.rate, self.field_order = kind, path, rate, field_order
        self.tick = kind.tick or 1 / rate
        self.lines, self.samples = shape
        self.height, self.width = _padded(shape, kind, field_order)
        self.notes = [text for text in (kind.note, self._padding_note()) if text]
        self._container: Any = None
        self._count = 0

    def open(self) -> None:
        """Open the file and the encoder."""
        av = self._av = load_av()
        options = {"fflags": "+bitexact"} | self.kind.container
        place = f"file:{self.path}"  # else FFmpeg would take "http:a.mkv" for an address
        self._container = av.open(place, "w", format=options.pop("f", None), options=options)
        stream = self._stream = self._container.add_stream(self.kind.codec, rate=self.rate)
        stream.width, stream.height, stream.pix_fmt = self.width, self.height, self.kind.pixels
        stream.options = self.kind.options | self._field_options()
        stream.codec_context.time_base = self.tick
        stream.codec_context.thread_count = 1
        self._tag(stream.codec_context)
        self._graph = self._make_graph(av)

    def push(self, picture: NDArray[np.uint8], times: int = 1) -> None:
        """Encode one picture, uint8 (lines, samples, 3), that stands for the time of so many."""
        below, right = self.height - self.lines, self.width - self.samples
        if below or right:
            picture = np.pad(picture, ((0, below), (0, right), (0, 0)), mode="edge")
        frame = self._av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
        frame.pts, frame.time_base = round(self._count / self.rate / self.tick), self.tick
        self._graph.push(frame)
        self._mux(self._graph.pull())
        self._count += times

    def finish(self) -> None:
        """Write what the encoder still holds, and the file's end."""
        self._mux(None)
        container, self._container = self._container, None
        container.close()

    def close(self) -> None:
        """Let go of the file, finished or not."""
        if self._container is not None:
            self._container.close()

    def _mux(self, frame: Any) -> None:
        for packet in self._stream.encode(frame):
            self._container.mux(packet)

    def _padding_note(self) -> str:
        if (self.height, self.width) == (self.lines, self.samples):
            return ""
        return (
            f"4:2:0 needs whole pairs: {self.samples}x{self.lines} was made {self.width}x{self.height} by "
            "repeating the last sample and line."
        )

    def _field_options(self) -> dict[str, str]:
        if self.field_order is None:
            return {}
        return {"x264-params": "tff=1" if self.field_order == "top" else "bff=1"}

    def _tag(self, context: Any) -> None:
        """Say in the stream what its numbers mean; the codes are those of ITU-T H.273."""
        if self.field_order is not None:
            context.field_order = 2 if self.field_order == "top" else 3
        if self.kind.pixels != "yuv420p":
            return
        primaries, curve, matrix = _tags_of(self.lines)
        context.color_primaries, context.color_trc, context.colorspace = primaries, curve, matrix
        context.color_range = 1

    def _make_graph(self, av: Any) -> Any:
        graph = av.filter.Graph()
        graph.threads = 1
        last = graph.add_buffer(
            width=self.width, height=self.height, format=av.VideoFormat("rgb24"), time_base=self.tick
        )
        for name, arguments in self._filters():
            node = graph.add(name, arguments)
            last.link_to(node)
            last = node
        last.link_to(graph.add("buffersink"))
        graph.configure()
        return graph

    def _filters(self) -> list[tuple[str, str]]:
        mark = {None: "prog", "top": "tff", "bottom": "bff"}[self.field_order]
        filters = [("setfield", mark)]
        if self.kind.pixels == "yuv420p":
            matrix = "bt709" if self.lines >= HD_LINES else "bt601"
            interlaced = int(self.field_order is not None)
            filters.append(
                (
                    "scale",
                    f"in_range=full:out_range=limited:out_color_matrix={matrix}:interl={interlaced}"
                    ":flags=accurate_rnd+full_chroma_int+bicubic",
                )
            )
        return [*filters, ("format", self.kind.pixels)]


def _padded(shape: tuple[int, int], kind: Kind, field_order: str | None) -> tuple[int, int]:
    """Return (lines, samples) as stored: pairs for 4:2:0, and pairs in each field where there are fields."""
    if kind.pixels != "yuv420p":
        return shape
    unit = 4 if field_order else 2
    return -(-shape[0] // unit) * unit, -(-shape[1] // 2) * 2


def _tags_of(lines: int) -> tuple[int, int, int]:
    """Return primaries, transfer curve and matrix of a picture by its lines (ITU-T H.273, tables 2 to 4)."""
    if lines >= HD_LINES:
        return 1, 1, 1
    fifty_hertz = lines in (288, 576)
    return (5, 6, 5) if fifty_hertz else (6, 6, 6)
